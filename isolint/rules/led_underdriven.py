"""An LED that gets less current than its part asks for.

## What it looks at

The smallest LED current of each channel in its on state, against the record's recommended minimum or threshold current.

## Why it matters

Below its threshold a logic output does not switch, or switches only when warm or new.

## How it is computed

IF_min at worst: lowest supply and guaranteed output level, largest forward voltage, largest resistors, at each
ambient end. The margin is IF_min over the largest of `recommended_current_min`, `threshold_current` and the largest
trigger current of a phototriac or photo-SCR, in amperes, and must be 1.00 or more. Transistor outputs without a
recommended minimum are decided by `transfer-margin-low`.

Settings: driver, receiver, conditions.

## Fails

```netlist
* 2.2 kohm into a logic output coupler that needs 5 mA (demonstration)
* expect: led-underdriven
R1 DRIVE A 2.2k
XU1 A GND VB OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VB GNDB 100n
```

## Passes

```netlist
* 390 ohm (demonstration)
R1 DRIVE A 390
XU1 A GND VB OUT GNDB DEMO_LO1
R2 VB OUT 2.2k
C1 VB GNDB 100n
```

## Remedy

A smaller series resistor; the largest preferred value that holds at worst is printed.

## What it cannot see

Ageing of a logic output's LED: add it to the recommended minimum in the record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_least, both_ends
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor, resistor_cure
from isolint.checking.periodic_drive import meant_to_hold
from isolint.checking.preconditions import level_holds
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.parts import Led
from isolint.results import Result
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    drive = context.analysis.drive(channel)
    needed = _needed(context, channel)
    if needed is None:
        text = f"{channel.subject}: no recommended minimum or threshold current; {context.speaker('transfer')} decides"
        evidence = [both_ends("LED current", "IF", "A", drive.current)]
        yield context.channel_result(RULE, channel, "notApplicable", text, evidence=evidence)
        return

    level_holds(context, channel)
    if drive.unsure:
        raise Lacking(drive.unsure)

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        found = analysis.drive(channel, setting)
        return at_least(Figure("IF_min", found.current.low, "A", end="min"), needed, found.terms)

    verdict = decide(claim)
    if verdict.kind != "pass":
        meant_to_hold(context, channel, drive)
    told, resistor = verdict.worst, limiting_resistor(context, channel, drive)
    gets, needs = told.beside
    yield context.judged(
        RULE,
        channel,
        verdict,
        f"the LED gets {gets} at worst ({told.found.corner}) and needs {needs}",
        resistor,
        evidence=told.evidence(both_ends("LED current", "IF", "A", drive.current)),
        remedy=lambda: _cure(context, resistor, claim),
        chain=channel.drive.elements,
    )


def _cure(context: Context, resistor: int | None, claim: Callable[[Setting, Analysis], Claim]) -> str:
    if resistor is None:
        return "the source gives too little voltage or current"
    alone = f"a smaller {context.named(resistor)} alone does not cure it"
    return resistor_cure(context, resistor, claim, False, f"{alone}: raise the supply or use a stronger driver")


def _needed(context: Context, channel: Channel) -> Figure | None:
    """The current that the part asks for, None for transistor outputs that state none."""
    record = channel.part.record
    stated = None if record is None else record.switching_current
    if stated is not None and record is not None:
        name = "current that the part needs"
        return Figure("IF_needed", stated, "A", name, end="min", source=f"record {record.name}")
    if channel.part.kind.output.conducts == "transistor":
        return None
    name = channel.part.model_name or channel.part.path
    file = record.file if record is not None else context.settings_file
    fact = fact_terms.missing(file, Led.threshold_current, name)
    raise Lacking(f"the LED current at which {name} surely switches is not known", [fact])


RULE = Rule(
    slug="led-underdriven",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "environment.ambient",
        "supplies.*.tolerance",
        "elements.*.tolerance",
        "outputs.*.high",
        "parts.*.led.threshold_current",
        "parts.*.trigger.current_max",
    ),
    judge=judge,
    needs=("drive",),
    blocks=("transfer",),
    measures=True,
    room="a part that needs less LED current",
)
