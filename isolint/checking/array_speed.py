"""How fast photovoltaic couplers charge and discharge the gates behind them.

In: a rule and a context. Out: one result a gate driven by photovoltaic outputs at whose signals a rate or pulse is
stated. The energy in a transistor that switches so slowly is not judged.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, bare
from isolint.checking.context import Context
from isolint.checking.demanded_speed import HALF, Demand, demand_at
from isolint.checking.gate_levels import GateDrive, array_load, drives, least_array_current
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.facts import ElementFacts
from isolint.parts import Output, Timing
from isolint.results import Result
from isolint.units import show
from isolint.worstcase import fact_terms, gates
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

_SETTLED = 2.2
"""Time constants from nine tenths to one tenth."""


def arrays_follow(rule: Rule, context: Context) -> Iterator[Result]:
    """Of each gate: whether it is charged and discharged within the shortest pulse."""
    recognition = context.interfaces.recognition
    parts = [part for part in recognition.parts.values() if "array" in part.kind.owns]
    shared: dict[tuple[int, int], list[GateDrive]] = {}
    for drive in drives(context, (part for part in parts if part.path not in context.interfaces.unused)):
        if drive.channels:
            shared.setdefault((drive.gate.start, drive.back), []).append(drive)
    for together in shared.values():
        asked = demand_at(context, together[0].part)
        if asked is not None:
            yield _follows(rule, context, together, asked)


def _follows(rule: Rule, context: Context, together: list[GateDrive], asked: Demand) -> Result:
    first = together[0]
    gate = context.circuit.path(first.gate.element)

    def claim(setting: Setting) -> Claim:
        terms: list[Term] = []
        charged = _turn_on(context, together, setting, terms)
        discharged = _turn_off(context, together, setting, terms)
        if asked.held_on is not None:
            # A period of unknown duty must hold both at least.
            period = Figure("T", asked.seconds / HALF, "s", "period")
            return bare((period / (charged + discharged)).called("margin", "1", "margin", end="min"), terms)
        slower = charged if charged.si >= discharged.si else discharged
        pulse = Figure("t_p", asked.seconds, "s", "shortest pulse")
        return bare((pulse / slower).called("margin", "1", "margin", end="min"), terms)

    try:
        verdict = decide(claim)
        told = verdict.worst
        charged, discharged = (each(context, together, Setting(), []) for each in (_turn_on, _turn_off))
    except Lacking as reason:
        return part_results.lacking(context, rule, first.part, reason, gate)
    return part_results.judged(
        context,
        rule,
        first.part,
        verdict,
        f"{asked.words}; the gate of {gate} is charged within {show(charged.si, 's')} and discharged within "
        f"{show(discharged.si, 's')}: {told.words}",
        role=gate,
        evidence=[charged.evidence(), discharged.evidence(), told.margin.evidence(told.wanted)],
        remedy="more light, a smaller gate charge, or a smaller resistor between gate and source",
    )


def _charge(context: Context, together: list[GateDrive]) -> Figure:
    """The charge of all gates at the output, coulombs."""
    total = Figure("Q_g", 0.0, "C")
    for drive in together:
        path = context.circuit.path(drive.gate.element)
        stated = context.facts.element(path).gate_charge
        if stated is None:
            lacking = context.lookup.missing(ElementFacts.gate_charge, path)
            raise Lacking(f"the gate charge of {path} is not stated", [lacking])
        total = total + Figure("Q_g", stated.value, "C", f"gate charge of {path}")
    return Figure("Q_g", total.si, "C", "gate charge", end="max")


def _turn_on(context: Context, together: list[GateDrive], setting: Setting, terms: list[Term]) -> Figure:
    amps, used = least_array_current(context, together[0], setting)
    terms.extend(used)
    if amps.si <= 0.0:
        raise Lacking("its output gives no current", blocked_by="led-current")
    return (_charge(context, together) / amps).called("t_on", "s", "time to charge the gate")


def _turn_off(context: Context, together: list[GateDrive], setting: Setting, terms: list[Term]) -> Figure:
    """As the record states it, else by the resistor across the gate, with what a full charge makes of capacitance."""
    first = together[0]
    stated = fact_terms.recorded(first.part, Timing.turn_off)
    if stated is not None and stated.max is not None:
        return Figure("t_off", stated.max, "s", "turn-off time", source=f"record {fact_terms.named(first.part)}")
    ohms, spreads = array_load(context, first, setting, largest=True)
    if ohms is None:
        name = fact_terms.named(first.part)
        row = Timing.turn_off if fact_terms.recorded(first.part, Output.discharge) else Output.discharge
        lacking = fact_terms.missing(context.settings_file, row, name)
        raise Lacking(f"how fast {first.part.path} discharges the gate is not known", [lacking])
    full = gates.fully_on(context.lookup, first.gate.element)
    terms.extend((*spreads, full))
    volts = Figure(
        "V_on", setting.range(full)[setting.is_kindest], "V", "gate voltage at which it is fully on", end="min"
    )
    farads = (_charge(context, together) / volts).called("C_iss", "F", "capacitance of the gate")
    made = _SETTLED * Figure("R_GS", ohms, "ohm", "resistor across the gate") * farads
    return made.called("t_off", "s", "time to discharge the gate")
