"""Whether fast edges across a barrier leave the outputs of its couplers as they are: common-mode transient immunity."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from isolint.checking.barrier_results import about, waiting
from isolint.checking.barrier_strength import Crosser, Wall, record_line, walls
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import BarrierFacts, Fact, Limits
from isolint.interfaces.entities import Channel
from isolint.parts import Insulation
from isolint.results import Evidence, Kind, Level, Limit, Margin, MissingFact, Result
from isolint.units import show
from isolint.worstcase.uncertain import WORST, Lacking

EDGE_SHARE: Final = 0.8
"""The part of an edge over which its time is usually given, 10 to 90 % (common practice, no source)."""


class Edge(NamedTuple):
    """The slew rate across a barrier in V/s at the worst and at the kindest, in words, and the time of the edge."""

    worst: float
    kindest: float
    words: str
    seconds: float


def slew_results(context: Context, rule: Rule) -> Iterator[Result]:
    """One result a barrier and record of couplers whose output has a state."""
    unasked: list[tuple[Wall, Crosser]] = []
    for wall in walls(context):
        edge = edge_of(wall)
        for crosser in wall.crossers:
            if crosser.part is None or not crosser.part.kind.state or waiting(context, rule, wall) is not None:
                continue
            if edge is not None:
                yield _judged(context, rule, wall, crosser, edge)
            else:
                half = wall.limits.states(BarrierFacts.swing, BarrierFacts.edge_time)
                hurts = crosser.part.kind.state == "hazards" and not all(kind.danger == "S" for kind in wall.kinds)
                if half or hurts:
                    unasked.append((wall, crosser))
    if unasked:
        yield _unstated(context, rule, unasked)


def edge_of(wall: Wall) -> Edge | None:
    """The edge that is stated, by its slew rate or by swing and time."""
    pair = wall.pair
    slew, swing, time = (pair.number(row) for row in (BarrierFacts.slew, BarrierFacts.swing, BarrierFacts.edge_time))
    if slew is not None:
        reach = swing or wall.limits.peak.need.kindest
        return Edge(slew, slew, f"slew {show(slew, 'V/s')}", reach / slew if math.isfinite(reach) else 0.0)
    if swing is not None and time is not None:
        steepest = swing / time
        return Edge(steepest, EDGE_SHARE * steepest, f"{show(swing, 'V')} in {show(time, 's')}", time)
    return None


def _judged(context: Context, rule: Rule, wall: Wall, crosser: Crosser, edge: Edge) -> Result:
    stated: Insulation = crosser.ratings.stated
    figures = [value for value in (stated.slew_immunity, stated.slew_immunity_transient) if value is not None]
    start = f"{about(context, wall, crosser)}: {edge.words} across it"
    if stated.slew_immunity is None or not figures:
        line = record_line(context, crosser, Insulation.slew_immunity)
        return _made(context, rule, wall, crosser, "open", f"{start}, its immunity is not stated", missing=[line])
    row, margins = Limits.slew_margin, context.facts.limits.slew_margin
    worst, kindest = (row.counts.low, row.counts.kind_low) if margins is None else (margins.value, margins.value)
    offered = min(figures)
    kind: Kind = "pass" if offered >= edge.worst * worst * (1 - 1e-9) else "open"
    if offered < edge.kindest * min(kindest, 1.0) * (1 - 1e-9) or offered < edge.kindest * kindest * (1 - 1e-9):
        kind = "fail"
    steepness = edge.kindest if kind == "fail" else edge.worst
    text = f"{start} ({show(steepness, 'V/s')}), it holds {show(offered, 'V/s')}; wanted {worst:g} times the slew rate"
    missing: list[MissingFact] = []
    if kind == "open":
        text += f", {kindest:g} times at least (common practice): state slew_margin, or fit a part that holds more"
        missing = [context.lookup.missing(Limits.slew_margin)]
    reason, lines = _conditions(context, wall, crosser)
    if kind == "pass" and reason:
        kind, text, missing = "open", f"{text}; {reason}: its figure may not hold here", lines
    said = Evidence(
        "slew immunity", "CMTI", "V/s", None, offered, None, Limit("at_least", worst * edge.worst), {},
        f"CMTI_min = slew_margin * S = {worst:g} * {edge.worst:.6g} = {show(worst * edge.worst, 'V/s')}",
        "slew_immunity, the least of what its record states",
    )  # fmt: skip
    level: Level | None = "note" if _ignored(context, crosser, edge) else None
    remedy = "a part with more immunity to edges, or slower edges" if kind == "fail" else ""
    if remedy:
        remedy = f"{context.named(min(crosser.elements, key=context.place))}: {remedy}"
    margin = Margin(offered / steepness, kindest if kind == "fail" else worst)
    return _made(
        context, rule, wall, crosser, kind, text,
        evidence=[said], margin=margin, missing=missing, remedy=remedy, level=level,
    )  # fmt: skip


def _conditions(context: Context, wall: Wall, crosser: Crosser) -> tuple[str, list[MissingFact]]:
    """Which condition of the figure is stated and not met, with what would settle it."""
    stated: Insulation = crosser.ratings.stated
    reach = max(wall.pair.number(BarrierFacts.swing) or 0.0, wall.limits.peak.need.kindest)
    at = stated.slew_immunity_at
    if at is not None and math.isfinite(reach) and reach > at * (1 + 1e-9):
        text = f"it is given up to {show(at, 'V')} and {show(reach, 'V')} lie across"
        return text, [record_line(context, crosser, Insulation.slew_immunity_at)]
    lit = stated.slew_immunity_current
    for channel in _channels(context, crosser) if lit is not None else ():
        try:
            current = context.analysis.drive(channel, WORST).current.low.value
        except Lacking:
            current = 0.0
        if lit is not None and current < lit * (1 - 1e-9):
            text = f"it is given for {show(lit, 'A')} of LED current and {channel.subject} has {show(current, 'A')}"
            return text, [record_line(context, crosser, Insulation.slew_immunity_current)]
    return "", []


def _channels(context: Context, crosser: Crosser) -> list[Channel]:
    return [channel for channel in context.channels if channel.part.element in crosser.elements]


def _ignored(context: Context, crosser: Crosser, edge: Edge) -> bool:
    """Whether everything that the outputs reach ignores pulses of ten edges and a microsecond."""
    found = _channels(context, crosser)
    wanted = 10.0 * edge.seconds + 1e-6
    reached = [bound.net for channel in found for bound in channel.load.boundary if bound.kind == "input"]
    if not found or not reached:
        return False
    signals = [context.facts.signal(context.circuit.net_name(net)) for net in reached]
    return all(
        signal is not None and signal.ignores is not None and signal.ignores.value >= wanted for signal in signals
    )


def _unstated(context: Context, rule: Rule, unasked: list[tuple[Wall, Crosser]]) -> Result:
    """One question a netlist."""
    listed = "; ".join(about(context, wall, crosser) for wall, crosser in unasked)
    text = f"nobody stated how fast the voltage across moves, and outputs there may be upset by it: {listed}"
    missing = [wall.pair.missing(_lacking(wall)) for wall, _ in unasked]
    wall, crosser = unasked[0]
    return _made(context, rule, wall, crosser, "open", text, missing=list(dict.fromkeys(missing)))


def _lacking(wall: Wall) -> Fact[float]:
    """What would tell the slew rate, of swing and edge time the other one."""
    if wall.limits.states(BarrierFacts.swing):
        return BarrierFacts.edge_time
    return BarrierFacts.swing if wall.limits.states(BarrierFacts.edge_time) else BarrierFacts.slew


def _made(
    context: Context,
    rule: Rule,
    wall: Wall,
    crosser: Crosser,
    kind: Kind,
    text: str,
    *,
    evidence: list[Evidence] | None = None,
    margin: Margin | None = None,
    missing: list[MissingFact] | None = None,
    remedy: str = "",
    level: Level | None = None,
) -> Result:
    first = min(crosser.elements, key=context.place)
    return context.result(
        rule,
        kind,
        text,
        context.place(first),
        wall.pair.subject,
        role=crosser.name,
        level=level,
        evidence=evidence or (),
        margin=margin,
        missing=missing or (),
        remedy=remedy,
        related=context.related(crosser.elements),
        element=first,
        members=sorted(map(context.circuit.path, crosser.elements), key=str.casefold),
    )
