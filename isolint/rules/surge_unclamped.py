"""A switch on mains that a surge reaches with more than it blocks.

## What it looks at

Thyristor outputs, and the thyristors that they fire, on alternating supplies whose `surge` is stated, or of whose side
a barrier states an `overvoltage_category`: what clamps the surge, against the blocking voltage.

## Why it matters

A surge above the blocking voltage fires the thyristor, at the peak and with no limit to how fast its current rises.
Some such events it takes, others end it.

## How it is computed

    V_clamp <= V_DRM   or   V_surge + V_pk <= V_DRM     (volts)

V_clamp: `elements.X.clamp_voltage` of what lies across the switch, or across the supply and the other end of its load,
fuses below 10 ohm and chokes between not counted. V_surge: `supplies.X.surge`, the largest that is left behind the
protection upstream; where only a category is stated, anything from nothing to its impulse. A varistor's voltage at its
stated surge is about twice its peak working voltage.

Settings: driver, switched.

```toml
[supplies."L"]
surge = "1 kV"
[elements."RV1"]
clamp_voltage = "595 V"
tolerance = "1 %"
```

## Fails

```netlist
* 600 V on mains with surges of 1 kV (demonstration)
R1 DRIVE A 390
* expect: surge-unclamped margin=0.44
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
```

## Passes

```netlist
* With a varistor across the mains (demonstration)
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
RV1 L N 1G
```

## Remedy

A varistor that clamps below the blocking voltage, or a part for a higher voltage.

## What it cannot see

Whether a part that a surge fires takes the current then, and whether its load minds a half wave.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.surges import clamp, surge
from isolint.checking.switched import across, of_thyristor, powered, switched, switches
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Thyristor, Trigger
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel on an alternating supply of which a surge is to be expected."""
    found = switched(context, channel)
    fed = powered(context, found)
    expected = surge(context, found) if fed.alternating else None
    if expected is None:
        return
    own = fact_terms.of_record(channel.part, Trigger.blocking_voltage)
    ratings = [(channel.part.path, own)]
    if found.thyristor is not None:
        other = of_thyristor(context, found.thyristor, Thyristor.blocking_voltage)
        ratings.append((context.circuit.path(found.thyristor.element), other))
    clamped = clamp(context, found)

    def claim(setting: Setting) -> Claim:
        return tightest([_of(setting, name, rating) for name, rating in ratings])

    def _of(setting: Setting, name: str, rating: Term) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        limit = Figure("V_DRM", setting.low(rating), "V", f"blocking voltage of {name}", source=rating.origin)
        sees = Figure("V_surge", setting.high(expected), "V", source=expected.origin)
        sees = (sees + Figure("V_pk", volts.high, "V", source=" and ".join(volts.names))).called(
            "V_max", "V", "surge on the peak of its supply"
        )
        claims = [at_most(sees, limit, (expected, rating, *volts.terms))]
        if clamped is not None:
            path = context.circuit.path(clamped.element)
            lets = Figure("V_clamp", clamped.volts.high, "V", f"what {path} lets through", source=clamped.volts.origin)
            claims.append(at_most(lets, limit, (rating,)))
        best = max(claims, key=lambda one: one.margin.si)
        return best._replace(terms=tuple(dict.fromkeys(term for one in claims for term in one.terms)))

    verdict = decide(claim)
    told = verdict.worst
    sees, stands = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"a surge reaches it with up to {sees} ({told.found.name}), {told.limit.name} is {stands}",
        evidence=told.evidence(),
        remedy=f"a varistor that clamps below {stands}, across the supply or the switch, or parts for more",
        chain=found.elements,
    )


RULE = Rule(
    slug="surge-unclamped",
    group="mains switching",
    level="warning",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "supplies.*.surge",
        "supplies.*.voltage",
        "supplies.*.phase",
        "supplies.*.tolerance",
        "parts.*.trigger.blocking_voltage",
        "parts.*.thyristor.blocking_voltage",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
