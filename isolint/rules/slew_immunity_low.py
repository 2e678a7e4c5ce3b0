"""Edges across a coupler that are faster than its output bears.

## What it looks at

Couplers whose output has a state, where `slew`, or `swing` with `edge_time`, is stated of the barrier; gate drivers and
isolated amplifiers towards a hazardous side in any case.

## Why it matters

A fast edge across the barrier drives current through the capacitance of the coupler. Its output flips for a moment, and
a half-bridge fires both switches.

## How it is computed

    S = slew, or swing / edge_time (10 to 90 %: 0.8 to 1 of it)
    margin = slew immunity / S, wanted `limits.slew_margin`

The margin is 1.5 where nobody stated one, and only below 1.0 it fails (common practice, no source). The smaller of
`slew_immunity` and `slew_immunity_transient` counts. Where the record says up to which voltage or from which LED
current on the figure holds, that must be met. A failure is a note where everything that the output reaches ignores
pulses of ten edges and a microsecond (`signals.*.ignores`).

Settings: driver, receiver, conditions, mains.

```toml
[sides.logic]
kind = "earth"
[[barriers]]
insulation = "basic"
slew = "5 kV/us"
```

## Fails

```netlist
* 1 kV/us where the voltage moves by 5 kV/us (demonstration)
R1 DRIVE A 470
* expect: slew-immunity-low margin=0.20
XU1 A GND GNDB OUT DEMO_PT7
R2 VB OUT 10k
```

## Passes

```netlist
* 10 kV/us (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a part with more immunity, a shield or more LED current where its data sheet says so, or slow the edges down.

## What it cannot see

The layout and its capacitance, shields, bursts that nobody stated.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.slew import slew_results
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a barrier and record of couplers whose output has a state."""
    return slew_results(context, RULE)


RULE = Rule(
    slug="slew-immunity-low",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("state",),
    facts=(
        "barriers.slew",
        "barriers.swing",
        "barriers.edge_time",
        "limits.slew_margin",
        "signals.*.ignores",
        "parts.*.insulation.slew_immunity",
    ),
    survey=survey,
)
