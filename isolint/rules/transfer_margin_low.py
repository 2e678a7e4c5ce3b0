"""An output that cannot carry the current its load asks for.

## What it looks at

The output current that a transistor coupler can give at worst against the current that its load asks for when the receiver is held at its
level.

## Why it matters

The transfer ratio falls with small and large LED currents, with temperature and over life. A design from typical values works on the
bench and fails in the third winter.

## How it is computed

required: the load network is solved with the receiver held at its valid level, at the worst corner of supply, resistors and input
current. available: the larger of two lower bounds at the smallest LED current of the same temperature,

    (a) IF_min (IC/IF of the VCE(sat) line) min(D_IF(IF) / D_IF(IF of the line), 1) D_T D_t     where the level is at or above VCE(sat) max
    (b) IF_min ratio_min D_IF D_VCE D_T D_t

with the factors of LED current, output voltage, temperature and life from the record, else from the generic family (an assumption). The
margin is available / required in amperes; it must be 1.2 or more (`limits.transfer_margin`, common practice, no source). Method of factors:
source key `ctr-design-factors`.

```toml
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
[elements."R*"]
tolerance = "1 %"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* 1 kohm pull-up (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
* expect: transfer-margin-low
R2 VB OUT 1k
```

## Passes

```netlist
* 10 kohm pull-up (demonstration)
R1 DRIVE A 470
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
```

## Remedy

A larger pull-up resistor, more LED current, or a part with a higher minimum ratio; the smallest preferred resistor that holds is printed.

## What it cannot see

The ordering suffix of the part: state the bin that is bought in the record's ratio.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.context import Analysis, Context
from isolint.checking.evidence import at_least, factor_lines, margin_line, product_line, quantity, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.values import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.terms import WORST, Setting, Term

TRANSISTORS = ("phototransistor", "photodarlington")


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    use = context.use_of(channel)
    if channel.part.type not in TRANSISTORS or use:
        why = f"its output is used as {use}, not as a switch" if use else f"a {channel.part.type} has no transfer ratio"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {why}")
        return
    required = context.lookup.transfer_margin()

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.transfer(channel, setting)
        return found.worst.margin, found.terms

    verdict = decide(measure, "at_least", required)
    found = context.analysis.transfer(channel)
    drive, load = context.analysis.drive(channel), context.analysis.load(channel)
    worst = found.worst
    evidence = [
        quantity("LED current", "IF", "A", drive.current),
        *factor_lines(worst.available),
        single("output current available", "IC_available", "A", worst.available.current, "min", formula=product_line(worst.available), corners={"min": worst.led_corner}),
        quantity(f"output current for {load.receiver.words}", "IC_required", "A", load.required),
        single("margin", "IC_available / IC_required", "1", worst.margin, "min", limit=at_least(required), formula=margin_line(worst.available.current, worst.required)),
    ]  # fmt: skip
    resistor = context.load_resistor(channel, load)
    text = (
        f"its output gives {show(worst.available.current, 'A')} at worst ({worst.led_corner}) and {load.receiver.words} asks for "
        f"{show(worst.required, 'A')}: margin {worst.margin:.2f}, wanted {required:.2f}"
    )
    remedy = ""
    if verdict.kind == "fail":
        remedy = "more LED current, or a part with a higher minimum ratio"
        if resistor is not None:
            cure = context.resistor_that_cures(resistor, lambda other: measure(WORST, other)[0] >= required, larger=True)
            if cure:
                remedy = f"{context.named(resistor)}: {show(cure, 'ohm')} or more, or {remedy}"
    yield context.judged(
        RULE, channel, verdict, text, resistor, evidence=evidence, margin=Margin(worst.margin, required), remedy=remedy,
        chain=(*channel.drive.elements, *channel.load.elements),
    )  # fmt: skip


RULE = Rule(
    slug="transfer-margin-low",
    group="load",
    level="error",
    page=__doc__,
    facts=("environment.ambient", "environment.life", "environment.duty", "inputs.*.low_max", "elements.*.tolerance", "parts.*.transfer.ratio", "limits.transfer_margin"),
    judge=judge,
    needs=("drive", "led-current", "transfer", "load", "level"),
)
