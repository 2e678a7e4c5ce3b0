"""An isolated supply whose output gives more current than it is rated for.

## What it looks at

Each isolated supply whose record states `output.current_max`, or from whose output something is taken that can be told:
a stated load, a resistor straight to its return, a part whose record states its supply current. That current is held
against the rating.

## Why it matters

A converter beyond its rating drops out of regulation, or limits its current and starts again and again. All that it
feeds then works below its supply range, at the time of the greatest load.

## How it is computed

I is the sum of the supply currents of all barrier parts with a supply pin on the output net (of each its record's
`supply.current`, unstated 0 to 10 mA, from memory), of V / R for each resistor from there straight to the return, with
the highest V and the lowest R, and of `supplies.NET.load`: what all the rest on that net takes at most. Where nobody
states the rest, resistors that lead elsewhere count with 0 to 2 V / R, twice the voltage because they may end on a
lower rail; anything else that hangs on the net makes it open, unless the known part alone is too much. Capacitors take
nothing. The margin is `output.current_max` / I, 1.00 is enough. Without a rating it is open, once for all converters of
a name, where something is taken that can be told, and not asked otherwise.

Settings: driver, conditions.

```toml
[supplies."VISO"]
voltage = "5 V"
tolerance = "2 %"
ground = "GNDB"
load = "150 mA"

[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
```

## Fails

```netlist
* 100 ohm and 150 mA of other load on a converter for 200 mA (demonstration)
* expect: converter-overloaded margin=0.99
XPS1 V24 GND VISO GNDB DEMO_IS1
R1 VISO GNDB 100
C1 V24 GND 1u
```

## Passes

```netlist
* The same with 120 ohm (demonstration)
XPS1 V24 GND VISO GNDB DEMO_IS1
R1 VISO GNDB 120
C1 V24 GND 1u
```

## Remedy

Fit a converter with a higher rating, or feed part of the load from another one.

## What it cannot see

Derating over temperature and input voltage, short circuit, ripple, inrush, and a load below the converter's least.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from isolint.checking import part_results
from isolint.checking.claims import Claim, at_most
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.checking.verdict import Verdict, decide
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Part
from isolint.parts import Output
from isolint.results import Result
from isolint.rows import Usual
from isolint.worstcase import fact_terms
from isolint.worstcase.figures import Figure, total
from isolint.worstcase.supply_pins import converter_output, drawn_by
from isolint.worstcase.uncertain import Lacking, Setting, Term


class _Takers(NamedTuple):
    """What takes current from an output net: parts with a supply pin, resistors to the return, resistors to anywhere
    else, and all the rest."""

    parts: tuple[Part, ...]
    resistors: tuple[int, ...]
    onward: tuple[int, ...]
    others: tuple[int, ...]


def survey(context: Context) -> Iterable[Result]:
    """One result an isolated supply that is rated, or from which something is taken that can be told."""
    for part in context.interfaces.recognition.parts.values():
        if part.kind.output.feeds == "outputs":
            yield from _judge(context, part)


def _judge(context: Context, part: Part) -> Iterator[Result]:
    ends = converter_output(part)
    nets = context.circuit.pins(part.element)
    rating = fact_terms.recorded(part, Output.current_max)
    if rating is None and not _gives(context, part, ends):
        return
    try:
        if ends is None:
            raise Lacking("it has more than one output, or none that its pins tell, and each has its own rating")
        if rating is None:
            record = part.record
            file = record.file if record is not None and record.file else context.settings_file
            missing = fact_terms.missing(file, Output.current_max, fact_terms.named(part))
            raise Lacking("what it may give is not stated", [missing])
        plus, minus = (nets[pin] for pin in ends)
        takers = _takers(context, part, plus, minus)
        verdict = decide(lambda setting: _claim(context, part, takers, plus, minus, setting))
        if verdict.kind != "fail" and takers.others and _load(context, plus) is None:
            raise _unknown_rest(context, takers, plus)
    except Lacking as reason:
        yield part_results.lacking(context, RULE, part, reason)
        return
    yield _told(context, part, takers, plus, verdict)


def _gives(context: Context, part: Part, ends: tuple[int, int] | None) -> bool:
    """Whether anything is taken from a converter of which a number is known."""
    nets = context.circuit.pins(part.element)
    if any(_load(context, nets[pin]) for pin, role in enumerate(part.roles) if role == "output"):
        return True
    if ends is None:
        return False
    plus, minus = (nets[pin] for pin in ends)
    takers = _takers(context, part, plus, minus)
    return bool(takers.resistors) or any(
        drawn_by(other).stated and drawn_by(other).high > 0.0 for other in takers.parts
    )


def _told(context: Context, part: Part, takers: _Takers, plus: int, verdict: Verdict) -> Result:
    told = verdict.worst
    gives, limit = told.beside
    text = f"{gives} are taken from its output {context.net(plus)}, it is rated for {limit}"
    return part_results.judged(
        context,
        RULE,
        part,
        verdict,
        text,
        evidence=told.evidence(),
        remedy=f"fit a converter for {gives} or more, or feed part of the load from another one",
        chain=(*(one.element for one in takers.parts), *takers.resistors),
    )


def _unknown_rest(context: Context, takers: _Takers, plus: int) -> Lacking:
    path, net = context.circuit.path(takers.others[0]), context.net(plus)
    more = f" and {len(takers.others) - 1} more" if len(takers.others) > 1 else ""
    fact = context.lookup.missing(SupplyFacts.load, net)
    return Lacking(f"nobody states what {path}{more} on {net} takes", [fact])


def _load(context: Context, net: int) -> Term | None:
    """The stated rest of the load on a net."""
    stated = context.facts.of(SupplyFacts.load, context.net(net))
    if stated is None:
        return None
    return fact_terms.known(SupplyFacts.load, context.net(net), stated.value, fact_terms.origin(stated))


def _takers(context: Context, part: Part, plus: int, minus: int) -> _Takers:
    circuit, recognised = context.circuit, context.interfaces.recognition.parts
    parts: dict[int, Part] = {}
    resistors: dict[int, None] = {}
    onward: dict[int, None] = {}
    others: dict[int, None] = {}
    for element, pin in circuit.elements_at(plus):
        other = recognised.get(element)
        letter = circuit.letter(element)
        if element == part.element or letter == "C":
            continue
        if other is not None and pin < len(other.roles) and other.roles[pin] == "supply":
            parts[element] = other
        elif letter == "R" and (context.lookup.ohms(element) or 0.0) > 0.0:
            to_return = set(circuit.pins(element)) == {plus, minus}
            (resistors if to_return else onward)[element] = None
        else:
            others[element] = None
    return _Takers(tuple(parts.values()), tuple(resistors), tuple(onward), tuple(others))


def _onward(context: Context, takers: _Takers, plus: int, volts: float) -> Term:
    """What resistors take that lead elsewhere: nothing up to twice the voltage, since it may end on a lower rail."""
    most = 0.0
    for element in takers.onward:
        ohms = (context.lookup.ohms(element) or 0.0) * (1.0 + context.lookup.tolerance(element).low)
        most += 2.0 * volts / ohms
    names = ", ".join(context.circuit.path(element) for element in takers.onward[:3])
    more = f" and {len(takers.onward) - 3} more" if len(takers.onward) > 3 else ""
    text = f"0 to 2 V / R through {names}{more}"
    return fact_terms.defaulted(SupplyFacts.load, context.net(plus), Usual(0.0, 0.0, most, 0.0, 0.0, text))


def _claim(context: Context, part: Part, takers: _Takers, plus: int, minus: int, setting: Setting) -> Claim:
    lookup = context.lookup
    terms: list[Term] = []
    taken: list[Figure] = []
    for other in takers.parts:
        term = drawn_by(other)
        terms.append(term)
        amps = setting.high(term)
        taken.append(Figure(f"I_{other.path}", amps, "A", f"supply current of {other.path}", source=term.origin))
    rest = _load(context, plus)
    if takers.resistors or (takers.onward and rest is None):
        rail = context.analysis.supplied(plus, minus, setting)
        terms += rail.terms
        volts = Figure("V", rail.volts.high, "V", "highest output voltage")
        for element in takers.resistors:
            spread = lookup.tolerance(element)
            terms.append(spread)
            path, ohms = context.circuit.path(element), lookup.ohms(element) or 0.0
            least = Figure(path, ohms * (1.0 + setting.low(spread)), "ohm", f"lowest value of {path}", end="min")
            taken.append((volts / least).called(f"I_{path}", "A", f"current of {path}"))
        if rest is None and takers.onward:
            rest = _onward(context, takers, plus, rail.volts.high.value)
    if rest is not None:
        terms.append(rest)
        taken.append(Figure("I_rest", setting.high(rest), "A", "load of the rest", source=rest.origin))
    sum_of = total(taken) if taken else Figure("", 0.0, "A")
    name = fact_terms.named(part)
    limit = Figure(
        "I_max", fact_terms.recorded(part, Output.current_max), "A", "rated output current", source=f"record {name}"
    )
    return at_most(sum_of.called("I", "A", "current taken from the output"), limit, terms)


RULE = Rule(
    slug="converter-overloaded",
    group="drive",
    level="error",
    page=__doc__,
    asked_of=("feeds",),
    facts=(
        "parts.*.output.current_max",
        "parts.*.supply.current",
        "supplies.*.load",
        "supplies.*.voltage",
        "supplies.*.tolerance",
        "elements.*.tolerance",
    ),
    survey=survey,
)
