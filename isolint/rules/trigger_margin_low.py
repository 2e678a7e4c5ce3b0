"""An LED current that fires a new part at room temperature, and no cold or old one.

## What it looks at

The smallest LED current of each part that switches at a threshold (thyristor and MOSFET outputs, logic outputs, gate
drivers, photovoltaic drivers), against the threshold at the coldest ambient and after ageing. A part whose record
states a recommended minimum has that margin in it.

## Why it matters

The trigger current rises in the cold, and the light of the LED gets less over the years.

## How it is computed

    I_F,min >= I_FT F_T / F_t     (amperes)

F_T: 1 to 1 + 0.4 (25 - T) / 65 below 25 degC; of MOSFET and photovoltaic outputs 1 to 1 + 0.5 |T - 25| / 60 (from
memory); 1 where `led.threshold_temperature` holds the ambient. F_t: the share of light left, `trigger.remaining`,
1 / 1.3 to 1 where nobody stated it (from memory). Both may be 1 at the kindest, so that this is a question where the
threshold itself is reached, and fails only for what is stated.

Settings: driver, switched.

## Fails

```netlist
* A phototriac that fires at 7 mA when new, with 0.8 of its light left (demonstration)
* expect: trigger-margin-low
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR9
R2 T1 L 8k
```

## Passes

```netlist
* Its record recommends a current (demonstration)
R1 DRIVE A 390
XU1 A GND T1 N DEMO_TR1
R2 T1 L 8k
```

## Remedy

A smaller series resistor, or a more sensitive part.

## What it cannot see

Hot spots inside the LED, which age faster.

## Caution

This circuit is connected to mains: work on it only with the training it needs.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, both_ends
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor, resistor_cure
from isolint.checking.photo_gate import gate_nets, gate_test
from isolint.checking.preconditions import level_holds
from isolint.checking.rule import Rule
from isolint.checking.switched_off import between
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Led, Trigger
from isolint.results import Result
from isolint.rows import most
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Setting, Term


def _has_threshold(context: Context, channel: Channel) -> bool:
    """Whether an LED lights what switches at a threshold, not at a voltage."""
    return "anode" in channel.pins and RULE.asks(channel.part.kind)


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel whose part states a threshold and no recommended minimum."""
    record = channel.part.record
    if record is None or record.led.recommended_current_min is not None or record.switching_current is None:
        text = f"{channel.subject}: its record includes the margin, or states no threshold"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    drive = context.analysis.drive(channel)
    level_holds(context, channel)
    ambient = context.lookup.ambient()
    factor = _factor(channel, ambient.low, ambient.high)
    name = fact_terms.named(channel.part)
    drift = fact_terms.defaulted(
        Led.threshold_temperature,
        name,
        most(1.0, factor, "rise of the trigger current over temperature (from memory)"),
        title="rise of the trigger current over temperature",
        unit="1",
    )
    left = fact_terms.recorded(channel.part, Trigger.remaining)
    title = f"share of its light that {channel.part.path} has left"
    if left is None:
        light = fact_terms.defaulted(Trigger.remaining, name, Trigger.remaining.counts, title=title)
    else:
        light = fact_terms.known(Trigger.remaining, name, left, f"record {name}", title=title)
    shunted = _shunted(context, channel)
    beside = () if shunted is None else (shunted,)
    threshold = Figure("I_FT", record.switching_current, "A", source=f"record {record.name}")

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        found = analysis.drive(channel, setting)
        needed = threshold * Figure("F_T", setting.high(drift)) / Figure("F_t", setting.low(light))
        if shunted is not None:
            needed = needed * Figure("F_G", setting.high(shunted))
        needed = needed.called("I_F_needed", "A", "current that fires it cold and aged", end="min")
        return at_least(
            Figure("IF_min", found.current.low, "A", end="min"), needed, (*found.terms, drift, light, *beside)
        )

    verdict = decide(claim)
    told, resistor = verdict.worst, limiting_resistor(context, channel, drive)
    gets, needs = told.beside
    alone = "a smaller resistor alone does not cure it: a stronger driver, or a more sensitive part"
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"the LED gets {gets} at worst and needs {needs} at the temperatures and at the end of its life",
        resistor,
        evidence=told.evidence(both_ends("LED current", "IF", "A", drive.current)),
        remedy=lambda: resistor_cure(context, resistor, claim, False, alone),
        chain=channel.drive.elements,
    )


def _shunted(context: Context, channel: Channel) -> Term | None:
    """By how much a photo-SCR asks for more light where its gate resistor is smaller than that of the test."""
    nets = gate_nets(context, channel) if channel.part.kind.output.switch == "holds-one-way" else None
    fitted = None if nets is None else between(context, *nets)
    if fitted is None:
        return None
    more = gate_test(channel).high / fitted.ohms
    if more <= 1.0:
        return None
    usual = most(1.0, more, "test resistor over the resistor at its gate, or none (from memory)")
    title = "rise of the trigger current by the resistor at its gate"
    # With which resistor it fires when its record says so may be stated: what it then needs is another number.
    return fact_terms.defaulted(
        Led.recommended_current_min, fact_terms.named(channel.part), usual, title=title, unit="1"
    )


def _factor(channel: Channel, coldest: float, hottest: float) -> float:
    """By how much the trigger current rises over the temperatures: in the cold, of MOSFET outputs in the heat too."""
    led = channel.part.record.led if channel.part.record is not None else None
    guaranteed = None if led is None else led.threshold_temperature
    if guaranteed is not None and guaranteed.low <= coldest and guaranteed.high >= hottest:
        return 1.0
    if channel.part.kind.output.switch == "passes" or "array" in channel.part.kind.owns:
        return 1.0 + 0.5 * max(abs(25.0 - coldest), abs(hottest - 25.0)) / 60.0
    return 1.0 + 0.4 * max(25.0 - coldest, 0.0) / 65.0


RULE = Rule(
    slug="trigger-margin-low",
    group="mains switching",
    level="error",
    page=__doc__,
    asked_of=("switch", "logic", "driver", "array"),
    facts=(
        "environment.ambient",
        "elements.*.tolerance",
        "parts.*.led.recommended_current_min",
        "parts.*.led.threshold_temperature",
        "parts.*.trigger.current_max",
        "parts.*.trigger.remaining",
        "parts.*.trigger.gate_resistor",
    ),
    judge=judge,
    concerns=_has_threshold,
    needs=("drive", "led-current", "transfer"),
    room="a part that needs less LED current",
)
