"""An isolated supply with more capacitance at its output than it starts into.

## What it looks at

Each isolated supply whose record states `output.capacitance_max`: all capacitors from its output straight to its
return.

## Why it matters

A converter charges what hangs on its output with its current limit. With too much it takes the charge for a short
circuit, stops, and tries again: the board starts on the bench and not in the cold.

## How it is computed

C is the sum of the capacitors between the two nets, by their nominal values, as data sheets mean the limit. The margin
is `output.capacitance_max` / C, 1.00 is enough. A value that can't be read leaves it open unless the others are too
much already. Without the limit it is not asked.

Settings: driver, conditions.

```toml
[supplies."VISO"]
voltage = "5 V"
tolerance = "2 %"
ground = "GNDB"
load = "50 mA"
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
```

## Fails

```netlist
* 220 uF on a converter that starts into 100 uF (demonstration)
* expect: load-capacitance-high margin=0.45
XPS1 V24 GND VISO GNDB DEMO_IS1
C1 V24 GND 1u
C2 VISO GNDB 220u
```

## Passes

```netlist
* 47 uF (demonstration)
XPS1 V24 GND VISO GNDB DEMO_IS1
C1 V24 GND 1u
C2 VISO GNDB 47u
```

## Remedy

Less capacitance, a resistor or a choke before the large one, or a converter that starts into more.

## What it cannot see

Capacitors behind a choke, a diode or a regulator, and on boards that are plugged in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Part
from isolint.parts import Output
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure, total
from isolint.worstcase.supply_pins import converter_output
from isolint.worstcase.uncertain import Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result an isolated supply whose record states what it starts into."""
    for part in context.interfaces.recognition.parts.values():
        if part.kind.output.feeds == "outputs" and fact_terms.recorded(part, Output.capacitance_max) is not None:
            yield from _judge(context, part)


def _judge(context: Context, part: Part) -> Iterator[Result]:
    ends, circuit = converter_output(part), context.circuit
    if ends is None:
        reason = Lacking("it has more than one output, or none that its pins tell")
        yield part_results.lacking(context, RULE, part, reason)
        return
    plus, minus = (circuit.pins(part.element)[pin] for pin in ends)
    found = [
        element
        for element, _ in circuit.elements_at(plus)
        if circuit.letter(element) == "C" and minus in circuit.pins(element) and plus != minus
    ]
    unread = [element for element in found if circuit.value(element) is None]

    def claim(setting: Setting) -> Claim:
        each = [
            Figure(circuit.path(element), circuit.value(element) or 0.0, "F", f"value of {circuit.path(element)}")
            for element in found
        ]
        limit = fact_terms.recorded(part, Output.capacitance_max)
        source = f"record {fact_terms.named(part)}"
        most = Figure("C_max", float(limit), "F", "capacitance that it starts into", source=source)
        summed = total(each) if each else Figure("", 0.0, "F")
        return at_most(summed.called("C", "F", "capacitance at the output"), most, least=1e-15)

    verdict = decide(claim)
    if verdict.kind != "fail" and unread:
        text = f"the value of {circuit.path(unread[0])} at its output can't be read"
        yield part_results.lacking(context, RULE, part, Lacking(text, element=unread[0]))
        return
    has, most = verdict.worst.beside
    text = f"{has} lie at its output {context.net(plus)}, it starts into {most}"
    yield part_results.judged(
        context,
        RULE,
        part,
        verdict,
        text,
        evidence=verdict.worst.evidence(),
        remedy=f"less capacitance at {context.net(plus)}, or a converter that starts into {has}",
        chain=found,
    )


RULE = Rule(
    slug="load-capacitance-high",
    group="drive",
    level="warning",
    page=__doc__,
    asked_of=("feeds",),
    facts=("parts.*.output.capacitance_max",),
    survey=survey,
)
