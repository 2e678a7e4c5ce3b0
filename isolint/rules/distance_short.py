"""A package, or a stated board, whose distances are shorter than the insulation asks for.

## What it looks at

The creepage and clearance of each part across a barrier of basic or reinforced insulation, and the smallest distances
of the board where they are stated.

## Why it matters

Dirt and moisture let current creep over a short surface, and air breaks down over a short gap, sooner on a mountain.

## How it is computed

    margin = distance / wanted, wanted 1, the smaller of creepage and clearance

Clearance is the larger one for the impulse and for the peak or temporary overvoltage, at least that of the pollution
degree, times the factor of the altitude above 2000 m. Creepage is that for the working voltage by pollution degree and
material group, twice that for reinforced insulation, and at least the clearance (keys `iec-60664-1`, `iec-62368-1`,
`iec-60601-1`; rows with their confidence in `isolint/standards/insulation_tables.py`). Unstated: pollution degree 2,
altitude 2000 m, material group III to I.

Settings: driver, receiver, conditions, mains.

```toml
[environment]
pollution_degree = 3
[sides.logic]
kind = "earth"
[[barriers]]
insulation = "basic"
working_voltage = "300 V"
working_peak = "424 V"
```

## Fails

```netlist
* 4 mm where 300 V and dirt ask for 5 mm (demonstration)
R1 DRIVE A 470
* expect: distance-short margin=0.80
XU1 A GND GNDB OUT DEMO_PT7
R2 VB OUT 10k
```

## Passes

```netlist
* 8 mm (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a wider package, state its `material_group`, keep dirt out and state the pollution degree.

## What it cannot see

The layout, slots, coating, pads that are closer than the pins, screws, neighbouring parts.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.barrier_results import board_distances, question_results
from isolint.checking.barrier_strength import Wall
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a barrier and part record, and what the board across it holds."""
    return question_results(context, RULE, Wall.distance, beside=board_distances)


RULE = Rule(
    slug="distance-short",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "barriers.working_voltage",
        "barriers.overvoltage_category",
        "barriers.profile",
        "barriers.board_creepage",
        "barriers.board_clearance",
        "environment.pollution_degree",
        "environment.altitude",
        "parts.*.insulation.creepage",
        "parts.*.insulation.clearance",
        "parts.*.insulation.material_group",
    ),
    survey=survey,
)
