"""A photo-SCR whose gate is left open though its ratings hold with a resistor only.

## What it looks at

Photo-SCRs with a gate pin: the resistor from gate to cathode against the one with which the data sheet tests.

## Why it matters

Blocking voltage, leakage and the rise of voltage that it stands are told with a resistor from gate to cathode. Without
it, or with a larger one, the part fires on heat and on edges.

## How it is computed

    R_GK <= R_test     (ohms, nominal values)  R_test: `trigger.gate_resistor`, else 10 to 56 kohm (from memory).

A smaller resistor asks for more light: `trigger-margin-low` counts it.

Settings: driver, switched.

## Fails

```netlist
* The gate is left open (demonstration)
R1 DRIVE A 390
* expect: gate-cathode-resistor-missing
XU1 A GND K N1 G DEMO_PS1
R2 L N1 8k
V1 K N 0
```

## Passes

```netlist
* 27 kohm from gate to cathode (demonstration)
R1 DRIVE A 390
XU1 A GND K N1 G DEMO_PS1
R2 L N1 8k
R3 G K 24k
V1 K N 0
```

## Remedy

The resistor of the data sheet, close to the pins.

## What it cannot see

Leakage of the board at the gate pin.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.photo_gate import gate_nets, gate_test
from isolint.checking.rule import Rule
from isolint.checking.switched import switches
from isolint.checking.switched_off import between
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Trigger
from isolint.results import Measure, Result
from isolint.units import show
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel whose gate is brought out."""
    nets = gate_nets(context, channel)
    if nets is None:
        text = f"{channel.subject}: its gate is not brought out"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    fitted, stated = between(context, *nets), fact_terms.recorded(channel.part, Trigger.gate_resistor)
    gate, cathode = (context.net(net) for net in nets)
    if fitted is None:
        if stated is None:
            lacking = fact_terms.missing(context.settings_file, Trigger.gate_resistor, fact_terms.named(channel.part))
            why = (
                f"no resistor lies from its gate {gate} to its cathode {cathode}, and whether it needs one is not known"
            )
            raise Lacking(why, [lacking])
        yield context.channel_result(
            RULE,
            channel,
            "fail",
            f"{channel.subject}: no resistor lies from its gate {gate} to its cathode {cathode}, its ratings hold with "
            f"{show(stated, 'ohm')}",
            measure=Measure.number_of(1),
            remedy=f"{show(stated, 'ohm')} from net {gate} to net {cathode}",
        )
        return
    test = gate_test(channel)

    def claim(setting: Setting) -> Claim:
        ohms = Figure("R_GK", fitted.ohms, "ohm", "resistor at its gate")
        limit = Figure("R_test", setting.low(test), "ohm", "resistor of the test", source=test.origin)
        return at_most(ohms, limit, (test,))

    verdict = decide(claim)
    told = verdict.worst
    has, wants = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"{has} lie from its gate to its cathode, its ratings hold with {wants} or less",
        evidence=told.evidence(),
        remedy=f"{wants} or less from net {gate} to net {cathode}",
        chain=(),
    )


RULE = Rule(
    slug="gate-cathode-resistor-missing",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("holds-one-way",),
    facts=("parts.*.trigger.gate_resistor",),
    judge=judge,
    needs=("drive",),
    concerns=switches,
)
