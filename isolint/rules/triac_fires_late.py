"""A thyristor that fires late in each half wave, or never.

## What it looks at

The voltage that the gate path needs before the thyristor fires, against the lowest peak of the supply.

## Why it matters

Until then the load is off: on a low supply much of each half wave is lost, and the load sees steps that disturb
others.

## How it is computed

    V_fire = R (I_GT F_G + V_GT / R_G) + V_GT + V_TM     (volts)

R: all resistors in series with the coupler; R_G only if fitted; F_G: 1 + 0.015 a kelvin below 25 degC (from memory). It
must stay below `limits.firing_fraction` (0.5: 30 degrees, 97 % of the power) of the lowest peak. A voltage above that
peak itself is an error: it never fires.

Settings: driver, switched.

```toml
[supplies."L24"]
voltage = "24 V"
tolerance = "10 %"
kind = "ac"
frequency = "50 Hz"
ground = "N"
```

## Fails

```netlist
* 390 ohm at 24 V AC (demonstration)
R1 DRIVE A 390
* expect: triac-fires-late
XU1 A GND T1 G DEMO_TR1
R2 T1 MT2 390
XT1 MT2 G N DEMO_TC1
R3 MT2 L24 52
```

## Passes

```netlist
* 390 ohm at 230 V AC (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
R2 T1 MT2 390
XT1 MT2 G N DEMO_TC1
R3 MT2 L 52
```

## Remedy

A smaller gate resistor within what the coupler stands, or a more sensitive thyristor.

## What it cannot see

The firing angle that software chooses.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.resistor_runs import ohms
from isolint.checking.rule import Rule
from isolint.checking.switched import across, colder, gate_path, of_thyristor, powered, switched, switches
from isolint.checking.switched_off import gate_shunt
from isolint.checking.verdict import decide
from isolint.facts import Limits
from isolint.interfaces.entities import Channel
from isolint.parts import Thyristor, Trigger
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel that fires a thyristor from an alternating supply."""
    found = switched(context, channel)
    fed = powered(context, found)
    if found.thyristor is None or not fed.alternating:
        return
    fired = found.thyristor
    current = of_thyristor(context, fired, Thyristor.gate_current)
    voltage = of_thyristor(context, fired, Thyristor.gate_voltage)
    drop = fact_terms.of_record(channel.part, Trigger.on_voltage)
    cold = colder(context, fired, Thyristor.gate_current, "gate current")
    name = context.circuit.path(fired.element)
    shunt = gate_shunt(context, fired)
    beside = () if shunt is None else (shunt.spread,)

    def claim(setting: Setting) -> Claim:
        volts = across(context, found, setting)
        assert volts is not None
        value, terms = ohms(context, gate_path(found), setting, True)
        gate = Figure("I_GT", setting.high(current), "A", source=current.origin) * Figure("F_G", setting.high(cold))
        if shunt is not None:
            shunted = shunt.ohms * (1.0 + setting.low(shunt.spread))
            gate = gate + Figure("V_GT", setting.high(voltage), "V") / Figure("R_G", shunted, "ohm")
        fires = Figure("R", value, "ohm", "largest resistance of the gate path") * gate
        fires = fires + Figure("V_GT", setting.high(voltage), "V") + Figure("V_TM", setting.high(drop), "V")
        fires = fires.called("V_fire", "V", "voltage at which it fires")
        lowest = Figure("V_pk", volts.low, "V", "lowest peak of the supply", end="min")
        limit = (Figure("", context.facts.number(Limits.firing_fraction)) * lowest).called("V_late", "V", end="min")
        return at_most(fires, limit, (current, voltage, drop, cold, *beside, *terms, *volts.terms))

    verdict = decide(claim)
    told = verdict.worst
    at, limit = told.beside
    never = verdict.kind == "fail" and verdict.worst.margin.si <= context.facts.number(Limits.firing_fraction)
    made = context.judged(
        RULE,
        channel,
        verdict,
        f"{name} {'never fires: it needs' if never else 'fires at'} {at}, {limit} is late",
        evidence=told.evidence(),
        remedy="a smaller gate resistor, or a thyristor that needs less gate current",
        chain=found.elements,
    )
    yield made._replace(level="error") if never and made.level == "warning" else made


RULE = Rule(
    slug="triac-fires-late",
    group="mains switching",
    level="warning",
    page=__doc__,
    asked_of=(
        "holds",
        "holds-one-way",
    ),
    facts=(
        "supplies.*.voltage",
        "supplies.*.phase",
        "elements.*.tolerance",
        "parts.*.thyristor.gate_current",
        "parts.*.thyristor.gate_voltage",
        "parts.*.trigger.on_voltage",
        "limits.firing_fraction",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
