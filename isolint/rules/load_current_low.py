"""A load that takes too little to keep its switch on.

## What it looks at

The least current of each load on an alternating supply, at its peak, against what the thyristor needs to latch, or to
stay on; and of each load behind a contact, with its voltage, against the least that keeps the contact clean.

## Why it matters

The switch falls off again and again: lamps flicker, and the gate path carries the load, for which it is not made. A
contact that carries too little to burn its film away stays open after some months.

## How it is computed

    I_pk = sqrt(2) I_min >= I_L     (amperes)

I_min: the low end of `loads.X.current`, else the lowest supply over the largest load resistor. I_L: the latching
current of the thyristor [1 to 2 times its holding current, or 5 mA to 100 mA] times 1 to 1 + 0.015 a kelvin below
25 degC, of a coupler that carries the load itself its holding current [0.1 mA to 50 mA], of a solid-state relay its
minimum load current [1 mA to 100 mA] (from memory).

Of a contact: I_min >= `contact.current_min` (unstated 1 mA to 100 mA) and the least voltage, rms, >=
`contact.voltage_min` (unstated 0.1 V to 12 V, from memory). Less is a warning: silver works at first.

Settings: driver, switched, relay.

```toml
[loads."INPUT"]
kind = "resistive"
current = ["3 mA", "5 mA"]
return = "N"
[loads."COIL"]
kind = "resistive"
current = ["30 mA", "50 mA"]
return = "N"
[loads."LAMP"]
kind = "lamp"
current = ["21.7 mA", "25 mA"]
off_current_max = "0.2 mA"
return = "N"
```

## Fails

```netlist
* A 5 W lamp takes 31 mA at the peak, the triac latches at 60 mA (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 MT2 390
* expect: load-current-low
XT1 MT2 G L DEMO_TC1
R3 MT2 LAMP 1
```

```netlist
* A contact for 10 mA and more before an input that takes 3 mA (demonstration)
* expect: load-current-low margin=0.30
XK1 V24 PORT L INPUT NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Passes

```netlist
* A 1 kW heater (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 MT2 390
XT1 MT2 G L DEMO_TC1
R3 MT2 N 52
```

```netlist
* The same contact before a coil that takes 30 mA (demonstration)
XK1 V24 PORT L COIL NC DEMO_K1
D1 PORT V24 DREC
.model DREC D (IS=1n)
```

## Remedy

A thyristor with a lower latching current, a contact for small loads.

## What it cannot see

What a dimmed load, or one on standby, takes: state the least current in which it is to be on.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_least
from isolint.checking.contacts import clean_themselves
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import Switched, colder, current, of_thyristor, powered, switched, switches
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Output, Thyristor, Trigger
from isolint.results import Result
from isolint.rows import most
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term

ROOT = 2.0**0.5


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    found = switched(context, channel)
    fed = powered(context, found)
    if not fed.alternating:
        return
    limit, name = _least(context, channel, found)
    cold = _cold(context, found)

    def claim(setting: Setting) -> Claim:
        least, _, terms = current(context, found, setting)
        peak = (Figure("", ROOT) * Figure("I_min", least, "A", "least current of the load", end="min")).called(
            "I_pk", "A", "peak of the least current of the load", end="min"
        )
        hold = Figure("I_hold", setting.high(limit), "A", limit.name, source=limit.origin)
        if cold is None:
            return at_least(peak, hold, (limit, *terms))
        if (factor := setting.high(cold)) > 1.0:
            coldest = f"{context.lookup.ambient().low:g} degC"
            hold = hold * Figure("F_G", factor, "1", f"from 25 degC to {coldest}")
            hold = hold.called("I_hold,T", "A", f"{limit.name} at {coldest}")
        # Both rest on one key: where it is stated only its rise is assumed.
        return at_least(peak, hold, (cold if limit.stated else limit, *terms))

    verdict = decide(claim)
    told = verdict.worst
    flows, wanted = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"its load takes {flows} at the peak when it takes least, {name} needs {wanted} to stay on",
        None if found.thyristor is None else found.thyristor.element,
        evidence=told.evidence(),
        remedy="a thyristor with a lower latching current, or a load beside it that takes more",
        chain=found.elements,
    )


def _cold(context: Context, found: Switched) -> Term | None:
    """How much more a thyristor needs in the cold; None of other switches."""
    if found.thyristor is None:
        return None
    return colder(context, found.thyristor, Thyristor.latching_current, "latching current")


def _least(context: Context, channel: Channel, found: Switched) -> tuple[Term, str]:
    """The current that keeps the switch on, and whose it is."""
    if found.thyristor is not None:
        name = context.circuit.path(found.thyristor.element)
        held = found.thyristor.record.thyristor.holding_current
        twice = None if held is None else most(held, 2.0 * held, "once to twice the holding current (from memory)")
        return of_thyristor(context, found.thyristor, Thyristor.latching_current, twice), name
    part = channel.part
    row = Output.current_min if part.kind.output.switch == "complete" else Trigger.holding_current
    return fact_terms.of_record(part, row), part.path


def beside(context: Context) -> Iterable[Result]:
    """One result a contact of a relay."""
    return clean_themselves(RULE, context)


RULE = Rule(
    slug="load-current-low",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds", "holds-one-way", "complete"),
    facts=(
        "loads.*.current",
        "supplies.*.voltage",
        "supplies.*.phase",
        "elements.*.tolerance",
        "environment.ambient",
        "parts.*.thyristor.latching_current",
        "parts.*.thyristor.holding_current",
        "parts.*.trigger.holding_current",
        "parts.*.output.current_min",
        "parts.*.contact.current_min",
        "parts.*.contact.voltage_min",
    ),
    judge=judge,
    beside=beside,
    asked_beside=("contact",),
    concerns=switches,
    needs=("drive", "load"),
)
