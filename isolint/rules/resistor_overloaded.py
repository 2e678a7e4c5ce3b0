"""A resistor that gets hotter, or stands more voltage, than it is rated for.

## What it looks at

Every resistor of a coupler's drive and load networks, in every state of the drive and with the output conducting and
off.

## Why it matters

A 24 V input takes a quarter of a watt in a resistor that looks like all the others. A chip resistor in a mains or bus
input breaks through long before it gets hot: an 0603 stands 75 V.

## How it is computed

P = I^2 R in watts at the worst corner, at most 50 % of the rated power (usual derating for the hot end, no source).
Alternating drive counts with the mean of a sine's square: half of each half wave's peak power, for half of the time.
V = I R in volts, peak, at most the rated voltage. Ratings that nobody stated lie between 0.1 W, 75 V (an 0603 chip)
and 1 W, 350 V, an assumption. The margin is allowed / found and must be 1.00 or more.

```toml
[lines."IN"]
on = ["15 V", "30 V"]
off = ["-3 V", "0.5 V"]
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "0.25 W"
voltage = "200 V"
[environment]
ambient = ["0 degC", "60 degC"]
life = "10 year"
duty = 0.5
```

## Fails

```netlist
* 0.39 W at 30 V in a resistor of 0.25 W (demonstration)
* expect: resistor-overloaded
R1 IN A 2.2k
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Passes

```netlist
* 0.1 W (demonstration)
R1 IN A 8.2k
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
```

## Remedy

A larger package, a larger resistance, or two resistors in series that share power and voltage.

## What it cannot see

Short pulses, and heat from neighbours. How long a state lasts: each is taken to last.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.analysis import Analysis
from isolint.checking.context import Context
from isolint.checking.evidence import at_most, line, number, single
from isolint.checking.rule import Rule
from isolint.checking.verdict import judge as decide
from isolint.interfaces.entities import Channel
from isolint.results import Margin, Result
from isolint.units import show
from isolint.worstcase.resistors import Stress, allowed, power_rating, voltage_rating
from isolint.worstcase.uncertain import WORST, Setting, Term

REQUIRED = 1.0
LEAST = 1e-9


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a resistor that fails or is open, else one pass for the channel.

    A resistor counts with its first channel.
    """
    mine = _own_resistors(context, channel)
    stresses = {element: stress for element, stress in context.analysis.resistors(channel).items() if element in mine}
    if not stresses:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: it has no resistors of its own"
        )
        return
    made = [_resistor(context, channel, stress) for stress in stresses.values()]
    wrong = [result for result in made if result.kind != "pass"]
    if wrong:
        yield from wrong
    else:
        yield min(made, key=lambda result: result.margin.value if result.margin is not None else float("inf"))


def _own_resistors(context: Context, channel: Channel) -> set[int]:
    """The resistors of a channel that belong to no channel before it."""
    own = {
        element
        for element in (*channel.drive.elements, *channel.load.elements)
        if context.circuit.letter(element) == "R"
    }
    for other in context.channels:
        if other.subject == channel.subject:
            break
        own -= {*other.drive.elements, *other.load.elements}
    return own


def _margin(context: Context, stress: Stress, setting: Setting) -> tuple[float, float]:
    """Margins of power and of voltage."""
    power = allowed(setting.low(power_rating(context.lookup, stress.element)))
    volts = setting.low(voltage_rating(context.lookup, stress.element))
    return power / max(stress.power.value, LEAST), volts / max(stress.volts, LEAST)


def _resistor(context: Context, channel: Channel, stress: Stress) -> Result:
    element = stress.element
    ratings = (power_rating(context.lookup, element), voltage_rating(context.lookup, element))

    def measure(setting: Setting, analysis: Analysis = context.analysis) -> tuple[float, Sequence[Term]]:
        found = analysis.resistors(channel, setting)[element]
        return min(_margin(context, found, setting)), (*ratings, *found.terms)

    verdict = decide(measure, "at_least", REQUIRED)
    by_power, by_volts = _margin(context, stress, WORST)
    margin = min(by_power, by_volts)
    path = context.circuit.path(element)
    power, most = stress.power.value, allowed(ratings[0].low)
    corner = stress.power.corner
    peak = f"{number(stress.amps)} ^ 2 * {number(stress.ohms)}"
    if stress.bounded:
        peak = f"{number(stress.volts)} ^ 2 / {number(stress.ohms)}"
    formula, numbers = (
        ("V ^ 2 / R" if stress.bounded else "I ^ 2 * R", peak)
        if stress.share == 1.0
        else ("I ^ 2 * R * share", f"{peak} * {number(stress.share)}")
    )
    evidence = [
        single(
            f"power in {path}, {stress.words}",
            "P",
            "W",
            power,
            "max",
            limit=at_most(most),
            corners={"max": corner},
            formula=line("P", formula, numbers, power, "W"),
        ),
        single(f"half of the rated power of {path}", "P_allowed", "W", most, "max", source=ratings[0].origin),
        single(
            f"voltage across {path}, {stress.words}",
            "V",
            "V",
            stress.volts,
            "max",
            limit=at_most(ratings[1].low),
            corners={"max": corner},
            formula=""
            if stress.bounded
            else line("V", "I * R", f"{number(stress.amps)} * {number(stress.ohms)}", stress.volts, "V"),
        ),
        single("margin", "allowed / found", "1", margin, "min"),
    ]
    if by_power <= by_volts:
        found = (
            f"at most {show(power, 'W')} with all the voltage that there is across it"
            if stress.bounded
            else f"{show(power, 'W')} with {stress.words} ({corner})"
        )
        text = f"{path} takes {found}, half of {show(ratings[0].low, 'W')} is allowed"
        cure = f"a resistor of {show(2.0 * power, 'W', 2)} or more, or several that share it"
    else:
        rated = show(ratings[1].low, "V")
        text = f"{path} stands {show(stress.volts, 'V')} with {stress.words} ({corner}) and is rated for {rated}"
        cure = f"a resistor rated for {show(stress.volts, 'V', 2)} or more, or several in series"
    remedy = f"{context.named(element)}: {cure}" if verdict.kind == "fail" else ""
    chain = channel.drive.elements if element in channel.drive.elements else channel.load.elements
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        role=path,
        evidence=evidence,
        margin=Margin(margin, REQUIRED),
        remedy=remedy,
        chain=chain,
    )


RULE = Rule(
    slug="resistor-overloaded",
    group="drive",
    level="warning",
    page=__doc__,
    asked_of=("led",),
    facts=("elements.*.power", "elements.*.voltage", "elements.*.tolerance", "lines.*.on", "supplies.*.voltage"),
    judge=judge,
    needs=("drive", "led-current"),
)
