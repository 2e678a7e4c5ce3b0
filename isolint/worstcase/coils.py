"""Coils whose current something interrupts: relay coils, and inductors that a coupler's output switches, itself or by a
transistor or switch. What nothing of a coupler reaches, a converter's choke say, is nobody's business here.

In: a circuit with its recognised parts. Out: `FoundCoil`s with what interrupts them and which way their current flows.
Whether anything takes that current afterwards is the business of `clamps`. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from isolint.circuit import Circuit
from isolint.interfaces.entities import Interfaces, Part
from isolint.results import MissingFact
from isolint.rows import Row
from isolint.worstcase import fact_terms
from isolint.worstcase.devices import Bipolar, Mos, from_model
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import COIL_TEMPERATURE, COPPER
from isolint.worstcase.uncertain import Lacking

MOST_STEPS = 24
FILTER_FARADS = 10e-9
_OUTPUT_ROLES = frozenset({"collector", "emitter", "output", "contact"})
_SWITCHED = _OUTPUT_ROLES | {"base"}
_CARRYING = frozenset("RDQMJSWLV")
_PULLING = frozenset({"collector", "output"})


class Interrupter(NamedTuple):
    """What opens a coil's circuit.

    element and pin: of the transistor, switch or part. net: where it meets the coil's circuit. flow: +1 where current
    flows from that net into it, -1 where it flows out, 0 where both may be. far: net on its other side, -1 where that
    is not told.
    """

    element: int
    pin: int
    net: int
    flow: int
    far: int


class FoundCoil(NamedTuple):
    """A coil between two nets.

    element: the part or inductor. name: "" or "coil 2" where a part has several. type: of the part, "" for an inductor.
    plus and minus: its ends so that in the on state current flows from plus to minus through it, as far as `directed`
    says. ohms, henries: None where unknown. drivers: pins of parts and stated outputs that it hangs on beside them, as
    (net, element or -1). clamp_volts: at which the clamp inside conducts, None where no record says it. record: file
    and name of the part's record. drawn: the resistor that stands for its resistance, else -1. tolerance, drift, at:
    of the resistance, at least; 1/K, from the reference temperature in degrees Celsius.
    """

    element: int
    path: str
    name: str
    type: str
    plus: int
    minus: int
    directed: bool
    ohms: float | None
    henries: float | None
    internal_clamp: bool
    interrupters: tuple[Interrupter, ...]
    drivers: tuple[tuple[int, int], ...]
    clamp_volts: float | None = None
    record: tuple[str, str] | None = None
    drawn: int = -1
    tolerance: float = 0.0
    drift: float = 0.0
    at: float = 25.0

    def missing(self, row: Row[Any]) -> list[MissingFact]:
        """The line of its record that would settle a value; none where it has no record."""
        return [] if self.record is None else [fact_terms.missing(self.record[0], row, self.record[1])]


def find_coils(lookup: Lookup, interfaces: Interfaces, every: bool = False) -> tuple[FoundCoil, ...]:
    """All relay coils, and all inductors that a coupler switches, in the order of the cards.

    every: also inductors that something else switches, which what lies beside them sees.
    """
    finder = _CoilFinder(lookup, interfaces, every)
    return tuple(finder.find())


class _CoilFinder:
    """Searches one circuit."""

    def __init__(self, lookup: Lookup, interfaces: Interfaces, every: bool) -> None:
        self.every = every
        self.lookup = lookup
        self.circuit: Circuit = lookup.circuit
        self.parts: Mapping[int, Part] = interfaces.recognition.parts
        self.recognition = interfaces.recognition
        self.ignored = frozenset(interfaces.separation.ignored)
        self._reached: frozenset[int] | None = None

    def find(self) -> Iterator[FoundCoil]:
        circuit = self.circuit
        coupled = self._coupled(circuit.elements_of("K"))
        switched = self._switched() if next(circuit.elements_of("L"), None) is not None else set()
        near = {
            element for net in switched for element, _ in circuit.elements_at(net) if circuit.letter(element) == "L"
        }
        for element in sorted({*self.parts, *near}):
            part = self.parts.get(element)
            if element in self.ignored:
                continue
            if part is not None and "coil" in part.kind.inputs:
                yield from self._coils(part)
            elif part is None and circuit.path(element).lower() not in coupled:
                coil = self._inductor(element)
                if coil is not None:
                    yield coil

    def _switched(self) -> set[int]:
        """The nets from which a search finds an interrupter, walked from there: inductors may be many."""
        circuit, held = self.circuit, self.lookup.walker.held
        found: set[int] = set()
        for element in (*circuit.elements_of("SWQMJ"), *self.parts):
            if element not in self.ignored:
                for pin, net in enumerate(circuit.pins(element)):
                    if net not in found and held(net) is None and self._interrupter(element, pin, net) is not None:
                        found.add(net)
        waiting = list(found)
        for net in waiting:  # grows while it is walked
            for element, pin in circuit.elements_at(net):
                onward = None if element in self.ignored else self._passes(element, pin)
                if onward is not None and onward not in found and held(onward) is None:
                    found.add(onward)
                    waiting.append(onward)
        return found

    def _coupled(self, couplings: Iterable[int]) -> frozenset[str]:
        """Paths of the inductors that a K card couples: windings."""
        found: set[str] = set()
        for element in couplings:
            prefix = self.circuit.instance_path(element)
            names = self.circuit.control_names(element)
            found.update((f"{prefix}.{name}" if prefix else name).lower() for name in names)
        return frozenset(found)

    def _coils(self, part: Part) -> Iterator[FoundCoil]:
        nets = self.circuit.pins(part.element)
        pins = [pin for pin, role in enumerate(part.roles) if role == "coil" and pin < len(nets)]
        record = None if part.record is None else part.record.coil
        ohms = None if record is None else record.resistance
        clamp = bool(record is not None and record.internal_clamp)
        henries = None if record is None else record.inductance
        pairs = list(zip(pins[::2], pins[1::2], strict=False))
        for number, (first, second) in enumerate(pairs, start=1):
            name = f"coil {number}" if len(pairs) > 1 else ""
            made = self._made(part.element, name, part.type, (nets[first], nets[second]), ohms, henries, clamp)
            if record is not None and part.record is not None:
                volts = record.clamp_voltage if clamp else None
                made = made._replace(
                    clamp_volts=volts,
                    record=(part.record.file, part.record.name),
                    tolerance=0.0 if record.tolerance is None else record.tolerance.low,
                    drift=COPPER if record.temperature_coefficient is None else record.temperature_coefficient,
                    at=COIL_TEMPERATURE if record.temperature is None else record.temperature,
                )
            yield made

    def _inductor(self, element: int) -> FoundCoil | None:
        nets = self.circuit.pins(element)
        if len(nets) < 2 or nets[0] == nets[1]:
            return None
        tail = self.circuit.tail(element)
        series = tail.get("rser")
        drawn = -1 if isinstance(series, float) else self._drawn_beside(element)
        ohms = self.lookup.ohms(drawn) if drawn >= 0 else series if isinstance(series, float) else None
        coil = self._made(element, "", "", (nets[0], nets[1]), ohms, self.circuit.value(element), False)
        coil = coil._replace(drawn=drawn)
        # What also feeds parts, or branches to several switches, is a filter or a supply and no coil.
        sound = coil.interrupters and not coil.drivers and not self._branches(coil) and not self._filters(coil)
        return coil if sound and (self.every or self._is_switched_by_a_coupler(coil)) else None

    def _drawn_beside(self, element: int) -> int:
        """The resistor of a coil that is drawn as an inductor and a resistor, a net of their own between; else -1."""
        for net in self.circuit.pins(element)[:2]:
            touching = [other for other, _ in self.circuit.elements_at(net) if other != element]
            if len(touching) == 1 and self.circuit.letter(touching[0]) == "R" and self.lookup.walker.held(net) is None:
                return touching[0]
        return -1

    def _is_switched_by_a_coupler(self, coil: FoundCoil) -> bool:
        """Whether what interrupts a coil is a coupler's output, or is reached from one."""
        if any(item.element in self.parts for item in coil.interrupters):
            return True
        if self._reached is None:
            self._reached = self._nets_behind_outputs()
        return any(net in self._reached for item in coil.interrupters for net in self._signals(item.element))

    def _signals(self, element: int) -> Iterator[int]:
        """The nets that an element touches, controls included, and that nothing holds."""
        circuit = self.circuit
        nets = dict.fromkeys((*circuit.pins(element), *circuit.controls(element)))
        return (net for net in nets if self.lookup.walker.held(net) is None)

    def _nets_behind_outputs(self) -> frozenset[int]:
        """The nets to which a coupler's output leads through resistors, diodes, transistors and switches."""
        waiting = [
            net
            for part in self.parts.values()
            for pin, net in enumerate(self.circuit.pins(part.element))
            if pin < len(part.roles) and part.roles[pin] in _SWITCHED and self.lookup.walker.held(net) is None
        ]
        seen = set(waiting)
        for net in waiting:  # grows while it is walked
            for element, _ in self.circuit.elements_at(net):
                if element in self.ignored or element in self.parts or self.circuit.letter(element) not in _CARRYING:
                    continue
                for onward in self._signals(element):
                    if onward not in seen:
                        seen.add(onward)
                        waiting.append(onward)
        return frozenset(seen)

    def _filters(self, coil: FoundCoil) -> bool:
        """Whether an inductor ends on a capacitor to a rail, and only what lies behind its net is switched."""
        switched = {item.net for item in coil.interrupters}
        for end in (coil.plus, coil.minus):
            if end in switched or self.lookup.walker.held(end) is not None:
                continue
            for element, pin in self.circuit.elements_at(end):
                if self.circuit.letter(element) == "C" and (self.circuit.value(element) or 0.0) >= FILTER_FARADS:
                    other = self.circuit.pins(element)[1 - pin]
                    if rail_voltage(self.lookup, other) is not None and self._leads(coil, end):
                        return True
        return False

    def _leads(self, coil: FoundCoil, end: int) -> bool:
        """Whether interrupters lie on this side of a coil."""
        return bool(self._search(end, {coil.element})[0])

    def _branches(self, coil: FoundCoil) -> bool:
        """Whether one end of an inductor leads over several elements to interrupters."""
        for end in (coil.plus, coil.minus):
            if self.lookup.walker.held(end) is None:
                touching = [
                    (element, self._passes(element, pin))
                    for element, pin in self.circuit.elements_at(end)
                    if element != coil.element
                ]
                leading = [
                    onward
                    for element, onward in touching
                    if onward is not None and self._search(onward, {coil.element, element})[0]
                ]
                if len(leading) > 1:
                    return True
        return False

    def _made(
        self,
        element: int,
        name: str,
        type_: str,
        ends: tuple[int, int],
        ohms: float | None,
        henries: float | None,
        clamp: bool,
    ) -> FoundCoil:
        found: list[tuple[int, Interrupter]] = []
        drivers: list[tuple[int, int]] = []
        for number, end in enumerate(ends):
            interrupters, others = self._search(end, {element})
            found.extend((number, item) for item in interrupters)
            drivers.extend(others)
        sign = self._direction(ends, found, element)
        plus, minus = ends if sign >= 0 else (ends[1], ends[0])
        items = tuple(dict.fromkeys(item for _, item in found))
        return FoundCoil(
            element,
            self.circuit.path(element),
            name,
            type_,
            plus,
            minus,
            sign != 0,
            ohms,
            henries,
            clamp,
            items,
            tuple(dict.fromkeys(drivers)),
        )

    def _direction(self, ends: tuple[int, int], found: list[tuple[int, Interrupter]], coil: int) -> int:
        """+1 where current flows from the first end to the second, -1 the other way, 0 where nothing tells."""
        # Current that leaves the coil at its second end flows from first to second.
        told = {item.flow if number == 1 else -item.flow for number, item in found if item.flow}
        if told:
            # Half bridges drive a coil both ways.
            return told.pop() if len(told) == 1 else 0
        for number, item in found:
            near, far = self._rail_behind(ends[1 - number], coil), self._volts(item.far)
            if near is not None and far is not None and near != far:
                towards = 1 if near > far else -1
                return towards if number == 1 else -towards
        return 0

    def _rail_behind(self, end: int, coil: int) -> float | None:
        """The voltage of the rail at an end of a coil, or behind resistance that is drawn there; None for several."""
        waiting, seen, found = [end], {end}, set[float]()
        while waiting and len(seen) <= MOST_STEPS:
            net = waiting.pop()
            if self.lookup.walker.held(net) is not None:
                volts = self._volts(net)
                if volts is None:
                    return None
                found.add(volts)
                continue
            for element, pin in self.circuit.elements_at(net):
                if element in (coil, *self.ignored) or self.circuit.letter(element) not in "RLV":
                    continue
                onward = self._passes(element, pin)
                if onward is not None and onward not in seen:
                    seen.add(onward)
                    waiting.append(onward)
        return found.pop() if len(found) == 1 else None

    def _volts(self, net: int) -> float | None:
        return None if net < 0 else rail_voltage(self.lookup, net)

    def _search(self, start: int, done: set[int]) -> tuple[list[Interrupter], list[tuple[int, int]]]:
        """Interrupters and driving parts in series with a net, through resistors, diodes and 0-V sources."""
        interrupters: list[Interrupter] = []
        drivers: list[tuple[int, int]] = []
        waiting, seen, passed = [start], {start}, set(done)
        while waiting and len(seen) <= MOST_STEPS:
            net = waiting.pop(0)
            held = self.lookup.walker.held(net)
            if held is not None:
                if held.kind == "output" and held.element < 0:
                    drivers.append((net, -1))
                continue
            for element, pin in self.circuit.elements_at(net):
                if element in passed or element in self.ignored:
                    continue
                item = self._interrupter(element, pin, net)
                if item is not None:
                    interrupters.append(item)
                    continue
                onward = self._passes(element, pin)
                if onward is not None:
                    passed.add(element)
                    if onward not in seen:
                        seen.add(onward)
                        waiting.append(onward)
                elif self.circuit.letter(element) in "XUA" and element not in self.parts:
                    drivers.append((net, element))
        return interrupters, drivers

    def _passes(self, element: int, pin: int) -> int | None:
        """The net behind an element that a coil's current may pass on its way to the interrupter."""
        letter = self.circuit.letter(element)
        nets = self.circuit.pins(element)
        if element in self.parts or len(nets) < 2 or pin > 1:
            return None
        wire = letter == "V" and self.circuit.stimulus(element) is None and not (self.circuit.value(element) or 0.0)
        return nets[1 - pin] if letter in "RD" or wire else None

    def _interrupter(self, element: int, pin: int, net: int) -> Interrupter | None:
        circuit = self.circuit
        letter, nets = circuit.letter(element), circuit.pins(element)
        part = self.parts.get(element)
        if part is not None:
            return self._part(part, pin, net)
        if letter in "SW" and len(nets) == 2:
            return Interrupter(element, pin, net, 0, nets[1 - pin])
        if letter in "QMJ" and pin in (0, 2):
            device = device_of(circuit, element)
            polarity = device.polarity if isinstance(device, Bipolar | Mos) else 1
            flow = polarity if pin == 0 else -polarity
            return Interrupter(element, pin, net, flow, nets[2 - pin])
        return None

    def _part(self, part: Part, pin: int, net: int) -> Interrupter | None:
        role = part.roles[pin] if pin < len(part.roles) else ""
        kind = None if part.record is None else part.record.output.kind
        interrupts = part.kind.output.interrupts
        if not interrupts or role not in _OUTPUT_ROLES or kind in ("push-pull", "triac", "supply"):
            return None
        if interrupts == "stated" and kind is None:
            return None
        others = [index for group in part.groups if pin in group for index in group if index != pin]
        nets = self.circuit.pins(part.element)
        back = [index for index in others if part.roles[index] in _OUTPUT_ROLES or part.roles[index] == "ground"]
        far = nets[back[0]] if len(back) == 1 else -1
        if interrupts == "both ways":
            return Interrupter(part.element, pin, net, 0, far)
        return Interrupter(part.element, pin, net, 1 if role in _PULLING else -1, far)


def device_of(circuit: Circuit, element: int) -> object:
    """The device that a D, Q or M card describes, None where no equation here does."""
    model = circuit.model(element)
    tail = {key: value for key, value in circuit.tail(element).items() if isinstance(value, float)}
    return from_model(
        circuit.letter(element), None if model is None else model.type, circuit.model_parameters(element), tail
    )


def rail_voltage(lookup: Lookup, net: int) -> float | None:
    """The nominal voltage of a supply or reference net; None for others and where nobody tells it."""
    held = lookup.walker.held(net)
    if held is None:
        return None
    if held.kind == "ground":
        return 0.0
    if held.kind != "supply":
        return None
    try:
        return lookup.supply(net, held).nominal
    except Lacking:
        return None
