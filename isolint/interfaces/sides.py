"""Sides: galvanic islands once barrier parts are cut out, what lies between them and what joins them.

In: a circuit, facts and the recognised parts. Out: a `Separation`. Where a fault joins two sides, the sides are shown as they
are without it, and the fault is a `Join`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from isolint.circuit import Circuit
from isolint.circuit.connectivity import Islands
from isolint.facts import Facts
from isolint.facts.matching import compile_pattern
from isolint.interfaces.bridges import find_bridges
from isolint.interfaces.conduction import Links, conduct
from isolint.interfaces.islands import partition
from isolint.interfaces.joins import Found, find_joins
from isolint.interfaces.parties import Facing, Situation, bonded
from isolint.interfaces.references import (
    NONE,
    Holders,
    facing_groups,
    find_holders,
    find_return,
    simulation_ground,
)
from isolint.interfaces.values import Barrier, Join, Recognition, Separation, Side, Step
from isolint.interfaces.walk import is_ground_name
from isolint.interfaces.witness import level_between, sorted_pair

INSULATING_RESISTANCE = 1e6
"""Ohms from which a resistance between two sides is no tie, where nobody states another limit."""


def find_sides(circuit: Circuit, facts: Facts, recognition: Recognition) -> Separation:
    """Find the sides of a netlist, its barriers, and what joins or bridges them."""
    ignored = ignored_elements(circuit, facts)
    off = simulation_ground(circuit, facts)
    links = conduct(circuit, recognition, frozenset(ignored), off)
    holders = find_holders(circuit, facts, links)
    stated_limit = facts.limits.insulating_resistance
    limit = INSULATING_RESISTANCE if stated_limit is None else stated_limit.value
    ports = _ports(circuit, recognition, off)
    strong = (*holders.references, *holders.stated, *holders.supplies, *links.sources)
    islands = partition(links, strong, ports, limit)
    facings = _facings(links, recognition, holders)
    situation = Situation(links, facts, holders, facings, ports, strong, limit, islands)
    found = find_joins(situation, recognition)
    if found.removed or found.without != NONE:
        islands = partition(links, strong, ports, limit, found.removed, found.without)
    table = _Table(situation, islands, found.without)
    joins = (*found.joins, *_straddlers(situation, table, found))
    return Separation(
        sides=table.sides,
        side_of_net=table.side_of_net,
        barriers=_barriers(situation, table, recognition),
        joins=joins,
        bridges=find_bridges(links, table.side_of_net, [side.name for side in table.sides], found.removed, found.without),
        ignored=ignored,
        notes=_notes(circuit, off),
    )


def ignored_elements(circuit: Circuit, facts: Facts) -> tuple[int, ...]:
    """Elements stated to exist in the simulation only, in the order of the cards.

    A pattern without a dot is compared with the local name, one with a dot with the whole path.
    """
    stated = facts.reading.simulation_only
    if stated is None or not stated.value:
        return ()
    local = [compile_pattern(name) for name in stated.value if "." not in name]
    whole = [compile_pattern(name) for name in stated.value if "." in name]
    return tuple(
        element
        for element in circuit.elements()
        if any(pattern.match(circuit.name(element).casefold()) for pattern in local)
        or (whole and any(pattern.match(circuit.path(element).casefold()) for pattern in whole))
    )


def _ports(circuit: Circuit, recognition: Recognition, off: int) -> list[list[list[int]]]:
    ports: list[list[list[int]]] = []
    for part in recognition.parts.values():
        pins = circuit.pins(part.element)
        groups = [[pins[pin] for pin in group if pin < len(pins) and pins[pin] != off] for group in part.groups]
        ports.append(groups)
    return ports


def _facings(links: Links, recognition: Recognition, holders: Holders) -> tuple[Facing, ...]:
    found: list[Facing] = []
    for part in recognition.parts.values():
        pins = links.circuit.pins(part.element)
        nets = [[pins[pin] for pin in group if pin < len(pins)] for group in part.groups]
        pairs, each = facing_groups(part)
        for one, other in pairs:
            returns = (
                find_return(links, recognition, holders, nets[one], nets[other]),
                find_return(links, recognition, holders, nets[other], nets[one]),
            )
            found.append(Facing(part, (one, other), returns, each))
    return tuple(found)


@dataclass(slots=True)
class _Draft:
    """What is gathered of one side before it is named."""

    nets: list[int]
    stated: list[str]
    references: list[int]
    supplies: list[int]


class _Table:
    """The sides in the order of their names, and which net lies on which."""

    def __init__(self, situation: Situation, islands: Islands, without: int) -> None:
        self.situation = situation
        circuit, holders, links = situation.links.circuit, situation.holders, situation.links
        groups = _grouped(situation, islands, without)
        drafts: dict[int, _Draft] = {}
        counts: dict[int, int] = {}
        for link in range(len(links)):
            if links.elements[link] >= 0 and (link == 0 or links.elements[link] != links.elements[link - 1]):
                root = groups.get(islands.of(links.nets(link)[0]))
                if root is not None:
                    counts[root] = counts.get(root, 0) + 1
        self._root_of: dict[int, int] = {}
        supply_nets = {*holders.supplies, *(net for net in links.sources if net not in holders.references)}
        for net in circuit.nets():
            root = groups.get(islands.of(net))
            if root is None or net in (without, holders.simulation_ground):
                continue
            draft = drafts.setdefault(root, _Draft([], [], [], []))
            draft.nets.append(net)
            if net in holders.stated and holders.stated[net] not in draft.stated:
                draft.stated.append(holders.stated[net])
            if net in holders.references:
                draft.references.append(net)
            if net in supply_nets:
                draft.supplies.append(net)
        made = sorted(((self._side(draft, counts.get(root, 0)), root) for root, draft in drafts.items()), key=_place)
        self.sides = tuple(side for side, _ in made)
        self.side_of_net = {net: index for index, side in enumerate(self.sides) for net in sorted(side.nets)}
        self._by_stated = {
            name.casefold(): index for index, (_, root) in enumerate(made) for name in drafts[root].stated
        }

    def _side(self, draft: _Draft, elements: int) -> Side:
        circuit, holders, facts = self.situation.links.circuit, self.situation.holders, self.situation.facts
        # In the order of isolint.toml: of bonded sides the first one names them all.
        stated = next((name for name in facts.sides if name in draft.stated), "")
        key = {net: (holders.references[net], not is_ground_name(circuit.net_name(net)), circuit.net_name(net).casefold()) for net in draft.references}
        usable = [net for net in draft.references if net not in holders.supplies] or draft.references
        reference = min(usable, key=lambda net: key[net], default=NONE)
        supplies = sorted(draft.supplies, key=lambda net: (net not in holders.supplies, circuit.net_name(net).casefold()))
        first = min(draft.nets, key=lambda net: circuit.net_name(net).casefold())
        naming = reference if reference != NONE else supplies[0] if supplies else first
        kind = next((k.value for name in draft.stated if (k := facts.sides[name].kind) is not None), "")
        return Side(stated or circuit.net_name(naming), stated, kind, reference, tuple(supplies), frozenset(draft.nets), elements)

    def of_name(self, name: str) -> int | None:
        """The index of a stated side, None when none of its nets is in the netlist."""
        return self._by_stated.get(name.casefold())


def _place(made: tuple[Side, int]) -> tuple[str, int]:
    return made[0].name.casefold(), min(made[0].nets)


def _grouped(situation: Situation, islands: Islands, without: int) -> dict[int, int]:
    """Islands that are sides, by their root, and the root that stands for each: one for all islands of a stated side and
    of the sides bonded to it."""
    holders = situation.holders
    on_side = dict.fromkeys(islands.of(net) for part in situation.ports for group in part for net in group if net != without)
    on_side.update(dict.fromkeys(islands.of(net) for net in (*holders.stated, *holders.supplies) if net != without))
    stands = {root: root for root in on_side}
    alias = bonded(situation.facts)
    first: dict[str, int] = {}

    def top(root: int) -> int:
        while stands[root] != root:
            root = stands[root]
        return root

    for net, name in holders.stated.items():
        if net != without:
            folded = name.casefold()
            root = top(islands.of(net))
            other = top(first.setdefault(alias.get(folded, folded), root))
            stands[max(root, other)] = min(root, other)
    return {root: top(root) for root in stands}


def _barriers(situation: Situation, table: _Table, recognition: Recognition) -> tuple[Barrier, ...]:
    """Each pair of sides with barrier parts between them, or stated."""
    circuit, off = situation.links.circuit, situation.holders.simulation_ground
    between: dict[tuple[int, int], dict[int, None]] = {}
    undecidable: dict[tuple[int, int], str] = {}
    for facing in situation.facings:
        one, other = sorted(_ends(situation, table, facing))
        if one != other and one != NONE:
            between.setdefault((one, other), {})[facing.part.element] = None
        if off != NONE and all(found.net == off for found in facing.returns) and one != NONE:
            name = circuit.net_name(off)
            text = f"both sides of {facing.part.path} return to {name}, which is declared the simulation's ground"
            between.setdefault((one, other), {})[facing.part.element] = None
            undecidable.setdefault((one, other), text)
    found: list[Barrier] = []
    stated: dict[int, tuple[int, int]] = {}
    absent: list[Barrier] = []
    for index, fact in enumerate(situation.facts.barriers):
        first, second = (table.of_name(name) for name in fact.between)
        if first is None or second is None:
            missing = ", ".join(name for name, side in zip(fact.between, (first, second), strict=True) if side is None)
            text = f"no net of side {missing} is in this netlist"
            if off != NONE:
                text += f", or only {circuit.net_name(off)}, which is declared the simulation's ground"
            absent.append(Barrier(sorted_pair(*fact.between), (), index, text))
        else:
            pair = (min(first, second), max(first, second))
            between.setdefault(pair, {})
            stated.setdefault(index, pair)
    of_pair: Mapping[tuple[int, int], int] = {pair: index for index, pair in reversed(stated.items())}
    for pair in sorted(between):
        names = table.sides[pair[0]].name, table.sides[pair[1]].name
        found.append(Barrier(names, tuple(between[pair]), of_pair.get(pair, NONE), undecidable.get(pair, "")))
    return (*found, *absent)


def _ends(situation: Situation, table: _Table, facing: Facing) -> tuple[int, int]:
    """The sides of both port groups: where each returns to, else where its pins lie. A group that a fault puts on its
    partner's side counts to the other side that it touches."""
    touched: list[list[int]] = []
    for group, reached in zip(facing.groups, facing.returns, strict=True):
        nets = (reached.net, *sorted(situation.group_nets(facing.part, group)))
        sides = [table.side_of_net[net] for net in nets if net in table.side_of_net]
        touched.append(list(dict.fromkeys(sides)))
    if not touched[0] or not touched[1]:
        return NONE, NONE
    one, other = touched[0][0], touched[1][0]
    if one == other:
        other = next((side for side in touched[1] if side != one), other)
        if one == other:
            one = next((side for side in touched[0] if side != other), one)
    return one, other


def _straddlers(situation: Situation, table: _Table, found: Found) -> tuple[Join, ...]:
    """Controlled elements whose output lies on another side than what controls them: not proven to separate."""
    circuit = situation.links.circuit
    already = {frozenset(join.sides) for join in found.joins}
    by_pair: dict[tuple[str, str], list[Step]] = {}
    for element, controls in situation.links.controls:
        outputs = [net for net in circuit.pins(element) if net in table.side_of_net]
        for control in controls:
            if control not in table.side_of_net or not outputs:
                continue
            if all(table.side_of_net[output] != table.side_of_net[control] for output in outputs):
                names = sorted_pair(*(table.sides[table.side_of_net[net]].name for net in (control, outputs[0])))
                steps = by_pair.setdefault(names, [])
                if all(step.element != element for step in steps):
                    steps.append(Step(control, element, outputs[0]))
    joins: list[Join] = []
    for names, steps in sorted(by_pair.items()):
        if frozenset(names) in already:
            continue
        elements = tuple(step.element for step in steps)
        subject = ", ".join(sorted((circuit.path(element) for element in elements), key=str.casefold))
        level = level_between(situation.facts, names[:1], names[1:])
        joins.append(Join("bridge-conducting", names, (steps[0],), elements, subject, 0.0, level, False, (), unknown=elements))
    return tuple(joins)


def _notes(circuit: Circuit, off: int) -> tuple[str, ...]:
    """What an engineer may take for one and is two."""
    zero = circuit.find_net("0")
    if zero is None or zero == off:
        return ()
    named = sorted({circuit.net_name(net) for net in circuit.nets() if net != zero and is_ground_name(circuit.net_name(net))})
    if not named:
        return ()
    verb = "is" if len(named) == 1 else "are"
    return (f"{', '.join(named)} {verb} taken as other nets than node 0",)


def dump(separation: Separation, circuit: Circuit) -> str:
    """The whole separation as text, one thing a line."""
    name = circuit.net_name
    lines: list[str] = []
    for side in separation.sides:
        reference = name(side.reference) if side.reference != NONE else "-"
        supplies = ",".join(name(net) for net in side.supplies) or "-"
        nets = " ".join(sorted((name(net) for net in side.nets), key=str.casefold))
        kind = f" kind={side.kind}" if side.kind else ""
        lines.append(f"(side {side.name} reference={reference} supplies={supplies}{kind} elements={side.element_count}: {nets})")
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
    return f"({join.rule} {join.level} {' | '.join(join.sides)} subject={join.subject!r} cut={cut}{extra}: {path or '-'})"


