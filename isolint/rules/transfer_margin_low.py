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

A periodic drive (an AC supply, a SIN card, a PULSE card of at most 25 ms, a `rate` in Hz of what drives it) is no
direct current of the height of its crest. The LED current is solved at 25 points of a period, the output current
follows from it, and the load's capacitor (the one with the largest time constant tau, at its low end, the others left
out) is stepped through the period that repeats:

    m = the factor by which the output current may shrink until the receiver's level is not held through the period

Far below the period's length this is mean / required, without any capacitor that of the weakest phase. m is judged
where it holds, where tau is at least as long as what repeats, or where `signals."NET".use = "steady"`; elsewhere the
crest is judged here, and `output-chopped` asks what the pulses are for. A capacitor behind a rectifier in the drive
holds the LED current up instead: then it is direct current, of what the LED gets before the next crest; where its time
constant is shorter than what repeats nobody knows whether that was meant, and the result is open. The LED ages by the
root of the mean square of its current in the on state. What a stimulus of the netlist says of time is
an assumption, which leaves a result open at worst.

Settings: driver, receiver, conditions.

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

from collections.abc import Callable, Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.bounds import Best, best_transfer
from isolint.checking.claims import Claim, at_least, bare, both_ends
from isolint.checking.context import Context
from isolint.checking.cures import change, limiting_resistor, load_resistor, tried, value_words
from isolint.checking.periodic_drive import (
    PeriodicDrive,
    evidence,
    held_claim,
    meant_to_hold,
    periodic_drive,
    rippled,
)
from isolint.checking.periodic_drive import told as through
from isolint.checking.preconditions import level_holds, opposed, use_of
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.interfaces.entities import Channel
from isolint.results import Result
from isolint.worstcase.factors import Factor
from isolint.worstcase.figures import Figure
from isolint.worstcase.margin import NO_MARGIN
from isolint.worstcase.quantities import MOST_AMPS, NO_CURRENT
from isolint.worstcase.transfer import Available
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    use = use_of(context, channel)
    if channel.part.kind.output.conducts != "transistor" or use:
        why = f"its output is used as {use}, not as a switch" if use else f"a {channel.part.type} has no transfer ratio"
        yield context.channel_result(RULE, channel, "notApplicable", f"{channel.subject}: {why}")
        return
    other = opposed(context, channel)
    if other is not None:
        text = f"{channel.subject}: it is there for the other polarity; {other.subject} is lit"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    level_holds(context, channel)
    required = context.lookup.transfer_margin()

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        found = analysis.transfer(channel, setting)
        worst = found.worst
        return _claim(worst.available.current, worst.required, found.terms, required)

    try:
        verdict = decide(claim)
    except Lacking as reason:
        best = best_transfer(context, channel)
        if best is None or best.margin >= required or reason.blocked_by is not None:
            raise
        meant_to_hold(context, channel, context.analysis.drive(channel))
        yield _hopeless(context, channel, best, required, reason.reason)
        return
    try:
        periodic = periodic_drive(context, channel)
    except Lacking:
        if verdict.kind != "fail":
            raise
        periodic = None
    if periodic is not None and periodic.smoothed:
        yield _through(context, channel, periodic)
        return
    if verdict.kind != "pass":
        meant_to_hold(context, channel, context.analysis.drive(channel))
    where = "" if periodic is None else " and at the crest"
    yield _compared(context, channel, verdict, where, lambda other: claim(WORST, other))


def _compared(
    context: Context, channel: Channel, verdict: Verdict, where: str, claim: Callable[[Analysis], Claim]
) -> Result:
    """The result of a steady drive: what the output gives against what it must carry. where: what else is worst."""
    told, worst = verdict.worst, context.analysis.transfer(channel).worst
    drive, load = context.analysis.drive(channel), context.analysis.load(channel)
    carries, short = f"must carry {told.limit}", None
    if worst.required > MOST_AMPS:
        short = _short(context, channel)
        way = "" if short is None else f" through {context.circuit.path(short)}"
        carries = f"nothing limits what it must carry{way}"
    text = (
        f"its output gives {told.found} at worst{where} "
        f"({worst.led_corner}) and {carries} for "
        f"{load.receiver.words} ({worst.required_corner}): {told.words}"
    )
    element, remedy = load_resistor(context, channel, load), ""
    if verdict.kind == "fail":
        element, remedy = _cure(context, channel, claim)
        if short is not None:
            element = short
            own = "give it the resistance that it has (Rser)"
            remedy = f"{context.named(short)}: {own}, or put a resistor in its place"
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        evidence=[
            both_ends("LED current", "IF", "A", drive.current),
            *rippled(drive),
            *(_factor(factor).evidence() for factor in worst.available.factors),
            _product(worst.available, worst.led_corner).evidence(),
            both_ends(f"output current for {load.receiver.words}", "IC_required", "A", load.required),
            told.margin.evidence(told.wanted, symbol="IC_available / IC_required", line="margin"),
        ],
        remedy=remedy,
        chain=(*channel.drive.elements, *channel.load.elements),
    )


def _through(context: Context, channel: Channel, periodic: PeriodicDrive) -> Result:
    """The result of a periodic drive whose level is held through the period, or was meant to be."""
    analysis, told, required = context.analysis, periodic.verdict.worst, context.lookup.transfer_margin()
    load = analysis.load(channel)
    text = f"{through(context, periodic)} for {load.receiver.words}: {told.words}"
    element, remedy = load_resistor(context, channel, load), ""
    if periodic.verdict.kind == "fail":
        element, remedy = _cure(context, channel, lambda other: held_claim(channel, required, WORST, other))
    elif periodic.verdict.kind == "pass":
        text += ", held through the period"
    return context.judged(
        RULE,
        channel,
        periodic.verdict,
        text,
        element,
        evidence=[*evidence(periodic), told.margin.evidence(told.wanted)],
        remedy=remedy,
        chain=(*channel.drive.elements, *channel.load.elements),
    )


def _short(context: Context, channel: Channel) -> int | None:
    """The inductor at the output through which direct current flows without anything of notice in its way."""
    ends = {channel.pins[role] for role in ("collector", "emitter", "output") if role in channel.pins}
    near = (e for e in channel.load.elements if ends & set(context.circuit.pins(e)))
    return next((element for element in near if context.circuit.letter(element) == "L"), None)


def _claim(available: float, asked: float, terms: Iterable[Term], required: float) -> Claim:
    """That the output gives what is asked for; more than enough where nothing is."""
    claim = at_least(Figure("available", available, "A"), Figure("required", asked, "A"), terms, required)
    return claim if asked > 0.0 else bare(Figure("margin", NO_MARGIN, "1", "margin", end="min"), terms, required)


def _bare(margin: float, required: float) -> Claim:
    return bare(Figure("margin", margin, "1", "margin", end="min"), (), required)


def _factor(factor: Factor) -> Figure:
    return Figure(factor.symbol, factor.value, "1", factor.name, end="min", source=factor.origin)


def _product(found: Available, corner: str) -> Figure:
    """The available output current as the LED current times its factors."""
    product = Figure("IF_min", found.led_current, "A")
    for factor in found.factors:
        product = product * _factor(factor)
    return product.called("IC_available", "A", "output current available", end="min", at=corner)


def _hopeless(context: Context, channel: Channel, best: Best, required: float, reason: str) -> Result:
    """The failure of a channel that lacks output current even if what is not known of its ratio were at its best."""
    load = context.analysis.load(channel)
    led = Figure("IF_min", best.led, "A", "LED current", end="min", at=best.led_corner)
    product, source = led * Figure("factor_best", best.factor), "highest points of the curves"
    gives = product.called("IC_best", "A", "output current at the very most", source=source)
    asked = Figure("IC_required", best.required, "A", "output current that must flow", at=best.required_corner)
    told = _claim(gives.si, asked.si, (), required)
    margin = told.margin.called("", "1", "margin at the very most", end="max")
    text = (
        f"{channel.subject}: {reason}; even at the highest point of its curves its output gives no more than {gives} "
        f"({best.led_corner}) and must carry {asked} for {load.receiver.words} ({best.required_corner}): "
        f"margin {margin.si:.2f} at most, wanted {required:.2f}"
    )
    element, remedy = _cure(context, channel, lambda other: _bare(other.transfer(channel).worst.margin, required))
    if remedy.endswith(_NO_VALUE):
        # Outside its curve it is the LED that gets too little, or too much.
        limiting = limiting_resistor(context, channel, context.analysis.drive(channel))
        element = element if limiting is None else limiting
    if best.led <= NO_CURRENT:
        element, remedy = None, f"let current flow through the LED of {channel.subject}: nothing turns it on"
    return context.channel_result(
        RULE,
        channel,
        "fail",
        text,
        None if element is None else context.place(element),
        evidence=[
            led.evidence(),
            gives.evidence(),
            asked.evidence(),
            margin.evidence(told.wanted, symbol="IC_best / IC_required", line="margin"),
        ],
        margin=told.shown,
        related=context.related([channel.part.element, *channel.drive.elements, *channel.load.elements]),
        remedy=remedy,
    )


_NO_VALUE = "more LED current, or a part with a higher minimum ratio"


def _cure(context: Context, channel: Channel, claim: Callable[[Analysis], Claim]) -> tuple[int | None, str]:
    """The card to change first and what would cure it.

    A larger load resistor, or a smaller LED resistor that the source and the LED still bear: first the one that
    changes less.
    """
    drive, load = context.analysis.drive(channel), context.analysis.load(channel)
    on_load, on_drive = load_resistor(context, channel, load), limiting_resistor(context, channel, drive)
    found: list[tuple[float, int, str]] = []
    closed: list[str] = []
    for resistor, larger in ((on_load, True), (on_drive, False)):
        if resistor is None:
            continue
        cure = tried(context, resistor, claim, larger)
        if cure.ohms is not None:
            words = value_words(context, resistor, cure, larger)
            found.append((change(context, resistor, cure.ohms), resistor, words))
        elif cure.closed:
            closed.append(cure.closed)
    if not found:
        return on_load, "; ".join([*closed, _NO_VALUE])
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
        "signals.*.rate",
        "signals.*.duty",
        "supplies.*.frequency",
        "lines.*.frequency",
        "signals.*.use",
        "parts.*.transfer.ageing",
        "parts.*.transfer.versus_current",
        "parts.*.transfer.versus_voltage",
    ),
    judge=judge,
    needs=("drive", "led-current", "transfer", "load", "level"),
    blocks=("carrying",),
    judges=("transfer", "carrying"),
    room="a part with a higher minimum ratio, or a larger load resistor,",
    measures=True,
)
