"""What a switching output lies between: its two ends, the sources behind each, the thyristor that it fires, the load.

In: a context and a channel whose output opens and closes a way (`Output.switch`). Out: a `Switched` with the paths that
conduct while the switch is open, or `Lacking`. Loads and other switches conduct, capacitors do not, thyristors do from
gate to main terminal only. All of it is sums of resistances and differences of voltages, so that each can be redone by
hand.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.resistor_runs import ohms
from isolint.checking.switched_coils import coil_ohms, drawn_inductors
from isolint.checking.switched_walk import Path, Walk, main_nets, thyristor_record
from isolint.facts import ElementFacts, LoadFacts, SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.interfaces.pinsets import switch_pins
from isolint.parts import PartRecord
from isolint.rows import Usual, Value, most
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, stated, unique

OPPOSITE = 180.0
"""Degrees between two supplies that alternate against each other."""


class FiredThyristor(NamedTuple):
    """A triac or SCR by its record: nets of gate and of both main terminals, that at the gate first."""

    element: int
    record: PartRecord
    gate: int
    near: int
    far: int


class Switched(NamedTuple):
    """ends: nets of the output. ways: paths from each end to what holds a net. thyristor: the one that it fires.

    loads: nets of `[loads]` met. coils: elements with inductance on the way. unknown: elements that nobody explained.
    rectified: diodes lie on the way. reached: the way to each net from either end.
    """

    ends: tuple[int, int]
    ways: tuple[tuple[Path, ...], tuple[Path, ...]]
    thyristor: FiredThyristor | None
    loads: tuple[int, ...]
    coils: tuple[int, ...]
    unknown: tuple[int, ...]
    rectified: bool
    reached: tuple[Mapping[int, tuple[int, ...]], Mapping[int, tuple[int, ...]]]

    @property
    def elements(self) -> tuple[int, ...]:
        """Everything that it leads through."""
        return tuple(dict.fromkeys(e for side in self.ways for path in side for e in path.elements))


def switches(context: Context, channel: Channel) -> bool:
    """Whether the output of a channel opens and closes a way, so that what is asked of such outputs concerns it."""
    return bool(channel.part.kind.output.switch)


def switched(context: Context, channel: Channel) -> Switched:
    """The switch of a channel; `Lacking` where its ends are not known or nobody says what lies there."""
    found = looked_at(context, channel)
    undeclared = [element for element in found.unknown if len(context.circuit.pins(element)) >= 3]
    if undeclared and not (found.ways[0] and found.ways[1] and found.thyristor):
        path = context.circuit.path(undeclared[0])
        fact = context.lookup.missing(ElementFacts.part, path)
        raise Lacking(f"nobody says what {path} is, which its output leads to", [fact])
    return found


def looked_at(context: Context, channel: Channel) -> Switched:
    """As `switched`, whatever is unknown."""
    part = channel.part
    pins = switch_pins(part, channel.name)
    if len(pins) != 2:
        name = part.record.name if part.record is not None else part.path
        fact = context.lookup.missing(ElementFacts.part, part.path)
        raise Lacking(f"which two pins of {name} its output switches is not known", [fact])
    nets = context.circuit.pins(part.element)
    return between(context, channel, (nets[pins[0]], nets[pins[1]]))


def between(context: Context, channel: Channel, ends: tuple[int, int], without: int | None = None) -> Switched:
    """As `looked_at`, between two nets: also those of a contact, of which no channel is made.

    without: the card of the switch where it is not the coupler.
    """
    walks = [Walk(context, channel, end, ends, without) for end in ends]
    thyristor = _fired(context, walks)
    return Switched(
        ends,
        (walks[0].ways(), walks[1].ways()),
        thyristor,
        tuple(dict.fromkeys(net for walk in walks for net in walk.loads)),
        tuple(dict.fromkeys(e for walk in walks for e in walk.coils)),
        tuple(dict.fromkeys(e for walk in walks for e in walk.unknown)),
        any(walk.rectified for walk in walks),
        (walks[0].seen, walks[1].seen),
    )


def _fired(context: Context, walks: list[Walk]) -> FiredThyristor | None:
    """The thyristor whose gate one end reaches, over resistors only, and whose main terminal the other end does."""
    for walk, other in (walks, walks[::-1]):
        for element, net in walk.gates.items():
            record = thyristor_record(context, element)
            mains = None if record is None else main_nets(context, element, record)
            if record is not None and mains is not None and (mains[1] in other.seen or mains[1] == other.start):
                return FiredThyristor(element, record, net, *mains)
    return None


# -- voltages -----------------------------------------------------------------------------------------------------


class VoltageBetween(NamedTuple):
    """A voltage between two nets that are held: its least and largest peak, and what it rests on."""

    low: float
    high: float
    alternating: bool
    terms: tuple[Term, ...]
    names: tuple[str, ...]


def across(context: Context, found: Switched, setting: Setting) -> VoltageBetween | None:
    """The largest peak between the ends while the switch is open; None where nothing feeds it."""
    each = [
        _between(context, one, other, setting)
        for one in found.ways[0]
        for other in found.ways[1]
        if one.name != other.name
    ]
    real = [one for one in each if one.high > 0.0 or one.alternating]
    if not real:
        return None
    largest = max(real, key=lambda one: one.high)
    return largest._replace(terms=unique(term for one in real for term in one.terms))


def powered(context: Context, found: Switched) -> VoltageBetween:
    """As `across` at its worst; where nothing feeds the switch nothing else is to be said of it."""
    volts = across(context, found, WORST)
    if volts is None:
        raise Lacking("nothing feeds what it switches", blocked_by="load")
    return volts


def loose_ends(context: Context, found: Switched) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Behind each end the nets at which nothing else of this netlist lies, so that something off it may feed them."""
    own, circuit = set(found.ends), context.circuit

    def ends(reached: Mapping[int, tuple[int, ...]]) -> tuple[int, ...]:
        return tuple(
            net
            for net in reached
            if context.lookup.walker.held(net) is None
            and (net not in own or len(list(circuit.elements_at(net))) > 1)
            and len([e for e, _ in circuit.elements_at(net) if circuit.letter(e) != "C"]) < 2
        )

    first, second = found.reached
    return ends(first), ends(second)


def _between(context: Context, one: Path, other: Path, setting: Setting) -> VoltageBetween:
    first, second = path_voltage(context, one), path_voltage(context, other)
    terms = tuple(term for term, _ in (first, second) if not (term.is_point and term.low == 0.0))
    names = tuple(path.name for path, (term, _) in ((one, first), (other, second)) if term in terms)
    (a, a_moves), (b, b_moves) = first, second
    low, high = setting.low, setting.high
    if a_moves and b_moves:
        phase = context.lookup.term(SupplyFacts.phase, other.name) if _has_phase(context, one, other) else None
        if phase is None:
            apart = together = _phase(context, one) - _phase(context, other)
        else:
            # Against each other they stress most, and with each other they feed least.
            apart, terms = setting.high(phase), (*terms, phase)
            together = OPPOSITE - apart
        return VoltageBetween(_vector(low(a), low(b), together), _vector(high(a), high(b), apart), True, terms, names)
    if a_moves or b_moves:
        return VoltageBetween(
            max(low(a), low(b)), high(a) + abs(high(b)) if a_moves else high(b) + abs(high(a)), True, terms, names
        )
    ends = [abs(x - y) for x in setting.range(a) for y in setting.range(b)]
    return VoltageBetween(min(ends), max(ends), False, terms, names)


def _has_phase(context: Context, one: Path, other: Path) -> bool:
    """Whether the phase between two AC supplies has to be assumed."""
    facts = [context.facts.supply(path.name) for path in (one, other)]
    return all(fact is None or fact.phase is None for fact in facts)


def _phase(context: Context, path: Path) -> float:
    fact = context.facts.supply(path.name)
    return 0.0 if fact is None or fact.phase is None else float(fact.phase.value.split()[0])


def _vector(one: float, other: float, degrees: float) -> float:
    return math.sqrt(max(one * one + other * other - 2.0 * one * other * math.cos(math.radians(degrees)), 0.0))


def alternates(context: Context, path: Path) -> bool:
    """Whether a way ends at a stated AC supply or line; its net need not be on any card."""
    if path.net >= 0:
        return context.lookup.walker.held(path.net) is not None and context.lookup.is_alternating(path.net)
    fact = context.facts.supply(path.name)
    return fact is not None and fact.alternates


def path_voltage(context: Context, path: Path) -> tuple[Term, bool]:
    """The voltage of a net that is held, and whether it alternates: then its peak."""
    lookup, net = context.lookup, path.net
    reference = stated(f"reference {path.name}", path.name, "V", 0.0, 0.0, 0.0, "reference")
    if net < 0:
        if context.facts.supply(path.name) is None:
            return reference, False
        if alternates(context, path):
            return lookup.peak_of(path.name), True
        return lookup.supply_named(path.name), False
    held = lookup.walker.held(net)
    if held is None or held.kind == "ground":
        return reference, False
    if lookup.is_alternating(net):
        return lookup.peak(net), True
    if held.element >= 0:
        stimulus = context.circuit.stimulus(held.element)
        if stimulus is not None and stimulus[0] == "SIN" and len(stimulus[1]) > 1:
            name, peak = context.circuit.path(held.element), abs(stimulus[1][1])
            return stated(f"source {name}", f"peak of {name}", "V", peak, peak, peak, f"source {name}"), True
    if held.kind == "line":
        return lookup.line(net, True), False
    return lookup.supply(net, held), False


# -- resistances --------------------------------------------------------------------------------------------------


def gate_path(found: Switched) -> tuple[int, ...]:
    """What lies in series with the switch between the sources, over the gate that it fires: the shorter way each."""
    ways = (_past(found, 0), _past(found, 1))
    return tuple(dict.fromkeys(e for side in ways for e in min((way.elements for way in side), key=len, default=())))


def _past(found: Switched, side: int) -> tuple[Path, ...]:
    """The ways from an end but those over the other end: what lies across a switch is none of its load."""
    ways, other = found.ways[side], found.ends[1 - side]
    across_it = found.reached[side].get(other)
    if across_it is None:
        return ways
    return tuple(way for way in ways if way.elements[: len(across_it)] != across_it) or ways


# -- values -------------------------------------------------------------------------------------------------------


def of_thyristor(context: Context, thyristor: FiredThyristor, row: Value[float], usual: Usual | None = None) -> Term:
    """A value of a thyristor as its record states it, else as usual: by default that of its row."""
    name, path = thyristor.record.name, context.circuit.path(thyristor.element)
    found = getattr(thyristor.record.thyristor, row.attribute)
    if found is not None:
        return fact_terms.known(row, name, found, f"record {name}", title=row.title.format(path))
    return fact_terms.defaulted(row, name, usual or row.counts, title=row.title.format(path))


def colder(context: Context, thyristor: FiredThyristor, row: Value[float], what: str) -> Term:
    """How far the current with which a thyristor fires, or latches, rises from 25 degC to the coldest ambient."""
    rise = 1.0 + 0.015 * max(25.0 - context.lookup.ambient().low, 0.0)
    return fact_terms.defaulted(
        row,
        thyristor.record.name,
        most(1.0, rise, f"rise of the {what} in the cold (from memory)"),
        title=f"rise of the {what} in the cold",
        unit="1",
    )


def stated_load(context: Context, found: Switched) -> tuple[str, LoadFacts] | None:
    """The load that `[loads]` states at one of the nets, with its name."""
    for net in found.loads:
        fact = context.facts.load(context.net(net))
        if fact is not None:
            return context.net(net), fact
    return None


def load_end(context: Context, found: Switched) -> str:
    """The net of a load that nobody stated: the end of the switch, or main terminal, that no supply holds."""
    thyristor = found.thyristor
    nets = found.ends if thyristor is None else (thyristor.near, thyristor.far)
    free = [net for net in nets if context.lookup.walker.held(net) is None]
    return context.net((*free, *found.ends)[0])


def load_kind(context: Context, found: Switched) -> str | None:
    """The kind of load: as stated, else as the cards tell; None where they do not."""
    load = stated_load(context, found)
    if load is not None and load[1].kind is not None:
        return load[1].kind.value
    if found.coils:
        return "inductive"
    return None if load is not None or found.unknown else "resistive"


def load_ohms(context: Context, found: Switched, setting: Setting, largest: bool) -> tuple[float, tuple[Term, ...]]:
    """The resistors in the way of the load's current: of a thyristor those beside its gate path."""
    return ohms(context, load_path(context, found), setting, largest)


def load_path(context: Context, found: Switched) -> tuple[int, ...]:
    """The elements that carry the load's current."""
    if found.thyristor is None:
        return gate_path(found)
    thyristor, elements = found.thyristor, []
    for main in (thyristor.near, thyristor.far):
        for side in found.ways:
            for path in side:
                if path.net in (thyristor.near, thyristor.far):
                    continue
                elements += _behind(context, path, main, found)
    return tuple(dict.fromkeys(elements))


def _behind(context: Context, path: Path, main: int, found: Switched) -> list[int]:
    """The part of a path beyond a main terminal."""
    for at, element in enumerate(path.elements):
        if main in context.circuit.pins(element) and element != (found.thyristor and found.thyristor.element):
            before = {net for other in path.elements[:at] for net in context.circuit.pins(other)}
            if main in before or main in found.ends:
                return list(path.elements[at:])
    return []


def current(context: Context, found: Switched, setting: Setting) -> tuple[float, float, tuple[Term, ...]]:
    """Least and largest current of the load, rms on AC, with what they rest on."""
    load = stated_load(context, found)
    if load is not None and load[1].current is not None:
        term = context.lookup.term(LoadFacts.current, load[0])
        return term.low, term.high, (term,)
    volts = across(context, found, setting)
    lagging = impedance(context, found, setting) if load is None else None
    if volts is not None and volts.alternating and lagging is not None:
        effective = 0.5**0.5
        return (
            volts.low * effective / lagging.high,
            volts.high * effective / lagging.low,
            (*volts.terms, *lagging.terms),
        )
    most, terms = load_ohms(context, found, setting, True)
    least, _ = load_ohms(context, found, setting, False)
    coils = None if volts is None or volts.alternating else coil_ohms(context, found.coils, load_path(context, found))
    if coils is not None:
        most, least = most + coils.high, least + coils.low
    if load is not None or volts is None or (found.coils and coils is None) or least <= 0.0:
        at = load[0] if load is not None else load_end(context, found)
        raise Lacking("the current of its load is not known", [context.lookup.missing(LoadFacts.current, at)])
    root = 2.0**0.5 if volts.alternating else 1.0
    return volts.low / root / most, volts.high / root / least, (*volts.terms, *terms)


class Impedance(NamedTuple):
    """A load drawn as resistors and inductors in series: both ends in ohms, those of its power factor, and nominal."""

    low: float
    high: float
    factor_low: float
    factor: float
    factor_high: float
    terms: tuple[Term, ...]


def impedance(context: Context, found: Switched, setting: Setting) -> Impedance | None:
    """The impedance of such a load at the frequency of its supply; None where it is another or that is not stated."""
    way, hertz = load_path(context, found), frequency(context, found)
    inductors = drawn_inductors(context, found.coils, way)
    if inductors is None or hertz is None:
        return None
    spreads = {element: context.lookup.tolerance(element) for element in inductors}
    ranges = {element: setting.range(spread) for element, spread in spreads.items()}
    turns = 2.0 * math.pi * hertz
    reactances = [
        turns * sum(henries * (1.0 + ranges[element][end]) for element, henries in inductors.items()) for end in (0, 1)
    ]
    (least, terms), (largest, _) = (load_ohms(context, found, setting, end) for end in (False, True))
    nominal, middle = sum(context.lookup.ohms(e) or 0.0 for e in way), turns * sum(inductors.values())
    return Impedance(
        math.hypot(least, reactances[0]),
        math.hypot(largest, reactances[1]),
        least / math.hypot(least, reactances[1]),
        nominal / math.hypot(nominal, middle),
        largest / math.hypot(largest, reactances[0]),
        (*terms, *spreads.values()),
    )


def frequency(context: Context, found: Switched) -> float | None:
    """The frequency of the supply behind a switch, hertz."""
    for side in found.ways:
        for path in side:
            fact = context.facts.supply(path.name)
            if fact is not None and fact.frequency is not None:
                return fact.frequency.value
    return None
