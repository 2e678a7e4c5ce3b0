"""A base resistor that takes the photocurrent away.

## What it looks at

Couplers whose base pin is brought out and connected: what the circuit there takes out of the base against the
photocurrent of the smallest LED current. An open base pin is normal and not judged.

## Why it matters

A resistor from base to emitter makes the output faster and its dark current small, but it takes VBE/RBE of the
photocurrent before the transistor amplifies anything. Too small, and a weak LED never turns the output on.

## How it is computed

    I_RBE = VBE / RBE     (amperes)     VBE = 0.6 V - 2 mV/K (T - 25 degC), twice that for a darlington
    margin = IF_min photo_gain / I_RBE

I_RBE is solved from the network at the base with the output off, over all corners, at the temperature of IF_min. The
photo gain (current of the photodiode at the base over the LED current) is the record's `transfer.photo_gain`, else 0.1
to 0.2 % (an assumption, from memory). What is left of the photocurrent is a factor of the transfer margin.

A base that is tied to a supply, the collector or the emitter (links below 1 ohm), or into which its circuit feeds more
than 1 uA (from memory) with the output off, is an error: then the output doesn't follow the light at all.

Settings: driver, receiver, conditions.

```toml
[inputs."OUT"]
low_max = "1.8 V"
```

## Fails

```netlist
* 47 kohm take 25 uA; the LED's 0.9 mA gives 2 uA at most (demonstration)
R1 DRIVE A 3.3k
* expect: base-resistor-low
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 33k
R3 NB GNDB 47k
```

## Passes

```netlist
* 4.7 Mohm (demonstration)
R1 DRIVE A 3.3k
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 33k
R3 NB GNDB 4.7Meg
```

## Remedy

A larger base resistor, or more LED current.

## What it cannot see

What a long trace at the base pin picks up; how much faster the resistor makes the output.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, tightest
from isolint.checking.context import Context
from isolint.checking.cures import resistor_cure
from isolint.checking.dead_output import base_fixed
from isolint.checking.preconditions import use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Measure, Result
from isolint.units import show
from isolint.worstcase.base import BaseTheft
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import Setting

FED_AMPS = 1e-6
"""Base current that no output should get from its circuit: a gain of a hundred makes 0.1 mA of it (from memory)."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    fixed = base_fixed(context, channel)
    if fixed is not None:
        yield _fails(context, channel, fixed.why, fixed.remedy, fixed.element)
        return
    theft = context.analysis.base_theft(channel)
    if theft is None:
        text = "its base pin is open" if "base" in channel.pins else "it has no base pin"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {text}")
        return
    fed = -max(row.taken.value for row in theft.rows)
    if fed > FED_AMPS and not use_of(context, channel):
        resistor = _base_resistor(context, channel)
        why = f"the circuit at its base feeds {show(fed, 'A')} or more into it, {show(FED_AMPS, 'A')} are allowed"
        remedy = "take the resistor at the base to the emitter, 1 Mohm or more, or leave the base pin open"
        yield _fails(context, channel, f"{why}: the output conducts without light", remedy, resistor)
        return
    if theft.worst.taken.value <= NO_CURRENT:
        yield context.channel_result(RULE, channel, "pass", f"{channel.subject}: nothing takes current out of its base")
        return

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        return _claim(analysis.base_theft(channel, setting))

    verdict = decide(claim)
    told, resistor = verdict.worst, _base_resistor(context, channel)
    text = (
        f"the circuit at its base takes {told.limit} ({told.limit.corner}), the LED's smallest current of "
        f"{show(theft.worst.led_current, 'A')} makes {told.found}: {'it can' if told.holds else 'it cannot'} turn the "
        "output on"
    )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[
            Figure("VBE", theft.worst.volts, "V", "base-emitter voltage").evidence(),
            told.limit.evidence(),
            told.found.evidence(),
            told.margin.evidence(told.wanted, line="margin"),
        ],
        remedy=lambda: _cure(context, resistor, claim),
        chain=[element for element, _ in context.circuit.elements_at(channel.pins["base"])],
    )


def _fails(context: Context, channel: Channel, why: str, remedy: str, element: int | None) -> Result:
    """A base by which the output doesn't follow the light at all: the board is dead, not slow."""
    return context.channel_result(
        RULE,
        channel,
        "fail",
        f"{channel.subject}: {why}",
        None if element is None else context.place(element),
        level="error",
        measure=Measure(0.0, larger_is_worse=False),  # as the margin: none of the photocurrent does anything
        related=context.related([channel.part.element, *(() if element is None else (element,))]),
        remedy=remedy,
    )


def _claim(theft: BaseTheft | None) -> Claim:
    """That the photocurrent exceeds what is taken."""
    if theft is None:
        return tightest([])
    row = theft.worst
    photocurrent = Figure("IF_min", row.led_current, "A").no_less_than(0.0) * Figure("photo_gain", theft.photo_gain)
    name = "photocurrent at the smallest LED current"
    return at_least(
        photocurrent.called("I_photo", "A", name, end="min", at=row.led_corner),
        Figure("I_RBE", row.taken, "A", "current taken out of the base"),
        theft.terms,
    )


def _cure(context: Context, resistor: int | None, claim: Callable[[Setting, Analysis], Claim]) -> str:
    larger = resistor_cure(context, resistor, claim, True)
    return f"{larger or 'a larger resistor at the base'}, or more LED current"


def _base_resistor(context: Context, channel: Channel) -> int | None:
    """The smallest resistor at the base pin, None without one."""
    touching = [
        element
        for element, _ in context.circuit.elements_at(channel.pins["base"])
        if context.circuit.letter(element) == "R"
    ]
    known = [(ohms, element) for element in touching for ohms in (context.lookup.ohms(element),) if ohms]
    return min(known)[1] if known else None


RULE = Rule(
    slug="base-resistor-low",
    group="load",
    level="warning",
    page=__doc__,
    asked_of=("transistor",),
    facts=("elements.*.tolerance", "environment.ambient", "parts.*.transfer.photo_gain"),
    judge=judge,
    needs=("drive", "led-current", "load"),
    blocks=("base",),
    judges=("base",),
)
