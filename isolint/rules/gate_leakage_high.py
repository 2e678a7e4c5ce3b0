"""A coupler that leaks so much into a gate that the thyristor may fire without light.

## What it looks at

Each coupler that fires a triac or SCR: what flows into the gate while the LED is dark, with the resistor from gate to
main terminal.

## Why it matters

A sensitive thyristor fires on a fraction of a milliampere. In a warm cabinet the load comes on by itself.

## How it is computed

    I_g R_G <= V_GD,   or   I_g <= 0.1 I_GT     (volts, amperes)

I_g: the leakage of the coupler at the hottest ambient [0 to 100 uA], and 2 pi f C V_pk of a capacitor across it. V_GD
is the gate voltage at which the thyristor surely stays off [0.2 to 0.7 V], R_G the resistor from its gate to its main
terminal, if there is one; a gate current I_GT that nobody states is 0.2 to 50 mA (from memory). Either is enough; that
a tenth of the gate current does no harm is common practice without a source.

Settings: driver, switched.

## Fails

```netlist
* A sensitive SCR without a resistor at its gate (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
* expect: gate-leakage-high margin=0.20
XT1 G K SW DEMO_SC1
R2 T1 SW 1k
R3 SW L 8k
V1 K N 0
```

## Passes

```netlist
* 470 ohm from gate to cathode (demonstration)
R1 DRIVE A 390
XU1 A GND T1 G DEMO_TR1
XT1 G K SW DEMO_SC1
R2 T1 SW 1k
R3 SW L 8k
R4 G K 470
V1 K N 0
```

## Remedy

A resistor from gate to main terminal, or a thyristor that needs more gate current.

## What it cannot see

What the layout couples into a gate.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.switched import of_thyristor, powered, switched, switches
from isolint.checking.switched_off import gate_shunt, into_gate
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Thyristor
from isolint.results import Result
from isolint.rows import least
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting

HARMLESS = 0.1
"""Share of the gate current that fires no thyristor (common practice, no source)."""

SENSITIVE = least(0.2e-3, 50e-3, "default (from memory)")


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel that fires a thyristor."""
    found = switched(context, channel)
    powered(context, found)
    fired = found.thyristor
    if fired is None:
        return
    stays = of_thyristor(context, fired, Thyristor.gate_nontrigger_voltage)
    fires = of_thyristor(context, fired, Thyristor.gate_current, SENSITIVE)
    shunt = gate_shunt(context, fired)

    def claim(setting: Setting) -> Claim:
        flows = into_gate(context, channel, found, setting)
        tenth = (HARMLESS * Figure("I_GT", setting.low(fires), "A", source=fires.origin)).called(
            "I_harmless", "A", "a tenth of its gate current", end="min"
        )
        claims = [at_most(flows.amps, tenth, (*flows.terms, fires))]
        if shunt is not None:
            ohms, spread = shunt
            volts = flows.amps * Figure("R_G", ohms * (1.0 + setting.high(spread)), "ohm", "resistor at its gate")
            limit = Figure("V_GD", setting.low(stays), "V", "its gate voltage that surely fires nothing")
            claims.append(at_most(volts.called("V_g", "V"), limit, (*flows.terms, spread, stays)))
        best = max(claims, key=lambda one: one.margin.si)
        return best._replace(terms=tuple(dict.fromkeys(term for one in claims for term in one.terms)))

    verdict = decide(claim)
    told = verdict.worst
    gets, allowed = told.beside
    name = context.circuit.path(fired.element)
    what = "stand at" if told.found.unit == "V" else "flow into"
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"up to {gets} {what} the gate of {name} while the LED is dark, {told.limit.name} is {allowed}",
        fired.element,
        evidence=told.evidence(),
        remedy=f"a resistor from the gate of {name} to its main terminal, or a thyristor that needs more gate current",
        chain=found.elements,
    )


RULE = Rule(
    slug="gate-leakage-high",
    group="mains switching",
    level="warning",
    page=__doc__,
    asked_of=("holds", "holds-one-way"),
    facts=(
        "supplies.*.voltage",
        "supplies.*.phase",
        "supplies.*.frequency",
        "elements.*.tolerance",
        "environment.ambient",
        "parts.*.trigger.leakage",
        "parts.*.thyristor.gate_current",
        "parts.*.thyristor.gate_nontrigger_voltage",
    ),
    judge=judge,
    concerns=switches,
    needs=("drive", "load"),
)
