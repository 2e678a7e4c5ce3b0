"""An output that is asked to carry more current than it stands.

## What it looks at

The current that the load of each coupler would draw through the output when it is fully on, at the highest supply and
the smallest resistance, against the output's current rating.

## Why it matters

A transistor limits its own current only through its transfer ratio. A strong part with a well-driven LED then carries
whatever the load allows: lamps, relays and discharging capacitors have burnt many outputs whose minimum ratio looked
just enough.

## How it is computed

    IC = min(I_closed, IF_max ratio_max)     (amperes)

I_closed: the load network solved with 0 V across the output, in every state of its switching inputs, over all corners.
The second bound counts for transistor outputs only where the first one is too large: the LED's largest current times
the ratio of the best new part (maximum of the record or the generic family, at its highest factors of current and
temperature). The rating is the record's `output.current_max`, else the generic interval of the type (an assumption).

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
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[signals."OUT"]
use = "linear"
[elements."R*"]
tolerance = "1 %"
power = "20 W"
voltage = "250 V"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* A darlington that may carry 80 mA and can give more into 100 ohm (demonstration)
R1 DRIVE A 470
* expect: output-current-exceeded
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 100
```

## Passes

```netlist
* The same with 3.3 kohm (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 3.3k
```

## Remedy

A larger load resistor, or a transistor behind the coupler that takes the load.

## What it cannot see

Inrush: the first current of lamps and of capacitors, which is many times the steady one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Context
from isolint.checking.cures import output_resistor, resistor_that_cures
from isolint.checking.evidence import at_most, line, number, quantity, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show, show_beside
from isolint.worstcase import limits
from isolint.worstcase.uncertain import WORST, Setting, Term

SMALLEST_AMPS = 1e-12


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    rating = limits.output_current(channel.part)
    if rating is None:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: its type has no current rating"
        )
        return

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        closed = context.analysis.closed_current(channel, setting)
        limit = setting.low(rating)
        if closed.high <= limit:
            return limit / max(closed.high, SMALLEST_AMPS), (rating, *closed.terms)
        asked = context.analysis.asked_current(channel, setting)
        return limit / max(asked.current, SMALLEST_AMPS), (rating, *asked.terms)

    verdict = decide(measure, "at_least", 1.0)
    limit = WORST.low(rating)
    closed = context.analysis.closed_current(channel)
    evidence = [quantity("current through the output with no voltage across it", "I_closed", "A", closed.quantity)]
    current, corner = closed.high, closed.high_corner
    if closed.high > limit:
        asked = context.analysis.asked_current(channel)
        current, corner = asked.current, asked.corner or corner
        if asked.strongest is not None:
            numbers = f"{number(asked.led_current)} * {number(asked.ratio)}"
            evidence.append(single("largest LED current", "IF_max", "A", asked.led_current, "max"))
            evidence.append(
                single(
                    "largest current of the best part",
                    "IF_max ratio_max",
                    "A",
                    asked.strongest,
                    "max",
                    formula=line("IC_max", "IF_max * ratio_max", numbers, asked.strongest, "A"),
                    source=asked.origin,
                )
            )
    evidence.append(
        single("current that the output may be asked to carry", "IC", "A", current, "max", limit=at_most(limit))
    )
    wanted, stands = show_beside(current, limit, "A")
    text = f"its output stands {stands} and is asked for up to {wanted} ({corner})"
    resistor = output_resistor(context, channel)
    remedy = ""
    if verdict.kind == "fail":
        remedy = "a larger load resistor, or a transistor behind the coupler"
        if resistor is not None:
            cure = resistor_that_cures(
                context, resistor, lambda other: other.closed_current(channel).high <= limit, larger=True
            )
            remedy = f"{context.named(resistor)}: {show(cure, 'ohm')} or more" if cure else remedy
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        None,
        evidence=evidence,
        margin=Margin(limit / max(current, SMALLEST_AMPS), 1.0),
        remedy=remedy,
        chain=channel.load.elements,
    )


RULE = Rule(
    slug="output-current-exceeded",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=("supplies.*.voltage", "elements.*.tolerance", "parts.*.output.current_max", "parts.*.transfer.ratio"),
    judge=judge,
    needs=("load", "carrying"),
    blocks=("heat",),
    judges=("heat",),
)
