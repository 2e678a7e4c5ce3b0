"""An output that is asked to carry more current than it stands.

## What it looks at

The current that the load of each coupler would draw through the output when it is fully on, at the highest supply and
the smallest resistance, against the output's current rating.

## Why it matters

A transistor limits its own current only through its transfer ratio. A strong part with a well-driven LED then carries
whatever the load allows: lamps, relays and discharging capacitors have burnt many outputs whose minimum ratio looked
just enough.

## How it is computed

    IC = min(I_closed, IF_max ratio_max)     (amperes)

I_closed: the load network solved with 0 V across the output, in every state of its switching inputs, over all corners.
The second bound counts for transistor outputs only where the first one is too large: the LED's largest current times
the ratio of the best new part (maximum of the record or the generic family, at its highest factors of current and
temperature). The rating is the record's `output.current_max`, else the generic interval of the type (an assumption).

Of an output that switches a load, or the thyristor that it fires: the largest `loads.X.current`, and its first current,
`loads.X.inrush` or what loads of its kind take at first, against `output.pulse_current_max`, of thyristors half of
`surge_current` since it repeats, else once to three times the rating (from memory).

Of a contact of a relay: the largest current of its load against the rating for loads of that kind
(`contact.inductive_current_max`, `motor_current_max`, `lamp_current_max`, `current_max_dc`), else `contact.current_max`
(unstated 0.5 to 30 A). A rating that nobody states for a kind is 0.2 (coils), 0.15 (motors), 0.1 (lamps, direct current
above 30 V) of the resistive one up to all of it, from memory: such a share leaves it open and never fails. So does the
inrush, against `contact.inrush_max`, as long as nobody states it.

Settings: driver, conditions, hazards, relay.

```toml
[supplies."LB"]
kind = "ac"
voltage = "230 V"
tolerance = "10 %"
frequency = "50 Hz"
ground = "GNDB"
[loads."HEATER"]
return = "GNDB"
kind = "resistive"
current = ["1 A", "10 A"]
[loads."KETTLE"]
return = "GNDB"
kind = "resistive"
current = ["1 A", "8 A"]
[supplies."VB"]
voltage = "24 V"
tolerance = "10 %"
ground = "GNDB"
[signals."OUT"]
use = "linear"
[elements."R*"]
power = "20 W"
voltage = "250 V"
```

## Fails

```netlist
* A darlington that may carry 80 mA and can give more into 100 ohm (demonstration)
R1 DRIVE A 470
* expect: output-current-exceeded
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 100
```

```netlist
* A contact for 8 A with a heater that takes 10 A (demonstration)
* expect: output-current-exceeded margin=0.80
XK1 V24 PORT LB HEATER NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* The same with 3.3 kohm (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT NB DEMO_PD1
R2 VB OUT 3.3k
```

```netlist
* The same contact with one that takes 8 A (demonstration)
XK1 V24 PORT LB KETTLE NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A larger load resistor, or a transistor behind the coupler that takes the load.

## What it cannot see

How long a contact lives, whether it bounces or welds. Of transistor outputs the inrush: the first current of lamps and
of capacitors, which is many times the steady one.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_most, both_ends
from isolint.checking.contacts import carry_current
from isolint.checking.context import Context
from isolint.checking.cures import output_resistor, tried, value_words
from isolint.checking.driver_outputs import carry_bleeds
from isolint.checking.rule import Rule
from isolint.checking.switch_stress import carries_current
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Result
from isolint.worstcase import limits
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting

UNLIMITED_AMPS = 1e3
"""What is more than any load of a board takes: then nothing is there that limits it."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    if channel.part.kind.output.switch:
        yield from carries_current(RULE, context, channel)
        return
    rating = limits.output_current(channel.part)
    if rating is None:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: its type has no current rating"
        )
        return

    def claim(setting: Setting) -> Claim:
        closed = context.analysis.closed_current(channel, setting)
        amps, corner, terms = closed.high, closed.high_corner, closed.terms
        if amps > setting.low(rating):
            asked = context.analysis.asked_current(channel, setting)
            amps, corner, terms = asked.current, asked.corner or corner, asked.terms
        found = Figure("IC", amps, "A", "current that the output may be asked to carry", at=corner)
        return at_most(found, Figure("IC_max", setting.low(rating), "A"), (rating, *terms))

    verdict = decide(claim)
    told = verdict.worst
    wanted, stands = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"its output stands {stands} and {_asked(told, wanted)}",
        evidence=[*_evidence(context, channel, told.limit.si), told.found.evidence(told.bound)._replace(corners={})],
        remedy=lambda: _cure(context, channel, told.limit.si),
        chain=channel.load.elements,
    )


def _asked(told: Claim, wanted: str) -> str:
    if told.found.si > UNLIMITED_AMPS:
        return f"nothing limits what flows through it ({told.found.corner})"
    return f"is asked for up to {wanted} ({told.found.corner})"


def _evidence(context: Context, channel: Channel, limit: float) -> Iterable[Evidence]:
    """The current into a closed switch; where that is too much, what the best part would carry of it."""
    closed = context.analysis.closed_current(channel)
    yield both_ends("current through the output with no voltage across it", "I_closed", "A", closed.quantity)
    asked = context.analysis.asked_current(channel) if closed.high > limit else None
    if asked is not None and asked.strongest is not None:
        led = Figure("IF_max", asked.led_current, "A", "largest LED current")
        yield led.evidence()
        name = "largest current of the best part"
        best = (led * Figure("ratio_max", asked.ratio)).called("IC_max", "A", name, source=asked.origin)
        yield best.evidence(symbol="IF_max ratio_max")


def _cure(context: Context, channel: Channel, limit: float) -> str:
    resistor = output_resistor(context, channel)

    def claim(other: Analysis) -> Claim:
        return at_most(Figure("I_closed", other.closed_current(channel).high, "A"), Figure("IC_max", limit, "A"))

    otherwise = "a larger load resistor, or a transistor behind the coupler"
    if resistor is None:
        return otherwise
    cure = tried(context, resistor, claim, larger=True)
    return value_words(context, resistor, cure, larger=True) or cure.closed or otherwise


def beside(context: Context) -> Iterable[Result]:
    """One result a contact of a relay, or an output of a gate driver."""
    yield from carry_current(RULE, context)
    yield from carry_bleeds(RULE, context)


RULE = Rule(
    slug="output-current-exceeded",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("output", "switch"),
    facts=(
        "supplies.*.voltage",
        "supplies.*.phase",
        "elements.*.tolerance",
        "parts.*.output.current_max",
        "parts.*.output.current_is",
        "parts.*.output.derating",
        "parts.*.transfer.ratio",
        "parts.*.trigger.current_rms",
        "parts.*.thyristor.current_rms",
        "parts.*.trigger.surge_current",
        "parts.*.thyristor.surge_current",
        "parts.*.output.pulse_current_max",
        "loads.*.current",
        "loads.*.inrush",
        "loads.*.kind",
        "parts.*.contact.current_max",
        "parts.*.contact.current_max_dc",
        "parts.*.contact.inductive_current_max",
        "parts.*.contact.motor_current_max",
        "parts.*.contact.lamp_current_max",
        "parts.*.contact.inrush_max",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("contact", "driver"),
    needs=("load", "carrying"),
    blocks=("heat",),
    judges=("heat",),
    room="a part that carries more",
)
