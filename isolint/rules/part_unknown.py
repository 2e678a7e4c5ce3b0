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

A part of four pins and more without a model is asked about where its place speaks for a barrier: its pins lie on two
sides, or two of its first pins look like an LED with its resistor, or a diode lies across two as across a coil. Sides
are the islands of references by name, and islands without one that hold supplies and parts of their own; a tie between
two references hides nothing. The points for each sign are set by hand on generated boards (no source). All instances of
a part name are one question, subject `part:NAME`. Parts between two grounds that are joined, have a supply in common or
names of one family are one question about that pair of grounds. All other such parts are listed.

Where no channel was judged, any such question makes the exit status 1, whatever `open` says. So does one question about
the whole netlist where all returns are one node or no net is named as a ground. `[reading] isolation = "none"` in the
isolint.toml beside the netlist claims that nothing on it isolates; every report lists it.

Settings: barrier.

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

Write a part record: its type and the order of its pins from the data sheet. A part that does not isolate is declared
by `[elements."XU1"] ordinary = true`; what it touches is then joined through it. Of a pair of grounds state `[sides]`:
two tables, or one that holds both nets.

## What it cannot see

Whether a declaration is true. An isolating part with the letter of a connector is only listed.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.unexplained import unknown_results
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a part name or pair of grounds that may isolate."""
    return unknown_results(context, RULE)


RULE = Rule(
    slug="part-unknown",
    group="reading",
    level="error",
    page=__doc__,
    facts=("elements.*.part", "elements.*.type", "elements.*.ordinary", "parts.*.groups"),
    survey=survey,
    judges=("identity",),
    open_level="error",
)
