"""A coupler whose output cannot move the controller's pin over its whole control range.

## What it looks at

Channels that feed back to a controller: the output's net, or the pin that it moves, has `use = "feedback"`, or a shunt
reference (type `shunt-reference`, `parts.X.reference`) lies in the loop of the LED.

## Why it matters

The loop closes only as far as the LED can be lit. Where the smallest ratio, the highest forward voltage and the voltage
that the reference keeps for itself leave too little, the supply runs away at light load or after a few years.

## How it is computed

With the reference fully on, at its `cathode_voltage_min` V_K (not stated: 1.24 to 2.5 V, from memory; its own reference
voltage where that is stated), the supply behind the LED at its lowest, the resistors at their highest:

    IF_min   solved with all that flows beside the LED; one resistor: (V_OUT - VF_max - V_K) / R - VF_max / R_across
    IC       = IF_min ratio_min D_IF D_VCE D_T D_t        what the output gives, as for `transfer-margin-low`
    IC_far   what holds the pin at the far end of `inputs."FB".control_range`, with the pull-up in the netlist, the
             `pull_up` or the `source_current` inside: the low end where the output pulls the pin down
    margin   = IC / IC_far >= 1.00

The limit is 1.00 and not that of switches: the loop itself asks for no more. For one resistor this is the bound
R <= (V_OUT - VF - V_K) ratio R_pull / (V_DD - V_CE(sat) + I_bias ratio R_pull) (common practice, no source; ageing
counts). The voltage left across the output there must be VCE(sat) at least; and with the LED dark the pin must reach
the other end of its range in spite of the dark current. A spread of the ratio above two is told, never a failure.

Settings: conditions, feedback.

## Fails

```netlist
* 22 kohm to the LED: what it gives the reference takes for itself (demonstration)
* expect: feedback-range-short
R1 VOUT A 22k
R2 A K 820
XU1 A K GND FB DEMO_PT1
XU2 K GNDB REF DEMO_REF1
R3 VOUT REF 39k
R4 REF GNDB 10k
R5 VDD FB 20k
```

## Passes

```netlist
* 1 kohm (demonstration)
R1 VOUT A 1k
R2 A K 820
* expect: none
XU1 A K GND FB DEMO_PT1
XU2 K GNDB REF DEMO_REF1
R3 VOUT REF 39k
R4 REF GNDB 10k
R5 VDD FB 20k
```

## Remedy

A smaller resistor before the LED, a larger pull-up at the pin, a higher ratio, or a reference that keeps less voltage.

## What it cannot see

Phase margin and the poles of the coupler, how the supply starts, and what the controller does if the LED opens.

## Caution

On the side of the mains the controller is live: measure there with isolated supplies only.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from isolint.checking import feeding_back
from isolint.checking.analysis import Analysis
from isolint.checking.bounds import highest_factor
from isolint.checking.claims import Claim, at_least, at_most, bare, both_ends
from isolint.checking.context import Context
from isolint.checking.cures import limiting_resistor, resistor_cure
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Measure, Result
from isolint.worstcase.feedback import FeedbackPin, most_through
from isolint.worstcase.figures import Figure
from isolint.worstcase.margin import NO_MARGIN
from isolint.worstcase.uncertain import KINDEST, Lacking, Setting, unique

_GIVEN, _LEFT = "IC", "V_CE"
_WIDE = 2.0
"""A spread of the ratio above which the gain of the loop is told."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel."""
    shunt = feeding_back.reference(context, channel)
    drive = context.analysis.drive(channel)
    if shunt is not None and most_through(drive, shunt) < 0.0:
        text = f"{channel.subject}: {shunt.path} lies the wrong way round: current flows out of its cathode"
        element, measure = context.place(shunt.element), Measure.number_of(1)
        cure = f"turn {context.named(shunt.element)} round: its cathode towards the LED"
        yield context.channel_result(RULE, channel, "fail", text, element, measure=measure, remedy=cure)
        return

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        return _claim(channel, analysis, setting)

    try:
        verdict = decide(claim)
    except Lacking:
        hopeless = _best(context, channel)
        if hopeless is None or hopeless.holds:
            raise
        verdict = decide(lambda setting: hopeless)
    idle = decide(lambda setting: _dark(channel, context.analysis, setting))
    told, resistor, pin = (
        verdict.worst,
        limiting_resistor(context, channel, drive),
        feeding_back.pin(context.analysis, channel),
    )
    (found, limit), receiver = told.beside, pin.most.receiver.words
    at = f" ({told.found.corner})" if told.found.corner else ""
    if told.found.symbol == _LEFT:
        text = f"with {receiver} {found} are left across its output{at}, which keeps {limit} for itself"
    else:
        text = f"its output gives {found} at worst{at}, and {receiver} takes {limit}: {told.words}"
    yield context.judged(
        RULE,
        channel,
        verdict,
        text,
        resistor if told.found.symbol == _GIVEN else None,
        evidence=[
            both_ends("LED current, reference fully on", "IF", "A", drive.current),
            *told.evidence(),
            *(idle.worst.evidence() if idle.kind == "pass" else ()),
            *_spread(channel),
        ],
        remedy=lambda: _cure(context, resistor, claim, told),
        chain=(*channel.drive.elements, *channel.load.elements),
    )
    if idle.kind != "pass":
        yield _never_there(context, channel, pin, idle)


def _never_there(context: Context, channel: Channel, pin: FeedbackPin, idle: Verdict) -> Result:
    """That the pin does not reach the near end of its range with the LED dark."""
    told = idle.worst
    found, limit = told.beside
    at = f" ({told.found.corner})" if told.found.corner else ""
    return context.judged(
        RULE,
        channel,
        idle,
        f"with the LED dark pin {context.net(pin.net)} stands at {found}{at}, its range ends at {limit}: {told.words}",
        evidence=told.evidence(),
        remedy="a smaller resistor that pulls the pin, or a coupler with less dark current",
        chain=channel.load.elements,
        role="dark",
    )


def _dark(channel: Channel, analysis: Analysis, setting: Setting) -> Claim:
    pin = feeding_back.pin(analysis, channel, setting)
    bound, terms = feeding_back.dark(analysis, channel, setting)
    # No output takes a pin below its own ground, whatever it might pass.
    bound = bound._replace(value=max(bound.value, 0.0)) if pin.falls else bound
    stands = Figure("V_dark", bound, "V", "pin with the LED dark", end="min" if pin.falls else "max")
    end = Figure("V_range", pin.idle, "V", "end of the control range", source="stated")
    return at_least(stands, end, terms) if pin.falls else at_most(stands, end, terms, least=1e-3)


def _claim(channel: Channel, analysis: Analysis, setting: Setting) -> Claim:
    ratio, far = analysis.ratio(channel, setting), feeding_back.pin(analysis, channel, setting).most
    volts = Figure(_LEFT, far.voltage.low, "V", "voltage left across the output", end="min")
    keeps = Figure(
        "VCE_sat", ratio.saturation_voltage(), "V", "saturation voltage", source=ratio.origin_of_saturation()
    )
    left = at_least(volts, keeps, (*far.terms, *ratio.terms))
    if not left.holds:
        return left
    found = feeding_back.given(analysis, channel, setting)
    worst = found.worst
    led, name = worst.available.led_current, "output current available"
    gives = Figure("IF_min", led, "A", "LED current", end="min", at=worst.led_corner)
    for factor in worst.available.factors:
        gives = gives * Figure(factor.symbol, factor.value, "1", factor.name, end="min", source=factor.origin)
    current = gives.called(_GIVEN, "A", name, end="min", at=worst.led_corner)
    if not worst.available.factors:
        current = Figure(_GIVEN, 0.0, "A", name, end="min", at=worst.led_corner)
    asked = Figure("IC_far", worst.required, "A", far.receiver.words, at=worst.required_corner)
    if worst.required <= 0.0:
        return bare(Figure("margin", NO_MARGIN, "1", "margin", end="min"), found.terms)
    made = at_least(current, asked, found.terms)
    return made._replace(terms=unique([*made.terms, *left.terms]))


def _best(context: Context, channel: Channel) -> Claim | None:
    """The claim with the highest point of every curve, where a factor is not known; None where even that is not."""
    analysis = context.analysis
    try:
        drive, pin = feeding_back.full_drive(analysis, channel, KINDEST), feeding_back.pin(analysis, channel, KINDEST)
        factor = highest_factor(analysis.ratio(channel, KINDEST))
    except Lacking:
        return None
    if factor is None:
        return None
    led = min((row.low for row in drive.by_temperature), key=lambda bound: bound.value)
    gives = Figure("IF_min", max(led.value, 0.0), "A", "LED current", end="min", at=led) * Figure("factor", factor)
    found = gives.called(_GIVEN, "A", "output current at the very most", end="min", at=led)
    return at_least(found, Figure("IC_far", pin.most.required.low, "A", pin.most.receiver.words))


def _spread(channel: Channel) -> list[Evidence]:
    """How much the ratio's spread moves the gain of the loop, where that is much."""
    record = channel.part.record
    ratio = None if record is None else record.transfer.ratio
    if ratio is None or not ratio.min or not ratio.max or ratio.max / ratio.min <= _WIDE:
        return []
    spread = Figure("ratio_max", ratio.max) / Figure("ratio_min", ratio.min)
    return [spread.called("spread", "1", "spread of the ratio, and so of the gain of the loop").evidence()]


def _cure(context: Context, resistor: int | None, claim: Callable[[Setting, Analysis], Claim], told: Claim) -> str:
    if told.found.symbol == _LEFT:
        return "a controller whose range begins higher, or a coupler with a lower saturation voltage"
    otherwise = "a smaller resistor before the LED, a larger pull-up at the pin, or a part with a higher minimum ratio"
    return resistor_cure(context, resistor, claim, False, otherwise)


RULE = Rule(
    slug="feedback-range-short",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("transistor",),
    facts=(
        "environment.ambient",
        "environment.life",
        "environment.duty",
        "elements.*.type",
        "elements.*.tolerance",
        "inputs.*.control_range",
        "inputs.*.source_current",
        "inputs.*.supply",
        "supplies.*.voltage",
        "parts.*.reference.cathode_voltage_min",
        "parts.*.transfer.ratio",
        "parts.*.transfer.ageing",
        "parts.*.transfer.versus_current",
        "parts.*.transfer.versus_voltage",
        "parts.*.transfer.versus_temperature",
        "parts.*.output.saturation_voltage",
    ),
    judge=judge,
    concerns=feeding_back.feeds_back,
    needs=("drive", "led-current", "load"),
    judges=("reference",),
    room="a part with a higher minimum ratio",
    measures=True,
)
