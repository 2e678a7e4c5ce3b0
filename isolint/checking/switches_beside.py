"""Switching outputs beside each other: in series on one way, or across the same two nets.

In: a context and a channel whose output is a switch. Out: which others lie there, whether one of them leaves it nothing
to decide, and the share of a common current that it carries at most.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

from isolint.checking.cascade import lit_always
from isolint.interfaces.entities import Channel, Part
from isolint.interfaces.pinsets import pin_sets, switch_pins
from isolint.worstcase.uncertain import Lacking

if TYPE_CHECKING:
    from isolint.checking.context import Context

LEAST_OF_MOST: Final = 0.3
"""On-resistance of the best part of a type over that of the worst (from memory)."""


class Ends(NamedTuple):
    """The channel of a part that switches, and the pins that it switches between."""

    name: str
    first: int
    last: int


def ends_of(part: Part) -> Iterator[Ends]:
    """The switches of a part; none where it switches nothing, or where it is not known between which pins."""
    if part.kind.output.switch:
        for name, _ in pin_sets(part):
            pins = switch_pins(part, name)
            if len(pins) == 2:
                yield Ends(name, *pins)


def closed_ways(context: Context, channel: Channel, element: int, pin: int) -> Iterator[tuple[int, int]]:
    """From a pin of a part the ways through its switches, which count as closed: the element and the net beyond.

    None leads through the channel's own switch, or through one across it.
    """
    part = context.interfaces.recognition.parts.get(element)
    if part is None or not part.kind.output.switch:
        return
    nets, own = context.circuit.pins(element), _nets(context, channel)
    for found in ends_of(part):
        if pin in (found.first, found.last) and frozenset((nets[found.first], nets[found.last])) != own:
            yield element, nets[found.last if pin == found.first else found.first]


def across(context: Context, channel: Channel) -> list[Channel]:
    """The other channels whose switches lie across the same two nets."""
    own = _nets(context, channel)
    if own is None:
        return []
    parts = {element for net in own for element, _ in context.circuit.elements_at(net)}
    near = context.analysis.neighbours().of_parts(sorted(parts))
    return [other for other in near if other.subject != channel.subject and _nets(context, other) == own]


def always_closed(context: Context, channel: Channel) -> Channel | None:
    """A switch across that of a channel that is closed in every state, so that the channel decides nothing."""
    return next((other for other in across(context, channel) if lit_always(context.analysis, channel, other)), None)


def share(context: Context, channel: Channel) -> tuple[float, int]:
    """The largest share of a common current that a switch carries, and among how many.

    Only outputs that conduct as resistances share, of one type, and only where one and the same signal closes them.
    """
    if channel.part.kind.output.switch != "passes" or channel.part.record is None:
        return 1.0, 1
    own = _signals(context, channel)
    alike = [
        other
        for other in across(context, channel)
        if own and other.part.record is channel.part.record and _signals(context, other) == own
    ]
    return 1.0 / (1.0 + LEAST_OF_MOST * len(alike)), 1 + len(alike)


def _nets(context: Context, channel: Channel) -> frozenset[int] | None:
    found = next((ends for ends in ends_of(channel.part) if ends.name == channel.name), None)
    if found is None:
        return None
    nets = context.circuit.pins(channel.part.element)
    return frozenset((nets[found.first], nets[found.last]))


def _signals(context: Context, channel: Channel) -> frozenset[int]:
    """What switches the LED of a channel; nothing where that is not known."""
    try:
        return frozenset(key for key, _ in context.analysis.drives().inputs(channel))
    except Lacking:
        return frozenset()
