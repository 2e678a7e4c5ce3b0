"""An LED that can get more current than it takes.

## What it looks at

The largest LED current of each channel in its on state, of alternating and pulsed drive its average and peak.

## Why it matters

Above its maximum an LED loses light quickly, or fails at once; the transfer ratio goes with it.

## How it is computed

IF_max at worst: highest supply, smallest forward voltage, smallest resistors, no output resistance, at each ambient
end. The limit is the record's DC maximum, lowered by its derating above the temperature where that starts:
IF_limit(T) = IF_max - slope (T - T0), in amperes. The margin is IF_limit / IF_max at the same temperature and must be
1.00 or more.

The LED of a linear coupler is judged with the amplifier of its servo loop at its rail, as at start or with an open
photodiode: what remains then limits its current.

Alternating drive (a supply or line of kind ac, a SIN source): the sine is stepped through operating points at the
corner of the largest peak; the average over the period (x 1.002, the error of 25 points) against the DC limit, the
peak against the record's `pulse_current_max`. Two levels that alternate within 25 ms (a stated `rate` in Hz, with
`duty`, or a PULSE source) count the same way, with the largest share of time at the on level:

    IF_avg = duty IF_on + (1 - duty) IF_off

A `duty` that nobody states is anything up to 1, at the kindest a half. A pulse limit that nobody states is anything
from the DC limit at that temperature to ten times it (from memory): a peak between is a question.

A capacitor that drops the voltage, before or behind the rectifier, is judged by its charge: between two zeros of its
current it swings by 2 V_crest less what the rest needs both ways, V+ and V-,

    IF_avg = k f C (2 V_crest - V+ - V-)             k = 1 for one half wave through the LED, 2 for a bridge
    I_peak = min(2 pi f C V_crest, 1.02 V_crest / hypot(R, X))         X = 1 / (2 pi f C), R in series with it

A capacitor behind a rectifier holds the current up: it is charged at each crest along a straight line below or above
what really flows, and discharged along another, so that its lowest and highest volts are bounds (against a simulator
the LED current was 1.9 % low and 2.6 % high at most). The LED current with the highest volts is direct current here.
One that lies across the alternating drive, two of them, or one beside a transistor, leave the result to the peak alone.

When the source is switched on at its crest a capacitor that drops the voltage is empty: the LED gets I_inrush = the
crest over the resistance alone, above the DC limit for 1.05 tau ln(I_inrush / IF_limit) with tau = C crest / I_inrush
(seconds; x 1.05: measured against a simulator). It must stay below `pulse_current_max`, for no longer than
`led.pulse_time`; without a stated pulse limit that is a question. Plugging in again at the opposite crest doubles it.

A capacitor across a resistor of the LED is charged through the LED at each edge of its source, with Q = C V_R at most.
1 uC (1 A for 1 us, from memory) does no harm; more is judged by the current that flows with the resistor shorted,
against `pulse_current_max`, and is a question where nobody states that.

A transistor without a `.model` hides no failure that needs none: where its emitter or source lies on a supply or
ground and only resistors on its base or gate, it counts as a closed switch of 0 to 10 ohm (common practice, no source);
its base must get 1/100 of the LED's limit at 2.5 V. A diode without one across the LED breaks down at 2 V at the
kindest. Nothing passes that way.

Settings: driver, receiver, conditions.

## Fails

```netlist
* 56 ohm from a 5 V output (demonstration)
* expect: led-overdriven
R1 DRIVE A 56
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* 470 ohm from a 5 V output (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

A larger series resistor; the smallest preferred value that holds at worst is printed.

## What it cannot see

Pulses that no source of the netlist tells. Contact bounce that switches a dropping capacitor on twice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple

from isolint.checking import part_results
from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_most, both_ends, tightest
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor, resistor_cure
from isolint.checking.rule import Rule
from isolint.checking.servo_currents import at_rail
from isolint.checking.servo_loop import Closed, closed
from isolint.checking.speed_up import charged_through
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel, Part
from isolint.parts import Led
from isolint.results import Evidence, Measure, Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.drive import Drive
from isolint.worstcase.figures import Figure, pi
from isolint.worstcase.network import Unlimited
from isolint.worstcase.plain_switches import Plain
from isolint.worstcase.pulsed import Pulsed, PulsedRow, pulsed
from isolint.worstcase.uncertain import WORST, Lacking, Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    try:
        pulses = context.analysis.pulsed(channel)
        found = _direct(context, channel) if pulses is None else _pulsed(context, channel, pulses)
    except Lacking:
        bound = _without_models(context, channel)
        if bound is None:
            raise
        found = bound
    yield found
    yield from charged_through(RULE, context, channel)


def _beside(context: Context) -> Iterable[Result]:
    """One result a linear coupler, whose LED an amplifier drives: at its rail it drives all that the resistor lets."""
    for part in context.interfaces.recognition.parts.values():
        if "photodiodes" in part.kind.owns and part.path not in context.interfaces.unused:
            try:
                yield _servo(context, part, closed(context, part))
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)


def _servo(context: Context, part: Part, found: Closed) -> Result:
    amplifier = context.circuit.path(found.loop.element)

    def claim(setting: Setting) -> Claim:
        rows, terms = at_rail(context, part, found, setting)
        led = context.analysis.led(part)
        most = led.forward_current_max
        return tightest(
            [
                at_most(
                    Figure("IF_max", row, "A", f"LED current with {amplifier} at its rail"),
                    Figure(
                        "IF_limit",
                        led.limit(row.temperature, setting.low(most)),
                        "A",
                        "LED current limit at that temperature",
                        source=most.origin,
                    ),
                    (*terms, most),
                )
                for row in rows
            ]
        )

    try:
        verdict = decide(claim)
    except Unlimited:
        text = f"{part.path}: nothing but {amplifier} itself limits the LED current when its output stands at its rail"
        remedy = f"put a resistor in series with the LED of {part.path}"
        place, measure = context.place(part.element), Measure.number_of(1)
        made = context.result(RULE, "fail", text, place, part.path, measure=measure, remedy=remedy)
        return made._replace(part=part.path)
    told = verdict.worst
    gets, takes = told.beside
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"the LED gets up to {gets} with {amplifier} at its rail ({told.found.corner}) and takes {takes}",
        evidence=told.evidence(),
        remedy="a larger resistor in series with the LED",
        chain=(found.loop.element,),
    )


def _without_models(context: Context, channel: Channel) -> Result | None:
    """The failure that is certain whatever the transistors and diodes are that have no model; None without one."""
    try:
        bounded = context.analysis.plain_drive(channel)
        if bounded is None:
            return None
        plain, drive = bounded
        if pulsed(plain.channel, drive, context.analysis.drives(), context.analysis.led(channel.part)) is not None:
            return None
        found = _direct(context, channel, plain)
    except Lacking:
        return None
    return found if found.kind == "fail" else None


def _drive(analysis: Analysis, channel: Channel, setting: Setting, plain: Plain | None) -> Drive:
    """The drive, or the one that counts without models."""
    bounded = None if plain is None else analysis.plain_drive(channel, setting)
    return analysis.drive(channel, setting) if bounded is None else bounded[1]


def _direct(context: Context, channel: Channel, plain: Plain | None = None) -> Result:
    """plain: what the drive is where models are lacking."""

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        drive, most = _drive(analysis, channel, setting, plain), analysis.led(channel.part).forward_current_max
        return tightest(
            [
                at_most(
                    Figure("IF_max", row.high, "A", "LED current"),
                    _limit(analysis, channel, row.temperature, setting),
                    (*drive.terms, most),
                )
                for row in drive.by_temperature
            ]
        )

    verdict = decide(claim)
    told, drive = verdict.worst, _drive(context.analysis, channel, WORST, plain)
    within = channel if plain is None else plain.channel
    resistor = limiting_resistor(context, within, drive)
    gets, takes = told.beside
    whatever = "" if plain is None else ", ".join(map(context.circuit.path, plain.unmodelled))
    return context.judged(
        RULE,
        channel,
        verdict,
        f"the LED gets up to {gets} ({told.found.corner}) and takes {takes}"
        + (f", whatever {whatever} is, of which there is no .model" if whatever else ""),
        resistor,
        evidence=told.evidence(both_ends("LED current", "IF", "A", drive.current)),
        remedy=lambda: _cure(context, resistor, claim, ""),
        chain=within.drive.elements,
    )


def _limit(analysis: Analysis, channel: Channel, temperature: float, setting: Setting) -> Figure:
    """The DC limit, derated at a temperature."""
    led = analysis.led(channel.part)
    most = led.forward_current_max
    amps = led.limit(temperature, setting.low(most))
    return Figure("IF_limit", amps, "A", "LED current limit at that temperature", source=most.origin)


def _cure(context: Context, resistor: int | None, claim: Callable[[Setting, Analysis], Claim], without: str) -> str:
    """The resistor that limits the current enough; `without`: what is said where there is none."""
    if resistor is None:
        return without
    return resistor_cure(
        context, resistor, claim, True, f"a larger resistor than {context.named(resistor)} alone does not cure it"
    )


class _Pulses(NamedTuple):
    """Both claims at one temperature: of the average and of the peak."""

    row: PulsedRow
    average: Claim
    peak: Claim


def _claims(analysis: Analysis, channel: Channel, setting: Setting) -> list[_Pulses]:
    """The average against the derated DC limit, the peak against the pulse limit, at each temperature."""
    pulses = analysis.pulsed(channel, setting)
    assert pulses is not None
    led, drive = analysis.led(channel.part), analysis.drive(channel, setting)
    terms = (*drive.terms, led.forward_current_max, pulses.limit, *pulses.terms)
    found = []
    for row in pulses.rows:
        amps = setting.low(pulses.limit)
        if not pulses.limit.stated:
            # What stands for it is the limit for direct current.
            amps = led.limit(row.temperature, amps)
        most = Figure("I_pulse_max", amps, "A", "pulse current limit", source=pulses.limit.origin)
        peak = Figure("I_peak", row.peak, "A")
        average = Figure("IF_avg", row.average, "A", at=row.peak)
        if pulses.how == "pulse" and row.average <= row.peak.value * pulses.duty:
            average = (peak * Figure("duty", pulses.duty)).called("IF_avg", "A", at=row.peak)
        limit = _limit(analysis, channel, row.temperature, setting)
        found.append(_Pulses(row, at_most(average, limit, terms), at_most(peak, most, terms)))
    return found


def _inrush(analysis: Analysis, channel: Channel, setting: Setting) -> list[Claim]:
    """That the LED takes what an empty dropping capacitor lets through when it is switched on at the crest.

    Without a stated pulse limit it is a question and never a failure.
    """
    pulses = analysis.pulsed(channel, setting)
    if pulses is None or pulses.inrush is None or pulses.dropping is None:
        return []
    amps = pulses.inrush.value
    most = pulses.limit if pulses.limit.stated else pulses.limit._replace(kind_low=max(pulses.limit.kind_high, amps))
    time = fact_terms.of_record(channel.part, Led.pulse_time)
    steady = _limit(analysis, channel, pulses.inrush.temperature, setting).si
    lasts = _GUARD * _seconds(pulses, steady)
    holds = amps <= steady or (amps <= setting.low(most) and lasts <= setting.low(time))
    found = Figure("I_inrush", pulses.inrush, "A", f"inrush through {pulses.dropping[0]}")
    limit = Figure("I_pulse_max", setting.low(most), "A", "pulse current limit", source=most.origin)
    return [at_most(found, limit, (most, time), decided=holds)]


def _seconds(pulses: Pulsed, steady: float) -> float:
    """How long an inrush stays above the DC limit: tau ln(I_inrush / I_DC), tau = C times crest / I_inrush."""
    assert pulses.inrush is not None and pulses.dropping is not None
    amps = pulses.inrush.value
    if amps <= steady:
        return 0.0
    return pulses.dropping[2] * pulses.crest / amps * math.log(amps / steady)


def _lasting(pulses: Pulsed, steady: float) -> str:
    return show(_GUARD * _seconds(pulses, steady), "s")


_GUARD = 1.05
"""Against a simulator the time was 2.3 % short at most."""


def _pulsed(context: Context, channel: Channel, found: Pulsed) -> Result:
    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        every = [each for at in _claims(analysis, channel, setting) for each in (at.average, at.peak)]
        return tightest([*every, *_inrush(analysis, channel, setting)])

    at = min(_claims(context.analysis, channel, WORST), key=lambda at: min(at.average.margin.si, at.peak.margin.si))
    peak, average = at.peak.found, at.average.found
    if found.smoothed and peak.si > at.average.limit.si and at.average.holds:
        raise Lacking(f"{found.smoothed}: so its average may be anything up to the peak of {peak}")
    verdict = decide(claim)
    text = (
        f"the LED gets up to {average} on average and {peak} at the peak ({peak.corner}) and takes {at.average.limit} "
        f"on average and {at.peak.limit} in pulses"
    )
    surge = _inrush(context.analysis, channel, WORST)
    if surge and not surge[0].holds:
        text += (
            f"; switched on at the crest the empty capacitor lets {surge[0].found} through, above the limit of "
            f"{at.average.limit} for {_lasting(found, at.average.limit.si)}"
        )
    resistor = limiting_resistor(context, channel, context.analysis.drive(channel))
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        evidence=[*_pulse_evidence(context, channel, found, at), *(each.found.evidence(each.bound) for each in surge)],
        remedy=lambda: _cure(context, resistor, claim, "less current"),
        chain=channel.drive.elements,
    )


def _pulse_evidence(context: Context, channel: Channel, found: Pulsed, at: _Pulses) -> Iterable[Evidence]:
    share = (
        "sine in 48 steps, at most I_peak / pi a half wave"
        if found.how == "sine"
        else "the pulse's share of its period"
    )
    average = at.average.found
    current = context.analysis.drive(channel).current
    yield both_ends("LED current at the peak", "I_peak", "A", current, at.peak.bound)
    yield average.evidence(at.average.bound)._replace(name="average LED current", source=share)
    yield Figure("IF_rms", at.row.rms, "A", "rms LED current", source=share).evidence()
    yield at.average.limit.evidence()
    yield at.peak.limit.evidence()
    yield at.average.margin.evidence(line="margin")._replace(name="margin of the average")
    yield at.peak.margin.evidence(line="margin")._replace(name="margin of the peak")
    if found.dropping is not None:
        path, hertz, farads, volts = found.dropping
        amps = 2.0 * pi() * Figure("f", hertz, "Hz") * Figure("C", farads, "F") * Figure("V", volts, "V")
        yield amps.called("I_C", "A", f"rms current that {path} lets through at most").evidence()


RULE = Rule(
    slug="led-overdriven",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "environment.ambient",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "outputs.*.high_max",
        "parts.*.led.forward_current_max",
        "parts.*.led.pulse_current_max",
        "parts.*.led.pulse_time",
        "signals.*.rate",
        "signals.*.duty",
    ),
    judge=judge,
    beside=_beside,
    asked_beside=("photodiodes",),
    needs=("drive",),
    blocks=("led-current",),
    judges=("led-current",),
    measures=True,
    room="a part whose LED takes more",
)
