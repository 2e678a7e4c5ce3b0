"""A conducting path between two sides that is neither a ground tie nor a shared supply.

## What it looks at

All conducting elements between the two sides of a barrier: resistors, diodes, transistors, wires of signals, ordinary
parts.

## Why it matters

A stray resistor or a signal wire carries noise, leakage and, in a fault, the whole voltage of the barrier.

## How it is computed

Resistances across are reduced in series and parallel (nominal values; non-linear elements count 0 ohm). At or above
`limits.insulating_resistance` (1 Mohm by default; common practice, no source) they are listed in the inventory and
are no joint. Each joint is shown with its shortest path, element by element.

Settings: driver, receiver, conditions, barrier.

## Fails

```netlist
* A resistor across the barrier (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
* expect: bridge-conducting
R9 A OUT 100k
```

## Passes

```netlist
* A bleeder of 4.7 megohm across the barrier (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
R9 GND M 2.35Meg
R8 M GNDB 2.35Meg
```

## Remedy

Remove the element, or carry the signal through a coupler.

## What it cannot see

Creepage, clearance and pollution of the board.

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
    return join_results(context, RULE, "joined-nets")


RULE = Rule(
    slug="bridge-conducting",
    group="barrier",
    level="error",
    page=__doc__,
    asked_of=("barrier",),
    facts=("sides.*.nets", "supplies.*.ground", "reading.simulation_ground", "barriers.between"),
    survey=survey,
    judges=("joined-nets",),
)
