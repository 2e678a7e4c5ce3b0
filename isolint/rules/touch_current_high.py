"""More current through a barrier than who touches the other side may get.

## What it looks at

All capacitors, resistances and converters between a side of mains and one that may be touched, with what the couplers'
records say of their own; where capacitors meet at earth each leg alone, since the earth conductor may be open.

## Why it matters

Half a milliampere is felt, some tens can kill. The current of one capacitor is small; the sum of a filter, a bleeder
and two converters is not.

## How it is computed

    I = U / |Z|, with U = 1.1 times the mains; of capacitors alone I = 2 pi f C U

The network is solved with its phases at every corner of its values, capacitors 20 % and resistors 5 % where no
tolerance is stated, 50 to 60 Hz. Converters add their `leakage`, up to 0.25 mA where nobody states it (from memory), in
phase. The limit is `touch_current`, else that of the profile (keys `iec-62368-1`, `iec-60601-1`, `iec-61010-1`). With
single faults (`touch_current_fault`, or the profile's) each element of a chain is shorted in turn.

Through resistors direct current flows too: the working voltage where no mains is stated, else its peak, against 2 mA
(key `iec-62368-1`, from memory), or a smaller stated limit.

Settings: driver, receiver, conditions, mains.

```toml
[sides.logic]
kind = "selv"
[[barriers]]
insulation = "reinforced"
touch_current = "0.25 mA"
[elements."CY*"]
class = "Y1"
voltage = "400 V"
tolerance = "10 %"
```

## Fails

```netlist
* 4.7 nF between mains and what people touch (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: touch-current-high margin=0.61
CY1 GND GNDB 4.7n
```

## Passes

```netlist
* 1 nF (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
CY1 GND GNDB 1n
```

## Remedy

Fit as few farads as the interference allows, state tolerance and mains frequency, join metal to protective earth.

## What it cannot see

The capacitance of cables, planes and transformers, currents at switching frequencies, a lost neutral; the body is taken
as a short, which is more than a person draws.

## Caution

Where one side is mains or another hazardous circuit, insulation that is too weak can kill. The values of the tables
used here are for screening. The tool supports a review and certifies nothing: the applicable standard's current text,
local codes and a qualified engineer decide. Work on mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.direct_current import direct_results
from isolint.checking.rule import Rule
from isolint.checking.touch_current import touch_results
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """For each barrier the leg that lets most through, the worst single fault, and the direct current."""
    yield from touch_results(context, RULE)
    yield from direct_results(context, RULE)


RULE = Rule(
    slug="touch-current-high",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=(
        "barriers.mains",
        "barriers.mains_frequency",
        "barriers.touch_current",
        "barriers.working_voltage",
        "elements.*.tolerance",
    ),
    survey=survey,
)
