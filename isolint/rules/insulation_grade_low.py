"""Insulation of a lower grade than the barrier needs.

## What it looks at

Each part that lies across a barrier: the grade in its record against the `insulation` that is stated of the barrier.
Strings of resistors across. All barriers between a side that is hazardous and one that may be touched: whether the
stated levels add up to what people need, whatever was stated of one barrier alone.

## Why it matters

A part of basic insulation between mains and what people touch is one failure away from a shock. A barrier that was
stated functional by mistake silences every other question about it.

## How it is computed

Functional counts as no layer, basic (supplementary, 1 MOOP, 1 MOPP) as one, reinforced (double, 2 MOOP, 2 MOPP) as two:

    margin = layers of the part / layers of the barrier, wanted 1

Isolators by the standards for magnetic and capacitive couplers that claim reinforced insulation bear a surge test of
10 kV at least (keys `iec-60747-17`, `surge-white-paper`); below that they count as basic. Between a side of mains, or
above 120 V direct or 70.7 V peak, and an unearthed side that may be touched two layers are needed, towards protective
earth one; from a lesser hazard one (key `iec-62368-1`, from memory, high confidence). A chain over several sides counts
the sum of its layers. It ends at protective earth, which is a conducting path below 10 ohm or `earthed = true`, not a
stated bond. 2 MOPP wants `means` in the record (key `iec-60601-1`). A string of resistors over reinforced insulation
wants two in series, or `safety_resistor`. What nobody stated is open, once for all barriers of a side.

Settings: driver, receiver, conditions, mains.

```toml
[sides.logic]
kind = "selv"
[[barriers]]
insulation = "reinforced"
```

## Fails

```netlist
* A part of basic insulation in a reinforced barrier (demonstration)
R1 DRIVE A 470
* expect: insulation-grade-low margin=0.50
XU1 A GND GNDB OUT DEMO_PT7
R2 VB OUT 10k
```

## Passes

```netlist
* A part of reinforced insulation (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a part that is certified for the grade, or two layers of basic insulation with a middle that nobody can touch
(`kind = "internal"`); state the kind of each side.

## What it cannot see

Whether the part that is fitted is the one certified, and for which mains; insulation inside parts; wiring outside the
netlist.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.insulation_grade import grade_results
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a barrier and part record, and one a hazardous and a touchable side with too little between."""
    return grade_results(context, RULE)


RULE = Rule(
    slug="insulation-grade-low",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "barriers.insulation",
        "sides.*.kind",
        "sides.*.earthed",
        "parts.*.insulation.grade",
        "parts.*.insulation.standard",
        "parts.*.insulation.means",
        "parts.*.insulation.surge",
        "elements.*.safety_resistor",
    ),
    survey=survey,
    judges=("insulation",),
)
