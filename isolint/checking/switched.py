"""What a switching output lies between: its two ends, the sources behind each, the thyristor that it fires, the load.

In: a context and a channel whose output opens and closes a way (`Output.switch`). Out: a `Switched` with the paths that
conduct while the switch is open, or `Lacking`. Loads and other switches conduct, capacitors do not, thyristors do from
gate to main terminal only. All of it is sums of resistances and differences of voltages, so that each can be redone by
hand.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from isolint import types
from isolint.checking.context import Context
from isolint.checking.resistor_runs import ohms
from isolint.checking.switched_coils import coil_ohms
from isolint.checking.switches_beside import closed_ways
from isolint.facts import ElementFacts, LoadFacts, SupplyFacts
from isolint.interfaces.entities import Channel
from isolint.interfaces.pinsets import switch_pins
from isolint.parts import PartRecord
from isolint.rows import Usual, Value, most
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import WORST, Lacking, Setting, Term, stated, unique

MOST_NETS = 400
"""A walk that meets more nets than any load has is given up."""

OPPOSITE = 180.0
"""Degrees between two supplies that alternate against each other."""

_STEP = 1e-6

_DIODE = 1e9
"""More ohms than any resistor of a load has."""


class Path(NamedTuple):
    """A conducting way from an end of a switch: the net where it stops and what it leads through.

    name: that of the net, which is -1 where no card of this netlist is on it.
    """

    net: int
    elements: tuple[int, ...]
    name: str


class Thyristor(NamedTuple):
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
    thyristor: Thyristor | None
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


def between(context: Context, channel: Channel, ends: tuple[int, int]) -> Switched:
    """As `looked_at`, between two nets: also those of a contact, of which no channel is made."""
    walks = [_Walk(context, channel, end, ends) for end in ends]
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


def thyristor_record(context: Context, element: int) -> PartRecord | None:
    """The record of a triac or SCR, None for any other element."""
    record = context.record_of(element)
    if record is None or "thyristor" not in types.of(record.type).owns:
        return None
    return record if len(record.pins) == len(context.circuit.pins(element)) else None


def _terminals(context: Context, element: int, record: PartRecord) -> dict[str, list[int]]:
    kind = types.of(record.type)
    found: dict[str, list[int]] = {}
    for pin, net in zip(record.pins, context.circuit.pins(element), strict=True):
        found.setdefault("gate" if kind.pin(pin).role == "gate" else "main", []).append(net)
    return found


def _mains(context: Context, element: int, record: PartRecord) -> tuple[int, int] | None:
    """The net of the main terminal to which the gate conducts, and the other: MT1 or the cathode first."""
    kind = types.of(record.type)
    near = far = -1
    for pin, net in zip(record.pins, context.circuit.pins(element), strict=True):
        found = kind.pin(pin)
        if found.role == "gate":
            continue
        if found.role == "cathode" or found.number == "1":
            near = net
        else:
            far = net
    return (near, far) if near >= 0 and far >= 0 else None


def _fired(context: Context, walks: list[_Walk]) -> Thyristor | None:
    """The thyristor whose gate one end reaches, over resistors only, and whose main terminal the other end does."""
    for walk, other in (walks, walks[::-1]):
        for element, net in walk.gates.items():
            record = thyristor_record(context, element)
            mains = None if record is None else _mains(context, element, record)
            if record is not None and mains is not None and (mains[1] in other.seen or mains[1] == other.start):
                return Thyristor(element, record, net, *mains)
    return None


class _Walk:
    """What conducts from one end of an open switch."""

    def __init__(self, context: Context, channel: Channel, start: int, ends: tuple[int, int]) -> None:
        self.context, self.start, self.channel, self.ends = context, start, channel, ends
        self.own = channel.part.element
        self.seen: dict[int, tuple[int, ...]] = {}
        self.held: dict[int, tuple[int, ...]] = {}
        self.loads: list[int] = []
        self.coils: list[int] = []
        self.unknown: list[int] = []
        self.gates: dict[int, int] = {}
        self.beyond: list[Path] = []
        self.rectified = False
        waiting: list[tuple[float, int, tuple[int, ...]]] = [(0.0, start, ())]
        while waiting and len(self.seen) < MOST_NETS:
            cost, net, path = heapq.heappop(waiting)
            if net in self.seen:
                continue
            self.seen[net] = path
            if context.lookup.walker.held(net) is not None:
                self.held[net] = path
                continue
            for element, far in self._ways_from(net, path):
                heapq.heappush(waiting, (cost + self._cost(element), far, path if element < 0 else (*path, element)))

    def _cost(self, element: int) -> float:
        """Ohms, and a little for each step: of two ways the one that carries the current counts.

        A diode counts only where nothing else leads on: one beside a load takes its current when the switch opens.
        """
        if element >= 0 and self.context.circuit.letter(element) == "D":
            return _DIODE
        resistor = element >= 0 and self.context.circuit.letter(element) == "R"
        return _STEP + ((self.context.lookup.ohms(element) or 0.0) if resistor else 0.0)

    def _clamps(self, element: int) -> bool:
        """Whether it conducts in surges only, as its stated `clamp_voltage` says."""
        facts, circuit = self.context.facts, self.context.circuit
        return circuit.letter(element) not in "DV" and facts.element(circuit.path(element)).clamp_voltage is not None

    def ways(self) -> tuple[Path, ...]:
        """The paths to what holds a net."""
        own = [Path(net, path, self.context.net(net)) for net, path in self.held.items()]
        return (*own, *self.beyond)

    def _ways_from(self, net: int, path: tuple[int, ...]) -> Iterator[tuple[int, int]]:
        circuit, recognition = self.context.circuit, self.context.interfaces.recognition
        load = self.context.facts.load(circuit.net_name(net))
        if load is not None:
            self.loads.append(net)
            other = None if load.return_ is None else circuit.find_net(load.return_.value)
            if other is not None:
                yield -1, other
            elif load.return_ is not None:
                self.beyond.append(Path(-1, path, load.return_.value))
        for element, pin in circuit.elements_at(net):
            if element in self.context.lookup.walker.ignored or self._clamps(element):
                continue
            yield from closed_ways(self.context, self.channel, element, pin)
            if element == self.own and not self._is_other_pole(element, pin):
                continue
            letter, pins = circuit.letter(element), circuit.pins(element)
            record = thyristor_record(self.context, element)
            if record is not None:
                mains = _mains(self.context, element, record)
                gate = _terminals(self.context, element, record).get("gate", [-1])[0]
                if net == gate:
                    self.gates[element] = net
                    if mains is not None:
                        yield element, mains[0]
                continue
            part = recognition.parts.get(element)
            if part is not None:
                group = next((group for group in part.groups if pin in group), ())
                roles = {part.roles[other] for other in group}
                if roles <= {"coil", "winding"}:
                    self.coils.append(element)
                if roles <= {"coil", "winding", "anode", "cathode", "contact"}:
                    yield from ((element, pins[other]) for other in group if other != pin)
                continue
            if element in recognition.unknown or element in recognition.ordinary or letter in "XU":
                self.unknown.append(element)
                if len(pins) == 2:
                    yield element, pins[1 - pin]
                continue
            if letter in "QMJ":
                yield from (
                    (element, pins[other])
                    for other in range(3)
                    if other != pin and (letter == "Q" or {pin, other} == {0, 2})
                )
                continue
            if letter in "RLDVS" and len(pins) >= 2 and pin < 2:
                if letter == "L":
                    self.coils.append(element)
                if letter == "D":
                    self.rectified = True
                yield element, pins[1 - pin]

    def _is_other_pole(self, element: int, pin: int) -> bool:
        """Whether a pin is that of a contact or coil of the same relay, and not of the contact that is looked at."""
        part = self.context.interfaces.recognition.parts.get(element)
        if part is None or "contact" not in part.kind.owns:
            return False
        group = next((group for group in part.groups if pin in group), ())
        return set(self.ends).isdisjoint(self.context.circuit.pins(element)[other] for other in group)


# -- voltages -----------------------------------------------------------------------------------------------------


class Between(NamedTuple):
    """A voltage between two nets that are held: its least and largest peak, and what it rests on."""

    low: float
    high: float
    alternating: bool
    terms: tuple[Term, ...]
    names: tuple[str, ...]


def across(context: Context, found: Switched, setting: Setting) -> Between | None:
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


def powered(context: Context, found: Switched) -> Between:
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


def _between(context: Context, one: Path, other: Path, setting: Setting) -> Between:
    first, second = _voltage(context, one), _voltage(context, other)
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
        return Between(_vector(low(a), low(b), together), _vector(high(a), high(b), apart), True, terms, names)
    if a_moves or b_moves:
        return Between(
            max(low(a), low(b)), high(a) + abs(high(b)) if a_moves else high(b) + abs(high(a)), True, terms, names
        )
    ends = [abs(x - y) for x in setting.range(a) for y in setting.range(b)]
    return Between(min(ends), max(ends), False, terms, names)


def _has_phase(context: Context, one: Path, other: Path) -> bool:
    """Whether the phase between two AC supplies has to be assumed."""
    facts = [context.facts.supply(path.name) for path in (one, other)]
    return all(fact is None or fact.phase is None for fact in facts)


def _phase(context: Context, path: Path) -> float:
    fact = context.facts.supply(path.name)
    return 0.0 if fact is None or fact.phase is None else float(fact.phase.value.split()[0])


def _vector(one: float, other: float, degrees: float) -> float:
    import math

    return math.sqrt(max(one * one + other * other - 2.0 * one * other * math.cos(math.radians(degrees)), 0.0))


def alternates(context: Context, path: Path) -> bool:
    """Whether a way ends at a stated AC supply or line; its net need not be on any card."""
    if path.net >= 0:
        return context.lookup.walker.held(path.net) is not None and context.lookup.is_alternating(path.net)
    fact = context.facts.supply(path.name)
    return fact is not None and fact.kind is not None and fact.kind.value == "ac"


def _voltage(context: Context, path: Path) -> tuple[Term, bool]:
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


def of_thyristor(context: Context, thyristor: Thyristor, row: Value[float], usual: Usual | None = None) -> Term:
    """A value of a thyristor as its record states it, else as usual: by default that of its row."""
    name, path = thyristor.record.name, context.circuit.path(thyristor.element)
    found = getattr(thyristor.record.thyristor, row.attribute)
    if found is not None:
        return fact_terms.known(row, name, found, f"record {name}", title=row.title.format(path))
    return fact_terms.defaulted(row, name, usual or row.counts, title=row.title.format(path))


def colder(context: Context, thyristor: Thyristor, row: Value[float], what: str) -> Term:
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
    """The net under which a load that nobody stated would be: the end of the switch that no supply holds."""
    free = [net for net in found.ends if context.lookup.walker.held(net) is None]
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
