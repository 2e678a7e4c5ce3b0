"""A gate path in which too little limits the current at the peak of the supply.

## What it looks at

Each coupler that fires a triac or SCR, with the resistors in series with it from source to source.

## Why it matters

Fired at the peak of the supply, the coupler carries the whole voltage over the gate resistor until the thyristor
latches. Beyond its surge current it dies, soon or at once.

## How it is computed

    I_pk = V_pk / R     (amperes)  R: the least sum of resistances, tolerance included, round a loop of source,
coupler and gate; resistors in the lead of the main terminal, of the gate and of the load all count, one from gate to
main terminal does not. A capacitor of 1 nF and more across thyristor or line is a source as well. A zero-crossing
part with a stated `inhibit_voltage` fires below that. The limit is `trigger.surge_current`, else 1.0 A to 1.2 A (from
memory), and the thyristor's `gate_peak_current` where that is stated and lower: the same current flows into its gate.

Published procedures take the nominal peak of the supply. What fails with the supply at its upper end only is open
unless `trigger.surge_time` tells how long a surge that limit is for: up to 10 us the upper end counts, else the nominal
voltage.

Settings: driver, switched.

## Fails

```netlist
* 33 ohm on 230 V AC (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
* expect: gate-path-resistor-low
R2 T1 MT2 33
XT1 MT2 G L DEMO_TC1
R3 MT2 N 52
```

## Passes

```netlist
* 390 ohm (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 MT2 390
XT1 MT2 G L DEMO_TC1
R3 MT2 N 52
```

## Remedy

A larger resistor in series with the coupler.

## What it cannot see

A coupler that breaks down in a surge.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.resistor_runs import ohms
from isolint.checking.rule import Rule
from isolint.checking.switched import (
    FiredThyristor,
    Switched,
    VoltageBetween,
    across,
    gate_path,
    load_path,
    of_thyristor,
    powered,
    switched,
    switches,
)
from isolint.checking.switched_loops import feeding_loops
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import PartRecord, Thyristor, Trigger
from isolint.results import Result
from isolint.rows import most
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Setting, Term, stated

LEAST_OHMS = 1e-3

BRIEF = 10e-6
"""Seconds up to which a surge current says nothing for the whole time that a thyristor takes to fire."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel that fires a thyristor."""
    found = switched(context, channel)
    powered(context, found)
    if found.thyristor is None:
        return
    ratings = _ratings(context, channel, found.thyristor)
    share = _share(channel)
    record = channel.part.record
    waits = record is not None and record.trigger.zero_crossing is True and record.trigger.inhibit_voltage is not None

    def claim(setting: Setting) -> Claim:
        return tightest([one(setting, loop) for loop in feeding_loops(context, found)])

    def one(setting: Setting, loop: tuple[int, ...]) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        over = volts.high - _nominal(volts)
        at = volts.high - (1.0 - setting.high(share)) * over
        peak = Figure("V_pk", at, "V", "peak of the supply", source=" and ".join(volts.names))
        counted = (share,) if over > 0.0 and volts.alternating and not waits else ()
        if waits:
            peak = Figure("V_INH", context_inhibit(record), "V", "inhibit voltage")
        value, terms = ohms(context, loop, setting, False)
        resistance = Figure("R", max(value, LEAST_OHMS), "ohm", "least resistance of the gate path", end="min")
        current = (peak / resistance).called("I_pk", "A", "peak current through the gate path")
        symbol, rating = min(ratings.items(), key=lambda pair: setting.low(pair[1]))
        limit = Figure(symbol, setting.low(rating), "A", rating.name, source=rating.origin)
        return at_most(current, limit, (*ratings.values(), *counted, *volts.terms, *terms))

    verdict = decide(claim)
    told = verdict.worst
    flows, stands = told.beside
    element = _limiting(context, found)
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"up to {flows} flow through its gate path when it fires at the peak, {_who(context, found, told)} {stands}",
        element,
        evidence=told.evidence(),
        remedy=_cure(context, found, element, told),
        chain=found.elements,
    )


def _ratings(context: Context, channel: Channel, thyristor: FiredThyristor) -> dict[str, Term]:
    """What the coupler stands, and the gate that it feeds where its record says so, by symbol."""
    ratings = {"I_TSM": fact_terms.of_record(channel.part, Trigger.surge_current)}
    if thyristor.record.thyristor.gate_peak_current is not None:
        ratings["I_GM"] = of_thyristor(context, thyristor, Thyristor.gate_peak_current)
    return ratings


def _share(channel: Channel) -> Term:
    """How much of what the supply may exceed its nominal voltage by counts."""
    stated_time, name = fact_terms.recorded(channel.part, Trigger.surge_time), fact_terms.named(channel.part)
    if stated_time is None:
        usual = most(0.0, 1.0, "nominal peak as in published procedures, to the upper end (from memory)")
        title = "share of the supply's upper tolerance that counts"
        return fact_terms.defaulted(Trigger.surge_time, name, usual, title=title, unit="1")
    counts = 1.0 if stated_time <= BRIEF else 0.0
    return stated(
        Trigger.surge_time.path(name), "share of the tolerance", "1", counts, counts, counts, f"record {name}"
    )


def _nominal(volts: VoltageBetween) -> float:
    """The peak with every supply at its nominal voltage; of several the largest share."""
    return volts.high * max((term.nominal / term.high for term in volts.terms if term.high > 0.0), default=1.0)


def _who(context: Context, found: Switched, told: Claim) -> str:
    if told.limit.symbol == "I_TSM" or found.thyristor is None:
        return "it stands"
    return f"the gate of {context.circuit.path(found.thyristor.element)} stands"


def _limiting(context: Context, found: Switched) -> int | None:
    """The resistor of the gate path that carries no load current, else any of it; None without one."""
    resistors = [e for e in gate_path(found) if context.lookup.ohms(e) is not None and context.circuit.letter(e) == "R"]
    carries = load_path(context, found)
    own = [e for e in resistors if e not in carries] or resistors
    return min(own, key=context.circuit.path, default=None)


def _cure(context: Context, found: Switched, element: int | None, told: Claim) -> str:
    """The preferred value of a resistor from which on the peak is low enough, its tolerance included."""
    there = max(ohms(context, gate_path(found), WORST, False)[0], LEAST_OHMS)
    wanted = told.found.si * there / told.limit.si
    if element is None:
        return f"a resistor in the gate path: {show(wanted, 'ohm')} or more in all"
    spread = 1.0 + WORST.low(context.lookup.tolerance(element))
    alone = (context.lookup.ohms(element) or 0.0) + (wanted - there) / max(spread, LEAST_OHMS)
    value = preferred.at_least(alone) if told.found.si > told.limit.si else alone
    return f"{context.named(element)}: {show(value, 'ohm')} or more"


def context_inhibit(record: PartRecord | None) -> float:
    """The stated inhibit voltage of a record that has one."""
    assert record is not None and record.trigger.inhibit_voltage is not None
    return record.trigger.inhibit_voltage


RULE = Rule(
    slug="gate-path-resistor-low",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=(
        "holds",
        "holds-one-way",
    ),
    facts=(
        "supplies.*.voltage",
        "supplies.*.phase",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "elements.*.part",
        "parts.*.trigger.surge_current",
        "parts.*.trigger.inhibit_voltage",
        "parts.*.trigger.surge_time",
        "parts.*.thyristor.gate_peak_current",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
