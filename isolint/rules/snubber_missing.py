"""A lagging load whose switch fires again by itself when its current ends.

## What it looks at

Switches of inductive loads, motors and transformers: the rise of voltage when the current ends, with the snubber
across the switch, against what the thyristor stands. Couplers that carry a resistive load on mains without a thyristor.

## Why it matters

The current of such a load ends when the supply is near its peak. The voltage jumps onto the switch, which fires again
without light: the load cannot be switched off.

## How it is computed

    S = max(R_s di/dt + i / C_s),  L di/dt = V_pk sin(phi) - (R_L + R_s) i - v_C     (volts a second)

from i = 0 and v_C = 0 over 1.5 periods, solved exactly: the load of the largest `loads.X.current` and its
`power_factor` [0 to 0.9] in series with the snubber. Without one nothing but stray capacitance limits the rise. It
holds if S is below the commutating slew rate [1 to 10 V/us], or the slope of the current at its end, 2 pi f sqrt(2) I,
below what the thyristor commutates without a snubber [0 to 10 A/ms] (from memory). A coupler that carries the load
itself stands 0.1 to 0.2 V/us, a solid-state relay 5 to 500 V/us (from memory): `trigger.commutating_slew`. Whether such
a relay has a snubber inside its record says, `output.internal_snubber`. A load drawn as inductors and resistors has the
angle and the current of its cards.

A coupler beside the thyristor stays off behind the same snubber only where it stands S as well: `trigger.slew` [10 to
1000 V/us]. One that carries a load without lag sees the voltage rise with the supply, 2 pi f V_pk, and must stand that.

Settings: driver, switched.

```toml
[loads."PUMP"]
kind = "motor"
current = ["1 A", "2.2 A"]
power_factor = 0.5
return = "N"
off_voltage = "500 V"
inrush = "10 A"
```

## Fails

```netlist
* 470 ohm and 1 nF across the triac of a pump (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 PUMP 390
* expect: snubber-missing
XT1 PUMP G L DEMO_TC1
R3 PUMP S 470
C1 S L 1n
```

## Passes

```netlist
* 470 ohm and 100 nF (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 PUMP 390
XT1 PUMP G L DEMO_TC1
R3 PUMP S 470
C1 S L 100n
```

## Remedy

A snubber across the thyristor, or a thyristor for lagging loads.

## What it cannot see

Capacitance and saturation of windings, fast bursts.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import (
    Switched,
    across,
    current,
    frequency,
    load_kind,
    of_thyristor,
    powered,
    switched,
    switches,
)
from isolint.checking.switched_load import (
    WITHOUT_ANGLE,
    load_name,
    power_factor,
    rise,
    series_circuit,
    snubber,
)
from isolint.checking.verdict import decide
from isolint.facts import LoadFacts, SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.parts import Output, Thyristor, Trigger
from isolint.results import MissingFact, Result
from isolint.rows import least
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term

FOLLOWING = frozenset(("resistive", "lamp"))
"""Kinds of loads at whose end of current the voltage begins to follow the supply."""

BARE = 1e15
"""Volts a second of a switch without a snubber: nothing but stray capacitance limits the rise."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel whose load lags."""
    found = switched(context, channel)
    fed = powered(context, found)
    if not fed.alternating:
        return
    name, kind = load_name(context, found), load_kind(context, found)
    if kind in WITHOUT_ANGLE:
        if found.thyristor is None and kind in FOLLOWING and channel.part.kind.output.switch == "holds":
            yield _following(context, channel, found)
        return
    if kind is None:
        fact = context.lookup.missing(LoadFacts.kind, name)
        raise Lacking(f"whether the current of load {name} lags nobody says", [fact])
    complete = channel.part.kind.output.switch == "complete"
    inside = fact_terms.recorded(channel.part, Output.internal_snubber) if complete else False
    if inside:
        text = f"{channel.subject}: its record says that it has a snubber inside"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    if inside is None and snubber(context, found) is None:
        lacking = fact_terms.missing(context.settings_file, Output.internal_snubber, fact_terms.named(channel.part))
        raise Lacking("whether it has a snubber inside is not known", [lacking])
    verdict = decide(_commutation(context, channel, found, name))
    told = verdict.worst
    bare = told.found.si >= BARE
    sloping = told.found.unit == "A/s"
    rises = "as fast as stray capacitance lets it" if bare else f"with {show(told.found.si, 'V/s')}"
    own = found.thyristor is None or told.limit.symbol == "dV"
    element = None if own or found.thyristor is None else found.thyristor.element
    name = channel.part.path if element is None else context.circuit.path(element)
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"the current of load {load_name(context, found)} ends with {told.found}, {name} commutates {told.limit}"
        if sloping
        else f"when the current of load {load_name(context, found)} ends, the voltage of {name} rises {rises}, "
        f"it stands {told.limit}",
        element,
        evidence=told.evidence(),
        remedy=f"a resistor and a capacitor across {name}, or a thyristor that commutates without",
        chain=found.elements,
    )


def _commutation(context: Context, channel: Channel, found: Switched, name: str) -> Callable[[Setting], Claim]:
    """That the switch turns off: the slope of its current or the rise of its voltage, whichever has more margin.

    Of a coupler beside a thyristor also that it stands the rise.
    """
    hertz = _hertz(context, found)
    beside = None
    if found.thyristor is None:
        rating = _own_slew(channel)
        slope = None
    else:
        rating = of_thyristor(context, found.thyristor, Thyristor.commutating_slew)
        slope = of_thyristor(context, found.thyristor, Thyristor.commutating_slope)
        beside = fact_terms.of_record(channel.part, Trigger.slew)

    def claim(setting: Setting) -> Claim:
        claims = [_rise(setting, rating, "dV_c")]
        if slope is not None:
            _, largest, terms = current(context, found, setting)
            falls = 2.0 * Figure("pi", math.pi) * Figure("f", hertz, "Hz") * Figure("I_pk", 2.0**0.5 * largest, "A")
            falls = falls.called("dI", "A/s", "slope of the current at its end")
            claims.append(
                at_most(falls, Figure("dI_c", setting.low(slope), "A/s", source=slope.origin), (slope, *terms))
            )
        best = max(claims, key=lambda one: one.margin.si)
        best = best._replace(terms=tuple(dict.fromkeys(term for one in claims for term in one.terms)))
        if beside is None or claims[0].found.si >= BARE:
            return best
        return tightest([best, _rise(setting, beside, "dV")])

    def _rise(setting: Setting, rating: Term, symbol: str) -> Claim:
        factor, drawn = power_factor(context, found, name, setting)
        low = setting.low(factor)
        volts = across(context, found, setting)
        made = series_circuit(context, found, low, setting)
        assert volts is not None
        step = volts.high * math.sqrt(max(1.0 - low * low, 0.0))
        value = BARE if made is None else rise(made, step, hertz)
        where = "nothing across it" if made is None else "behind its snubber"
        steep = Figure("S", value, "V/s", f"rise of its voltage when the current of the load ends, {where}")
        _, _, terms = current(context, found, setting)
        return at_most(
            steep, Figure(symbol, setting.low(rating), "V/s", source=rating.origin), (rating, factor, *drawn, *terms)
        )

    return claim


def _following(context: Context, channel: Channel, found: Switched) -> Result:
    """That a coupler stands the voltage of the supply, which rises as soon as the current of its load has ended."""
    hertz, rating = _hertz(context, found), _own_slew(channel)

    def claim(setting: Setting) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        rises = 2.0 * Figure("pi", math.pi) * Figure("f", hertz, "Hz") * Figure("V_pk", volts.high, "V")
        rises = rises.called("S", "V/s", "rise of its voltage with the supply")
        return at_most(rises, Figure("dV_c", setting.low(rating), "V/s", source=rating.origin), (rating, *volts.terms))

    verdict = decide(claim)
    told = verdict.worst
    return context.judged(
        RULE,
        channel,
        verdict,
        f"when the current of its load ends, the voltage of {channel.part.path} rises with {told.found}, "
        f"it stands {told.limit}",
        evidence=told.evidence(),
        remedy=f"a triac that {channel.part.path} fires, or a part that commutates faster",
        chain=found.elements,
    )


def _hertz(context: Context, found: Switched) -> float:
    hertz = frequency(context, found)
    if hertz is None:
        raise Lacking("the frequency of its supply is not stated", [_frequency(context, found)])
    return hertz


def _own_slew(channel: Channel) -> Term:
    """What a part that carries the load itself stands when the current ends."""
    complete = channel.part.kind.output.switch == "complete"
    usual = least(5e6, 500e6, "of a solid-state relay, default (from memory)") if complete else None
    return fact_terms.of_record(channel.part, Trigger.commutating_slew, usual)


def _frequency(context: Context, found: Switched) -> MissingFact:
    names = (path.name for side in found.ways for path in side if path.net >= 0)
    net = next(name for name in names if context.facts.supply(name) is not None)
    return context.lookup.missing(SupplyFacts.frequency, net)


RULE = Rule(
    slug="snubber-missing",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "loads.*.kind",
        "loads.*.current",
        "loads.*.power_factor",
        "supplies.*.frequency",
        "supplies.*.phase",
        "parts.*.thyristor.commutating_slew",
        "parts.*.thyristor.commutating_slope",
        "parts.*.trigger.commutating_slew",
        "parts.*.trigger.slew",
        "parts.*.output.internal_snubber",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
