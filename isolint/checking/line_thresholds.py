"""What the standard of a field line asks of the channel behind it, as checks with margins.

In: an analysis, a channel, a line with its input type, a setting. Out: `Check`s, 1.00 just met, and the voltages from
which the channel is surely on and up to which it is surely off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal, NamedTuple

from isolint.checking import claims
from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim
from isolint.checking.offstate import NO_VOLTS, level_claim, off_margin, on_margin, required_current
from isolint.facts import LineFacts
from isolint.interfaces.entities import Channel
from isolint.standards.inputs import InputType
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import NO_CURRENT, Bound
from isolint.worstcase.states import StateRun
from isolint.worstcase.thresholds import LineAnalyser
from isolint.worstcase.uncertain import Lacking, Setting, Term

CheckKind = Literal["on current", "on", "off", "off current", "most current"]
NEARLY = 1e-9


class Check(NamedTuple):
    """One demand of the standard."""

    kind: CheckKind
    claim: Claim


def analyser(analysis: Analysis, channel: Channel, line: int, setting: Setting) -> LineAnalyser:
    """The network behind a line, the channel's other inputs as in its on state."""
    drives = analysis.drives(setting)
    return LineAnalyser(analysis.lookup, drives, channel, line, analysis.drive(channel, setting).on, setting)


def checks(analysis: Analysis, channel: Channel, line: int, kind: InputType, setting: Setting) -> list[Check]:
    """The demands of a type.

    On and off are left to other rules where the stated voltages of the line already ask for as much.
    """
    name = analysis.lookup.circuit.net_name(line)
    facts = analysis.lookup.facts.line(name)
    assert facts is not None
    behind = analyser(analysis, channel, line, setting)
    found: list[Check] = []
    on = behind.at_volts(kind.on_volts, f"{name} at {kind.on_volts:g} V")
    found.append(
        _current("on current", f"current of {name} at {kind.on_volts:g} V", on.least, kind.on_amps, True, on.run)
    )
    if not _asks_on(facts, kind):
        margin, terms = on_margin(analysis, channel, setting, on.run)
        found.append(Check("on", _surely_on(on.run, margin, terms, f"on with {name} at {kind.on_volts:g} V")))
    most = behind.at_volts(kind.most_volts, f"{name} at {kind.most_volts:g} V")
    found.append(
        _current(
            "most current", f"current of {name} at {kind.most_volts:g} V", most.most, kind.most_amps, False, most.run
        )
    )
    if not _asks_off(facts, kind):
        off = behind.at_volts(kind.off_volts, f"{name} at {kind.off_volts:g} V").run
        found.append(_off(analysis, channel, setting, "off", f"off with {name} at {kind.off_volts:g} V", off))
    if not _asks_leakage(facts, kind):
        fed = behind.at_amps(kind.off_amps, f"{kind.off_amps * 1e3:g} mA into {name}").run
        found.append(
            _off(analysis, channel, setting, "off current", f"off with {kind.off_amps * 1e3:g} mA into {name}", fed)
        )
    return found


def _current(kind: CheckKind, words: str, value: Bound, limit: float, at_least: bool, run: StateRun) -> Check:
    most = Figure("limit", limit, "A")
    if at_least:
        return Check(kind, claims.at_least(Figure("value", value, "A", words, end="min"), most, run.terms))
    return Check(kind, claims.at_most(Figure("value", value, "A", words), most, run.terms, least=NEARLY))


def _surely_on(run: StateRun, margin: float, terms: Iterable[Term], words: str) -> Claim:
    """The LED current against the one that gives the margin."""
    least = run.least_current
    found = Figure("value", least, "A", words, end="min")
    return claims.at_least(found, Figure("limit", least.value / max(margin, NEARLY), "A"), terms)


def _off(analysis: Analysis, channel: Channel, setting: Setting, kind: CheckKind, words: str, run: StateRun) -> Check:
    found = off_margin(analysis, channel, setting, run)
    if found.level is not None:
        claim = level_claim(found.level, f"{words}, ", "value")
    elif found.by == "off_voltage":
        volts = Figure("value", run.most_voltage, "V", words)
        claim = claims.at_most(volts, Figure("limit", found.limit, "V"), least=NO_VOLTS)
    else:
        amps = Figure("value", run.most_current, "A", words)
        claim = claims.at_most(amps, Figure("limit", found.limit, "A"), least=NO_CURRENT)
    return Check(kind, claim._replace(terms=found.terms))


def _asks_on(facts: LineFacts, kind: InputType) -> bool:
    return facts.on is not None and facts.on.value.low <= kind.on_volts


def _asks_off(facts: LineFacts, kind: InputType) -> bool:
    return facts.off is not None and facts.off.value.high >= kind.off_volts


def _asks_leakage(facts: LineFacts, kind: InputType) -> bool:
    return facts.leakage is not None and facts.leakage.value >= kind.off_amps


class TurnOn(NamedTuple):
    """LED current (amperes) and line voltage from which the channel is surely on at worst, with the corner."""

    amps: float
    volts: float
    corner: Bound


def turn_on(analysis: Analysis, channel: Channel, line: int, kind: InputType, setting: Setting) -> TurnOn | None:
    """Where the channel surely turns on, None above 40 V or where it can't be said."""
    behind = analyser(analysis, channel, line, setting)
    run = behind.at_volts(kind.on_volts, "").run
    worst: TurnOn | None = None
    for row in run.rows:
        amps = _amps_on(analysis, channel, setting, row.temperature)
        if amps is None:
            return None

        def bright(current: float, _: float, needed: float = amps) -> bool:
            return current >= needed

        volts = behind.volts_for(row.current.low, bright, 0.0, 40.0)
        if volts is None:
            return None
        if worst is None or volts > worst.volts:
            worst = TurnOn(amps, volts, row.current.low)
    return worst


def _amps_on(analysis: Analysis, channel: Channel, setting: Setting, temperature: float) -> float | None:
    """The LED current that surely switches the output at a temperature."""
    if channel.part.kind.output.conducts != "transistor":
        return required_current(channel)
    try:
        load, ratio = analysis.load(channel, setting), analysis.ratio(channel, setting)
        need = min(load.rows, key=lambda item: abs(item.temperature - temperature))
        stress = analysis.drive(channel, setting).current.high.value

        def enough(amps: float) -> bool:
            try:
                return ratio.available(amps, stress, temperature, need.voltage.value).current >= need.required.value
            except Lacking:
                return False

        return _least(enough, 1e-5, stress)
    except Lacking:
        return None


def _least(holds: Callable[[float], bool], low: float, high: float) -> float | None:
    """The smallest value between two at which something holds from there on."""
    if not holds(high):
        return None
    for _ in range(40):
        middle = (low * high) ** 0.5
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def turn_off(analysis: Analysis, channel: Channel, line: int, kind: InputType, setting: Setting) -> TurnOn | None:
    """The line voltage up to which the LED stays within the record's off voltage or off current.

    None where the record states neither.
    """
    record = channel.part.record
    if record is None or (record.led.off_voltage is None and record.led.off_current is None):
        return None
    volts_off, amps_off = record.led.off_voltage, record.led.off_current
    behind = analyser(analysis, channel, line, setting)
    run = behind.at_volts(kind.off_volts, "").run
    worst: TurnOn | None = None

    def lit(current: float, volts: float) -> bool:
        dark = (volts_off is not None and volts <= volts_off) or (amps_off is not None and current <= amps_off)
        return not dark

    for row in run.rows:
        found = behind.volts_for(row.current.high, lit, 0.0, 40.0)
        if found is not None and (worst is None or found < worst.volts):
            worst = TurnOn(amps_off or 0.0, found, row.current.high)
    return worst
