"""Switches in series, and what lies across each.

In: an analysis and a channel. Out: the switches on one way with its own. Each net between two of them leads nowhere
else: over resistors and capacitors to the nets beside it only.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final, NamedTuple

from isolint.checking.switches_beside import ends_of as switch_ends
from isolint.interfaces.beside import ends_of
from isolint.interfaces.cascades import own_pairs
from isolint.interfaces.entities import Channel

if TYPE_CHECKING:
    from isolint.checking.analysis import Analysis

MOST_SWITCHES: Final = 16
MOST_IN_BRANCH: Final = 6
"""Resistors and capacitors one behind the other that are followed across a switch."""


class RowBranch(NamedTuple):
    """What lies across a switch: the net at its other end, its resistors, its capacitors."""

    far: int
    resistors: tuple[int, ...]
    capacitors: tuple[int, ...]


class Member(NamedTuple):
    """A switch of a row with what lies across it."""

    channel: Channel
    ends: tuple[int, int]
    across: tuple[RowBranch, ...]

    @property
    def resistors(self) -> tuple[int, ...]:
        """The resistors that conduct past it."""
        return tuple(e for branch in self.across if not branch.capacitors for e in branch.resistors)


def in_series(analysis: Analysis, channel: Channel) -> list[Member] | None:
    """The own switch and those in series with it, each with what lies across; None where it is alone."""
    own = _ends(analysis, channel)
    if own is None or own[0] == own[1]:
        return None
    chain: list[tuple[Channel, tuple[int, int]]] = [(channel, own)]
    joints: list[int] = []
    for start in own:
        net, here = start, channel
        while len(chain) <= MOST_SWITCHES:
            following = _next(analysis, here, net)
            if following is None:
                break
            here, ends = following
            if any(here.subject == other.subject for other, _ in chain):
                return None
            joints.append(net)
            chain.append((here, ends))
            net = ends[1] if ends[0] == net else ends[0]
    if len(chain) == 1 or len(chain) > MOST_SWITCHES:
        return None
    across: dict[frozenset[int], dict[tuple[int, ...], RowBranch]] = {frozenset(ends): {} for _, ends in chain}
    for joint in joints:
        for branch in _branches(analysis, joint, {net for _, ends in chain for net in ends}):
            where = frozenset((joint, branch.far))
            if where not in across:
                return None
            across[where].setdefault(tuple(sorted(branch.resistors + branch.capacitors)), branch)
    return [Member(each, ends, tuple(across[frozenset(ends)].values())) for each, ends in chain]


def _ends(analysis: Analysis, channel: Channel) -> tuple[int, int] | None:
    """The nets between which the output of a channel conducts or not."""
    if channel.part.kind.output.switch:
        found = next((ends for ends in switch_ends(channel.part) if ends.name == channel.name), None)
        nets = analysis.lookup.circuit.pins(channel.part.element)
        return None if found is None else (nets[found.first], nets[found.last])
    return ends_of(channel) if own_pairs(channel) else None


def _next(analysis: Analysis, channel: Channel, net: int) -> tuple[Channel, tuple[int, int]] | None:
    """The switch beyond a net to which nothing leads but two switches, resistors and capacitors."""
    if analysis.lookup.walker.held(net) is not None or _is_stated(analysis, net):
        return None
    circuit, pins = analysis.lookup.circuit, list[int]()
    for element, _ in circuit.elements_at(net):
        if circuit.letter(element) not in "RC":
            pins.append(element)
    if len(pins) != 2:
        return None
    there = [
        (other, ends)
        for other in analysis.neighbours().of_parts(sorted(set(pins)))
        if (ends := _ends(analysis, other)) is not None and net in ends and ends[0] != ends[1]
    ]
    others = [found for found in there if found[0].subject != channel.subject]
    return others[0] if len(there) == 2 and len(others) == 1 else None


def _is_loose(analysis: Analysis, net: int) -> bool:
    """Whether nothing lies behind a net."""
    alone = len(list(analysis.lookup.circuit.elements_at(net))) == 1
    return alone and analysis.lookup.walker.held(net) is None and not _is_stated(analysis, net)


def _is_stated(analysis: Analysis, net: int) -> bool:
    """Whether something off the board, or a pin that is stated, is at a net."""
    facts, name = analysis.lookup.facts, analysis.lookup.circuit.net_name(net)
    return any(found is not None for found in (facts.input(name), facts.load(name), facts.line(name)))


def _branches(analysis: Analysis, joint: int, nets: set[int]) -> Iterator[RowBranch]:
    """What leads from a net between two switches over resistors and capacitors, up to the first net that branches."""
    circuit = analysis.lookup.circuit
    for first, pin in circuit.elements_at(joint):
        if circuit.letter(first) not in "RC" or len(circuit.pins(first)) != 2:
            continue
        passed, net = [first], circuit.pins(first)[1 - pin]
        while net not in nets and len(passed) < MOST_IN_BRANCH and analysis.lookup.walker.held(net) is None:
            onward = [(e, at) for e, at in circuit.elements_at(net) if e != passed[-1]]
            if len(onward) != 1 or circuit.letter(onward[0][0]) not in "RC":
                break
            passed.append(onward[0][0])
            net = circuit.pins(onward[0][0])[1 - onward[0][1]]
        if net not in nets and _is_loose(analysis, net):
            continue
        by = {letter: tuple(e for e in passed if circuit.letter(e) == letter) for letter in "RC"}
        known = all((analysis.lookup.ohms(e) or 0.0) > 0.0 for e in by["R"])
        if net != joint:
            yield RowBranch(net if known else -1, by["R"], by["C"])
