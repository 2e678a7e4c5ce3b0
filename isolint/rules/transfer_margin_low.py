"""An output that cannot carry the current its load asks for.

## What it looks at

The output current that a transistor coupler can give at worst against the current that its load asks for when the
receiver is held at its level.

## Why it matters

The transfer ratio falls with small and large LED currents, with temperature and over life. A design from typical
values works on the bench and fails in the third winter.

## How it is computed

required: the load network is solved with the receiver held at its valid level, at the worst corner of supply,
resistors and input current. available: the larger of two lower bounds at the smallest LED current of the same
temperature,

    (a) IF_min (IC/IF of the VCE(sat) line) min(D_IF(IF) / D_IF(IF of the line), 1) D_T D_t
    (b) IF_min ratio_min D_IF D_VCE D_T D_t

(a) only where the level is at or above VCE(sat) max, with the factors of LED current, output voltage, temperature and
life from the record, else from the generic family (an assumption). Outside a record's curve a factor is not known:
such a channel never passes, and fails where even the curve's highest point would be too little. The margin is
available / required in amperes; it must be 1.2 or more (`limits.transfer_margin`, common practice, no source). Method
of factors: source key `ctr-design-factors`.

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

A larger pull-up resistor, more LED current, or a part with a higher minimum ratio; the smallest preferred resistor
that holds is printed.

## What it cannot see

The ordering suffix of the part: state the bin that is bought in the record's ratio.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.bounds import Best, best_transfer
from isolint.checking.claims import ratio
from isolint.checking.context import Context
from isolint.checking.cures import bears, change, limiting_resistor, load_resistor, resistor_that_cures
from isolint.checking.evidence import (
    at_least,
    factor_lines,
    line,
    margin_line,
    number,
    product_line,
    quantity,
    single,
)
from isolint.checking.preconditions import NO_CURRENT, level_holds, use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    use = use_of(context, channel)
    if channel.part.kind.output.conducts != "transistor" or use:
        why = f"its output is used as {use}, not as a switch" if use else f"a {channel.part.type} has no transfer ratio"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {why}")
        return
    level_holds(context, channel)
    required = context.lookup.transfer_margin()

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.transfer(channel, setting)
        return found.worst.margin, found.terms

    try:
        verdict = decide(measure, "at_least", required)
    except Lacking as reason:
        best = best_transfer(context, channel)
        if best is None or best.margin >= required or reason.blocked_by is not None:
            raise
        yield _hopeless(context, channel, best, required, reason.reason)
        return
    found = context.analysis.transfer(channel)
    drive, load = context.analysis.drive(channel), context.analysis.load(channel)
    worst = found.worst
    evidence = [
        quantity("LED current", "IF", "A", drive.current),
        *factor_lines(worst.available),
        single(
            "output current available",
            "IC_available",
            "A",
            worst.available.current,
            "min",
            formula=product_line(worst.available),
            corners={"min": worst.led_corner},
        ),
        quantity(f"output current for {load.receiver.words}", "IC_required", "A", load.required),
        single(
            "margin",
            "IC_available / IC_required",
            "1",
            worst.margin,
            "min",
            limit=at_least(required),
            formula=margin_line(worst.available.current, worst.required),
        ),
    ]
    text = (
        f"its output gives {show(worst.available.current, 'A')} at worst ({worst.led_corner}) and must carry "
        f"{show(worst.required, 'A')} for {load.receiver.words} ({worst.required_corner}): "
        f"margin {ratio(worst.margin, required)}, wanted {required:.2f}"
    )
    element, remedy = load_resistor(context, channel, load), ""
    if verdict.kind == "fail":
        element, remedy = _cure(context, channel, lambda other: measure(WORST, other)[0] >= required)
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        evidence=evidence,
        margin=Margin(worst.margin, required),
        remedy=remedy,
        chain=(*channel.drive.elements, *channel.load.elements),
    )


def _hopeless(context: Context, channel: Channel, best: Best, required: float, reason: str) -> Result:
    """The failure of a channel that lacks output current even if what is not known of its ratio were at its best."""
    load = context.analysis.load(channel)
    formula = line(
        "IC_best", "IF_min * factor_best", f"{number(best.led)} * {number(best.factor)}", best.available, "A"
    )
    evidence = [
        single("LED current", "IF_min", "A", best.led, "min", corners={"min": best.led_corner}),
        single(
            "output current at the very most",
            "IC_best",
            "A",
            best.available,
            "max",
            formula=formula,
            source="highest points of the curves",
        ),
        single(
            "output current that must flow",
            "IC_required",
            "A",
            best.required,
            "max",
            corners={"max": best.required_corner},
        ),
        single(
            "margin at the very most",
            "IC_best / IC_required",
            "1",
            best.margin,
            "max",
            limit=at_least(required),
            formula=margin_line(best.available, best.required),
        ),
    ]
    text = (
        f"{channel.subject}: {reason}; even at the highest point of its curves its output gives no more than "
        f"{show(best.available, 'A')} "
        f"({best.led_corner}) and must carry {show(best.required, 'A')} for {load.receiver.words} "
        f"({best.required_corner}): "
        f"margin {best.margin:.2f} at most, wanted {required:.2f}"
    )
    chain = context.related([channel.part.element, *channel.drive.elements, *channel.load.elements])
    element, remedy = _cure(context, channel, lambda other: other.transfer(channel).worst.margin >= required)
    if best.led <= NO_CURRENT:
        element, remedy = None, f"let current flow through the LED of {channel.subject}: nothing turns it on"
    return context.channel_result(
        RULE,
        channel,
        "fail",
        text,
        None if element is None else context.place(element),
        evidence=evidence,
        margin=Margin(best.margin, required),
        related=chain,
        remedy=remedy,
    )


def _cure(context: Context, channel: Channel, holds: Callable[[Analysis], bool]) -> tuple[int | None, str]:
    """The card to change first and what would cure it.

    A larger load resistor, or a smaller LED resistor that the source and the LED still bear: first the one that
    changes less.
    """
    drive, load = context.analysis.drive(channel), context.analysis.load(channel)
    on_load, on_drive = load_resistor(context, channel, load), limiting_resistor(context, channel, drive)
    found: list[tuple[float, int, str]] = []
    if on_load is not None:
        ohms = resistor_that_cures(context, on_load, holds, larger=True)
        if ohms is not None:
            found.append(
                (change(context, on_load, ohms), on_load, f"{context.named(on_load)}: {show(ohms, 'ohm')} or more")
            )
    if on_drive is not None:
        ohms = resistor_that_cures(
            context, on_drive, lambda other: holds(other) and bears(context, channel, other), larger=False
        )
        if ohms is not None:
            found.append(
                (change(context, on_drive, ohms), on_drive, f"{context.named(on_drive)}: {show(ohms, 'ohm')} or less")
            )
    if not found:
        return on_load, "more LED current, or a part with a higher minimum ratio"
    found.sort()
    return found[0][1], ", or ".join([*(text for _, _, text in found), "a part with a higher minimum ratio"])


RULE = Rule(
    slug="transfer-margin-low",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("transistor",),
    facts=(
        "environment.ambient",
        "environment.life",
        "environment.duty",
        "inputs.*.low_max",
        "elements.*.tolerance",
        "parts.*.transfer.ratio",
        "limits.transfer_margin",
    ),
    judge=judge,
    needs=("drive", "led-current", "transfer", "load", "level"),
    blocks=("carrying",),
    judges=("transfer", "carrying"),
    measures=True,
)
