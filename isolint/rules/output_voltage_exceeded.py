"""An output that must block more voltage than it stands.

## What it looks at

The voltage across each coupler's output while it is off, at the highest supply, and, where the output itself switches
a coil, at the moment when it interrupts the coil's current.

## Why it matters

Above its rating the output breaks down: it conducts although its LED is dark, and the current of a coil then destroys
it.

## How it is computed

The load network is solved with no current through the output, in every state of its switching inputs, over all
corners; AC supplies count at both peaks. A coil that the output interrupts is replaced by the current that it carried,
which its clamp has to take:

    VCE_off = V(collector) - V(emitter)     (volts)     for a diode across the coil the supply plus one diode voltage

A Zener diode adds its breakdown voltage, an RC network I R + I sqrt(L / C). The rating is the record's
`output.voltage_max`, else the generic interval of the type (an assumption). Practice asks for 1.3 times the supply,
and for supply plus Zener voltage at 0.8 of the rating at most; the rule judges the rating itself.

```toml
[supplies."V60"]
voltage = "60 V"
tolerance = "10 %"
ground = "GNDB"
[supplies."V80"]
voltage = "80 V"
tolerance = "10 %"
ground = "GNDB"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[inputs."OUT"]
supply = "V60"
low_max = "15 V"
high_min = "35 V"
low_current = "1 uA"
voltage_max = "100 V"
[elements."R*"]
tolerance = "1 %"
power = "0.25 W"
voltage = "250 V"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* A 70 V output under 88 V (demonstration)
R1 DRIVE A 470
* expect: output-voltage-exceeded margin=0.80
XU1 A GND GNDB OUT DEMO_PT1
R2 V80 OUT 100k
```

## Passes

```netlist
* The same output under 66 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 V60 OUT 100k
```

## Remedy

A coupler with a higher rating, a lower supply, or a clamp that lets the coil's voltage rise less.

## What it cannot see

Transients that couple into wires and supplies; the overshoot of wiring inductance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Context
from isolint.checking.evidence import at_most, quantity
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show_beside
from isolint.worstcase import limits
from isolint.worstcase.uncertain import WORST, Setting, Term

SMALLEST_VOLTS = 1e-9


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    rating = limits.output_voltage(channel.part)
    if rating is None:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: a push-pull output blocks nothing"
        )
        return
    kicks = context.analysis.outputs().kicks(channel)

    def measure(setting: Setting) -> tuple[float, Sequence[Term]]:
        off = context.analysis.off_voltage(channel, setting)
        high, terms = off.high, off.terms
        if kicks:
            kicked = context.analysis.outputs(setting).kick_voltage(channel, kicks)
            high, terms = max(high, kicked.high), (*terms, *kicked.terms)
        return setting.low(rating) / max(high, SMALLEST_VOLTS), (rating, *terms)

    verdict = decide(measure, "at_least", 1.0)
    limit = WORST.low(rating)
    off = context.analysis.off_voltage(channel)
    kicked = context.analysis.outputs().kick_voltage(channel, kicks) if kicks else None
    most = kicked if kicked is not None and kicked.high > off.high else off
    evidence = [quantity("voltage across the output while it is off", "VCE_off", "V", off.quantity, at_most(limit))]
    why = "while it is off"
    if kicked is not None:
        coils = ", ".join(kick.coil.path for kick in kicks)
        evidence.append(
            quantity(
                f"voltage across the output when it switches {coils} off",
                "VCE_kick",
                "V",
                kicked.quantity,
                at_most(limit),
            )
        )
        why = f"when it switches {coils} off" if most is kicked else why
    sees, stands = show_beside(most.high, limit, "V")
    text = f"its output stands {stands} and sees up to {sees} {why} ({most.high_corner})"
    remedy = "a coupler with a higher output voltage, or a lower supply" if verdict.kind == "fail" else ""
    chain = (*channel.load.elements, *(element for kick in kicks for element in kick.clamp.elements))
    margin = Margin(limit / max(most.high, SMALLEST_VOLTS), 1.0) if most.high > SMALLEST_VOLTS else None
    yield context.judged(
        RULE, channel, verdict, text, None, evidence=evidence, margin=margin, remedy=remedy, chain=chain
    )


RULE = Rule(
    slug="output-voltage-exceeded",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output",),
    facts=(
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "parts.*.output.voltage_max",
        "parts.*.coil.inductance",
        "lines.*.on",
    ),
    judge=judge,
    needs=("load",),
)
