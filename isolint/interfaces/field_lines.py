"""Field lines: nothing but the LED that a stated line drives says which side it comes from.

In: the graph of the islands in which sides meet. Out: by net of a line, the facing whose port group it belongs to.
Asked only for a netlist that fails: there a stray element joins the line to the other side, and without this the cut
would as well name the line's own resistor.
"""

from __future__ import annotations

from collections.abc import Collection

from isolint.interfaces.conduction import FACT, MULTI, UNKNOWN
from isolint.interfaces.entities import Recognition
from isolint.interfaces.facing_sides import Facing, Situation
from isolint.interfaces.graph import LinkGraph, Terminals
from isolint.interfaces.references import NONE, find_return

_LIT = ("anode", "cathode")

Found = tuple[int, Facing, int]
"""The reference that a port group returns to (NONE for none), with the facing and the end of it (0 or 1)."""


def lines_of_groups(situation: Situation, graph: LinkGraph, recognition: Recognition) -> dict[int, Found]:
    """The stated lines, each with the port group that it belongs to and what that returns to.

    A line belongs to the LED that it touches, else to those in its drive network: those it leads to without going over
    a supply, a reference or a net with facts of its own, nor over another line unless there is no other way (a line
    behind its fuse is often named by the same pattern). One that leads to no LED belongs to the port group that it
    touches; beside an LED, an output on that line is the stray. Where it leads to LEDs with different returns, those
    count that nothing else drives; if they differ too, the line belongs to neither.
    """
    circuit, facts, holders = situation.links.circuit, situation.facts, situation.holders
    names = {net: circuit.net_name(net) for net in graph.at}
    lines = {net for net, name in names.items() if facts.line(name) is not None}
    if not lines:
        return {}
    ports = {net for net, name in names.items() if facts.output(name) is not None or facts.input(name) is not None}
    driving = {*ports, *holders.supplies}
    held = {*driving, *holders.references, *holders.stated, holders.simulation_ground}
    touching, lit = _ends_at(situation)
    found: dict[int, Found] = {}
    for line in sorted(lines - set(holders.references) - set(holders.supplies)):
        places = [(line, end) for end in lit.get(line, ())]
        for barred in (held | lines, held):
            places = places or [(net, end) for net in _network(graph, line, barred) for end in lit.get(net, ())]
        places = places or [(line, end) for end in touching.get(line, ())]
        for _ in range(2):
            returns = [(_return_of(situation, recognition, line, *end), *end) for _, end in places]
            if len({net if net != NONE else (f.part.element, f.groups[end]) for net, f, end in returns}) == 1:
                found[line] = returns[0]
                break
            places = [(net, end) for net, end in places if not _is_driven(graph, net, held | lines, driving)]
    return found


_Ends = dict[int, list[tuple[Facing, int]]]


def _ends_at(situation: Situation) -> tuple[_Ends, _Ends]:
    """The port groups at each net, and those of LEDs alone; an LED's pin on a reference tells nothing."""
    touching: _Ends = {}
    lit: _Ends = {}
    for facing in situation.facings:
        for end, group in enumerate(facing.groups):
            is_lit = any(facing.part.roles[pin] in _LIT for pin in facing.part.groups[group])
            for net in situation.group_nets(facing.part, group):
                touching.setdefault(net, []).append((facing, end))
                if is_lit and net not in situation.holders.references:
                    lit.setdefault(net, []).append((facing, end))
    return touching, lit


def _return_of(situation: Situation, recognition: Recognition, line: int, facing: Facing, end: int) -> int:
    """What a port group returns to, the line itself being no way back, nor what the other group returns to if there is
    another."""
    nets = situation.group_nets(facing.part, facing.groups[end])
    if line not in nets:
        return facing.returns[end].net
    others = [net for net in nets if net != line]
    own, far = situation.islands, facing.returns[1 - end].net
    return find_return(situation.links, recognition, situation.holders, own, others, (line,), avoid=far).net


def _is_driven(graph: LinkGraph, start: int, held: Collection[int], driving: Collection[int]) -> bool:
    """Whether an output, an input or a supply is reached from a net without going over a line."""
    links = graph.links
    return any(
        other in driving
        for net in _network(graph, start, held)
        for link in graph.at[net]
        if links.kinds[link] not in (FACT, MULTI, UNKNOWN)
        for other in links.nets(link)
    )


def _network(graph: LinkGraph, start: int, held: Collection[int]) -> list[int]:
    """The nets that a line leads to through parts with two pins, nearest first, held ones left out."""
    links = graph.links
    seen = {start}
    nets = [start]
    for net in nets:
        for link in graph.at[net]:
            if links.kinds[link] in (FACT, MULTI, UNKNOWN):
                continue
            fresh = [other for other in links.nets(link) if other not in seen and other not in held]
            seen.update(fresh)
            nets += fresh
    return nets


def beside(graph: LinkGraph, ends: Terminals, lines: Collection[int], barred: Collection[int]) -> set[int]:
    """The links that lead from lines to their own side, the barred ones (what joins the two sides) left out."""
    links = graph.links
    found: set[int] = set()
    seen = set(lines)
    waiting = list(lines)
    for net in waiting:
        for link in graph.at.get(net, ()):
            if link in barred or links.kinds[link] == UNKNOWN:
                continue
            found.add(link)
            fresh = [other for other in links.nets(link) if other not in seen and ends.owner.get(other) is None]
            seen.update(fresh)
            waiting += fresh
    return found
