"""A card that can't be read.

## What it looks at

Every card of the netlist and of the files that it includes.

## Why it matters

What is not read is not checked. A lost resistor turns a sound board into a faulty one, or hides a fault.

## How it is computed

Each card is parsed by the grammar. A card that loses an element is an error; an oddity that loses nothing (a name
that stands twice, a capital M on a resistor, which means milli) is a note.

## Fails

```netlist
* A resistor with one node (demonstration)
V1 IN 0 5
* expect: netlist-malformed
R1 IN
```

## Passes

```netlist
* Sound (demonstration)
V1 IN 0 5
R1 IN 0 10k
```

## Remedy

Correct the card, or the export that wrote it.

## What it cannot see

A value that is wrong but well written.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a note of the reader."""
    return context.noted(RULE)


RULE = Rule(
    slug="netlist-malformed",
    group="reading",
    level="error",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("malformed-card",),
)
