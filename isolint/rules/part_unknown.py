"""A part that may cross a barrier and that nothing explains.

## What it looks at

Parts without a part record, declaration or telling subcircuit that touch two sides, look like couplers, or control
one side from another.

## Why it matters

A part that is not understood may isolate, or may be a dead short. Unknown is never a pass: the separation of the
sides that it touches can't be judged.

## How it is computed

A leaf part joins all its pins unless a record, a declaration or the structure of its own subcircuit says where its
barrier lies. Where sides meet only through such a part, the result is open and names the line that settles it. A part
whose structure leaves several types or pins, or with a coupler's name but no readable subcircuit, is open too.

```toml
[sides.logic]
nets = ["GND"]
[sides.field]
nets = ["GNDB"]
[[barriers]]
between = ["logic", "field"]
insulation = "basic"
```

## Fails

```netlist
* A part across the barrier that nobody explained (demonstration)
V1 V5 GND 5
R1 V5 A 1k
V2 VB GNDB 5
R2 VB C 1k
* expect-open: part-unknown
XU1 A GND GNDB C MYSTERY
```

## Passes

```netlist
* The same place, a part that lies on one side (demonstration)
V1 V5 GND 5
R1 V5 A 1k
V2 VB GNDB 5
R2 VB C 1k
XU1 A GND MYSTERY
```

## Remedy

Write a part record and name it, or declare what the part is: `[elements."XU1"] part = "..."`, `type = "..."`, or
`ordinary = true`.

## What it cannot see

Whether a declaration is true.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.joint_results import unknown_results
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result an unknown part that matters."""
    return unknown_results(context, RULE)


RULE = Rule(
    slug="part-unknown",
    group="reading",
    level="error",
    page=__doc__,
    facts=("elements.*.part", "elements.*.type", "elements.*.ordinary"),
    survey=survey,
    judges=("identity",),
    open_level="error",
)
