"""An LED that can get more current than it takes.

## What it looks at

The largest LED current of each channel in its on state.

## Why it matters

Above its maximum an LED loses light quickly, or fails at once; the transfer ratio goes with it.

## How it is computed

IF_max at worst: highest supply, smallest forward voltage, smallest resistors, no output resistance, at each ambient end. The limit is
the record's DC maximum, lowered by its derating above the temperature where that starts: IF_limit(T) = IF_max - slope (T - T0), in
amperes. The margin is IF_limit / IF_max at the same temperature and must be 1.00 or more.

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

Pulsed and AC drive: only the direct current of the on state is judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Analysis, Context
from isolint.checking.evidence import at_most, line, number, quantity, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.values import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.drive import AtTemperature
from isolint.worstcase.terms import WORST, Setting, Term

REQUIRED = 1.0


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        margin, _, _ = _worst(analysis, channel, setting)
        return margin, (*analysis.drive(channel, setting).terms, analysis.led(channel.part).forward_current_max)

    verdict = decide(measure, "at_least", REQUIRED)
    margin, row, limit = _worst(context.analysis, channel, WORST)
    drive = context.analysis.drive(channel)
    current = row.high.value
    evidence = [
        quantity("LED current", "IF", "A", drive.current, at_most(limit)),
        single("LED current limit at that temperature", "IF_limit", "A", limit, "max", source=context.analysis.led(channel.part).forward_current_max.origin),
        single("margin", "IF_limit / IF_max", "1", margin, "min", formula=line("margin", "IF_limit / IF_max", f"{number(limit)} / {number(current)}", margin, "1")),
    ]  # fmt: skip
    resistor = context.limiting_resistor(channel, drive)
    text = f"the LED gets up to {show(current, 'A')} ({row.high.corner}) and takes {show(limit, 'A')}"
    remedy = ""
    if verdict.kind == "fail" and resistor is not None:
        cure = context.resistor_that_cures(resistor, lambda other: measure(WORST, other)[0] >= REQUIRED, larger=True)
        remedy = f"{context.named(resistor)}: {show(cure, 'ohm')} or more" if cure else f"a larger resistor than {context.named(resistor)} alone does not cure it"
    yield context.judged(
        RULE, channel, verdict, text, resistor, evidence=evidence, margin=Margin(margin, REQUIRED), remedy=remedy, chain=channel.drive.elements
    )


def _worst(analysis: Analysis, channel: Channel, setting: Setting) -> tuple[float, AtTemperature, float]:
    """Smallest limit over current with its temperature row and limit."""
    led = analysis.led(channel.part)
    dc_limit = setting.low(led.forward_current_max)
    rows = [(led.limit(row.temperature, dc_limit), row) for row in analysis.drive(channel, setting).by_temperature]
    return min(((limit / max(row.high.value, 1e-12), row, limit) for limit, row in rows), key=lambda item: item[0])


RULE = Rule(
    slug="led-overdriven",
    group="drive",
    level="error",
    page=__doc__,
    facts=("environment.ambient", "supplies.*.tolerance", "elements.*.tolerance", "outputs.*.high_max", "parts.*.led.forward_current_max"),
    judge=judge,
    needs=("drive",),
    blocks=("led-current",),
)
