"""An included file outside the root folder.

## What it looks at

The paths that `.include` and `.lib` name.

## Why it matters

A netlist from a stranger must not make the tool read arbitrary files. Absolute paths also work on one machine only.

## How it is computed

Links and `..` are resolved first. Absolute paths, drives, network shares and addresses, environment variables, and
everything that leaves the root folder are refused; nothing of the file is read or shown.

## Fails

```netlist
* An absolute path (demonstration)
* expect: include-refused
.include /opt/models/demo.lib
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

Copy the file below the root folder and name it by a relative path.

## What it cannot see

Nothing else.
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
    slug="include-refused",
    group="reading",
    level="error",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("refused-file",),
)
