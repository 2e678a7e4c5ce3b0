"""A linear coupler whose photodiodes carry more than their linear range.

## What it looks at

The current that the servo loop of each linear coupler asks of its photodiode over the range of the signal, and what the
output diode gives with it.

## Why it matters

Above a small current the two photodiodes no longer follow each other: the output reads too little at the top of the
range, and nothing shows it.

## How it is computed

At balance both inputs of the amplifier stand at one voltage. The resistors between the summing net and what is held, at
both ends of `signals."NET".range` (a voltage on a net) or `signals."NET".current` (into it), with their tolerance, give

    I_P1   = the current that the servo diode must take; one resistor: range / (R (1 - tol))
    I_P2   = K3_max I_P1
    margin = `parts.X.photodiodes.current_max` / max(I_P1, I_P2)

Not stated: 50 to 200 uA, and K3 from 1 to 1.618, as two usual families have them (from memory).

Settings: conditions, servo.

## Fails

```netlist
* 5 V over 82 kohm: 61 uA in diodes for 50 uA (demonstration)
R1 SIGNAL SUM 82k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
R2 V5 A 180
* expect: photodiode-overdriven
XU1 LEDK A SUM GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 30k
```

## Passes

```netlist
* 5 V over 120 kohm (demonstration)
R1 SIGNAL SUM 120k
XA1 GND SUM V5 GND LEDK DEMO_AMP1
R2 V5 A 180
* expect: none
XU1 LEDK A SUM GND GNDB SUMB DEMO_LIN2
XA2 GNDB SUMB VB GNDB READ DEMO_AMP1
R3 SUMB READ 62k
```

## Remedy

A larger resistor before the summing net, with the output's resistor larger alike.

## What it cannot see

How linear the diodes are within their range, and drifts.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.servo_currents import ServoRange, asked, of_diodes
from isolint.checking.servo_loop import Closed, closed
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Part
from isolint.parts.records import Photodiodes
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Lacking, Setting


def survey(context: Context) -> Iterable[Result]:
    """One result a linear coupler."""
    for part in context.interfaces.recognition.parts.values():
        if RULE.asks(part.kind) and part.path not in context.interfaces.unused:
            try:
                yield _judge(context, part, closed(context, part))
            except Lacking as reason:
                yield part_results.lacking(context, RULE, part, reason)


def _judge(context: Context, part: Part, found: Closed) -> Result:
    verdict = decide(lambda setting: _claim(context, part, found, setting))
    told, flows = verdict.worst, asked(context, found, WORST)
    amps, limit = told.beside
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        f"{told.found.name} carries {amps} at the end of the signal's range ({flows.most.corner}), and is linear up to "
        f"{limit}: {told.words}",
        evidence=told.evidence(),
        remedy=lambda: _cure(context, flows, told),
        chain=(found.loop.element, *flows.elements),
    )


def _claim(context: Context, part: Part, found: Closed, setting: Setting) -> Claim:
    flows = asked(context, found, setting)
    most = fact_terms.of_record(part, Photodiodes.current_max)
    gain = of_diodes(part, Photodiodes.transfer_gain, "max")
    limit = Figure("I_P_max", setting.low(most), "A", most.name, end="min", source=most.origin)
    servo = Figure("I_P1", flows.most, "A", "the servo photodiode")
    ratio = Figure("K3_max", setting.high(gain), "1", gain.name, source=gain.origin)
    output = (servo * ratio).called("I_P2", "A", "the output photodiode", at=flows.most)
    terms = (*flows.terms, most, gain)
    return tightest([at_most(servo, limit, terms), at_most(output, limit, terms)])


def _cure(context: Context, flows: ServoRange, told: Claim) -> str:
    resistors = [element for element in flows.elements if context.circuit.letter(element) == "R"]
    factor = f"{1.0 / told.margin.si:.3g} times" if told.margin.si > 0.0 else "more of"
    names = ", ".join(context.named(element) for element in resistors)
    return f"{factor} the resistance before the summing net ({names}), with the output's resistor larger alike"


RULE = Rule(
    slug="photodiode-overdriven",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("photodiodes",),
    facts=(
        "environment.ambient",
        "elements.*.tolerance",
        "signals.*.range",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "parts.*.photodiodes.current_max",
        "parts.*.photodiodes.transfer_gain",
    ),
    survey=survey,
)
