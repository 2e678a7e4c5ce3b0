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
memory).

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
from isolint.checking.switched import Switched, across, gate_path, load_path, powered, switched, switches
from isolint.checking.switched_loops import feeding_loops
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import PartRecord, Trigger
from isolint.results import Result
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import WORST, Setting

LEAST_OHMS = 1e-3


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel that fires a thyristor."""
    found = switched(context, channel)
    powered(context, found)
    if found.thyristor is None:
        return
    rating = fact_terms.of_record(channel.part, Trigger.surge_current)
    record = channel.part.record
    waits = record is not None and record.trigger.zero_crossing is True and record.trigger.inhibit_voltage is not None

    def claim(setting: Setting) -> Claim:
        return tightest([one(setting, loop) for loop in feeding_loops(context, found)])

    def one(setting: Setting, loop: tuple[int, ...]) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        peak = Figure("V_pk", volts.high, "V", "peak of the supply", source=" and ".join(volts.names))
        if waits:
            peak = Figure("V_INH", context_inhibit(record), "V", "inhibit voltage")
        value, terms = ohms(context, loop, setting, False)
        resistance = Figure("R", max(value, LEAST_OHMS), "ohm", "least resistance of the gate path", end="min")
        current = (peak / resistance).called("I_pk", "A", "peak current through the gate path")
        limit = Figure("I_TSM", setting.low(rating), "A", source=rating.origin)
        return at_most(current, limit, (rating, *volts.terms, *terms))

    verdict = decide(claim)
    told = verdict.worst
    flows, stands = told.beside
    element = _limiting(context, found)
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"up to {flows} flow through its gate path when it fires at the peak, it stands {stands}",
        element,
        evidence=told.evidence(),
        remedy=_cure(context, found, element, told),
        chain=found.elements,
    )


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
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
