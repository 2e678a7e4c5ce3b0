"""An LED that can see more reverse voltage than it takes.

## What it looks at

The voltage across each channel's LED in every state of its drive: lines at the low end of `off` and reversed
(`reverse`), sources and AC supplies at both peaks, ports against other ports. Antiparallel diodes, the second LED of
a bidirectional pair and interlocked LEDs limit it by themselves.

## Why it matters

An LED breaks down at 3 to 6 V in reverse. A few milliamperes of it lower the light for good; a swapped field cable,
an alternating source or an RS-232 line does it at once.

## How it is computed

V_R = -(V_anode - V_cathode) in volts, the network solved at worst case in each state. The limit is the record's
`reverse_voltage_max`, else the usual range of its type. Where a diode in series blocks, its leakage is below that of
the LED, so that the diode takes the voltage; a diode whose saturation current is above 10 uA does not count. The
margin is limit / V_R and must be 1.00 or more.

```toml
[lines."IN"]
on = ["15 V", "30 V"]
off = ["-3 V", "1 V"]
reverse = "30 V"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "1 W"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* A field input that may be connected the wrong way round, a capacitor where the diode should be (demonstration)
R1 IN A 2.2k
R3 A GND 1k
C1 A GND 100n
* expect: led-reverse-exceeded
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Passes

```netlist
* The diode across the LED takes the reverse current (demonstration)
R1 IN A 2.2k
R3 A GND 1k
D1 GND A DSIG
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DSIG D(IS=2n N=1.8)
```

## Remedy

A diode across the LED, cathode to its anode, or a second coupler that way round; a rectifier in series where nothing
bypasses it.

## What it cannot see

How wiring can be mistaken: state `reverse` for every line that can be connected the wrong way round. Short pulses
through capacitors.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.evidence import at_most, line, number, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.reverse import reverse_limit
from isolint.worstcase.uncertain import Setting, Term

REQUIRED = 1.0
NO_VOLTS = 1e-3


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    limit_term = reverse_limit(channel.part)

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.reverse(channel, setting)
        return setting.low(limit_term) / max(found.volts, NO_VOLTS), (*found.terms, limit_term)

    verdict = decide(measure, "at_least", REQUIRED)
    found = context.analysis.reverse(channel)
    limit, volts = limit_term.low, max(found.volts, NO_VOLTS)
    margin = limit / volts
    corner = found.bound.corner
    evidence = [
        single(
            f"reverse voltage, {found.words}",
            "V_R",
            "V",
            found.volts,
            "max",
            limit=at_most(limit),
            corners={"max": corner},
        ),
        single("reverse voltage limit of the LED", "V_R_max", "V", limit, "max", source=limit_term.origin),
        single(
            "margin",
            "V_R_max / V_R",
            "1",
            margin,
            "min",
            formula=line("margin", "V_R_max / V_R", f"{number(limit)} / {number(volts)}", margin, "1"),
        ),
    ]
    blocking = ", ".join(context.named(element) for element in found.blocking)
    text = (
        f"with {found.words} the LED sees {show(found.volts, 'V')} in reverse ({corner}) and takes {show(limit, 'V')}"
    )
    if blocking and margin >= REQUIRED:
        text += f"; {blocking} blocks"
    anode, cathode = (context.net(channel.pins[role]) for role in ("anode", "cathode"))
    remedy = f"a diode across the LED: anode on {cathode}, cathode on {anode}" if verdict.kind == "fail" else ""
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        None,
        evidence=evidence,
        margin=Margin(margin, REQUIRED),
        remedy=remedy,
        chain=channel.drive.elements,
    )


RULE = Rule(
    slug="led-reverse-exceeded",
    group="drive",
    level="error",
    page=__doc__,
    facts=("lines.*.off", "lines.*.reverse", "supplies.*.voltage", "parts.*.led.reverse_voltage_max"),
    judge=judge,
    needs=("drive",),
)
