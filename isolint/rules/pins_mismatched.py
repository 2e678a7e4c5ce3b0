"""A part record whose pin order contradicts the part's own subcircuit.

## What it looks at

Couplers that have a part record and a readable subcircuit: the groups of pins, the direction of the LED's diode,
collector and emitter, and ports whose names tell their role.

## Why it matters

There is no standard pin order. With the wrong one every other result about the part is wrong, in both directions.

## How it is computed

The record's `pins` are laid beside the ports of the `.subckt`. The rule fails at the first contradiction.

## Fails

```netlist
* The record has emitter before collector, the subcircuit collector before emitter (demonstration)
.subckt DEMO_PT1 A K C E
D1 A N DLED
V1 N K 0
F1 C B V1 0.002
Q1 C B E QDET
.model DLED D(IS=1e-14 N=2)
.model QDET NPN(BF=400)
.ends
* expect: pins-mismatched
XU1 A GND GNDB OUT DEMO_PT1
V1 V5 GND 5
R1 V5 A 1k
V2 VB GNDB 5
R2 VB OUT 10k
```

## Passes

```netlist
* Record and subcircuit agree; nobody says what reads the output (demonstration)
.subckt DEMO_PT1 A K E C
D1 A N DLED
V1 N K 0
F1 C B V1 0.002
Q1 C B E QDET
.model DLED D(IS=1e-14 N=2)
.model QDET NPN(BF=400)
.ends
* expect-open: transfer-margin-low
XU1 A GND GNDB OUT DEMO_PT1
V1 V5 GND 5
R1 V5 A 1k
V2 VB GNDB 5
R2 VB OUT 10k
```

## Remedy

Correct `pins` in the part record, in the order of the card, or the subcircuit.

## What it cannot see

Parts whose subcircuit is encrypted or not there.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel of a coupler with a record and a readable subcircuit."""
    part = channel.part
    found = next((item for item in context.interfaces.recognition.contradictions if item.element == part.element), None)
    if found is not None:
        record = part.record.name if part.record is not None else part.path
        yield context.channel_result(
            RULE,
            channel,
            "fail",
            f"{channel.subject}: {found.text}",
            measure=Measure.number_of(1 + found.regroups),
            remedy=f"correct parts.{record}.pins, in the order of the card, or the subcircuit",
        )
    elif part.record is None or context.circuit.subcircuit(part.element) is None:
        text = f"{channel.subject}: there is no readable subcircuit beside a record to compare"
        yield context.channel_result(RULE, channel, "notApplicable", text)
    else:
        yield context.channel_result(
            RULE, channel, "pass", f"{channel.subject}: record and subcircuit agree on the pins"
        )


RULE = Rule(
    slug="pins-mismatched",
    group="reading",
    level="error",
    page=__doc__,
    asked_of=("channel",),
    facts=("parts.*.pins",),
    judge=judge,
    blocks=("drive", "led-current", "transfer", "load", "level"),
    judges=("pins",),
    structural=True,
)
