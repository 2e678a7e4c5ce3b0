"""The signal graph of a body: what conducts falls into components, and signals go from component to component.

In: a `Body`. Out: a `Graph`. A component is a set of nets that devices join; its ports are the port group, a component
without a port is an inner one. A signal goes from what controls a device to what the device drives, never back. All
work is linear in the devices and nets of the body.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from isolint.circuit.connectivity import Islands
from isolint.measure.body import ZERO, Body, Device

WIRE_OHMS = 1e3
MAX_STEPS = 50_000
"""Signal edges followed in one body; more is no part that anybody would make."""


class Reach(NamedTuple):
    """What a signal reaches: groups, by component, and the inner components on the way (the start among them)."""

    groups: tuple[int, ...]
    lit: frozenset[int]


class Graph:
    """Components, port groups, wires and signal edges of a body."""

    def __init__(self, body: Body) -> None:
        self.body = body
        self._joined = Islands(body.nets)
        self._wired = Islands(body.nets)
        self.at: dict[int, list[int]] = {}
        for device in body.devices:
            for join in device.joins:
                self._joined.join_pairs((join[0], net) for net in join[1:])
            for net in dict.fromkeys(device.nets):
                self.at.setdefault(net, []).append(device.number)
            if is_wire(device):
                self._wired.join_pairs((join[0], net) for join in device.joins for net in join[1:])
        self._ports_of: dict[int, list[int]] = {}
        self._port_wired: dict[int, list[int]] = {}
        for port, net in enumerate(body.ports):
            self._ports_of.setdefault(self.component(net), []).append(port)
            self._port_wired.setdefault(self._wired.of(net), []).append(port)
        self.members: dict[int, list[int]] = {}
        self.edges: dict[int, dict[int, None]] = {}
        self.listeners: dict[int, list[int]] = {}
        self.coupled: set[int] = set()
        self.steps = 0
        self._reached: dict[int, Reach] = {}
        for device in body.devices:
            outputs = self.outputs(device)
            for component in outputs:
                self.members.setdefault(component, []).append(device.number)
            self._connect(device, outputs)

    # -- nets and components --------------------------------------------------------------------------------------

    def component(self, net: int) -> int:
        """The component that holds a net; `ZERO` is none."""
        return ZERO if net == ZERO else self._joined.of(net)

    def outputs(self, device: Device) -> tuple[int, ...]:
        """The components in which a device joins nets (one net of which may be node 0)."""
        return tuple(dict.fromkeys(self.component(net) for net in device.nets))

    def ports(self, component: int) -> tuple[int, ...]:
        """The ports of a component, ascending."""
        return tuple(self._ports_of.get(component, ()))

    @property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """The port groups in the order of their first port."""
        return tuple(map(tuple, self._ports_of.values()))

    @property
    def group_components(self) -> tuple[int, ...]:
        """The components that have a port, in the order of their first port."""
        return tuple(self._ports_of)

    def devices(self, component: int) -> list[Device]:
        """The devices that join nets of a component, in the order of the cards."""
        devices = self.body.devices
        return [devices[index] for index in self.members.get(component, ())]

    def touching(self, net: int) -> list[Device]:
        """The devices that join a net to others, or touch it by C or a large resistor."""
        devices = self.body.devices
        return [devices[index] for index in self.at.get(net, ())]

    def same_wire(self, one: int, other: int) -> bool:
        """Whether two nets are joined by sources, coils and resistors below 1 kohm alone."""
        return one == other or (ZERO not in (one, other) and self._wired.of(one) == self._wired.of(other))

    def wire(self, net: int) -> int:
        """The wire that a net belongs to; `ZERO` is its own."""
        return ZERO if net == ZERO else self._wired.of(net)

    def port_at(self, net: int) -> int:
        """The port that a net is wired to, the net's own before others; -1 for none."""
        if net == ZERO:
            return -1
        ports = self._port_wired.get(self._wired.of(net), ())
        exact = next((port for port in ports if self.body.ports[port] == net), -1)
        return exact if exact >= 0 or not ports else ports[0]

    # -- signals --------------------------------------------------------------------------------------------------

    def sources(self, device: Device) -> Iterator[int]:
        """The components whose voltage or current controls a device."""
        for pair in device.pairs:
            for net in pair:
                if net != ZERO:
                    yield self.component(net)
        for sensed in device.senses:
            yield from self.outputs(self.body.devices[sensed])

    def _connect(self, device: Device, outputs: Sequence[int]) -> None:
        if device.letter in "TO" and len(device.joins) == 2:
            self._both_ways(outputs)
        elif device.letter == "U":
            self._both_ways(tuple(dict.fromkeys(self.component(net) for net in device.pins if net != ZERO)))
        elif device.letter == "K":
            self.coupled.update(device.senses)
            self._both_ways(tuple(dict.fromkeys(self.sources(device))))
        elif device.is_controlled:
            for source in dict.fromkeys(self.sources(device)):
                self.listeners.setdefault(source, []).append(device.number)
                for output in outputs:
                    if source != output:
                        self.edges.setdefault(source, {})[output] = None

    def _both_ways(self, components: Sequence[int]) -> None:
        # Through a hub of its own, so that a part with many pins gives no square of edges.
        if len(components) < 2:
            return
        hub = -2 - len(self.edges)
        while hub in self.edges:
            hub -= 1
        self.edges[hub] = dict.fromkeys(components)
        for component in components:
            self.edges.setdefault(component, {})[hub] = None

    def reach(self, start: int) -> Reach:
        """Follow signals from a component through inner ones; every way ends at the first group.

        Each component is followed once; after `MAX_STEPS` in all nothing is followed any more.
        """
        known = self._reached.get(start)
        if known is None:
            known = self._reached[start] = self._follow(start)
        return known

    @property
    def exhausted(self) -> bool:
        """Whether signals were no longer followed."""
        return self.steps > MAX_STEPS

    def _follow(self, start: int) -> Reach:
        seen = {start}
        groups: dict[int, None] = {}
        waiting = [start]
        for component in waiting:  # grows while it is walked
            self.steps += 1 + len(self.edges.get(component, ()))
            if self.exhausted:
                return Reach((), frozenset((start,)))
            for following in self.edges.get(component, ()):
                if following in self._ports_of:
                    groups.setdefault(following)
                elif following not in seen:
                    seen.add(following)
                    waiting.append(following)
        return Reach(tuple(groups), frozenset(at for at in seen if at >= 0))

    def is_driven_from(self, device: Device, lit: frozenset[int]) -> bool:
        """Whether a signal of some components controls a device."""
        return any(source in lit for source in self.sources(device))

    def foreign(self, device: Device, component: int) -> bool:
        """Whether something outside a component controls a device in it."""
        return any(source != component for source in self.sources(device))

    # -- ways through a component -----------------------------------------------------------------------------------

    def neighbours(self, devices: Iterable[Device]) -> dict[int, list[tuple[int, Device]]]:
        """The devices as ways between two nets."""
        found: dict[int, list[tuple[int, Device]]] = {}
        for device in devices:
            for join in device.joins:
                for one, other in zip(join, join[1:] + join[:1], strict=True):
                    if one != other:
                        found.setdefault(one, []).append((other, device))
                        found.setdefault(other, []).append((one, device))
        return found


def is_wire(device: Device) -> bool:
    """Whether a device hardly drops a voltage that depends on its current: sources, coils, resistors below 1 kohm."""
    if device.letter == "R":
        return device.law is None and device.value is not None and abs(device.value) < WIRE_OHMS
    return device.letter in "VL"
