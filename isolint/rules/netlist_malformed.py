"""A card that can't be read.

## What it looks at

Every card of the netlist and of the files that it includes.

## Why it matters

What is not read is not checked. A lost resistor turns a sound board into a faulty one, or hides a fault.

## How it is computed

Each card is parsed by the grammar. A card that loses an element is an error, as is one with a node written as an
expression whose net can't be told. So is a line that is not understood,
stands behind `.end` or in a block that is never closed, and names two or more nets of the circuit: it may have joined
them. Where it names fewer it is a note. Of two elements of one name both are kept, the second with a suffix (`R1~2`),
with a warning. `--strict` counts every one of these as an error. What loses nothing (a capital M on a resistor, which
means milli; characters that can't be seen) is a note in any case.

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
from isolint.results import Measure, Result
from isolint.units import show


def survey(context: Context) -> Iterable[Result]:
    """One result a note of the reader, and one a resistor of a channel whose value no resistor has."""
    yield from context.noted(RULE)
    concerned = dict.fromkeys(e for c in context.channels for e in (*c.drive.elements, *c.load.elements))
    for element in concerned:
        ohms = context.circuit.value(element) if context.circuit.letter(element) == "R" else None
        if ohms is not None and ohms < 0.0:
            path = context.circuit.path(element)
            text = f"{path}: no resistor has {show(ohms, 'ohm')}"
            yield context.result(
                RULE,
                "fail",
                text,
                context.place(element),
                path,
                role="negative",
                measure=Measure.number_of(1),
                remedy=f"{context.named(element)}: write its value without the sign",
            )


RULE = Rule(
    slug="netlist-malformed",
    group="reading",
    level="error",
    page=__doc__,
    facts=(),
    survey=survey,
    judges=("malformed-card",),
)
