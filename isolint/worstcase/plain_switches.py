"""Transistors without a model that can only be switches, for a bound on the LED current that needs no model of them.

In: the drive of a channel. Out: the same channel with what lies at their control pins left out, and the transistors
that count as closed. Emitter or source lie on a held net and only resistors, with enough current to saturate it, on the
control pin: a follower, a mirror or a regulator limits by what its model says, and has no such bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.interfaces.entities import Channel
from isolint.worstcase.lookup import Lookup

GAIN = 100.0
"""What a transistor gives at least as a switch that nobody describes (common practice, no source)."""

BASE_VOLTS = 2.5
"""What is left across a base resistor: a high level of 3.3 V less the junction (common practice, no source)."""

_HELD = frozenset(("supply", "ground"))
_AT_CONTROL = {"Q": frozenset("RC"), "M": frozenset("RCD")}


class Plain(NamedTuple):
    """A channel of whose drive all transistors without a model are closed switches.

    closed: these. across: diodes without a model across its LED, which conduct in reverse above what no Zener diode
    has less of.
    """

    channel: Channel
    closed: frozenset[int]
    across: frozenset[int]

    @property
    def unmodelled(self) -> tuple[int, ...]:
        """All of them, in the order of the cards."""
        return tuple(sorted(self.closed | self.across))


def plain(lookup: Lookup, channel: Channel, amperes: float) -> Plain | None:
    """The channel so bounded, None where some transistor is no such switch or there is nothing to bound.

    amperes: what its LED takes, which a base must be able to ask for.
    """
    circuit = lookup.circuit
    bare = [element for element in channel.drive.elements if _is_bare(circuit, element)]
    closed = frozenset(element for element in bare if circuit.letter(element) != "D")
    if not bare or not all(_is_switch(lookup, channel, element, amperes) for element in closed):
        return None
    ends = channel.pins["cathode"], channel.pins["anode"]
    across = frozenset(e for e in bare if e not in closed and circuit.pins(e)[:2] == ends and not channel.both_ways)
    pruned = _pruned(circuit, channel, closed)
    inner = {*pruned.drive.inner, *(held.net for held in pruned.drive.boundary)}
    if any(circuit.pins(element)[1] in inner for element in closed):
        return None
    return Plain(pruned, closed, across)


def _is_bare(circuit: Circuit, element: int) -> bool:
    return circuit.letter(element) in "DQM" and circuit.model(element) is None


def _is_switch(lookup: Lookup, channel: Channel, element: int, amperes: float) -> bool:
    circuit, letter = lookup.circuit, lookup.circuit.letter(element)
    first, control, last = circuit.pins(element)[:3]
    held = {held.net for held in channel.drive.boundary if held.kind in _HELD}
    if last not in held or first in held or control in held or control in (first, last):
        return False
    ohms: list[float] = []
    for other, _ in circuit.elements_at(control):
        if other == element:
            continue
        if circuit.letter(other) not in _AT_CONTROL[letter]:
            return False
        if circuit.letter(other) == "R" and last not in circuit.pins(other):
            value = lookup.ohms(other)
            if value is None:
                return False
            ohms.append(value)
    if letter == "M":
        return True
    return bool(ohms) and min(ohms) * amperes <= GAIN * BASE_VOLTS


def _pruned(circuit: Circuit, channel: Channel, closed: frozenset[int]) -> Channel:
    """The channel with a drive of what hangs on its LED other than through the control pins of switches."""
    drive = channel.drive
    stops = {held.net for held in drive.boundary}
    joins: list[tuple[int, Sequence[int]]] = []
    for element in drive.elements:
        pins = circuit.pins(element)
        joins.append((element, (pins[0], pins[2]) if element in closed else pins))
    for element, positions in drive.branches:
        joins.append((element, [circuit.pins(element)[pin] for pin in positions]))
    for pair in drive.pairs:
        pins = circuit.pins(pair.element)
        joins.append((pair.element, (pins[pair.first], pins[pair.last])))
    at: dict[int, list[int]] = {}
    for number, (_, nets) in enumerate(joins):
        for net in nets:
            at.setdefault(net, []).append(number)
    reached = dict.fromkeys((channel.pins["anode"], channel.pins["cathode"]))
    waiting, kept = list(reached), set[int]()
    for net in waiting:  # grows while it is walked
        if net in stops:
            continue
        for number in at.get(net, ()):
            if number not in kept:
                kept.add(number)
                fresh = [other for other in joins[number][1] if other not in reached]
                reached.update(dict.fromkeys(fresh))
                waiting.extend(fresh)
    elements = {joins[number][0] for number in kept}
    pruned = drive._replace(
        elements=tuple(element for element in drive.elements if element in elements),
        inner=tuple(net for net in drive.inner if net in reached),
        boundary=tuple(held for held in drive.boundary if held.net in reached),
        branches=tuple(branch for branch in drive.branches if branch[0] in elements),
        pairs=tuple(pair for pair in drive.pairs if pair.element in elements),
    )
    return channel._replace(drive=pruned)
