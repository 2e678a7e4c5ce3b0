"""An LED that is connected the wrong way round.

## What it looks at

Every state of the inputs of a coupler's drive network: whether the LED ever conducts, and whether it would if it were
turned.

## Why it matters

A reversed LED never transfers anything, and it takes only a few volts in reverse before it is damaged.

## How it is computed

The network is solved nominally in every state. The rule fails when no state gives the LED 1 uA and some state would
give 0.1 mA with anode and cathode exchanged.

Settings: driver, receiver, conditions.

```toml
[outputs."DRIVE"]
sink_max = "16 mA"
```

## Fails

```netlist
* Anode and cathode exchanged (demonstration)
R1 DRIVE A 470
* expect: led-reversed
XU1 GND A GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* The LED hangs between supply and port and lights when the port is low (demonstration)
R1 V5 A 470
XU1 A DRIVE GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Exchange anode and cathode, or correct the pin order of the part record.

## What it cannot see

Two couplers in parallel with antiparallel LEDs: each is taken to be there for its polarity. A part record whose pin
order is wrong: see `pins-mismatched`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.preconditions import driven, guarded, opposed
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result
from isolint.units import show
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import NO_CURRENT

DARK_AMPS = 1e-6
LIT_AMPS = 1e-4


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.both_ways:
        text = f"{channel.subject}: its input lights either way round"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    drives = context.analysis.drives()
    forward = driven(context, channel)
    forward = forward if forward > NO_CURRENT else 0.0
    gets = Figure("IF", forward, "A", "largest nominal LED current over all states")
    evidence = [gets.evidence()]
    if forward > DARK_AMPS:
        text = f"{channel.subject}: the LED conducts forwards, {gets} nominally in the state with most current"
        yield context.channel_result(RULE, channel, "pass", text, evidence=evidence)
        return
    turned = drives.reversed_current(channel)
    if turned <= LIT_AMPS:
        text = f"{channel.subject}: the LED conducts in no state, either way round"
        yield context.channel_result(RULE, channel, "pass", text, evidence=evidence)
        return
    other = opposed(context, channel)
    if other is not None:
        text = (
            f"{channel.subject}: its LED lies antiparallel to that of {other.subject}, which conducts: it is there for "
            "the other polarity, which no stated state of this drive has"
        )
        yield context.channel_result(RULE, channel, "notApplicable", text, evidence=evidence)
        return
    kept = guarded(context, channel)
    if kept is not None:
        text = f"{channel.subject}: its LED guards that of {kept.subject} against reverse voltage, and nothing reads it"
        yield context.channel_result(RULE, channel, "notApplicable", text, evidence=evidence)
        return
    lacks = Figure("IF_turned", turned, "A", "LED current if it were turned round")
    if math.isfinite(turned):
        evidence.append(lacks.evidence())
    carried = str(lacks) if math.isfinite(turned) else "all that the source gives"
    yield context.channel_result(
        RULE,
        channel,
        "fail",
        (
            f"{channel.subject}: the LED is connected the wrong way round: it gets {gets} at most, "
            f"turned round it would get {carried} ({show(LIT_AMPS, 'A')} is the least that counts)"
        ),
        evidence=evidence,
        measure=Measure(turned, larger_is_worse=True),
        related=context.related([channel.part.element, *channel.drive.elements]),
        remedy=(
            f"exchange nets {context.net(channel.pins['anode'])} and {context.net(channel.pins['cathode'])} on "
            f"{channel.part.path}"
        ),
    )


RULE = Rule(
    slug="led-reversed",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=("outputs.*.supply", "lines.*.on"),
    judge=judge,
    needs=("drive",),
    blocks=("drive", "led-current"),
    judges=("direction",),
    structural=True,
)
