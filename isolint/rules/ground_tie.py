"""Two sides whose references are joined.

## What it looks at

The references of the two sides of each barrier: whether a conducting path of less than 10 ohm joins them.

## Why it matters

A shared ground makes the coupler pointless: noise and fault currents cross, and a hazardous side reaches what people
touch.

## How it is computed

Sides are the islands that conduct once barrier parts are cut out. The path between the two references is the shortest
one, element by element. It is a ground tie when the sum of its resistances is below 10 ohm direct current: a shared
net, 0 ohm, a ferrite, an inductor, a 0-V source. A netlist whose sides meet only in node 0 gives one warning:
simulation sheets often ground both sides there.

Settings: driver, receiver, conditions, barrier.

## Fails

```netlist
* A 0-ohm link between the grounds (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: ground-tie
R9 GND GNDB 0
```

## Passes

```netlist
* The grounds are apart; 0 ohm joins two grounds of one side (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
R9 GND AGND 0
R8 AGND V5 10k
```

## Remedy

Remove the element that joins them, or state the joint where it is wanted: `[[bonds]]`, an insulation of `functional`,
or a waiver.

## What it cannot see

Joints outside the netlist: connectors, shields, chassis, test equipment.

## Caution

Where one side is mains or another hazardous circuit, a joint across the barrier can kill. The tool supports a review
and certifies nothing: the applicable standard's current text, local codes and a qualified engineer decide. Work on
mains-connected circuits only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.joint_results import join_results
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a joining set; a pass for each barrier that nothing of this kind joins."""
    return join_results(context, RULE, "joined-grounds")


RULE = Rule(
    slug="ground-tie",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=("sides.*.nets", "supplies.*.ground", "reading.simulation_ground", "barriers.between"),
    survey=survey,
    judges=("joined-grounds",),
)
