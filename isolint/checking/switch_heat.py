"""What an output that switches a load turns into heat while it is closed, against the power ratings of its part.

In: a rule, a channel whose output is a switch. Out: its result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import current, powered, switched
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Output, Thermal, Trigger
from isolint.results import Result
from isolint.rows import most
from isolint.worstcase import fact_terms, heat
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, unique

MEAN = 0.9
"""The mean of a rectified sine over its rms value."""

WARMER = 0.6 / 75.0
"""By how much a MOSFET's on resistance rises a kelvin above 25 degC (from memory)."""


def stays_cool(rule: Rule, context: Context, channel: Channel) -> Iterator[Result]:
    """The power in a closed switch against its ratings."""
    found = switched(context, channel)
    fed = powered(context, found)
    part = channel.part
    if found.thyristor is not None:
        fired = context.circuit.path(found.thyristor.element)
        text = f"{channel.subject}: it carries its load until {fired} latches, in pulses"
        yield context.channel_result(rule, channel, "notApplicable", text)
        return
    if part.kind.output.switch == "complete" and not _rated(part):
        text = f"{channel.subject}: its record rates its current and not its power"
        yield context.channel_result(rule, channel, "notApplicable", text)
        return
    drop, drops = _drop(context, channel)
    hot = context.lookup.ambient().high

    def output(setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
        _, largest, terms = current(context, found, setting)
        flows = Figure("I", largest, "A", "current of its load")
        if part.kind.output.switch == "passes":
            power = flows**2.0 * drop(setting)
        else:
            power = drop(setting) * Figure("", MEAN if fed.alternating else 1.0) * flows
        return power.called("P_out", "W", "power in the output"), unique([*drops, *terms])

    def claim(setting: Setting) -> Claim:
        watts, terms = output(setting)
        drive = context.analysis.drive(channel, setting)
        rated, more = heat.ratings(part, drive.power.value, watts.si, 0.0, hot, setting)
        claims = []
        for rating in rated:
            told = watts if rating.actual == watts.si else Figure("P", rating.actual, "W")
            limit = Figure("P_allowed", rating.allowed, "W", source=rating.origin)
            named = told.called("P", "W", rating.name)
            claims.append(at_most(named, limit, (*terms, *more, *drive.terms), least=heat.NO_POWER))
        return tightest(claims)

    verdict = decide(claim)
    told = verdict.worst
    takes, allowed = told.beside
    yield context.judged(
        rule,
        channel,
        verdict,
        f"{told.found.name} is up to {takes} while it carries its load, {allowed} are allowed at {hot:g} degC",
        evidence=[output(WORST)[0].evidence(), *told.evidence()],
        remedy="a smaller load, or a part with a larger power rating",
        chain=found.elements,
    )


def _rated(part: Part) -> bool:
    rows = (Output.power_max, Thermal.power_max, Thermal.output_to_ambient)
    return any(fact_terms.recorded(part, row) is not None for row in rows)


def _drop(context: Context, channel: Channel) -> tuple[Callable[[Setting], Figure], tuple[Term, ...]]:
    """Volts across a closed thyristor output, ohms of a MOSFET output, in a setting."""
    part, name = channel.part, fact_terms.named(channel.part)
    if part.kind.output.switch != "passes":
        row = Output.on_voltage if part.kind.output.switch == "complete" else Trigger.on_voltage
        volts = fact_terms.of_record(part, row)
        return lambda setting: Figure("V_on", setting.high(volts), "V", "on voltage", source=volts.origin), (volts,)
    stated = fact_terms.recorded(part, Output.on_resistance)
    if stated is None:
        lacking = fact_terms.missing(context.settings_file, Output.on_resistance, name)
        raise Lacking(f"the on resistance of {name} is not known", [lacking])
    rise = warming(context, part)
    ohms = Figure("R_on", stated, "ohm", "on resistance at 25 degC", source=f"record {name}")
    return lambda setting: ohms * Figure("F_R", setting.high(rise), "1", "when it is hot"), (rise,)


def warming(context: Context, part: Part) -> Term:
    """By how much the on resistance of a MOSFET output rises at the hottest ambient."""
    name, hottest = fact_terms.named(part), context.lookup.ambient().high
    title = f"rise of the on resistance of {part.path}"
    curve = fact_terms.recorded(part, Output.versus_temperature)
    known = None if curve is None else curve.at(hottest)
    if known is not None:
        return fact_terms.known(Output.versus_temperature, name, float(known), f"record {name}", title=title)
    usual = most(1.0, 1.0 + WARMER * max(hottest - 25.0, 0.0), "0.6 at 100 degC, or none (from memory)")
    return fact_terms.defaulted(Output.versus_temperature, name, usual, title=title)
