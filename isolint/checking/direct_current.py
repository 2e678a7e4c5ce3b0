"""The direct current that resistors across a barrier let through to who touches the other side.

The body is taken as a short. Of mains its peak counts, and is told only where it decides: alternating current has a
lower limit, unless a larger one is stated for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from isolint.checking.barrier_results import level_of, waiting
from isolint.checking.barrier_strength import Wall, walls
from isolint.checking.bridge_network import RcNetwork, largest_admittance, network_between
from isolint.checking.bridge_strength import is_safety_resistor, part_of
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.result_builder import rests_on
from isolint.checking.rule import Rule
from isolint.checking.touch_current import FAULTS, NEVER, allowed
from isolint.checking.verdict import decide
from isolint.facts import BarrierFacts
from isolint.results import Evidence, Limit, Result
from isolint.rows import least
from isolint.standards import touch
from isolint.units import Interval, show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term

_ES1: Final = touch.limit("iec-62368-1", "ES1").direct or 0.0
_NORMAL: Final = touch.limit("iec-61010-1", "accessible part, normal").direct or 0.0
_FAULT: Final = touch.limit("iec-61010-1", "accessible part, single fault").direct or 0.0
_CONDUCTS: Final = 1e-15
"""Siemens below which nothing leads across."""


class _Drive(NamedTuple):
    """The voltage in volts and its words."""

    volts: float
    words: str


def direct_results(context: Context, rule: Rule) -> Iterator[Result]:
    """For each barrier over which resistors lead from what must not be touched: whole, and with one of them shorted."""
    for wall in walls(context):
        one, other = wall.kinds
        if wall.limits.strength is None or one.hazardous == other.hazardous or waiting(context, rule, wall) is not None:
            continue
        network = part_of(network_between(context, wall.pair.sides), "R")
        points = {edge.element: Interval(1.0, 1.0) for edge in network.edges}
        source = _drive(wall)
        if source is None or not network.edges or largest_admittance(network, 0.0, points) < _CONDUCTS:
            continue
        results = [_result(context, rule, wall, network, source), *_faults(context, rule, wall, network, source)]
        alternating = bool(wall.limits.mains)
        yield from (result for result in results if not alternating or result.kind != "pass")


def _drive(wall: Wall) -> _Drive | None:
    """The working voltage, or the peak of the mains 10 % up; None where it meets earth, or where nobody stated it."""
    mains, working = wall.limits.mains, wall.pair.number(BarrierFacts.working_voltage)
    if mains:
        # What flows to protective earth nobody feels.
        touched = next(kind for kind in wall.kinds if not kind.hazardous)
        volts = math.sqrt(2.0) * touch.MAINS_RISE * mains
        return None if touched.earthed else _Drive(volts, f"peak of mains {mains:g} V +10 %")
    return None if working is None or "mains" in wall.pair.kinds else _Drive(working, "working voltage")


def _limit(wall: Wall, *, fault: bool) -> Term:
    """The limit: what is stated, where it is less than what the tables allow of direct current; else those."""
    row = BarrierFacts.touch_current_fault if fault else BarrierFacts.touch_current
    stated, profile = wall.pair.stated(row), wall.limits.profile
    key = wall.pair.key(row.key)
    if stated is not None and (fault or (stated.value < _ES1 and not wall.limits.mains)):
        return fact_terms.known(row, "", stated.value, fact_terms.origin(stated))
    if profile == "iec-60601-1" and stated is None:
        return allowed(wall, fault=fault).term
    if profile == "iec-61010-1":
        source = "key `iec-61010-1`, direct current (from memory, medium confidence)"
        usual = least(_FAULT if fault else _NORMAL, NEVER, source)
        return fact_terms.defaulted(row, "", usual)._replace(key=key, example=wall.pair.lines(row.entry()))
    return fact_terms.known(row, "", _ES1, "key `iec-62368-1`, ES1, direct current (from memory)")


def _result(context: Context, rule: Rule, wall: Wall, network: RcNetwork, source: _Drive, shorted: str = "") -> Result:
    limit = _limit(wall, fault=bool(shorted))
    tolerances = {edge.element: context.lookup.tolerance(edge.element) for edge in network.edges}

    def claim(setting: Setting) -> Claim:
        # The least of each resistor gives most.
        points = {}
        for element, term in tolerances.items():
            factor = 1.0 + setting.range(term)[0]
            points[element] = Interval(factor, factor)
        found = Figure("I_direct", source.volts * largest_admittance(network, 0.0, points), "A")
        return at_most(found, Figure("I_limit", setting.low(limit), "A"), (*tolerances.values(), limit))

    verdict = decide(claim)
    told = verdict.kindest if verdict.kind == "fail" else verdict.worst
    elements = [edge.element for edge in network.edges]
    names = ", ".join(dict.fromkeys(map(context.circuit.path, elements)))
    text = (
        f"direct current between {wall.pair.name}{shorted}: {told.found} through {names} ({source.words}), "
        f"the limit is {told.limit}"
    )
    if verdict.kind == "open":
        text += f"; {rests_on(verdict)}"
    ohms = source.volts / told.found.si
    evidence = Evidence(
        f"direct current between {wall.pair.name}{shorted}",
        "I_direct",
        "A",
        max=told.found.si,
        limit=Limit("at_most", told.limit.si),
        corners={"max": source.words},
        formula=f"I_direct = U / R = {source.volts:.6g} / {ohms:.6g} = {show(told.found.si, 'A', 5)}",
        source=f"limit: {limit.origin}; each resistor at its least",
    )
    first = min(elements, key=context.place)
    remedy = ""
    if verdict.kind == "fail":
        remedy = (
            f"{context.named(first)}: {show(source.volts / told.limit.si, 'ohm')} or more in all, tolerance included"
        )
    made = context.result(
        rule,
        verdict.kind,
        text,
        context.place(first),
        wall.pair.subject,
        role=f"direct current{shorted}",
        level=level_of(wall),
        missing=context.missing(verdict.settling.terms) if verdict.kind == "open" else (),
        evidence=[evidence],
        margin=told.shown,
        remedy=remedy,
        related=context.related(elements),
        element=first,
        members=sorted(map(context.circuit.path, elements), key=str.casefold),
    )
    return made._replace(assumptions=verdict.assumptions)


def _faults(context: Context, rule: Rule, wall: Wall, network: RcNetwork, source: _Drive) -> Iterator[Result]:
    """The worst with one resistor of a chain shorted; one that is certified to lie alone is not."""
    if not wall.limits.states(BarrierFacts.touch_current_fault) and wall.limits.profile not in FAULTS:
        return
    results = []
    for gone in network.edges:
        kept, other = (gone.other, gone.one) if gone.other in (0, 1) else (gone.one, gone.other)
        if {kept, other} != {0, 1} and not is_safety_resistor(context, gone.element):
            words = f" with {context.circuit.path(gone.element)} shorted"
            results.append(_result(context, rule, wall, network.merged(other, kept), source, words))
    if results:
        order = {"fail": 0, "open": 1}
        yield min(results, key=lambda made: (order.get(made.kind, 2), made.margin.value if made.margin else 0.0))
