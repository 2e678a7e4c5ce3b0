"""Sides: galvanic islands once barrier parts are cut out, what lies between them and what joins them.

In: a circuit, facts and the recognised parts. Out: a `Separation`. Where a fault joins two sides, the sides are shown
as they are without it, and the fault is a `Join`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from isolint.circuit import Circuit
from isolint.circuit.connectivity import Islands
from isolint.facts import Facts, Limits
from isolint.facts.matching import compile_pattern
from isolint.interfaces.barriers import find_barriers, find_straddlers
from isolint.interfaces.bridges import find_bridges
from isolint.interfaces.conduction import Links, conduct
from isolint.interfaces.entities import Join, Recognition, Separation
from isolint.interfaces.facing_sides import Facing, Situation
from isolint.interfaces.islands import partition, wired
from isolint.interfaces.joints import Found, find_joins
from isolint.interfaces.reduction import Reduction, reduce
from isolint.interfaces.references import (
    NONE,
    Holders,
    facing_groups,
    find_holders,
    find_return,
    grounds_by_name,
    named_nets,
    simulation_ground,
)
from isolint.interfaces.table import SideTable


def find_sides(
    circuit: Circuit,
    facts: Facts,
    recognition: Recognition,
    reduced: bool = True,
    asked: Collection[int] | None = None,
) -> Separation:
    """Find the sides of a netlist, its barriers, and what joins or bridges them.

    asked: the unexplained parts that may isolate by their place; all of them where it is None.

    reduced: work on subcircuits that are placed several times is done once; nothing else changes.
    """
    ignored = ignored_elements(circuit, facts)
    off = simulation_ground(circuit, facts)
    if reduced:
        reduction = reduce(circuit, recognition, ignored, named_nets(circuit, facts), off)
        while reduction is not None:
            situation = _situation(circuit, facts, recognition, ignored, off, reduction)
            holders = situation.holders
            faced = (net for part in situation.ports for group in part for net in group)
            own = [*holders.stated, *holders.supplies, *faced]
            opened = reduction.undecided(wired(situation.links)[0], own)
            if opened != reduction.opened:
                reduction = reduction.opening(opened)
                continue
            found = find_joins(situation, recognition, asked)
            if found == Found():
                return _separation(situation, ignored, off, found, reduction)
            # What joins sides may lie in parts that were left out.
            break
    situation = _situation(circuit, facts, recognition, ignored, off, None)
    return _separation(situation, ignored, off, find_joins(situation, recognition, asked), None)


def _situation(
    circuit: Circuit,
    facts: Facts,
    recognition: Recognition,
    ignored: Sequence[int],
    off: int,
    reduction: Reduction | None,
) -> Situation:
    links = conduct(circuit, recognition, frozenset(ignored), off, None if reduction is None else reduction.elements)
    holders = find_holders(circuit, facts, links, recognition)
    limit = facts.number(Limits.insulating_resistance)
    ports = _ports(circuit, recognition, off)
    strong = (*holders.references, *holders.stated, *holders.supplies, *links.sources)
    islands = partition(links, strong, ports, limit)
    facings = _facings(links, recognition, holders, islands)
    return Situation(links, facts, holders, facings, ports, strong, limit, islands)


def _separation(
    situation: Situation,
    ignored: tuple[int, ...],
    off: int,
    found: Found,
    reduction: Reduction | None,
) -> Separation:
    links, islands = situation.links, situation.islands
    if found.removed or found.without != NONE:
        islands = partition(links, situation.strong, situation.ports, situation.limit, found.removed, found.without)
    table = SideTable(situation, islands, found.without, reduction)
    joins = (*found.joins, *find_straddlers(situation, table, found))
    return Separation(
        sides=table.sides,
        side_of_net=table.side_of_net,
        barriers=find_barriers(situation, table),
        joins=joins,
        bridges=find_bridges(
            links,
            table.side_of_net,
            [side.name for side in table.sides],
            found.removed,
            islands,
            ignored,
            [net for net in (found.without, off) if net != NONE],
            reduction,
        ),
        ignored=ignored,
        notes=_notes(links.circuit, off),
    )


def ignored_elements(circuit: Circuit, facts: Facts) -> tuple[int, ...]:
    """Elements stated to exist in the simulation only, in the order of the cards.

    A pattern without a dot is compared with the local name, one with a dot with the whole path.
    """
    stated = facts.reading.simulation_only
    if stated is None or not stated.value:
        return ()
    found: set[int] = set()
    for name in stated.value:
        found |= _called(circuit, name)
    return tuple(sorted(found))


def _called(circuit: Circuit, name: str) -> set[int]:
    regex = compile_pattern(name)
    return circuit.elements_like(name.casefold(), regex, "path" if "." in name else "card")


def _ports(circuit: Circuit, recognition: Recognition, off: int) -> list[list[list[int]]]:
    ports: list[list[list[int]]] = []
    for part in recognition.parts.values():
        pins = circuit.pins(part.element)
        groups = [[pins[pin] for pin in group if pin < len(pins) and pins[pin] != off] for group in part.groups]
        ports.append(groups)
    return ports


def _facings(links: Links, recognition: Recognition, holders: Holders, islands: Islands) -> tuple[Facing, ...]:
    found: list[Facing] = []
    for part in recognition.parts.values():
        pins = links.circuit.pins(part.element)
        nets = [[pins[pin] for pin in group if pin < len(pins)] for group in part.groups]
        pairs, each = facing_groups(part)
        for one, other in pairs:
            ways = (nets[one], nets[other]), (nets[other], nets[one])
            first, second = (find_return(links, recognition, holders, islands, *way) for way in ways)
            if first.net == second.net != NONE:
                # Where another reference is as near to one group, a stray leads it to that of the other.
                again = [find_return(links, recognition, holders, islands, *way, avoid=first.net) for way in ways]
                if again[0].net != first.net and again[0].distance == first.distance:
                    first = again[0]
                elif again[1].net != second.net and again[1].distance == second.distance:
                    second = again[1]
            found.append(Facing(part, (one, other), (first, second), each))
    return tuple(found)


def _notes(circuit: Circuit, off: int) -> tuple[str, ...]:
    """What an engineer may take for one and is two."""
    zero = circuit.find_net("0")
    if zero is None or zero == off:
        return ()
    named = sorted({circuit.net_name(net) for net in grounds_by_name(circuit) if net != zero})
    if not named:
        return ()
    what = "a net of its own" if len(named) == 1 else "nets of their own"
    return (f"assumed: {', '.join(named)}: {what}, not node 0",)


def dump(separation: Separation, circuit: Circuit) -> str:
    """The whole separation as text, one thing a line."""
    name = circuit.net_name
    lines: list[str] = []
    for side in separation.sides:
        reference = name(side.reference) if side.reference != NONE else "-"
        supplies = ",".join(name(net) for net in side.supplies) or "-"
        nets = " ".join(sorted((name(net) for net in side.nets), key=str.casefold))
        kind = f" kind={side.kind}" if side.kind else ""
        lines.append(
            f"(side {side.name} reference={reference} supplies={supplies}{kind} elements={side.element_count}: {nets})"
        )
    for barrier in separation.barriers:
        parts = " ".join(circuit.path(element) for element in barrier.parts) or "-"
        stated = "" if barrier.stated == NONE else " stated"
        doubt = f" undecidable: {barrier.undecidable}" if barrier.undecidable else ""
        lines.append(f"(barrier {' | '.join(barrier.sides)}{stated}: {parts}{doubt})")
    lines += [_join_text(join, circuit) for join in separation.joins]
    for bridge in separation.bridges:
        elements = " ".join(circuit.path(element) for element in bridge.elements)
        lines.append(f"(bridge {' | '.join(bridge.sides)} {bridge.kind} {bridge.value}: {elements})")
    lines += [f"(ignored {circuit.path(element)})" for element in separation.ignored]
    lines += [f"(note {note})" for note in separation.notes]
    return "\n".join(lines)


def _join_text(join: Join, circuit: Circuit) -> str:
    path = ""
    for step in join.path:
        element = circuit.path(step.element) if step.element >= 0 else "stated"
        path += f"{circuit.net_name(step.net_in) if not path else ''} -[{element}]- {circuit.net_name(step.net_out)}"
    extra = ""
    if join.shared_net != NONE:
        extra += f" net={circuit.net_name(join.shared_net)}"
    if join.node_0_only:
        extra += " node-0-only"
    if join.unknown:
        extra += " unknown=" + ",".join(circuit.path(element) for element in join.unknown)
    if join.couplers:
        extra += " couplers=" + ",".join(join.couplers)
    cut = ",".join(circuit.path(element) for element in join.cut) or "-"
    return (
        f"({join.kind} {join.level} {' | '.join(join.sides)} subject={join.subject!r} cut={cut}{extra}: {path or '-'})"
    )
