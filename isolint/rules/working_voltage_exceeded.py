"""A voltage across a barrier, day after day, for which its parts are not rated.

## What it looks at

The working voltage of each barrier (rms or direct) and its recurring peak against those of each part across, and the
volts that each resistor of a string across takes at its worst share.

## Why it matters

Insulation ages under voltage: what survives a test of one minute at 5 kV may fail after years at 1 kV.

## How it is computed

    margin = rated / wanted, wanted 1, the smaller of rms and peak

`working_voltage` has no default; it can't lie below the mains where one side is stated mains. The recurring peak is
`working_peak`, else 1.1 sqrt2 times the working voltage, 2.83 times beside windings or fast edges (common practice, no
source). Of the part `working_voltage` and `repetitive_peak` count; where one is missing the other stands in and is
printed as an assumption. `withstand` is never taken for a working voltage (key `isolation-rating-faq`), and a working
voltage above 0.6 of it is that figure copied. Reinforced insulation above 700 V peak wants the key `repetitive_peak`
itself, since it says that partial discharge was tested (from memory). A resistor of a string is rated 75 V to 350 V
where nobody stated its `voltage`.

Settings: driver, receiver, conditions.

```toml
[sides.logic]
nets = ["GND"]
kind = "earth"
[sides.field]
nets = ["GNDB"]
kind = "hazardous"
[[barriers]]
between = ["logic", "field"]
insulation = "basic"
working_voltage = "400 V"
working_peak = "424 V"
impulse = "1500 V"
```

## Fails

```netlist
* A part for 300 V on 400 V (demonstration)
R1 DRIVE A 470
* expect: working-voltage-exceeded margin=0.75
XU1 A GND GNDB OUT DEMO_PT7
R2 VB OUT 10k
```

## Passes

```netlist
* A part for 600 V (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Fit a part that is rated for the voltage, or more resistors in series; state `working_voltage` and `working_peak` as
measured.

## What it cannot see

The waveform, partial discharge, how many years are left; voltages that arise in a fault only.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.barrier_results import question_results
from isolint.checking.barrier_strength import Wall
from isolint.checking.bridge_strength import string_volts
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a barrier and part record, and what resistors across it hold."""
    return question_results(context, RULE, Wall.working, beside=string_volts)


RULE = Rule(
    slug="working-voltage-exceeded",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "barriers.working_voltage",
        "barriers.working_peak",
        "barriers.mains",
        "elements.*.voltage",
        "parts.*.insulation.working_voltage",
        "parts.*.insulation.repetitive_peak",
    ),
    survey=survey,
)
