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

Alternating drive (a supply of kind ac, a SIN source): the sine is stepped through operating points at the corner of
the largest peak; the average over the period against the DC limit, the peak against the record's `pulse_current_max`.
A capacitor that drops the voltage counts as 1 / (2 pi f C) ohms, corrected for its phase; it lets 2 pi f C V amperes
rms through at most. Where another capacitor smooths the current and the peak is above the DC limit it stays open. A
PULSE source with a period up to 25 ms counts the same way, with its share of time, where the record states a pulse
limit; else its upper level is direct current.

```toml
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

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

Pulses that no source of the netlist tells, and the inrush through a capacitor that drops the voltage.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor, resistor_that_cures
from isolint.checking.evidence import at_most, line, number, quantity, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show, show_beside
from isolint.worstcase.drive import AtTemperature
from isolint.worstcase.pulsed import Pulsed, PulsedRow
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term

REQUIRED = 1.0


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    pulses = context.analysis.pulsed(channel)
    if pulses is not None:
        yield _pulsed(context, channel, pulses)
        return

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        margin, _, _ = _worst(analysis, channel, setting)
        return margin, (*analysis.drive(channel, setting).terms, analysis.led(channel.part).forward_current_max)

    verdict = decide(measure, "at_least", REQUIRED)
    margin, row, limit = _worst(context.analysis, channel, WORST)
    drive = context.analysis.drive(channel)
    current = row.high.value
    evidence = [
        quantity("LED current", "IF", "A", drive.current, at_most(limit)),
        single(
            "LED current limit at that temperature",
            "IF_limit",
            "A",
            limit,
            "max",
            source=context.analysis.led(channel.part).forward_current_max.origin,
        ),
        single(
            "margin",
            "IF_limit / IF_max",
            "1",
            margin,
            "min",
            formula=line("margin", "IF_limit / IF_max", f"{number(limit)} / {number(current)}", margin, "1"),
        ),
    ]
    resistor = limiting_resistor(context, channel, drive)
    gets, takes = show_beside(current, limit, "A")
    text = f"the LED gets up to {gets} ({row.high.corner}) and takes {takes}"
    remedy = ""
    if verdict.kind == "fail" and resistor is not None:
        cure = resistor_that_cures(context, resistor, lambda other: measure(WORST, other)[0] >= REQUIRED, larger=True)
        remedy = (
            f"{context.named(resistor)}: {show(cure, 'ohm')} or more"
            if cure
            else f"a larger resistor than {context.named(resistor)} alone does not cure it"
        )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        evidence=evidence,
        margin=Margin(margin, REQUIRED),
        remedy=remedy,
        chain=channel.drive.elements,
    )


def _worst(analysis: Analysis, channel: Channel, setting: Setting) -> tuple[float, AtTemperature, float]:
    """Smallest limit over current with its temperature row and limit."""
    led = analysis.led(channel.part)
    dc_limit = setting.low(led.forward_current_max)
    rows = [(led.limit(row.temperature, dc_limit), row) for row in analysis.drive(channel, setting).by_temperature]
    return min(((limit / max(row.high.value, 1e-12), row, limit) for limit, row in rows), key=lambda item: item[0])


def _pulse_margins(
    analysis: Analysis, channel: Channel, found: Pulsed, setting: Setting
) -> list[tuple[float, float, PulsedRow]]:
    """Average and peak margins of each temperature."""
    led = analysis.led(channel.part)
    dc_limit, pulse_limit = setting.low(led.forward_current_max), setting.low(found.limit)
    return [
        (led.limit(row.temperature, dc_limit) / max(row.average, 1e-12), pulse_limit / max(row.peak.value, 1e-12), row)
        for row in found.rows
    ]


def _pulsed(context: Context, channel: Channel, found: Pulsed) -> Result:
    """The average against the derated DC limit, the peak against the pulse limit."""
    drive, led = context.analysis.drive(channel), context.analysis.led(channel.part)

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        pulses = analysis.pulsed(channel, setting)
        assert pulses is not None
        margins = _pulse_margins(analysis, channel, pulses, setting)
        terms = (*analysis.drive(channel, setting).terms, led.forward_current_max, pulses.limit)
        return min(min(average, peak) for average, peak, _ in margins), terms

    margins = _pulse_margins(context.analysis, channel, found, WORST)
    average, peak, row = min(margins, key=lambda item: min(item[:2]))
    limit = led.limit(row.temperature, led.forward_current_max.low)
    if found.smoothed and row.peak.value > limit and average >= REQUIRED:
        raise Lacking(
            f"capacitor {found.smoothed} smooths its current; how far the average lies below the peak of "
            f"{show(row.peak.value, 'A')} is not judged"
        )
    verdict = decide(measure, "at_least", REQUIRED)
    margin = min(average, peak)
    share = (
        "sine in 48 steps, at most I_peak / pi a half wave"
        if found.how == "sine"
        else "the pulse's share of its period"
    )
    formula = (
        line("IF_avg", "I_peak * duty", f"{number(row.peak.value)} * {number(found.duty)}", row.average, "A")
        if found.how == "pulse"
        else ""
    )
    evidence = [
        quantity("LED current at the peak", "I_peak", "A", drive.current, at_most(found.limit.low)),
        single(
            "average LED current",
            "IF_avg",
            "A",
            row.average,
            "max",
            limit=at_most(limit),
            source=share,
            formula=formula,
            corners={"max": row.peak.corner},
        ),
        single("rms LED current", "IF_rms", "A", row.rms, "max", source=share),
        single(
            "LED current limit at that temperature",
            "IF_limit",
            "A",
            limit,
            "max",
            source=led.forward_current_max.origin,
        ),
        single("pulse current limit", "I_pulse_max", "A", found.limit.low, "max", source=found.limit.origin),
        single(
            "margin of the average",
            "IF_limit / IF_avg",
            "1",
            average,
            "min",
            formula=line(
                "margin", "IF_limit / IF_avg", f"{number(limit)} / {number(max(row.average, 1e-12))}", average, "1"
            ),
        ),
        single(
            "margin of the peak",
            "I_pulse_max / I_peak",
            "1",
            peak,
            "min",
            formula=line(
                "margin",
                "I_pulse_max / I_peak",
                f"{number(found.limit.low)} / {number(max(row.peak.value, 1e-12))}",
                peak,
                "1",
            ),
        ),
    ]
    if found.dropping is not None:
        path, hertz, farads, volts = found.dropping
        amps = 2.0 * math.pi * hertz * farads * volts
        numbers = f"2 * 3.14159 * {number(hertz)} * {number(farads)} * {number(volts)}"
        evidence.append(
            single(
                f"rms current that {path} lets through at most",
                "I_C",
                "A",
                amps,
                "max",
                formula=line("I_C", "2 * pi * f * C * V", numbers, amps, "A"),
            )
        )
    text = (
        f"the LED gets up to {show(row.average, 'A')} on average and {show(row.peak.value, 'A')} at the peak "
        f"({row.peak.corner}) and takes {show(limit, 'A')} on average and {show(found.limit.low, 'A')} in pulses"
    )
    resistor = limiting_resistor(context, channel, drive)
    remedy = ""
    if verdict.kind == "fail":
        remedy = "less current"
        if resistor is not None:
            cure = resistor_that_cures(
                context, resistor, lambda other: measure(WORST, other)[0] >= REQUIRED, larger=True
            )
            remedy = (
                f"{context.named(resistor)}: {show(cure, 'ohm')} or more"
                if cure
                else f"a larger resistor than {context.named(resistor)} alone does not cure it"
            )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor,
        evidence=evidence,
        margin=Margin(margin, REQUIRED),
        remedy=remedy,
        chain=channel.drive.elements,
    )


RULE = Rule(
    slug="led-overdriven",
    group="drive",
    level="error",
    page=__doc__,
    facts=(
        "environment.ambient",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "outputs.*.high_max",
        "parts.*.led.forward_current_max",
    ),
    judge=judge,
    needs=("drive",),
    blocks=("led-current",),
    judges=("led-current",),
    measures=True,
)
