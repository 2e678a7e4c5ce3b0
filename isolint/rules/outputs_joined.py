"""Two outputs that drive one net.

## What it looks at

The net of each output of a digital isolator, unless it only pulls down, and what else drives that net low and high:
the output of another isolator or coupler, or an output that is stated for this net while an ordinary part lies there.

## Why it matters

As long as both agree nothing is seen. When one is high and the other low, both carry their short-circuit current, and
the level is that of neither. A channel that is wired the wrong way round does just that: its output works against the
output that it was to read.

## How it is computed

By the pins of the net. Outputs that follow one and the same net agree. Where an enable pin may switch both off it is
open until `outputs.NET.exclusive` says that only one drives at a time. A stated output counts only where the isolator's
record states its own levels, and no input is stated for the net: else it tells what the isolator gives.

Settings: driver, barrier.

```toml
[outputs."DRIVE2"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
```

## Fails

```netlist
* Two channels on one net (demonstration)
* expect: outputs-joined
XU1 V5 DRIVE DRIVE2 GND GNDB BUS BUS VB DEMO_DI1
C1 V5 GND 100n
C2 VB GNDB 100n
```

## Passes

```netlist
* Each on its own (demonstration)
XU1 V5 DRIVE DRIVE2 GND GNDB BUS BUS2 VB DEMO_DI1
C1 V5 GND 100n
C2 VB GNDB 100n
```

## Remedy

Give each output a net of its own; where a bus is meant, outputs that only pull down, with one pull-up.

## What it cannot see

What software does with the outputs of a controller.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.context import Context
from isolint.checking.isolator_outputs import LogicOutput, exclusive, logic_outputs, may_be_off, other_drivers
from isolint.checking.rule import Rule
from isolint.facts import OutputFacts
from isolint.results import Kind, Measure, MissingFact, Result


def survey(context: Context) -> Iterable[Result]:
    """One result an output of an isolator; of two on one net the second is not told again."""
    told: set[int] = set()
    own = [output for output in logic_outputs(context) if not output.pulls]
    for output in own:
        twins = [
            other for other in own if other.net == output.net and other.part is output.part and other.pin != output.pin
        ]
        found = [f"output {other.name} of {other.part.path}" for other in twins]
        others = list(other_drivers(context, output))
        found += [other.words for other in others]
        elements = [other.element for other in others if other.element >= 0]
        if output.net in told:
            continue
        told.add(output.net)
        net, switched = context.net(output.net), bool(others) and may_be_off(context, output)
        if not found or exclusive(context, output):
            yield _result(context, output, "pass", f"nothing else drives net {net}")
            continue
        words = " and ".join(found)
        if switched and all(other.enabled for other in others) and not twins:
            fact = context.lookup.missing(OutputFacts.exclusive, net)
            text = f"it drives net {net}, and so does {words}; whether only one is enabled at a time nobody says"
            yield _result(context, output, "open", text, elements, [fact])
            continue
        yield _result(context, output, "fail", f"it drives net {net}, and so does {words}", elements)


def _result(
    context: Context,
    output: LogicOutput,
    kind: Kind,
    text: str,
    elements: Iterable[int] = (),
    missing: Iterable[MissingFact] = (),
) -> Result:
    element = output.part.element
    made = context.result(
        RULE,
        kind,
        f"{output.part.path}: output {output.name}: {text}",
        context.place(element),
        output.part.path,
        role=output.name,
        measure=Measure.number_of(2),
        missing=missing,
        remedy="give each output a net of its own" if kind == "fail" else "",
        related=context.related([element, *elements]),
        element=element,
    )
    return made._replace(part=output.part.path)


RULE = Rule(
    slug="outputs-joined",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("levels",),
    facts=("outputs.*.exclusive",),
    survey=survey,
)
