"""Impulses or overvoltages of the mains that a part across the barrier is not rated for.

## What it looks at

The impulse, the temporary overvoltage and the one-minute test that each barrier has to bear, against each part across;
capacitors across by the impulse of their class.

## Why it matters

Lightning and switching put kilovolts on the mains, several times a year. A part that is rated for the working voltage
alone breaks down, and one that broke down once no longer insulates.

## How it is computed

    margin = rated / wanted, wanted 1, the smallest

The impulse is the larger of a stated `impulse` and the table of rated impulse voltages by mains and overvoltage
category; reinforced insulation bears the next step, or 160 % between steps. Unstated categories are anything from I to
IV. The temporary overvoltage is sqrt2 (mains + 1200 V), twice that for reinforced insulation. The one-minute test is a
stated `withstand`, or that of the profile (keys `iec-60664-1`, `iec-62368-1`, `iec-60601-1`; rows with their confidence
in `isolint/standards/insulation_tables.py`). Of the part `impulse`, `surge` as a rating, `transient` or sqrt2 times
`withstand` count. Each capacitor takes its worst share by tolerance; of a chain the rest holds the basic impulse with
any one shorted.

Settings: driver, receiver, conditions, mains.

```toml
[sides.logic]
kind = "earth"
[[barriers]]
insulation = "basic"
overvoltage_category = 3
```

## Fails

```netlist
* 3 kV where category III on 230 V brings 4 kV (demonstration)
R1 DRIVE A 470
* expect: transient-rating-low margin=0.75
XU1 A GND GNDB OUT DEMO_PT7
R2 VB OUT 10k
```

## Passes

```netlist
* A part for 8 kV (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a part with more, or limit the overvoltage before the barrier and state `impulse` or the lower category.

## What it cannot see

Clamps before the part, ageing, pulses other than those of the tables.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.barrier_results import question_results
from isolint.checking.barrier_strength import Wall
from isolint.checking.capacitor_impulse import capacitor_impulse
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a barrier and part record, and what capacitors across it hold."""
    return question_results(context, RULE, Wall.transient, beside=capacitor_impulse)


RULE = Rule(
    slug="transient-rating-low",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "barriers.mains",
        "barriers.overvoltage_category",
        "barriers.impulse",
        "barriers.withstand",
        "barriers.profile",
        "parts.*.insulation.impulse",
        "parts.*.insulation.surge",
        "parts.*.insulation.transient",
        "parts.*.insulation.withstand",
    ),
    survey=survey,
)
