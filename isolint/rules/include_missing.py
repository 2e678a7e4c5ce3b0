"""An included file that is not there.

## What it looks at

The files that `.include` and `.lib` name, and the files that these include.

## Why it matters

Subcircuits and models that were not read are black boxes; a coupler among them may not be recognised.

## How it is computed

Each name is looked up beside the file that includes it, inside the root folder.

## Fails

```netlist
* The library is not there (demonstration)
* expect: include-missing
.include models.lib
V1 IN 0 5
R1 IN 0 10k
```

## Passes

```netlist
* No library (demonstration)
V1 IN 0 5
R1 IN 0 10k
```

## Remedy

Add the file to the repository, or remove the line.

## What it cannot see

Whether the file that is found is the one that was meant.
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
    slug="include-missing",
    group="reading",
    level="warning",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("missing-file",),
)
