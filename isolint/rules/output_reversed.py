"""An output whose collector and emitter are exchanged, or that sees more reverse voltage than it stands.

## What it looks at

The voltage from collector to emitter of each transistor output while it is off, in every state of its load network, at
both peaks of AC supplies: whether it is ever positive, and how far it goes below zero. Beside a switched coil the
moment counts when it has been switched off.

## Why it matters

A phototransistor the wrong way round still conducts a little, from emitter to collector: a board works on the bench
with a hundredth of the current it should have. Beyond 6 or 7 V in reverse the junction breaks down.

## How it is computed

The load network is solved with no current through the output, over all states and corners.

    VCE_off = V(collector) - V(emitter)     (volts)

The rule fails as exchanged when VCE_off is below -0.1 V in every state at nominal values, so that the output can never
pull the right way; else its lowest value may not go below the record's `output.reverse_voltage_max` (the generic
interval where the record is silent). A logic output is judged the same way: its output pin may not go below its
ground.

A photovoltaic output lies the wrong way round where its minus reaches the gate of an n-channel transistor and its plus
the source. The output of a gate driver drives either way.

Settings: driver, receiver, conditions.

## Fails

```netlist
* Collector and emitter exchanged (demonstration)
R1 DRIVE A 470
* expect: output-reversed
XU1 A GND OUT GNDB DEMO_PT1
R2 VB OUT 10k
```

## Passes

```netlist
* The collector is pulled up (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

Exchange collector and emitter, or correct the pin order of the part record; where the load alternates, a diode in
series with the output.

## What it cannot see

A part record whose pin order is wrong: see `pins-mismatched`. Supplies that are connected the wrong way round on site.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most, both_ends
from isolint.checking.context import Context
from isolint.checking.driver_outputs import point_at_gates
from isolint.checking.rule import Rule
from isolint.checking.switch_stress import one_way
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Limit, Measure, Result
from isolint.units import show
from isolint.worstcase import limits
from isolint.worstcase.figures import Figure
from isolint.worstcase.output import Stress
from isolint.worstcase.uncertain import WORST, Setting, unique

EXCHANGED_VOLTS = 0.1


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.part.kind.output.switch:
        yield from one_way(RULE, context, channel)
        return
    off = context.analysis.off_voltage(channel)
    pins = channel.pins
    names = ("collector", "emitter") if "collector" in pins and "emitter" in pins else ("output", "ground")
    seen = both_ends(f"voltage from {names[0]} to {names[1]} while it is off", "VCE_off", "V", off.quantity)
    # In series with others that are off, an output sees nothing; what it sees while they conduct tells.
    in_series = bool(channel.load.pairs) and off.low < -EXCHANGED_VOLTS and off.high < EXCHANGED_VOLTS
    if off.quantity.nominal < -EXCHANGED_VOLTS or in_series:
        yield _exchanged(context, channel, off, names, seen)
        return
    rating = limits.output_reverse_voltage(channel.part)
    lowest = _lowest(context, channel, WORST)
    backwards = max(-lowest.low, 0.0)
    if rating is None or backwards <= EXCHANGED_VOLTS:
        yield context.channel_result(
            RULE, channel, "pass", f"{channel.subject}: its output sees no reverse voltage", evidence=[seen]
        )
        return

    def claim(setting: Setting) -> Claim:
        found = _lowest(context, channel, setting)
        volts = Figure("V_R", -found.low, "V", at=found.low_corner)
        return at_most(volts, Figure("V_R_max", setting.low(rating), "V"), (rating, *found.terms), least=1e-9)

    verdict = decide(claim)
    told = verdict.worst
    text = (
        f"its output stands {told.limit} in reverse and sees {told.found} from {names[1]} to {names[0]} "
        f"({told.found.corner})"
    )
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        evidence=[
            both_ends(seen.name, "VCE_off", "V", lowest.quantity)._replace(limit=Limit("at_least", -told.limit.si))
        ],
        remedy="a diode in series with the output",
        chain=channel.load.elements,
    )


def _lowest(context: Context, channel: Channel, setting: Setting) -> Stress:
    """The voltage across the output that goes lowest, also when a coil beside it has just been switched off."""
    found = [
        context.analysis.off_voltage(channel, setting),
        *context.analysis.released(channel, None, setting),
    ]
    lowest = min(found, key=lambda stress: stress.low)
    return lowest._replace(terms=unique(term for stress in found for term in stress.terms))


def _exchanged(context: Context, channel: Channel, off: Stress, names: tuple[str, str], seen: Evidence) -> Result:
    """The failure of an output that is connected the wrong way round."""
    text = (
        f"{channel.subject}: {names[0]} and {names[1]} are exchanged: the output is connected the wrong way round, "
        f"it never sees more than {show(off.high, 'V')} from {names[0]} to {names[1]} (at least 0 V expected) "
        "and can conduct only backwards"
    )
    return context.channel_result(
        RULE,
        channel,
        "fail",
        text,
        role="exchanged",
        evidence=[seen],
        measure=Measure(-min(off.quantity.nominal, off.low), larger_is_worse=True),
        related=context.related([channel.part.element, *channel.load.elements]),
        remedy=_exchange(context, channel, names),
    )


def _exchange(context: Context, channel: Channel, names: tuple[str, str]) -> str:
    first, second = (context.net(channel.pins[name]) for name in names)
    return f"exchange nets {first} and {second} on {channel.part.path}"


def beside(context: Context) -> Iterable[Result]:
    """One result a photovoltaic output."""
    return point_at_gates(RULE, context)


RULE = Rule(
    slug="output-reversed",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=("supplies.*.kind", "supplies.*.voltage", "parts.*.output.reverse_voltage_max"),
    judge=judge,
    beside=beside,
    asked_beside=("driver", "array"),
    needs=("load",),
    blocks=("load", "level"),
)
