"""Which channels stand at an element, a part, an output net or an output: built once, so that none looks at all others.

In: the channels of a netlist in their order. Out: those at one place, in the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel, Pair

ENDS = frozenset({"anode", "cathode", "collector", "emitter"})

_ENDS = (("collector", "emitter"), ("output", "ground"))


def ends_of(channel: Channel) -> tuple[int, int] | None:
    """The nets between which an output conducts: collector and emitter, or output and ground; None where the record
    does not tell."""
    pins = channel.pins
    for first, last in _ENDS:
        if first in pins and last in pins:
            return pins[first], pins[last]
    return None


class BesideChannels:
    """The channels of one netlist by where they stand."""

    def __init__(self, channels: Sequence[Channel]) -> None:
        self._number = {channel.subject: number for number, channel in enumerate(channels)}
        self._in_drive: dict[int, list[Channel]] = {}
        self._in_load: dict[int, list[Channel]] = {}
        self._of_part: dict[int, list[Channel]] = {}
        self._driven: dict[int, list[Channel]] = {}
        self._owner: dict[Pair, Channel] = {}
        self._by_pins: dict[tuple[int, ...], list[Channel]] = {}
        for channel in channels:
            for element in channel.drive.elements:
                self._in_drive.setdefault(element, []).append(channel)
            for element in channel.load.elements:
                self._in_load.setdefault(element, []).append(channel)
            self._of_part.setdefault(channel.part.element, []).append(channel)
            for net in dict.fromkeys(held.net for held in channel.drive.boundary if held.kind == "output"):
                self._driven.setdefault(net, []).append(channel)
            if channel.pins.keys() >= ENDS:
                self._by_pins.setdefault(_pins(channel.pins), []).append(channel)
            for pair in own_pairs(channel):
                self._owner.setdefault(pair, channel)

    def ordered(self, channels: Iterable[Channel]) -> list[Channel]:
        """Some channels, each once, in their order."""
        found = {channel.subject: channel for channel in channels}
        return [found[subject] for subject in sorted(found, key=self._number.__getitem__)]

    def before(self, channel: Channel, others: Iterable[Channel]) -> list[Channel]:
        """Those of some channels that stand before one, in their order."""
        own = self._number[channel.subject]
        return [other for other in self.ordered(others) if self._number[other.subject] < own]

    def with_element(self, element: int) -> list[Channel]:
        """The channels in whose drive or load network an element lies."""
        return self.ordered((*self.driven_through(element), *self.loaded_with(element)))

    def driven_through(self, element: int) -> Sequence[Channel]:
        """The channels in whose drive network an element lies."""
        return self._in_drive.get(element, ())

    def loaded_with(self, element: int) -> Sequence[Channel]:
        """The channels in whose load network an element lies."""
        return self._in_load.get(element, ())

    def with_pins(self, pins: Mapping[str, int]) -> Sequence[Channel]:
        """The channels with anode, cathode, collector and emitter on the same nets."""
        return self._by_pins.get(_pins(pins), ())

    def of_part(self, element: int) -> Sequence[Channel]:
        """The channels of a part."""
        return self._of_part.get(element, ())

    def of_parts(self, elements: Iterable[int]) -> list[Channel]:
        """The channels of some parts."""
        return self.ordered(channel for element in elements for channel in self.of_part(element))

    def driven_by(self, net: int) -> Sequence[Channel]:
        """The channels whose drive an output net is part of."""
        return self._driven.get(net, ())

    @property
    def outputs(self) -> Iterable[int]:
        """The output nets that drive any channel."""
        return self._driven

    def owning(self, pairs: Iterable[Pair]) -> list[Channel]:
        """The channels of some outputs."""
        return self.ordered(self._owner[pair] for pair in pairs if pair in self._owner)


def _pins(pins: Mapping[str, int]) -> tuple[int, ...]:
    return tuple(pins[role] for role in sorted(ENDS))
