"""The current that capacitors, resistances and converters across a barrier let through to who touches the other side.

The body is taken as a short, which gives more current than any person. Whole networks are solved with their phases, at
all corners of their values.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from isolint.checking.barrier_results import level_of, waiting
from isolint.checking.barrier_strength import Wall, walls
from isolint.checking.bridge_network import MOST_VERTICES, RcNetwork, largest_admittance, network_between
from isolint.checking.bridge_strength import is_safety_resistor
from isolint.checking.capacitors import class_of
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.result_builder import rests_on
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import BarrierFacts
from isolint.interfaces.entities import Part
from isolint.parts import Insulation
from isolint.results import Evidence, MissingFact, Result
from isolint.results import Limit as Bound
from isolint.rows import least, most
from isolint.standards import touch
from isolint.units import Interval, show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import KINDEST, WORST, Setting, Term

SUPPLY_LEAKAGE: Final = most(0.0, 0.25e-3, "default 0 to 0.25 mA through its capacitance (from memory)")
"""What an isolated supply lets through where nobody says."""
FAULTS: Final = ("iec-62368-1", "iec-60601-1", "iec-61010-1")
"""The profiles that ask for single faults."""
NEVER: Final = 1e3
"""Amperes that no barrier lets through: where a limit is from memory nothing fails by it."""


class Allowed(NamedTuple):
    """A limit in amperes as a term; where the profile has none, and nobody stated one, `unlimited`."""

    term: Term
    missing: tuple[MissingFact, ...] = ()
    unlimited: bool = False


class TouchLeg(NamedTuple):
    """One way for the current: its words, its network, and the parts that add to it."""

    name: str
    network: RcNetwork
    parts: tuple[Part, ...]


class DrivingVoltage(NamedTuple):
    """The voltage that drives the current, rms, with its words, and the frequency."""

    volts: float
    words: str
    hertz: Term


def touch_results(context: Context, rule: Rule) -> Iterator[Result]:
    """For each barrier between what must not be touched and what may be: each leg, whole and with a single fault."""
    for wall in walls(context):
        if not _asked(wall):
            continue
        waits = waiting(context, rule, wall)
        if waits is not None:
            yield waits
            continue
        legs = list(_legs(context, wall))
        if not legs:
            continue
        source = drive(wall)
        results = [_whole(context, rule, wall, leg, source) for leg in legs]
        yield _worst(results)
        if source is not None:
            yield from _faults(context, rule, wall, legs[0], source)


def _asked(wall: Wall) -> bool:
    """Whether alternating voltage may drive current into somebody there."""
    one, other = wall.kinds
    if wall.limits.strength is None or (one.hazardous and other.hazardous) or one.danger == other.danger == "S":
        return False
    return bool(wall.limits.mains) or "mains" in (one.kind, other.kind)


def _legs(context: Context, wall: Wall) -> Iterator[TouchLeg]:
    network = network_between(context, wall.pair.sides)
    parts = tuple(
        crosser.part._replace(element=element)
        for crosser in wall.crossers
        if crosser.part is not None
        for element in crosser.elements
        if _leaks(crosser.part)
    )
    if network.edges or parts:
        yield TouchLeg(f"between {wall.pair.name}", network, parts)
    if network.earth:
        for end, (side, kind) in enumerate(zip(wall.pair.sides, wall.kinds, strict=True)):
            if kind.danger == "S":
                continue
            # Where it meets at earth each leg counts alone: the earth conductor may be open.
            earthed = network
            for node in network.earth:
                earthed = earthed.merged(node, min(network.earth))
            own = earthed.without(1 - end).merged(end, -1).merged(min(network.earth), 1).merged(-1, 0)
            if own.edges:
                yield TouchLeg(f"from {side} to earth", own, ())


def _leaks(part: Part) -> bool:
    """Whether a part lets current through by itself: its record says how much, or it is a converter."""
    stated = None if part.record is None else part.record.insulation
    return part.kind.output.feeds == "outputs" or (
        stated is not None and (stated.leakage is not None or stated.capacitance is not None)
    )


def drive(wall: Wall) -> DrivingVoltage | None:
    """The mains 10 % up, or the working voltage where no mains is stated; None where neither is."""
    pair = wall.pair
    mains, working = pair.number(BarrierFacts.mains), pair.number(BarrierFacts.working_voltage)
    row, fact = BarrierFacts.mains_frequency, pair.stated(BarrierFacts.mains_frequency)
    if fact is not None:
        hertz = fact_terms.known(row, "", fact.value, fact_terms.origin(fact))
    else:
        hertz = fact_terms.defaulted(row, "", row.counts)._replace(example=pair.lines(row.entry()))
    hertz = hertz._replace(key=pair.key(row.key))
    if mains is not None:
        return DrivingVoltage(mains * touch.MAINS_RISE, f"mains {mains:g} V +10 %", hertz)
    return None if working is None or "mains" in pair.kinds else DrivingVoltage(working, "working voltage", hertz)


def allowed(wall: Wall, *, fault: bool = False, resistive: bool = False) -> Allowed:
    """The limit in normal condition, or with one component shorted."""
    row = BarrierFacts.touch_current_fault if fault else BarrierFacts.touch_current
    stated = wall.pair.stated(row)
    if stated is not None:
        return Allowed(fact_terms.known(row, "", stated.value, fact_terms.origin(stated)))
    line = (wall.pair.missing(row, "" if fault else '"0.25 mA"'),)
    low, high, source = _of_profile(wall, fault, resistive)
    usual = least(low, high, source)
    term = fact_terms.defaulted(row, "", usual)._replace(
        key=wall.pair.key(row.key), example=wall.pair.lines(row.entry())
    )
    return Allowed(term, line, low == 0.0)


def _of_profile(wall: Wall, fault: bool, resistive: bool) -> tuple[float, float, str]:
    """The limit by the tables of a barrier's profile, at the worst and at the kindest, and where it is from."""
    profile, applied = wall.limits.profile, _applied(wall)
    if profile == "iec-62368-1":
        if fault and not resistive:
            return 5e-3, 5e-3, "key `iec-62368-1`, ES2 (from memory)"
        return 0.5e-3, 0.5e-3 if fault else 5e-3, "key `iec-62368-1`, ES1 to ES2 (from memory)"
    if profile == "iec-60601-1":
        low, high = {"CF": (0.01e-3, 0.01e-3), "": (0.01e-3, 0.1e-3)}.get(applied, (0.1e-3, 0.1e-3))
        factor = 5.0 if fault else 1.0
        return factor * low, factor * high, f"key `iec-60601-1`, applied part {applied or 'not stated'}"
    if profile == "iec-61010-1":
        return 3.5e-3 if fault else 0.5e-3, NEVER, "key `iec-61010-1` (from memory, medium confidence)"
    return 0.0, NEVER, "the profile iec-60664-1 has no limit"


def _applied(wall: Wall) -> str:
    facts = wall.context.facts
    for side in wall.pair.known:
        fact = None if side is None or not side.stated else facts.side(side.stated)
        if fact is not None and fact.applied_part is not None:
            return fact.applied_part.value
    return ""


def current_of(
    context: Context, leg: TouchLeg, source: DrivingVoltage, setting: Setting
) -> tuple[float, tuple[Term, ...], tuple[str, ...]]:
    """Amperes rms through a leg in a setting, the terms used, and what converters add, in phase."""
    tolerances = {edge.element: context.lookup.tolerance(edge.element) for edge in leg.network.edges}
    spread = {element: _factors(setting, term) for element, term in tolerances.items()}
    # Of many elements only a bound is known: what it says at the kindest would be no certain failure.
    bounded = sum(not ends.is_point for ends in spread.values()) > MOST_VERTICES and setting.is_kindest
    siemens = largest_admittance(leg.network, setting.high(source.hertz), spread, nominal=bounded)
    amperes, terms, told = source.volts * siemens, [*tolerances.values(), source.hertz], []
    for part in leg.parts:
        term = _leakage(part, source, setting)
        amperes += setting.high(term)
        terms.append(term)
        told.append(f"{context.circuit.path(part.element)} {show(setting.high(term), 'A')} ({term.origin})")
    return amperes, tuple(terms), tuple(told)


def _factors(setting: Setting, term: Term) -> Interval:
    low, high = setting.range(term)
    return Interval(1.0 + low, 1.0 + high)


def _leakage(part: Part, source: DrivingVoltage, setting: Setting) -> Term:
    """What a part lets through at the voltage that drives it, in amperes."""
    stated = None if part.record is None else part.record.insulation
    row, name = Insulation.leakage, fact_terms.named(part)
    if stated is not None and stated.leakage is not None:
        amperes = stated.leakage.max * source.volts / stated.leakage.at
        return fact_terms.known(row, name, amperes, f"leakage of record {name}")
    if stated is not None and stated.capacitance is not None:
        amperes = touch.current(stated.capacitance, source.volts, setting.high(source.hertz))
        return fact_terms.known(row, name, amperes, f"capacitance of record {name}")
    return fact_terms.defaulted(row, name, SUPPLY_LEAKAGE)


def _whole(context: Context, rule: Rule, wall: Wall, leg: TouchLeg, source: DrivingVoltage | None) -> Result:
    limit = allowed(wall)
    if source is None:
        return _unknown(context, rule, wall, leg, limit)
    if limit.unlimited:
        return _unlimited(context, rule, wall, leg, source, limit)
    return _result(context, rule, wall, leg, source, limit)


def _result(
    context: Context, rule: Rule, wall: Wall, leg: TouchLeg, source: DrivingVoltage, limit: Allowed, fault: str = ""
) -> Result:
    def claim(setting: Setting) -> Claim:
        amperes, terms, _ = current_of(context, leg, source, setting)
        found = Figure("I_touch", amperes, "A")
        return at_most(found, Figure("I_limit", setting.low(limit.term), "A"), (*terms, limit.term))

    verdict = decide(claim)
    # A failure is told as it is at the kindest of what nobody stated: so much flows in any case.
    told = verdict.kindest if verdict.kind == "fail" else verdict.worst
    _, _, leaks = current_of(context, leg, source, KINDEST if verdict.kind == "fail" else WORST)
    hertz = source.hertz.kind_high if verdict.kind == "fail" else source.hertz.high
    elements = [*(edge.element for edge in leg.network.edges), *(part.element for part in leg.parts)]
    names = ", ".join(dict.fromkeys(map(context.circuit.path, elements)))
    text = f"touch current {leg.name}{fault}: {told.found} through {names} ({source.words}), the limit is {told.limit}"
    if verdict.kind == "open":
        text += f"; {rests_on(verdict)}"
    largest = max(elements, key=lambda element: (context.circuit.value(element) or 0.0, -element))
    beside = f"; of it {', '.join(leaks)}" if leaks else ""
    evidence = Evidence(
        f"touch current {leg.name}{fault}",
        "I_touch",
        "A",
        max=told.found.si,
        limit=Bound("at_most", told.limit.si),
        corners={"max": f"{source.words}, {hertz:g} Hz"},
        formula=_formula(leg, source, hertz, told.found.si),
        source=f"limit: {limit.term.origin}; nodal analysis at the corners of all values{beside}",
    )
    remedy = ""
    if verdict.kind == "fail":
        farads = told.limit.si / touch.current(1.0, source.volts, source.hertz.kind_high)
        remedy = f"at most {show(farads, 'F')} in all, tolerance included; {context.named(largest)} is the largest"
    made = context.result(
        rule,
        verdict.kind,
        text,
        context.place(largest),
        wall.pair.subject,
        role=f"fault {fault.strip()}" if fault else "",
        level=level_of(wall),
        missing=context.missing(verdict.settling.terms) if verdict.kind == "open" else (),
        evidence=[evidence],
        margin=told.shown,
        remedy=remedy,
        related=context.related(elements),
        element=largest,
    )
    return made._replace(assumptions=verdict.assumptions)


def _formula(leg: TouchLeg, source: DrivingVoltage, hertz: float, amperes: float) -> str:
    """Of capacitors side by side the sum that can be redone by hand; of a mixed network its magnitude."""
    volts = f"{source.volts:.6g}"
    if all(edge.letter == "C" for edge in leg.network.edges) and not leg.parts and amperes:
        farads = amperes / touch.current(1.0, source.volts, hertz)
        numbers = f"2 * pi * {hertz:.6g} * {farads:.6g} * {volts}"
        return f"I_touch = 2 * pi * f * C * U = {numbers} = {show(amperes, 'A', 5)}"
    ohms = source.volts / amperes if amperes else math.inf
    return f"I_touch = U / |Z| = {volts} / {ohms:.6g} = {show(amperes, 'A', 5)}"


def _unlimited(
    context: Context, rule: Rule, wall: Wall, leg: TouchLeg, source: DrivingVoltage, limit: Allowed
) -> Result:
    """The limit depends on the equipment, and nobody stated it."""
    amperes, _, _ = current_of(context, leg, source, WORST)
    text = (
        f"touch current {leg.name} can't be judged: nobody stated the limit of touch current; it is "
        f"{show(amperes, 'A')} at worst ({source.words}) and passes at a limit of that or more"
    )
    return _open(context, rule, wall, leg, text, list(limit.missing))


def _unknown(context: Context, rule: Rule, wall: Wall, leg: TouchLeg, limit: Allowed) -> Result:
    """Nobody stated what drives the current."""
    missing = [wall.pair.missing(BarrierFacts.mains, "", BarrierFacts.mains_frequency)]
    what = "the mains"
    if limit.unlimited:
        what += " and the limit of touch current"
        missing += limit.missing
    text = f"touch current {leg.name} can't be judged: nobody stated {what}"
    return _open(context, rule, wall, leg, text, missing)


def _open(context: Context, rule: Rule, wall: Wall, leg: TouchLeg, text: str, missing: list[MissingFact]) -> Result:
    elements = [*(edge.element for edge in leg.network.edges), *(part.element for part in leg.parts)]
    largest = max(elements, key=lambda element: (context.circuit.value(element) or 0.0, -element))
    rows = (touch.limit("iec-60335-1", "class II"), touch.limit("iec-62368-1", "ES1"))
    usual = ", ".join(
        f"{show(row.rms or 0.0, 'A')} {row.case} (key `{row.standard}`, {row.confidence})" for row in rows
    )
    remedy = (
        f"state what the standard of the equipment allows (published limits are for example {usual}); where functional "
        "insulation is enough, state the kind of both sides"
    )
    return context.result(
        rule,
        "open",
        text,
        context.place(largest),
        wall.pair.subject,
        missing=missing,
        remedy=remedy,
        related=context.related(elements),
    )


def _worst(results: list[Result]) -> Result:
    """Of several legs the one to tell: a failure, else an open one, else the one with least margin."""
    order = {"fail": 0, "open": 1, "pass": 2}
    return min(results, key=lambda made: (order[made.kind], made.margin.value if made.margin else 0.0))


def _faults(context: Context, rule: Rule, wall: Wall, leg: TouchLeg, source: DrivingVoltage) -> Iterator[Result]:
    """Each element of a chain shorted in turn; one that is certified to lie alone is not."""
    stated = wall.limits.states(BarrierFacts.touch_current_fault)
    if not stated and wall.limits.profile not in FAULTS:
        return
    results = []
    for gone in leg.network.edges:
        kept, other = (gone.other, gone.one) if gone.other in (0, 1) else (gone.one, gone.other)
        if {kept, other} == {0, 1}:
            # A capacitor or resistor alone across the barrier is what other rules judge.
            continue
        if gone.letter == "R" and is_safety_resistor(context, gone.element):
            continue
        if gone.letter == "C" and class_of(context, gone.element) == "Y1" and wall.limits.strength == "basic":
            continue
        rest = leg._replace(network=leg.network.merged(other, kept))
        resistive = all(edge.letter == "R" for edge in leg.network.edges)
        limit = allowed(wall, fault=True, resistive=resistive)
        words = f" with {context.circuit.path(gone.element)} shorted"
        results.append(_result(context, rule, wall, rest, source, limit, words))
    if results:
        yield _worst(results)
