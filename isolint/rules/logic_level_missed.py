"""A logic input of an isolator or driver that gets no valid level, or more voltage than it stands.

## What it looks at

Every input and enable pin of barrier parts with supplies of their own: its lowest and highest level over the states of
what drives it, against the levels that it needs and the voltage that it stands.

## Why it matters

3.3 V logic at an input that needs 70 % of 5 V works on the bench and fails cold. A 24 V line at a 5 V input destroys
it.

## How it is computed

The level is solved from what drives the net, with the input's current (`input.current`, unstated 0 to 10 uA, from
memory) through what lies in series. High: the lowest high level over `high_min`, or `high_ratio` times the largest
supply. Where all that drives the input has the input's own supply, through resistors and coils alone, both rise
together, and the lowest level counts against the smallest supply. Low: `low_max`, or `low_ratio` times the smallest
supply, over the highest low level. Ratios unstated 0.7 and 0.3, at the kindest 0.5 (common practice, no source). The
highest voltage must stay within `voltage_max`, unstated 0.3 V above the smallest supply to 5.5 V (from memory). An
input that is tied must have one of both levels. The margin is the smallest of the three.

Settings: driver, receiver, barrier.

## Fails

```netlist
* A divider leaves too little of the high level (demonstration)
* expect: logic-level-missed
XU1 V5 IN GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
R1 DRIVE IN 15k
R2 IN GND 10k
```

## Passes

```netlist
* 1.5 kohm in series leave enough (demonstration)
XU1 V5 IN GND GNDB OUT VB DEMO_DI4
C1 V5 GND 100n
C2 VB GNDB 100n
R1 DRIVE IN 1.5k
R2 IN GND 10k
```

## Remedy

A supply of the input side as high as that of the logic, an input with fixed levels, a divider for a line.

## What it cannot see

Slow edges, and what the driver does while it starts. That a supply is the same at both ends of the net is not made use
of where a diode or a transistor lies between.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_least, at_most, tightest
from isolint.checking.context import Context
from isolint.checking.logic_pins import InputLevel, LogicPin, driven_from, held_outside, levels, logic_pins
from isolint.checking.rule import Rule
from isolint.checking.verdict import decide
from isolint.parts import Input
from isolint.results import Result
from isolint.rows import Usual
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure
from isolint.worstcase.rails import Rail
from isolint.worstcase.uncertain import Lacking, Setting, Term

_ABOVE, _TOLERANT = 0.3, 5.5
_CLOCKS = ("clk", "clock")
_DIVIDES = frozenset("RLC")
_HIGH, _TOP = "what counts as high", "highest voltage at the input"


def survey(context: Context) -> Iterable[Result]:
    """One result a logic input that something outside its part holds."""
    for pin in logic_pins(context):
        if not _is_analog(pin) and held_outside(context, pin).kind != "floating":
            yield from _judge(context, pin)


def _is_analog(pin: LogicPin) -> bool:
    """Whether an input takes a voltage over a range: of an amplifier all but a clock and what enables it."""
    is_clock = any(word in pin.name.casefold() for word in _CLOCKS)
    return "analog" in pin.part.kind.owns and pin.part.roles[pin.pin] == "input" and not is_clock


def _judge(context: Context, pin: LogicPin) -> Iterator[Result]:
    try:
        verdict = decide(lambda setting: _claim(context, pin, setting))
    except Lacking as reason:
        yield part_results.lacking(context, RULE, pin.part, reason, pin.name)
        return
    told = verdict.worst
    gets, limit = told.beside
    corner = f" ({told.found.corner})" if told.found.corner else ""
    yield part_results.judged(
        context,
        RULE,
        pin.part,
        verdict,
        f"input {pin.name} ({context.net(pin.net)}) gets {gets}{corner}: {told.limit.name} is {limit}",
        evidence=told.evidence(),
        remedy=_cure(context, pin, told),
        chain=pin.around.elements,
        role=pin.name,
    )


def _cure(context: Context, pin: LogicPin, told: Claim) -> str:
    own = "drive it from logic of its own supply"
    if told.limit.name == _HIGH:
        return f"{own}, or through a level shifter"
    if told.found.name != _TOP:
        return own
    high = levels(context, pin, Setting())[1].volts
    need, _, stands = _needs(context, pin, Setting())
    # A divider lowers the lowest high level as much as the highest.
    divides = high.low.value * stands[0].si >= need[0].si * high.high.value
    return f"{own}, or divide the voltage" if divides else own


def _claim(context: Context, pin: LogicPin, setting: Setting) -> Claim:
    low, high = levels(context, pin, setting)
    need_high, need_low, most = _needs(context, pin, setting)
    top = Figure("V_max", high.volts.high, "V", _TOP)
    stands = at_most(top, most[0], (*high.terms, *most[1]), least=1e-3)
    is_high, is_low = _high(high, need_high), _low(low, need_low)
    if low.words == high.words:
        tied = max((is_high, is_low), key=lambda claim: claim.margin.si)
        return tightest([tied, stands])
    return tightest([is_high, is_low, stands])


def _high(level: InputLevel, need: tuple[Figure, tuple[Term, ...]]) -> Claim:
    volts = Figure("V_H", level.volts.low, "V", "lowest high level at the input", end="min")
    return at_least(volts, need[0], (*level.terms, *need[1]))


def _low(level: InputLevel, need: tuple[Figure, tuple[Term, ...]]) -> Claim:
    volts = Figure("V_L", level.volts.high, "V", "highest low level at the input")
    return at_most(volts, need[0], (*level.terms, *need[1]), least=1e-3)


def _needs(
    context: Context, pin: LogicPin, setting: Setting
) -> tuple[tuple[Figure, tuple[Term, ...]], tuple[Figure, tuple[Term, ...]], tuple[Figure, tuple[Term, ...]]]:
    """The level that is high, the one that is low, and the voltage that the input stands, each with its terms."""
    part = pin.part
    source = f"record {fact_terms.named(part)}"
    found: list[tuple[Figure, tuple[Term, ...]]] = []
    for row, share, text in (
        (Input.high_min, Input.high_ratio, _HIGH),
        (Input.low_max, Input.low_ratio, "what counts as low"),
    ):
        stated = fact_terms.recorded(part, row)
        if stated is not None:
            found.append((Figure("V_IH" if row is Input.high_min else "V_IL", stated, "V", text, source=source), ()))
            continue
        rail = _rail(context, pin, setting)
        term = fact_terms.of_record(part, share)
        is_high = row is Input.high_min
        largest = is_high and not _rises(context, pin)
        k = Figure("k", setting.high(term) if is_high else setting.low(term), name=term.name, source=term.origin)
        volts = Figure("V_DD", rail.volts.high if largest else rail.volts.low, "V", "supply of the input")
        figure = (k * volts).called("V_IH" if is_high else "V_IL", "V", text)
        found.append((figure, (term, *rail.terms)))
    stated = fact_terms.recorded(part, Input.voltage_max)
    if stated is not None:
        return found[0], found[1], (Figure("V_I max", stated, "V", "what the input stands", source=source), ())
    rail = _rail(context, pin, setting)
    # What comes from the input's own supply rises with it.
    own = rail.volts.high if _is_own(context, pin) else rail.volts.low
    low = own.value + _ABOVE
    text = "default 0.3 V above the supply to 5.5 V (from memory)"
    usual = Usual(low, low, max(low, _TOLERANT), max(low, _TOLERANT), max(low, _TOLERANT), text)
    name = fact_terms.named(part)
    term = fact_terms.defaulted(Input.voltage_max, name, usual, title=Input.voltage_max.title.format(part.path))
    figure = Figure("V_I max", setting.low(term), "V", "what the input stands", source=term.origin)
    return found[0], found[1], (figure, (term, *rail.terms))


def _is_own(context: Context, pin: LogicPin) -> bool:
    """Whether all that drives an input has the input's own supply."""
    return driven_from(context, pin) == {context.net(pin.supply).casefold()}


def _rises(context: Context, pin: LogicPin) -> bool:
    """Whether the lowest high level, over the supply that the input has too, is least at the smallest supply.

    An output stays below its supply by no more at a higher one, and resistors only divide. A diode may hold the level
    while the supply rises.
    """
    plain = all(context.circuit.letter(element) in _DIVIDES for element in pin.around.elements)
    return plain and _is_own(context, pin)


def _rail(context: Context, pin: LogicPin, setting: Setting) -> Rail:
    if pin.supply < 0:
        raise Lacking(f"which supply input {pin.name} of {pin.part.path} has is not known")
    return context.analysis.supplied(pin.supply, pin.ground, setting)


RULE = Rule(
    slug="logic-level-missed",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("voltage-input", "logic"),
    facts=(
        "environment.ambient",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "supplies.*.ground",
        "elements.*.tolerance",
        "outputs.*.supply",
        "outputs.*.high",
        "lines.*.on",
        "parts.*.input.high_ratio",
        "parts.*.input.low_ratio",
        "parts.*.input.voltage_max",
        "parts.*.input.current",
    ),
    survey=survey,
)
