"""One fault told: what kind of joint it is, the path an engineer would draw in red, the set of elements at fault, its
identity."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from isolint.facts import Facts
from isolint.interfaces.conduction import FACT, UNKNOWN
from isolint.interfaces.cut import smallest_cut
from isolint.interfaces.entities import Join, JointKind, Step
from isolint.interfaces.facing_sides import Facing, FacingSides, Parties, Party, Situation
from isolint.interfaces.field_lines import beside
from isolint.interfaces.graph import Between, LinkGraph, Terminals, across, contacts, shortest_path
from isolint.interfaces.netnames import is_supply_name
from isolint.interfaces.references import group_label

Level = Literal["error", "warning", "note"]


def join_of_pair(
    situation: Situation,
    parties: Parties,
    graph: LinkGraph,
    pair: FacingSides,
    found: Between,
    ends: Terminals,
    held: set[int],
    strangers: frozenset[int],
    cut_and_spared: tuple[list[int], list[int]] | None = None,
) -> tuple[Join, list[int]]:
    """The join of a pair of parties, and the links of its cut.

    found: what conducts between them. held: links by which parties hold their nets. strangers: parts that nobody
    explained and that the search was let through. cut_and_spared: what to blame, and what no path may take, where that
    is known.
    """
    links = situation.links
    cut, spared = cut_and_spared or smallest_cut(graph, found, ends, situation.limit)
    path, ohms, is_low = _path(situation, graph, pair, found, spared, ends, held)
    # A path at or above the limit is one of several that join only together.
    together = not is_low and ohms >= situation.limit
    kind: JointKind = (
        "joined-grounds" if is_low else _kind(situation, graph, pair, found, cut, ends, () if together else path)
    )
    if strangers:
        # Not proven, so no rule's own fault yet: it is known by the parts that nobody explained.
        kind = "joined-nets"
    names = _name(parties, pair.one, path[:1], 0), _name(parties, pair.other, path[-1:], 1)
    if names[0].casefold() > names[1].casefold():
        path = reversed_path(path)
    passed = {step.element for step in path}
    named = dict.fromkeys(links.elements[link] for link in cut if links.elements[link] >= 0)
    # The element on the path first: it is the card to change first.
    elements = (*(element for element in named if element in passed), *(e for e in named if e not in passed))
    concerned = dict.fromkeys((*elements, *(step.element for step in path)))
    own = set(found.links).difference(spared)
    # What nobody explained counts 0 ohm; then nothing is proven that an engineer would work out.
    whole = ohms if strangers or not own else min(ohms, across(links, own, ends))
    join = Join(
        kind=kind,
        sides=sorted_pair(*names),
        path=path,
        cut=elements,
        subject=_subject(situation, pair, kind, names, elements),
        resistance=found.ohms if together else whole,
        level=level_between(situation.facts, pair.one.stated, pair.other.stated),
        node_0_only=False,
        couplers=couplers(pair.facings),
        unknown=tuple(element for element in concerned if element in strangers),
        along=ohms,
    )
    return join, cut


def _path(
    situation: Situation,
    graph: LinkGraph,
    pair: FacingSides,
    found: Between,
    spared: Sequence[int],
    ends: Terminals,
    held: set[int],
) -> tuple[tuple[Step, ...], float, bool]:
    """The shortest path, its ohms, and whether it ties the two references below 10 ohm."""
    allowed = set(found.links) | held | _within(graph, ends)
    allowed |= beside(graph, ends, [*pair.one.lines, *pair.other.lines], {*found.links, *found.harmless})
    # High resistances beside the true join are not what the engineer should look at.
    usable = allowed.difference(spared)
    references = [
        _references(situation, party, ends, side) for side, party in ((ends.one, pair.one), (ends.other, pair.other))
    ]

    def is_wall(net: int) -> bool:
        side = ends.owner.get(net, ends.one)
        return net == ends.gone or (not ends.through and side not in (ends.one, ends.other))

    if all(references) and not pair.order[0]:
        low = shortest_path(graph, usable, references[0], set(references[1]), is_wall, low=True)
        if low is not None:
            return (*low, True)
    for passable in (usable, allowed):
        path = shortest_path(graph, passable, references[0], set(references[1]), is_wall)
        if path is not None:
            return (*path, False)
    return (), found.ohms, False


def _within(graph: LinkGraph, ends: Terminals) -> set[int]:
    """The elements that lie within one of the two sides: a path is drawn over them rather than over facts."""
    links, owner = graph.links, ends.owner
    return {
        link
        for link in graph.rank
        if links.kinds[link] not in (UNKNOWN, FACT)
        and (side := owner.get(links.nets(link)[0])) in (ends.one, ends.other)
        and all(owner.get(net) == side for net in links.nets(link))
    }


def _references(situation: Situation, party: Party, ends: Terminals, side: int) -> list[int]:
    """The nets that a party returns to: not its supplies, unless nothing else is known of it."""
    roots = [net for net in party.roots if ends.owner.get(net) == side]
    return [net for net in roots if net not in situation.holders.supplies] or roots


def _is_earth(facts: Facts, name: str) -> bool:
    side = facts.side(name)
    return side is not None and side.kind is not None and side.kind.value in ("earth", "chassis")


def _kind(
    situation: Situation,
    graph: LinkGraph,
    pair: FacingSides,
    found: Between,
    cut: Sequence[int],
    ends: Terminals,
    path: Sequence[Step],
) -> JointKind:
    """`joined-supplies` where all that one side has to do with the fault is a supply; else `joined-nets`.

    path: the way that tells it by itself; () where the links of the cut join only together.
    """
    holders, links = situation.holders, situation.links
    name = situation.links.circuit.net_name

    def is_supply(net: int) -> bool:
        known = net in holders.supplies or net in links.sources or is_supply_name(name(net))
        return known and net not in holders.references

    elements = {step.element for step in path}
    on_path = [link for link in cut if links.elements[link] in elements][:1] or cut
    touched = {net for link in on_path for net in contacts(graph, found.links, ends, link, cut, is_supply)}
    if any(
        party.stated and all(_is_earth(situation.facts, name) for name in party.stated)
        for party in (pair.one, pair.other)
    ):
        # Nothing on earth is fed: what leads there from a supply is a clamp or a stray.
        return "joined-nets"
    free = any(net not in ends.owner for net in touched)
    for side in (ends.one, ends.other):
        nets = [net for net in touched if ends.owner.get(net) == side]
        if (nets or free) and all(is_supply(net) for net in nets):
            return "joined-supplies"
    return "joined-nets"


def _name(parties: Parties, party: Party, step: Sequence[Step], end: int) -> str:
    """A party's name; of several bonded sides the one at which the path ends."""
    if len(party.stated) > 1 and step:
        side = parties.side_of(step[0].net_out if end else step[0].net_in)
        if side is not None:
            return side
    return party.name


def _subject(
    situation: Situation, pair: FacingSides, kind: JointKind, names: tuple[str, str], elements: Sequence[int]
) -> str:
    """Stable identity: a bridge by its elements, a tie by the stated sides, else by the pins that face each other."""
    if kind == "joined-nets" and elements:
        return ", ".join(sorted((situation.links.circuit.path(element) for element in elements), key=str.casefold))
    if (pair.one.stated and pair.other.stated) or not pair.facings:
        return " | ".join(sorted_pair(*names))
    first = min(pair.facings, key=lambda facing: (facing.part.path.casefold(), facing.groups))
    return " | ".join(facing_names(first))


def level_between(facts: Facts, one: Sequence[str], other: Sequence[str]) -> Level:
    """A note where the barrier between two sides is stated functional, else an error."""
    ends = {side.casefold() for side in one}, {side.casefold() for side in other}
    grades: list[bool] = []
    for barrier in facts.barriers:
        first, second = (side.casefold() for side in barrier.between)
        if (first in ends[0] and second in ends[1]) or (second in ends[0] and first in ends[1]):
            grades.append(barrier.insulation is not None and barrier.insulation.value == "functional")
    return "note" if grades and all(grades) else "error"


def level_anywhere(facts: Facts) -> Level:
    """The level of a tie whose sides can't be told: a note where every stated barrier is functional."""
    functional = [
        barrier.insulation is not None and barrier.insulation.value == "functional" for barrier in facts.barriers
    ]
    return "note" if functional and all(functional) else "error"


def facing_names(facing: Facing) -> tuple[str, str]:
    """Both port groups of a facing by their pins, sorted."""
    return sorted_pair(*(group_label(facing.part, group) for group in facing.groups))


def couplers(facings: Sequence[Facing]) -> tuple[str, ...]:
    """The barrier parts concerned, each once."""
    return tuple(dict.fromkeys(facing.part.path for facing in facings))


def sorted_pair(one: str, other: str) -> tuple[str, str]:
    """Two names in order, case not counting."""
    return (one, other) if one.casefold() <= other.casefold() else (other, one)


def reversed_path(path: Sequence[Step]) -> tuple[Step, ...]:
    """The same path walked the other way."""
    return tuple(Step(step.net_out, step.element, step.net_in) for step in reversed(path))
