"""What lies between sides by design, and controlled elements that reach across."""

from __future__ import annotations

from collections.abc import Mapping

from isolint.interfaces.entities import Barrier, Join, Step
from isolint.interfaces.facing_sides import Facing, Situation
from isolint.interfaces.joints import Found
from isolint.interfaces.references import NONE
from isolint.interfaces.table import SideTable
from isolint.interfaces.witness import level_between, sorted_pair


def find_barriers(situation: Situation, table: SideTable) -> tuple[Barrier, ...]:
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


def _ends(situation: Situation, table: SideTable, facing: Facing) -> tuple[int, int]:
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


def find_straddlers(situation: Situation, table: SideTable, found: Found) -> tuple[Join, ...]:
    """Controlled elements whose output lies on another side than what controls them: not proven to separate."""
    circuit = situation.links.circuit
    # Bonded sides are one here under several names.
    already = {frozenset(map(table.index_of, join.sides)) for join in found.joins}
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
        if frozenset(map(table.index_of, names)) in already:
            continue
        elements = tuple(step.element for step in steps)
        subject = ", ".join(sorted((circuit.path(element) for element in elements), key=str.casefold))
        level = level_between(situation.facts, names[:1], names[1:])
        joins.append(
            Join("joined-nets", names, (steps[0],), elements, subject, 0.0, level, False, (), unknown=elements)
        )
    return tuple(joins)
