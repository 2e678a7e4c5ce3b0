"""Whether each state of a drive network is surely on or surely off, as numbers that rules compare.

In: an analysis, a channel, a setting. Out: one `StateMargin` a state other than the on state. 1.00 is just sure.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, at_most, bare
from isolint.interfaces.entities import Channel
from isolint.parts import Led
from isolint.rows import least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import End, Figure
from isolint.worstcase.off import LEAST_AMPS, LEAST_VOLTS, OffLevel
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.states import StateRun
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

OFF_CURRENT = (1e-6, 250e-6)
"""Amperes that a logic-output coupler surely takes for off: the least and the most usual figure (from memory)."""

OFF_SHARE = (0.02, 0.2)
"""Shares of the current at which it surely switches at which a coupler is surely off (from memory)."""

NO_VOLTS = 1e-6
ON_AT_MARGIN = 1.0


class StateMargin(NamedTuple):
    """One state: how surely it is on, how surely it is off, and by which criterion.

    by: "off_voltage", "off_current" (of the record), "level" (what the receiver sees). level, leaks: of the last.
    """

    run: StateRun
    on: float
    off: float
    by: str
    limit: float
    level: OffLevel | None
    terms: tuple[Term, ...]

    @property
    def margin(self) -> float:
        """The better of both."""
        return max(self.on, self.off)


def level_claim(level: OffLevel, words: str = "", symbol: str = "off level") -> Claim:
    """That a receiver sees a valid level in the off state. words: what it is of, beside the level's own."""
    end: End = "min" if level.at_least else "max"
    found = Figure(symbol, level.value, level.unit, f"{words}{level.words}", end=end)
    limit = Figure("limit", level.limit, level.unit)
    if not level.at_least:
        return at_most(found, limit, level.terms, least=LEAST_VOLTS if level.unit == "V" else LEAST_AMPS)
    if level.limit > 0.0:
        return at_least(found, limit, level.terms)
    above = bare(Figure("margin", level.margin, end="min"), level.terms)
    return above._replace(found=found, limit=limit)


def state_margins(analysis: Analysis, channel: Channel, setting: Setting) -> list[StateMargin]:
    """Every state but the on state; `Lacking` when a fact is missing."""
    return [_margin(analysis, channel, setting, run) for run in analysis.lit(channel, setting) if not run.is_on]


def _margin(analysis: Analysis, channel: Channel, setting: Setting, run: StateRun) -> StateMargin:
    found = off_margin(analysis, channel, setting, run)
    if found.off >= ON_AT_MARGIN:
        return found
    on, terms = on_margin(analysis, channel, setting, run)
    return StateMargin(run, on, found.off, found.by, found.limit, found.level, unique([*found.terms, *terms]))


def surest_margins(analysis: Analysis, channel: Channel, setting: Setting) -> list[StateMargin]:
    """As `state_margins` where only the margin counts: of a state that is surely on nobody asks how far off it is."""
    found = []
    for run in analysis.lit(channel, setting):
        if not run.is_on:
            on, terms, _ = _on(analysis, channel, setting, run)
            if on < ON_AT_MARGIN:
                found.append(_margin(analysis, channel, setting, run))
            else:
                found.append(StateMargin(run, on, 0.0, "", 0.0, None, unique([*run.terms, *terms])))
    return found


def off_margin(analysis: Analysis, channel: Channel, setting: Setting, run: StateRun) -> StateMargin:
    """How surely a state is off; nothing is said of on."""
    by_record = _by_record(channel, setting, run)
    return by_record if by_record is not None else _by_level(analysis, channel, setting, run)


def on_margin(analysis: Analysis, channel: Channel, setting: Setting, run: StateRun) -> tuple[float, tuple[Term, ...]]:
    """How surely a state is on, with the terms used; `Lacking` when a fact is missing."""
    on, terms, reason = _on(analysis, channel, setting, run)
    if reason is not None and reason.missing:
        raise reason
    return on, terms


def _by_record(channel: Channel, setting: Setting, run: StateRun) -> StateMargin | None:
    """By VF(off) or IF(off); None for a transistor output whose record states neither."""
    part = channel.part
    record = part.record
    volts, amps = run.most_voltage.value, run.most_current.value
    margins: list[tuple[float, str, float, tuple[Term, ...]]] = []
    if record is not None and record.led.off_voltage is not None:
        limit = record.led.off_voltage
        margins.append((limit / max(volts, NO_VOLTS), "off_voltage", limit, ()))
    if record is not None and record.led.off_current is not None:
        limit = record.led.off_current
        margins.append((limit / max(amps, LEAST_AMPS), "off_current", limit, ()))
    if not margins and part.kind.output.conducts == "transistor":
        return None
    if record is None or record.led.off_current is None:
        # Whatever the voltage: with next to no current no LED is lit.
        low, high = OFF_CURRENT if part.kind.output.conducts != "transistor" else (OFF_CURRENT[0], OFF_CURRENT[0])
        needed = required_current(channel)
        if part.kind.output.conducts != "transistor" and needed is not None:
            low, high = (share * needed for share in OFF_SHARE)
        term = fact_terms.of_part(part, Led.off_current, least, Interval(low, high), memory=True)
        limit = setting.low(term)
        margins.append((limit / max(amps, LEAST_AMPS), "off_current", limit, (term,)))
    margin, by, limit, terms = max(margins, key=lambda item: item[0])
    return StateMargin(run, 0.0, margin, by, limit, None, unique([*run.terms, *terms]))


def _by_level(analysis: Analysis, channel: Channel, setting: Setting, run: StateRun) -> StateMargin:
    """By the level that the receiver sees with dark current and what the LED current still gives."""
    most = run.most_current.value
    by_temperature = {row.temperature: row.current.high.value for row in run.rows}
    levels = analysis.offs(setting).levels(channel, lambda temperature: by_temperature.get(temperature, most))
    level = min(levels, key=lambda item: item.margin)
    terms = unique([*run.terms, *level.terms])
    return StateMargin(run, 0.0, level.margin, "level", level.limit, level, terms)


def _on(
    analysis: Analysis, channel: Channel, setting: Setting, run: StateRun
) -> tuple[float, tuple[Term, ...], Lacking | None]:
    """How surely a state is on, with the terms used; what was lacking where it can't be said."""
    drive = analysis.drive(channel, setting)
    least = run.least_current.value
    if least >= drive.current.low.value * (1.0 - 1e-9) and least > NO_CURRENT:
        # As bright as the on state, whose own current other rules judge.
        return ON_AT_MARGIN, drive.terms, None
    if channel.part.kind.output.conducts != "transistor":
        needed = required_current(channel)
        if needed is not None:
            return least / needed, (), None
        name = fact_terms.named(channel.part)
        file = channel.part.record.file if channel.part.record is not None else analysis.lookup.settings_file
        fact = fact_terms.missing(file, Led.threshold_current, name)
        return 0.0, (), Lacking(f"the LED current at which {name} surely switches is not known", [fact])
    try:
        load, ratio = analysis.load(channel, setting), analysis.ratio(channel, setting)
        margins: list[float] = []
        terms: list[Term] = list(load.terms)
        for row in run.rows:
            need = min(load.rows, key=lambda item: abs(item.temperature - row.temperature))
            if row.current.low.value <= NO_CURRENT:
                return 0.0, (), None
            given = ratio.available(
                row.current.low.value, drive.current.high.value, row.temperature, need.voltage.value
            )
            margins.append(given.current / need.required.value if need.required.value > 0.0 else ON_AT_MARGIN)
            terms.extend(given.terms)
    except Lacking as reason:
        # A current below every curve is no missing fact: it is simply not surely on.
        return 0.0, (), None if least < NO_CURRENT or _below_curve(reason) else reason
    return min(margins), tuple(terms), None


def _below_curve(reason: Lacking) -> bool:
    return any(fact.key.endswith(".versus_current") for fact in reason.missing)


def required_current(channel: Channel) -> float | None:
    """LED current at which a part surely switches, amperes, None where its record does not say."""
    return None if channel.part.record is None else channel.part.record.switching_current
