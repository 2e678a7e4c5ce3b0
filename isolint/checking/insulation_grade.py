"""Results about the grade of insulation: of parts, of chains of barriers, and where nobody stated what is wanted."""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from typing import Final

from isolint.checking.barrier_limits import UNITS
from isolint.checking.barrier_results import about, evidence, made, waiting
from isolint.checking.barrier_strength import Amount, Crosser, Wall, record_line, walls
from isolint.checking.bridge_strength import string_grade
from isolint.checking.context import Context
from isolint.checking.part_ratings import SURGE_FLOOR, Offer, test_words
from isolint.checking.rule import Rule
from isolint.checking.side_kinds import SideKind, side_kinds
from isolint.errors import Place
from isolint.facts import BarrierFacts
from isolint.parts import Insulation
from isolint.results import Evidence, Limit, Margin, Measure, MissingFact, Result
from isolint.standards.insulation_demands import Need
from isolint.standards.insulation_tables import ES1

_ASKED: Final = ("grade", "working_voltage", "repetitive_peak", "transient", "creepage", "clearance", "material_group")
"""What is asked of a part whose record says nothing of its insulation."""
_LEVELS: Final = ("functional", "basic", "double or reinforced")


def units_of(wall: Wall) -> int | None:
    """The layers that the stated insulation of a barrier counts for; None where nobody stated it."""
    limits = wall.limits
    if limits.functional:
        return 0
    return None if limits.strength is None else UNITS[limits.strength]


def grade_results(context: Context, rule: Rule) -> Iterator[Result]:
    """Of each barrier what is stated of it, then of each part across."""
    yield from _unstated(context, rule)
    for wall in walls(context):
        contradictions = [kind.contradiction for kind in wall.kinds if kind.contradiction]
        if contradictions and (wall.crossers or wall.pair.facts):
            yield _contradiction(context, rule, wall, contradictions[0])
        waits = waiting(context, rule, wall)
        if waits is not None:
            yield waits
            continue
        unknown = _unknown_kind(context, rule, wall)
        if unknown is not None:
            yield unknown
        if wall.limits.strength is not None:
            for crosser in wall.crossers:
                yield _of_part(context, rule, wall, crosser)
            yield from string_grade(context, rule, wall)
    yield from _chains(context, rule)


# -- what nobody stated --------------------------------------------------------------------------------------------


def _unstated(context: Context, rule: Rule) -> Iterator[Result]:
    """One open result for all barriers of one hazardous or touchable side of which nobody stated the insulation."""
    told: dict[str, list[Wall]] = {}
    for wall in walls(context):
        if wall.limits.insulation or waiting(context, rule, wall) is not None:
            continue
        if not (wall.crossers or wall.pair.facts or _only_resistors(wall)):
            continue
        one, other = wall.kinds
        mixed = one.hazardous != other.hazardous
        applied = wall.limits.profile == "iec-60601-1" and _applied(context, wall)
        touched = one.danger == other.danger == "S"
        if mixed or (wall.limits.full and not touched) or applied:
            side = next(
                (name for name, kind in zip(wall.pair.sides, wall.kinds, strict=True) if kind.danger == "S"), ""
            )
            told.setdefault(side or wall.pair.name, []).append(wall)
    for same in told.values():
        wall = same[0]
        missing: list[MissingFact] = []
        for each in same:
            more = [
                row
                for row in (BarrierFacts.working_voltage, BarrierFacts.mains, BarrierFacts.overvoltage_category)
                if not each.limits.states(row)
            ]
            missing.append(each.pair.missing(BarrierFacts.insulation, "", *more))
            missing += [
                each.pair.kind_missing(name)
                for name, kind in zip(each.pair.sides, each.kinds, strict=True)
                if not kind.kind
            ]
        listed = "; ".join(each.words for each in same)
        needed = _needed_words(same)
        text = f"nobody stated the insulation between {listed}{needed}"
        across = ", ".join(context.circuit.path(element) for each in same for element in _across(each)[:4])
        if across:
            text += f"; across lie {across}"
        yield made(context, rule, wall, None, "open", text, missing=list(dict.fromkeys(missing)), role="unstated")


def _only_resistors(wall: Wall) -> bool:
    """Whether nothing but resistors lies across: where a capacitor does, that asks for the level."""
    return bool(wall.bridges) and all(bridge.kind == "resistance" for bridge in wall.bridges)


def _across(wall: Wall) -> tuple[int, ...]:
    """The parts across a barrier, or the resistors where no part is."""
    return wall.elements or tuple(
        element for bridge in wall.bridges if bridge.kind == "resistance" for element in bridge.elements
    )


def _needed_words(same: list[Wall]) -> str:
    words = []
    for wall in same:
        one, other = wall.kinds
        for hazard, touched in ((one, other), (other, one)):
            if hazard.hazardous and touched.danger == "S":
                least, most = needed(hazard, touched)
                level = _LEVELS[most] if least == most else f"{_LEVELS[least]} to {_LEVELS[most]}"
                words.append(f"{level} is needed there")
    return f"; {words[0]}" if words else ""


def _applied(context: Context, wall: Wall) -> bool:
    """Whether one side is an applied part of type BF or CF."""
    facts = [context.facts.side(side.stated) for side in wall.pair.known if side is not None and side.stated]
    parts = [fact.applied_part.value for fact in facts if fact is not None and fact.applied_part is not None]
    return any(part in ("BF", "CF") for part in parts)


def _contradiction(context: Context, rule: Rule, wall: Wall, text: str) -> Result:
    kinds = [wall.pair.kind_missing(name) for name in wall.pair.sides]
    missing = [line for line, kind in zip(kinds, wall.kinds, strict=True) if kind.contradiction]
    said = f"{text}: both can't be; which is right?"
    return made(context, rule, wall, None, "open", said, missing=missing, role="contradiction")


def _unknown_kind(context: Context, rule: Rule, wall: Wall) -> Result | None:
    """Less than reinforced insulation towards a side of which nobody says whether it may be touched."""
    limits, (one, other) = wall.limits, wall.kinds
    units = units_of(wall)
    if units is None or units >= 2 or not wall.crossers:
        return None
    unknown: list[str] = []
    for name, kind, across in ((wall.pair.sides[0], one, other), (wall.pair.sides[1], other, one)):
        if (
            kind.danger == "U"
            and not kind.earthed
            and (across.danger in ("H3", "H") or (limits.mains > ES1.rms and across.danger == "U"))
        ):
            unknown.append(name)
    if not unknown:
        return None
    text = (
        f"{limits.insulation} insulation between {wall.words}: enough only if side {' and '.join(unknown)} can't be "
        "touched, or is earthed; nobody stated its kind"
    )
    missing = [wall.pair.kind_missing(name) for name in unknown]
    return made(context, rule, wall, None, "open", text, missing=missing, role="kind")


# -- parts ---------------------------------------------------------------------------------------------------------


def _of_part(context: Context, rule: Rule, wall: Wall, crosser: Crosser) -> Result:
    limits, ratings = wall.limits, crosser.ratings
    units, wanted = units_of(wall) or 0, limits.insulation
    start = about(context, wall, crosser)
    if ratings.empty:
        rows = [ratings.row(name) for name in _ASKED if name != "material_group" or not crosser.outputs]
        line = record_line(context, crosser, *rows)
        text = f"{start}: nothing is known of its insulation, {wanted} is wanted"
        return made(context, rule, wall, crosser, "open", text, missing=[line])
    grade = ratings.grade(wanted, units)
    told = _grade_evidence(crosser, units, grade.worst)
    if grade.kindest < units:
        share = grade.share if grade.share < 1.0 else grade.kindest / units
        why = f": {grade.reason}" if grade.reason else ""
        text = f"{start}: {_LEVELS[grade.kindest]} insulation, {wanted} is wanted{why}{_shortfall(wall, crosser)}"
        first = context.named(min(crosser.elements, key=context.place))
        remedy = f"{first}: a part certified for {wanted} insulation, or two layers each of which holds"
        return made(context, rule, wall, crosser, "fail", text, evidence=told, margin=Margin(share, 1.0), remedy=remedy)
    if grade.worst < units:
        missing = [record_line(context, crosser, row) for row in grade.rows]
        text = f"{start}: {wanted} is wanted, {grade.reason}"
        return made(context, rule, wall, crosser, "open", text, evidence=told, missing=missing)
    named = ratings.stated.standard
    by = f" by {named}" if named else ", as its record says without naming a standard"
    if crosser.outputs:
        by = " between its channels"
    text = f"{start}: {_LEVELS[min(grade.worst, 2)]} insulation{by}, {wanted} is wanted"
    return made(context, rule, wall, crosser, "pass", text, evidence=told, margin=Margin(grade.worst / units, 1.0))


def _grade_evidence(crosser: Crosser, units: int, worst: int) -> list[Evidence]:
    stated: Insulation = crosser.ratings.stated
    papers = (f"grade {stated.grade or 'not stated'}, standard {stated.standard or 'not stated'}",)
    lines = [
        Evidence(
            "layers of insulation",
            "n",
            "1",
            None,
            float(worst),
            None,
            Limit("at_least", float(units)),
            {},
            "",
            "; ".join((*papers, *test_words(stated))),
        )
    ]
    if stated.surge is not None:
        lines.append(
            Evidence("surge voltage", "V_IOSM", "V", None, stated.surge, None, Limit("at_least", SURGE_FLOOR), {}, "",
                     f"surge_is {stated.surge_is or 'not stated'}; the floor is that of the test")
        )  # fmt: skip
    return lines


def _shortfall(wall: Wall, crosser: Crosser) -> str:
    """What else would be short at the wanted grade, which the other rules do not judge."""
    strength = wall.limits.strength
    if strength is None:
        return ""
    found = []
    for name in ("clearance", "creepage"):
        offer = crosser.ratings.distance(name)
        if name == "clearance":
            wanted = wall.limits.clearance(strength)
        else:
            wanted = wall.limits.creepage(strength, *crosser.ratings.groups)
        if wanted is not None and offer.kindest < wanted.need.kindest:
            need = Need(wanted.need.kindest, wanted.need.kindest, wanted.need.row, wanted.need.confidence)
            amount = Amount(name, "", "m", need, Offer(offer.kindest, offer.kindest, offer.source))
            found.append(f"{name} {evidence(amount).min or 0.0:.3g} m of {need.kindest:.3g} m")
    return f"; at that grade also short: {', '.join(found)}" if found else ""


# -- chains --------------------------------------------------------------------------------------------------------


def needed(hazard: SideKind, touched: SideKind) -> tuple[int, int]:
    """The layers wanted between a hazardous and a touchable side, at the kindest and at the worst."""
    if hazard.danger == "H3":
        return (1, 1) if touched.earthed or touched.kind == "earth" else (2, 2)
    if hazard.danger == "H2":
        return 1, 1
    return (1, 1) if touched.earthed or touched.kind == "earth" else (1, 2)


def _chains(context: Context, rule: Rule) -> Iterator[Result]:
    """Each hazardous and touchable side between which the stated levels add up to too little."""
    kinds = context.kept(side_kinds)
    joined: dict[str, list[tuple[str, Wall]]] = {}
    for wall in walls(context):
        if wall.crossers or wall.pair.facts or wall.bridges:
            one, other = wall.pair.sides
            joined.setdefault(one, []).append((other, wall))
            joined.setdefault(other, []).append((one, wall))
    for hazard in sorted(joined, key=str.casefold):
        if hazard not in kinds or not kinds[hazard].hazardous:
            continue
        for touched, (total, way) in _ways(hazard, joined, kinds, unstated=0).items():
            kind = kinds.get(touched)
            if kind is None or kind.danger != "S" or not way:
                continue
            least, most = needed(kinds[hazard], kind)
            # What earth would make of a chassis behind basic insulation is another question.
            if total >= most or (kind.kind == "chassis" and total >= 1):
                continue
            if any(units_of(wall) is None for wall in way):
                # The unstated level of a link is asked for by itself.
                continue
            yield _chain(context, rule, (hazard, touched), kinds, total, (least, most), way)


def _ways(
    start: str, joined: dict[str, list[tuple[str, Wall]]], kinds: dict[str, SideKind], unstated: int
) -> dict[str, tuple[int, tuple[Wall, ...]]]:
    """The fewest layers from a side to each other, and the barriers on that way; a way ends at protective earth."""
    done: dict[str, tuple[int, tuple[Wall, ...]]] = {}
    heap: list[tuple[int, int, str, tuple[Wall, ...]]] = [(0, 0, start, ())]
    while heap:
        total, steps, name, way = heapq.heappop(heap)
        if name in done:
            continue
        done[name] = total, way
        kind = kinds.get(name)
        if kind is not None and name != start and (kind.earthed or kind.kind == "earth"):
            continue
        for other, wall in joined.get(name, ()):
            if other not in done:
                units = units_of(wall)
                heapq.heappush(heap, (total + (unstated if units is None else units), steps + 1, other, (*way, wall)))
    return done


def _chain(
    context: Context,
    rule: Rule,
    ends: tuple[str, str],
    kinds: dict[str, SideKind],
    total: int,
    wanted: tuple[int, int],
    way: tuple[Wall, ...],
) -> Result:
    hazard, touched = ends
    least, most = wanted
    links = ", ".join(f"{wall.limits.insulation} between {wall.pair.name}" for wall in way)
    level = _LEVELS[least] if least == most else f"{_LEVELS[least]} to {_LEVELS[most]}"
    text = (
        f"from side {hazard} ({kinds[hazard].words}) to side {touched} ({kinds[touched].words}) {level} insulation "
        f"is needed, {total} of {least if total < least else most} layers are stated: {links}"
    )
    weakest = min(way, key=lambda wall: units_of(wall) or 0)
    first = min(weakest.elements, key=context.place, default=None)
    where = Place(context.netlist) if first is None else context.place(first)
    told = Evidence("layers stated", "n", "1", None, float(total), None, Limit("at_least", float(most)), {}, "", links)
    failed = total < least and not kinds[hazard].assumed
    missing = [] if failed else [weakest.pair.kind_missing(name) for name in weakest.pair.sides if name in ends]
    return context.result(
        rule,
        "fail" if failed else "open",
        text,
        where,
        " | ".join(sorted(ends, key=str.casefold)),
        role="chain",
        evidence=[told],
        margin=Margin(total / (least if failed else most), 1.0),
        measure=Measure(float(total), larger_is_worse=False),
        missing=missing,
        remedy=f"{level} insulation on the way, or protective earth between" if failed else "",
        related=context.related(weakest.elements),
        element=first,
    )
