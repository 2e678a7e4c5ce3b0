"""One supply that feeds both sides of a barrier.

## What it looks at

Supply nets that feed loads on both sides of a barrier.

## Why it matters

The side that is meant to float hangs on the other side's supply; what was paid for the barrier is lost.

## How it is computed

Sides are the islands that conduct once barrier parts are cut out. Two sides are joined through a supply when the
shortest path between their references leaves one of them through one of its supply nets and is 10 ohm or more.

Settings: driver, receiver, conditions, barrier.

## Fails

```netlist
* The pull-up hangs on the supply of the LED's side (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
* expect: supply-shared
R2 V5 OUT 10k
```

## Passes

```netlist
* The pull-up hangs on the supply of its own side (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Feed each side from its own supply.

## What it cannot see

Supplies that are joined off the board.

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
    return join_results(context, RULE, "joined-supplies")


RULE = Rule(
    slug="supply-shared",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=("sides.*.nets", "supplies.*.ground", "reading.simulation_ground", "barriers.between"),
    survey=survey,
    judges=("joined-supplies",),
)
