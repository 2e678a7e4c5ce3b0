"""An included file outside the root folder.

## What it looks at

The paths that `.include` and `.lib` name.

## Why it matters

A netlist from a stranger must not make the tool read arbitrary files. Absolute paths also work on one machine only.

## How it is computed

Links and `..` are resolved first. Absolute paths, drives, network shares and addresses, environment variables, and
everything that leaves the root folder are refused, and so are hidden files; nothing of the file is read or shown. A
library of a simulator's own, which each of its exports names by an absolute path, is a note as long as nothing that it
may hold is needed: no part and no model lacks an explanation.

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
from isolint.checking.lacking_models import words_of_lacking
from isolint.checking.rule import Rule
from isolint.results import Result


def survey(context: Context) -> Iterable[Result]:
    """One result a note of the reader."""
    lacking: str | None = None
    for note in context.notes_of(RULE):
        if not note.library:
            yield context.note_result(RULE, note)
            continue
        lacking = words_of_lacking(context) if lacking is None else lacking
        if lacking:
            yield context.note_result(RULE, note, more=f", and nothing explains {lacking}")
        else:
            yield context.note_result(RULE, note, level="note", more="; nothing of it is needed")


RULE = Rule(
    slug="include-refused",
    group="reading",
    level="error",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("refused-file",),
)
