"""A port group that light reaches, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from isolint.measure.body import ZERO, Device
from isolint.recognition.led_groups import LedPorts, is_diode
from isolint.recognition.makes import types_of
from isolint.recognition.signals import Graph
from isolint.types.form.constructions import Make
from isolint.types.form.pin_names import common_role


class GroupOutput(NamedTuple):
    """How a group is made, with the pin of each port.

    make: None where no pattern fits. pins: pin name by port. doubtful: ports whose pin is a guess. light: the device
    that turns light into current, and the transistors behind it, for the ratio.
    """

    make: Make | None
    pins: Mapping[int, str] = {}
    doubtful: tuple[int, ...] = ()
    light: tuple[Device, ...] = ()
    why: str = ""

    @property
    def type(self) -> str:
        """The type, or the likeliest of the choices."""
        return types_of(self.make)[0]

    @property
    def choices(self) -> tuple[str, ...]:
        """The types among which the truth is, () where the type is certain."""
        found = types_of(self.make)
        return found if len(found) > 1 else ()

    @property
    def known(self) -> bool:
        """Whether a pattern fits at all."""
        return self.make is not None


class Group(NamedTuple):
    """A port group that light reaches: its component, its ports with those that only control it, and its devices."""

    graph: Graph
    led: LedPorts
    component: int
    ports: tuple[int, ...]
    devices: list[Device]

    def letters(self) -> frozenset[str]:
        """The letters of its devices."""
        return frozenset(device.letter for device in self.devices)

    def lit(self, device: Device) -> bool:
        """Whether the light controls a device."""
        return self.graph.is_driven_from(device, self.led.reach.lit)

    def at(self, net: int) -> int:
        """The port that a net is wired to, -1 for none."""
        port = self.graph.port_at(net)
        return port if port in self.ports else -1

    def through(self, net: int, towards: Callable[[Device], tuple[int, int]]) -> int:
        """The port that a net reaches by wires and diodes, the diodes passed as `towards` says."""
        seen = {self.graph.wire(net)}
        waiting = list(seen)
        for wire in waiting:  # grows while it is walked
            found = self.at(wire)
            if found >= 0:
                return found
            for device in self.devices:
                if is_diode(device):
                    start, end = towards(device)
                    if self.graph.wire(start) == wire and ZERO not in (start, end):
                        following = self.graph.wire(end)
                        if following not in seen:
                            seen.add(following)
                            waiting.append(following)
        return -1

    def name(self, port: int) -> str:
        """The name of a port in lower case."""
        return self.graph.body.names[port].lower()


def named_role(group: Group, port: int) -> str:
    """What the name of a port says of a pin of a stage, "" for a number or a name that no table knows."""
    name = group.graph.body.names[port]
    return "" if name.isdigit() else common_role(name)
