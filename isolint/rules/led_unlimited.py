"""An LED whose current nothing limits.

## What it looks at

The drive network of each coupler's LED, up to the supplies, references, outputs and lines around it. The limit may sit anywhere:
in either leg, in both, in the return, in a switch's emitter, in a current source, inside the part.

## Why it matters

An LED has no limit of its own. Straight on a supply or a port it takes whatever the source can give: the port, the LED or both
are destroyed, often slowly.

## How it is computed

The network is solved with output resistances and the LED's own series resistance 0, switches ideal, BJTs at infinite gain and MOS
fully on. The rule fails when the LED current then has no bound or exceeds ten times the LED's maximum DC current (design limit of this
tool; common practice, no source). Less than that is `led-overdriven`.

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
```

## Fails

```netlist
* LED straight on a logic output (demonstration)
* expect: led-unlimited
XU1 DRIVE GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* The resistor sits in the return (demonstration)
XU1 DRIVE K GNDB OUT DEMO_PT1
R1 K GND 470
R2 VB OUT 10k
```

## Remedy

Put a resistor in series with the LED, in either leg: R = (supply - VF) / wanted current.

## What it cannot see

A limit on another board or in a cable: state the line or output that feeds the network, or the part's `internal_resistor`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.evidence import at_most, single
from isolint.checking.rule import Rule
from isolint.interfaces.values import Channel
from isolint.results import Result
from isolint.units import show

TIMES_MAXIMUM = 10.0
SHORTED_OHMS = 1.0


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    bound = context.analysis.drives().bound_without_limits(channel)
    limit = TIMES_MAXIMUM * context.analysis.led(channel.part).forward_current_max.kind_high
    evidence = single(
        "LED current with ideal source and switches", "IF_ideal", "A", bound, "max", limit=at_most(limit), source="ten times the LED's maximum"
    ) if math.isfinite(bound) else single("ten times the LED's maximum current", "10 IF_max", "A", limit, "max")  # fmt: skip
    if bound <= limit:
        yield context.channel_result(RULE, channel, "pass", f"{channel.subject}: something limits the LED current", evidence=[evidence])
        return
    shorted = [
        element
        for element in channel.drive.elements
        if context.circuit.letter(element) == "R" and (context.lookup.ohms(element) or 0.0) < SHORTED_OHMS
    ]
    shown = "without bound" if not math.isfinite(bound) or bound > 1e3 else f"up to {show(bound, 'A')}"
    names = ", ".join(context.named(element) for element in shorted)
    remedy = f"{names}: fit a series resistor" if shorted else f"put a resistor in series with the LED of {channel.subject}, in either leg"
    yield context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: nothing limits the LED current: with an ideal source it is {shown}, the limit is {show(limit, 'A')} (ten times the LED's maximum)",
        context.place(shorted[0]) if shorted else None,
        evidence=[evidence],
        related=context.related([channel.part.element, *channel.drive.elements]),
        remedy=remedy,
    )


RULE = Rule(
    slug="led-unlimited",
    group="drive",
    level="error",
    page=__doc__,
    facts=("outputs.*.supply", "supplies.*.voltage", "lines.*.on", "parts.*.led.internal_resistor"),
    judge=judge,
    blocks=("drive", "led-current"),
)
