"""A resistor that gets hotter, or stands more voltage, than it is rated for.

## What it looks at

Every resistor of a coupler's drive and load networks, in every state of the drive and with the output conducting and
off. Behind a field-effect transistor that the output drives also those of its load whose power is stated: the
transistor, and a coil in series, count as a short there.

## Why it matters

A 24 V input takes a quarter of a watt in a resistor that looks like all the others. A chip resistor in a mains or bus
input breaks through long before it gets hot: an 0603 stands 75 V.

## How it is computed

P = I^2 R in watts at the worst corner, at most 50 % of the rated power (usual derating for the hot end, no source).
Alternating drive counts with half of each half wave's peak power, for half of the time, and where that is more than
is allowed with the mean square of 25 points of the period (x 1.002). With a capacitor behind a rectifier that is the
mean square of what charges it, which flows in short pulses, and of what leaves it; with one that drops the voltage half
the square of its largest peak. Levels with a rate in Hz, or of a PULSE card, count for their share of the period.
When an empty capacitor that drops the voltage is switched on at the crest, the resistors in its way take E = C V^2 / 2
joules once, several of them by their share of the first current: at most the stated `pulse_energy`, or else 0.1 s to
10 s of the rated power, an assumption that is told only where 0.1 s are not enough.

V = I R in volts, peak, at most the rated voltage. Ratings that nobody stated lie between 0.1 W, 75 V (an 0603 chip)
and 1 W, 350 V, an assumption. The margin is allowed / found and must be 1.00 or more.

Settings: receiver, conditions.

```toml
[lines."IN"]
on = ["15 V", "30 V"]
off = ["-3 V", "0.5 V"]
[elements."R*"]
voltage = "200 V"
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

Other short pulses, plugging in again at the opposite crest (four times the energy), and heat from neighbours. How long
a state lasts: each is taken to last.
"""

from __future__ import annotations

from collections.abc import Iterable

from isolint.checking.analysis import Analysis
from isolint.checking.claims import Claim, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.cures import tried, value_words
from isolint.checking.dead_output import shorting, tied
from isolint.checking.rule import Rule
from isolint.checking.stage_loads import stresses
from isolint.checking.verdict import decide
from isolint.interfaces.entities import Channel
from isolint.results import Evidence, Result
from isolint.units import rounded_up, show
from isolint.worstcase.figures import Figure
from isolint.worstcase.resistors import Stress, allowed, energy_rating, power_rating, voltage_rating
from isolint.worstcase.uncertain import WORST, Setting

LEAST = 1e-9

USUAL_WATTS = 3.0
"""More than this few resistors on a board are rated for."""


def judge(context: Context, channel: Channel) -> Iterable[Result]:
    """One result a resistor that fails or is open, else one pass for the channel.

    A resistor counts with one channel, the first by name.
    """
    mine = _own_resistors(context, channel)
    # A link in the place of a load is that fault, and no matter of its power.
    links = tied(context, channel)
    mine -= {links.element} if links is not None and links.element is not None else set()
    found = stresses(context, channel, WORST)
    mine |= _behind(context, channel, found)
    asked = {element: stress for element, stress in found.items() if element in mine}
    if not asked:
        yield context.channel_result(
            RULE, channel, "notApplicable", f"{channel.subject}: it has no resistors of its own"
        )
        return
    made = [_resistor(context, channel, stress) for stress in asked.values()]
    made += [_surge(context, channel, element) for element in _surged(context, channel, mine)]
    wrong = [result for result in made if result.kind != "pass"]
    if wrong:
        yield from wrong
    else:
        yield min(made, key=lambda result: result.margin.value if result.margin is not None else float("inf"))


def _around(channel: Channel) -> set[int]:
    return {*channel.drive.elements, *channel.load.elements}


def _behind(context: Context, channel: Channel, found: Iterable[int]) -> set[int]:
    """Those behind a transistor that no channel before this one drives; of a transistor without load that is said."""
    if shorting(context, channel) is not None:
        return set()
    first = context.kept(_first_at)
    further = set(found) - _around(channel)
    return {element for element in further if first.setdefault(element, channel.subject) == channel.subject}


def _first_at(_: Context) -> dict[int, str]:
    return {}


def _own_resistors(context: Context, channel: Channel) -> set[int]:
    """The resistors of a channel that belong to no other of an earlier name: cards may stand in any order."""
    neighbours = context.analysis.neighbours()
    return {
        element
        for element in (*channel.drive.elements, *channel.load.elements)
        if context.circuit.letter(element) == "R"
        and min(map(_name, neighbours.with_element(element))) == _name(channel)
    }


def _name(channel: Channel) -> tuple[int, str, str]:
    """What channels are ordered by: XU2 before XU10."""
    return len(channel.subject), channel.subject.casefold(), channel.subject


def _claims(context: Context, stress: Stress, setting: Setting) -> tuple[Claim, Claim]:
    """That a resistor takes the power, and the voltage."""
    path, corner = context.circuit.path(stress.element), stress.power.corner
    ratings = (power_rating(context.lookup, stress.element), voltage_rating(context.lookup, stress.element))
    terms = (*ratings, *stress.terms)
    amps, ohms, share = Figure("I", stress.amps, "A"), Figure("R", stress.ohms, "ohm"), Figure("share", stress.share)
    volts = Figure("V", stress.volts, "V") if stress.bounded else (amps * ohms).called("V", "V")
    power = volts**2.0 / ohms if stress.bounded else amps**2.0 * ohms
    power = power if stress.share == 1.0 else power * share
    most = allowed(setting.low(ratings[0]))
    words = stress.words
    if stress.kick_volts > volts.si:
        volts, words = Figure("V", stress.kick_volts, "V"), stress.kick
    return (
        at_most(
            power.called("P", "W", f"power in {path}, {stress.words}", at=corner),
            Figure("P_allowed", most, "W", f"half of the rated power of {path}", source=ratings[0].origin),
            terms,
            least=LEAST,
        ),
        at_most(
            volts.called("V", "V", f"voltage across {path}, {words}", at=corner),
            Figure("V_allowed", setting.low(ratings[1]), "V"),
            terms,
            least=LEAST,
        ),
    )


def _surged(context: Context, channel: Channel, mine: set[int]) -> list[int]:
    """The resistors whose pulse energy is stated, or that take more than a tenth of a second of their rated power."""
    found = []
    for element, surge in context.analysis.surges(channel).items():
        stated = context.facts.element(context.circuit.path(element)).pulse_energy is not None
        if element in mine and (stated or surge.joules > energy_rating(context.lookup, element).low):
            found.append(element)
    return found


def _surge(context: Context, channel: Channel, element: int) -> Result:
    """One pulse into an empty dropping capacitor, against what the resistor takes."""
    path, rating = context.circuit.path(element), energy_rating(context.lookup, element)

    def claim(setting: Setting, analysis: Analysis = context.analysis) -> Claim:
        surge = analysis.surges(channel, setting)[element]
        farads, volts = Figure("C", surge.farads, "F"), Figure("V_crest", surge.volts, "V")
        energy = farads * volts**2.0 * Figure("share / 2", surge.share / 2.0)
        return at_most(
            energy.called("E", "J", f"energy in {path} while {surge.capacitor} is charged", at=surge.corner),
            Figure("E_max", setting.low(rating), "J", f"pulse energy of {path}", source=rating.origin),
            (rating, *surge.terms),
        )

    verdict = decide(claim)
    told, surge = verdict.worst, context.analysis.surges(channel)[element]
    text = (
        f"{path} takes {told.found} when {surge.capacitor} is switched on at the crest ({told.found.corner}) "
        f"and stands {told.limit} in a pulse"
    )
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        role=f"{path} pulse",
        evidence=told.evidence(),
        remedy=f"{context.named(element)}: a resistor rated for pulses of {_up(told.found.si, 'J')} or more",
        chain=channel.drive.elements,
    )


def _resistor(context: Context, channel: Channel, stress: Stress) -> Result:
    element = stress.element

    def claim(setting: Setting) -> Claim:
        return tightest(_claims(context, stresses(context, channel, setting)[element], setting))

    verdict = decide(claim)
    power, volts = _claims(context, stress, WORST)
    path, found, larger = context.circuit.path(element), power.found, ""
    if power.margin.si <= volts.margin.si:
        takes = f"{found} with {stress.words} ({found.corner})"
        if stress.bounded:
            takes = f"at most {found} with all the voltage that there is across it"
        rated = show(power_rating(context.lookup, element).low, "W")
        text = f"{path} takes {takes}, half of {rated} is allowed"
        cure = f"a resistor of {_up(2.0 * found.si, 'W')} or more, or several that share it"
        if not volts.holds:
            cure = f"a resistor of {_up(2.0 * found.si, 'W')} or more, rated for {_up(volts.found.si, 'V')}"
        if 2.0 * found.si > USUAL_WATTS:
            larger = f", or a resistor of {_up(2.0 * found.si, 'W')}"
    else:
        words = stress.kick if stress.kick and volts.found.si <= stress.kick_volts else stress.words
        text = f"{path} stands {volts.found} with {words} ({found.corner}) and is rated for {volts.limit}"
        cure = f"a resistor rated for {_up(volts.found.si, 'V')} or more, or several in series"
        if not power.holds:
            cure = f"a resistor of {_up(2.0 * found.si, 'W')} or more, rated for {_up(volts.found.si, 'V')}"
    return context.judged(
        RULE,
        channel,
        verdict,
        text,
        element,
        role=path,
        evidence=_evidence(power, volts, verdict.worst),
        remedy=lambda: _cure(context, channel, element, f"{context.named(element)}: {cure}", larger),
        chain=channel.drive.elements if element in channel.drive.elements else channel.load.elements,
    )


def _cure(context: Context, channel: Channel, element: int, otherwise: str, larger: str) -> str:
    """A larger value where no usual resistor takes the power and one does; else `otherwise`."""
    if not larger:
        return otherwise

    if element not in _around(channel):
        return otherwise

    def claim(other: Analysis) -> Claim:
        return tightest(_claims(context, other.resistors(channel, WORST)[element], WORST))

    ohms = value_words(context, element, tried(context, element, claim, True), True)
    return f"{ohms}{larger}" if ohms else otherwise


def _evidence(power: Claim, volts: Claim, told: Claim) -> Iterable[Evidence]:
    yield power.found.evidence(power.bound)
    yield power.limit.evidence()
    yield volts.found.evidence(volts.bound)
    yield told.margin.evidence(symbol="allowed / found", worked=False)


def _up(value: float, unit: str) -> str:
    """What a resistor must be rated for: two digits, never less."""
    return show(rounded_up(value, 2), unit, 2)


RULE = Rule(
    slug="resistor-overloaded",
    group="drive",
    level="warning",
    page=__doc__,
    asked_of=("led",),
    facts=(
        "elements.*.power",
        "elements.*.voltage",
        "elements.*.tolerance",
        "elements.*.pulse_energy",
        "lines.*.on",
        "supplies.*.voltage",
    ),
    judge=judge,
    needs=("drive", "led-current"),
    room="a resistor rated for more",
)
