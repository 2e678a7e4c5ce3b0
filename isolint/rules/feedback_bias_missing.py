"""A shunt reference that gets too little current to regulate while the LED needs next to none.

## What it looks at

The shunt reference in the loop of a coupler's LED, and every path to its cathode.

## Why it matters

A shunt reference regulates above a smallest cathode current. Where the controller wants the LED nearly dark, only a
resistor beside the LED keeps that current up; without it the output voltage is off by volts, or the loop hunts.

## How it is computed

The LED has its least working current, with its forward voltage at its smallest (typical for its test current, highest
temperature; below that current it is some 0.1 V less still). The current that the reference must take then is solved:

    IC_near = what holds the pin at the near end of `inputs."FB".control_range` (0 where no range is stated)
    IF_near = IC_near / ratio_max, of the best new part
    I_KA    = IF_near + VF_min / R for a resistor across the LED, (V_OUT - V_K) / R for one from the supply
    margin  = I_KA / `parts.X.reference.cathode_current_min`

Not stated it is 0.08 to 1 mA, as references of small and usual currents want it (source key `shunt-reference-bias`).
With the reference fully on its current must not exceed `cathode_current_max` (100 mA, from memory), nor with the LED
dark its voltage `cathode_voltage_max` where that is stated.

Settings: conditions, feedback.

## Fails

```netlist
* Nothing beside the LED (demonstration)
R1 VOUT A 1k
XU1 A K GND FB DEMO_PT1
* expect: feedback-bias-missing
XU2 K GNDB REF DEMO_REF1
R3 VOUT REF 39k
R4 REF GNDB 10k
R5 VDD FB 20k
```

## Passes

```netlist
* 820 ohm across the LED (demonstration)
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

A resistor across the LED, or from the supply to the cathode, that carries what the reference needs; or a reference that
needs less.

## What it cannot see

Noise, accuracy, and a current that something else takes from the cathode.

## Caution

On the side of the mains the controller is live: measure there with isolated supplies only.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from isolint.checking import feeding_back
from isolint.checking.claims import Claim, at_least, at_most, bare
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.interfaces.entities import Channel, Shunt
from isolint.parts.records import Reference
from isolint.results import Result
from isolint.standards import preferred
from isolint.units import show
from isolint.worstcase import shunts
from isolint.worstcase.feedback import most_through
from isolint.worstcase.figures import Figure
from isolint.worstcase.lookup import NOMINAL_TEMPERATURE
from isolint.worstcase.margin import NO_MARGIN
from isolint.worstcase.uncertain import Lacking, Setting


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a channel with a reference in its loop."""
    shunt = feeding_back.reference(context, channel)
    if shunt is None:
        text = f"{channel.subject}: no shunt reference lies in the loop of its LED"
        yield context.channel_result(RULE, channel, "notApplicable", text)
        return
    if most_through(context.analysis.drive(channel), shunt) < 0.0:
        text = f"{shunt.path} lies the wrong way round"
        raise Lacking(text, blocked_by="reference")
    ranged = _is_ranged(context, channel)
    verdict = decide(lambda setting: _least(context, channel, shunt, ranged, setting))
    lit = feeding_back.biased(context.analysis, channel, shunt, ranged).led
    remedy = _cure(context, channel, shunt, verdict.worst)
    found, limit = verdict.worst.beside
    yield _told(
        context,
        channel,
        shunt,
        verdict,
        f"with {show(lit, 'A')} in the LED {shunt.path} gets {found} at its cathode{_at(verdict)} and needs {limit}",
        remedy,
    )
    for role, claim, words, remedy in (
        ("current", _most, "fully on {} takes {} at its cathode{}, {} are allowed", "a larger resistor before the LED"),
        ("voltage", _volts, "with the LED dark {0} bears {1}{2}, {3} are allowed", "a reference for more voltage"),
    ):
        more = decide(partial(claim, context, channel, shunt))
        if more.kind != "pass":
            found, limit = more.worst.beside
            yield _told(context, channel, shunt, more, words.format(shunt.path, found, _at(more), limit), remedy, role)


def _cure(context: Context, channel: Channel, shunt: Shunt, told: Claim) -> str:
    """The preferred resistor that carries across the LED what the reference lacks, 5 % below what would just do."""
    lacks = told.limit.si - told.found.si
    forward = context.analysis.led(channel.part)
    hot = max(context.analysis.drives().temperatures(channel))
    volts = forward.forward_voltage.low + forward.temperature_coefficient.low * (hot - NOMINAL_TEMPERATURE)
    if lacks <= 0.0 or volts <= 0.0:
        return ""
    ohms = show(preferred.at_most(volts / lacks / 1.05), "ohm")
    return f"{ohms} or less across the LED, beside what is there, or a reference that needs less than {shunt.path}"


def _at(verdict: Verdict) -> str:
    corner = verdict.worst.found.corner
    return f" ({corner})" if corner else ""


def _told(
    context: Context, channel: Channel, shunt: Shunt, verdict: Verdict, text: str, remedy: str, role: str = ""
) -> Result:
    return context.judged(
        RULE,
        channel,
        verdict,
        f"{text}: {verdict.worst.words}",
        shunt.element,
        evidence=verdict.worst.evidence(),
        remedy=remedy,
        chain=(*channel.drive.elements, *channel.load.elements),
        role=role,
    )


def _is_ranged(context: Context, channel: Channel) -> bool:
    """Whether it is known what the controller's pin takes; else the LED may be dark."""
    try:
        feeding_back.pin(context.analysis, channel)
    except Lacking:
        return False
    return True


def _least(context: Context, channel: Channel, shunt: Shunt, ranged: bool, setting: Setting) -> Claim:
    found = feeding_back.biased(context.analysis, channel, shunt, ranged, setting)
    needs = shunts.term(shunt, Reference.cathode_current_min)
    gets = Figure("I_KA", found.current, "A", f"cathode current of {shunt.path}", end="min")
    least = Figure("I_KA_min", setting.high(needs), "A", needs.name, end="min", source=needs.origin)
    return at_least(gets, least, (*found.terms, needs))


def _most(context: Context, channel: Channel, shunt: Shunt, setting: Setting) -> Claim:
    drive, limit = context.analysis.drive(channel, setting), shunts.term(shunt, Reference.cathode_current_max)
    takes = Figure("I_KA_on", most_through(drive, shunt), "A", f"largest cathode current of {shunt.path}")
    most = Figure("I_KA_max", setting.low(limit), "A", limit.name, source=limit.origin)
    return at_most(takes, most, (*drive.terms, limit))


def _volts(context: Context, channel: Channel, shunt: Shunt, setting: Setting) -> Claim:
    """That it bears what stands across it while it takes nothing, where its record says what it bears."""
    stated = None if shunt.record is None else shunt.record.reference.cathode_voltage_max
    if stated is None:
        return bare(Figure("margin", NO_MARGIN, "1", "margin", end="min"))
    bound, terms = feeding_back.idle(context.analysis, channel, shunt, setting)
    limit = Figure("V_KA_max", stated, "V", source=f"record {shunt.name}")
    return at_most(Figure("V_KA", bound, "V", f"voltage across {shunt.path}"), limit, terms)


RULE = Rule(
    slug="feedback-bias-missing",
    group="load",
    level="error",
    page=__doc__,
    asked_of=("transistor",),
    facts=(
        "environment.ambient",
        "elements.*.type",
        "elements.*.tolerance",
        "supplies.*.voltage",
        "inputs.*.control_range",
        "parts.*.led.forward_voltage",
        "parts.*.transfer.ratio",
        "parts.*.reference.cathode_current_min",
    ),
    judge=judge,
    concerns=feeding_back.feeds_back,
    needs=("drive", "led-current"),
    measures=True,
)
