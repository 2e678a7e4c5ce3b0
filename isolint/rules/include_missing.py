"""An included file that is not there.

## What it looks at

The files that `.include` and `.lib` name, and the files that these include.

## Why it matters

Subcircuits and models that were not read are black boxes; a coupler among them may not be recognised.

## How it is computed

Each name is looked up beside the file that includes it, inside the root folder. As long as a part or a model is
nowhere to be found and no record explains it, the missing file may decide everything: an error. Where nothing lacks
an explanation the result is open, since the file may still have held cards; `--strict` counts it.

## Fails

```netlist
* The library is not there (demonstration)
* expect: include-missing
.include models.lib
V1 IN 0 5
R1 IN A 10k
D1 A 0 DSMALL
```

## Passes

```netlist
* No library (demonstration)
V1 IN 0 5
R1 IN A 10k
D1 A 0 DSMALL
.model DSMALL D(IS=2n)
```

## Remedy

Add the file to the repository, or remove the line.

## What it cannot see

Whether the file that is found is the one that was meant.
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
        lacking = words_of_lacking(context) if lacking is None else lacking
        if lacking:
            yield context.note_result(RULE, note, level="error", more=f", and nothing explains {lacking}")
        else:
            yield context.note_result(RULE, note, "open", more=": whether it holds cards of the circuit is not known")


RULE = Rule(
    slug="include-missing",
    group="reading",
    level="warning",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("missing-file",),
)
