"""A switch that blocks less than the peak of its supply.

## What it looks at

The largest peak between the ends of each switching output while it is open, with the load shorted, against its
blocking voltage and that of the thyristor that it fires.

## Why it matters

Above its blocking voltage a thyristor fires by itself: the load is on although nobody lit the LED, and often the part
is gone.

## How it is computed

    V_needed = 1.2 V_pk,  V_pk = sqrt(2) V (1 + tolerance)     (volts)  1.2 is `limits.blocking_margin` (common
practice). Between two AC supplies their `phase` counts, anything from with to against where nobody stated it. Behind
an inductive load the open switch sees V_pk sin(phi) (1 + k) besides, k being the overshoot of the load with the
snubber across the switch, up to 1 without. Where a capacitor leads to the net of another switch, as between the
windings of a motor that turns both ways, it sees V_pk to 2 V_pk. `loads.X.off_voltage` replaces all that. What a record
does not say is 250 V to 800 V of a coupler and 100 V to 800 V of a thyristor (from memory). A part that conducts one
way blocks no more backwards than its `reverse_voltage_max`, where its record states one.

Each of several in series blocks all of it, unless one state switches all of them off, a resistor lies across each and
takes at least ten times what the part passes while it is off (common practice). Then it blocks its share

    V_share = (V_pk + I_leak R_rest) R_own / (R_own + R_rest)     (volts)  R_own high, R_rest of the others low

and capacitors across each, which must be alike, share by their tolerance.

Settings: driver, switched.

```toml
[supplies."L400"]
voltage = "400 V"
tolerance = "10 %"
kind = "ac"
frequency = "50 Hz"
ground = "N"
```

## Fails

```netlist
* 600 V on 400 V AC (demonstration)
R1 DRIVE A 390
* expect: blocking-voltage-low margin=0.80
XU1 A GND T1 N DEMO_TR1
R2 T1 L400 8k
```

## Passes

```netlist
* 600 V on 230 V AC (demonstration)
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
```

## Remedy

A part for a higher voltage.

## What it cannot see

Surges of the mains, and how often a breakdown goes well.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.equalised import SwitchRow, equalised, share_evidence, shared, unshared_words
from isolint.checking.rule import Rule
from isolint.checking.run_capacitor import reversing
from isolint.checking.switched import Switched, VoltageBetween, across, of_thyristor, powered, switched, switches
from isolint.checking.switched_load import ringing
from isolint.checking.switched_off import leakage
from isolint.checking.verdict import decide
from isolint.facts import Limits
from isolint.interfaces.entities import Channel
from isolint.parts import Thyristor, Trigger
from isolint.results import Result
from isolint.units import rounded_up, show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result for the coupler, one for the thyristor that it fires."""
    found = switched(context, channel)
    powered(context, found)
    yield _of(context, channel, found, _own(channel), channel.part.path, None)
    if found.thyristor is not None:
        other = of_thyristor(context, found.thyristor, Thyristor.blocking_voltage)
        element = found.thyristor.element
        yield _of(context, channel, found, [other], context.circuit.path(element), element)


def _own(channel: Channel) -> list[Term]:
    """What the coupler blocks, of one that conducts one way also backwards where that is stated."""
    own = [fact_terms.of_record(channel.part, Trigger.blocking_voltage)]
    backwards = channel.part.kind.output.switch == "holds-one-way"
    if backwards and fact_terms.recorded(channel.part, Trigger.reverse_voltage_max) is not None:
        own.append(fact_terms.of_record(channel.part, Trigger.reverse_voltage_max))
    return own


def _of(
    context: Context, channel: Channel, found: Switched, ratings: list[Term], name: str, element: int | None
) -> Result:
    wanted = Figure("", context.facts.number(Limits.blocking_margin))
    row = equalised(context.analysis, channel) if element is None else None

    def own(whole: Figure, volts: VoltageBetween, setting: Setting) -> tuple[Figure, tuple[Term, ...]]:
        """What of a voltage lies across this switch, where others in series share it."""
        if not isinstance(row, SwitchRow):
            return whole, ()
        return shared(context.analysis, row, whole, partial(leakage, context), setting, volts.alternating)

    def claim(setting: Setting) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        limits = [
            (
                Figure("V_DRM" if rating is ratings[0] else "V_RRM", setting.low(rating), "V", source=rating.origin),
                rating,
            )
            for rating in (ratings if volts.alternating else ratings[:1])
        ]
        kept = [_plain(setting, volts, *limit) for limit in limits]
        return tightest([*kept, *(each for limit in limits for each in _ringing(setting, volts, *limit))])

    def _plain(setting: Setting, volts: VoltageBetween, limit: Figure, rating: Term) -> Claim:
        whole = Figure("V_pk", volts.high, "V", "peak across the open switch", source=" and ".join(volts.names))
        peak, terms = own(whole, volts, setting)
        needed = (wanted * peak).called("V_needed", "V", "voltage that it must block")
        return at_most(needed, limit, (rating, *volts.terms, *terms))

    def _ringing(setting: Setting, volts: VoltageBetween, limit: Figure, rating: Term) -> Iterable[Claim]:
        for rings in (ringing(context, found, setting), reversing(context, channel, found, setting)):
            if rings is not None:
                sees, terms = own(rings.volts, volts, setting)
                yield at_most(sees, limit, (rating, *rings.terms, *terms))

    verdict = decide(claim)
    told = verdict.worst
    sees, stands = told.beside
    way, also = (" backwards", ", also backwards") if told.limit.symbol == "V_RRM" else ("", "")
    return context.judged(
        RULE,
        channel,
        verdict,
        f"{name} blocks {stands}{way}, {sees} is wanted ({told.found.name})"
        f"{unshared_words(context.analysis, row, told.found)}",
        element,
        evidence=(*told.evidence(), *share_evidence(told.found)),
        remedy=f"{name}: a part for {show(rounded_up(told.found.si), 'V')} or more{also}",
        chain=found.elements,
        role="" if element is None else name,
    )


RULE = Rule(
    slug="blocking-voltage-low",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.phase",
        "loads.*.kind",
        "loads.*.power_factor",
        "loads.*.off_voltage",
        "elements.*.tolerance",
        "environment.ambient",
        "parts.*.trigger.leakage",
        "parts.*.output.leakage",
        "parts.*.trigger.blocking_voltage",
        "parts.*.trigger.reverse_voltage_max",
        "parts.*.thyristor.blocking_voltage",
        "limits.blocking_margin",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
