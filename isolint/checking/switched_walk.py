"""What conducts from one end of an open switch, as far as something holds a net.

In: a context, a channel, the nets between which the switch lies. Out: the ways from one of them, by net, and what was
met on them: loads, coils, gates, what nobody explained. Knows no voltage.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from typing import NamedTuple

from isolint import types
from isolint.checking.context import Context
from isolint.checking.switches_beside import closed_ways
from isolint.interfaces.entities import Channel, Part
from isolint.parts import PartRecord

MOST_NETS = 400
"""A walk that meets more nets than any load has is given up."""

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


def main_nets(context: Context, element: int, record: PartRecord) -> tuple[int, int] | None:
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


class Walk:
    """What conducts from one end of an open switch."""

    def __init__(
        self, context: Context, channel: Channel, start: int, ends: tuple[int, int], without: int | None = None
    ) -> None:
        """without: the card of the switch where it is not the coupler."""
        self.context, self.start, self.channel, self.ends = context, start, channel, ends
        self.own = channel.part.element if without is None else without
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
        """Each way on: by which element, -1 for a stated load, and to which net."""
        yield from self._by_load(net, path)
        for element, pin in self.context.circuit.elements_at(net):
            if element in self.context.lookup.walker.ignored or self._clamps(element):
                continue
            yield from closed_ways(self.context, self.channel, element, pin)
            if element == self.own and not self._is_other_pole(element, pin):
                continue
            record = thyristor_record(self.context, element)
            part = self.context.interfaces.recognition.parts.get(element)
            if record is not None:
                yield from self._by_gate(element, record, net)
            elif part is not None:
                yield from self._by_coil(part, pin)
            else:
                yield from self._by_card(element, pin)

    def _by_load(self, net: int, path: tuple[int, ...]) -> Iterator[tuple[int, int]]:
        """Through what the facts say hangs on a net, to its return."""
        load = self.context.facts.load(self.context.circuit.net_name(net))
        if load is None:
            return
        self.loads.append(net)
        if load.return_ is None:
            return
        other = self.context.circuit.find_net(load.return_.value)
        if other is not None:
            yield -1, other
        else:
            self.beyond.append(Path(-1, path, load.return_.value))

    def _by_gate(self, element: int, record: PartRecord, net: int) -> Iterator[tuple[int, int]]:
        """From the gate of a thyristor to the main terminal that it conducts to."""
        if net != _terminals(self.context, element, record).get("gate", [-1])[0]:
            return
        self.gates[element] = net
        mains = main_nets(self.context, element, record)
        if mains is not None:
            yield element, mains[0]

    def _by_coil(self, part: Part, pin: int) -> Iterator[tuple[int, int]]:
        """Through what conducts between the pins of a recognised part: coils, LEDs, contacts."""
        pins = self.context.circuit.pins(part.element)
        group = next((group for group in part.groups if pin in group), ())
        roles = {part.roles[other] for other in group}
        if roles <= {"coil", "winding"}:
            self.coils.append(part.element)
        if roles <= {"coil", "winding", "anode", "cathode", "contact"}:
            yield from ((part.element, pins[other]) for other in group if other != pin)

    def _by_card(self, element: int, pin: int) -> Iterator[tuple[int, int]]:
        """Through a card that is no recognised part: by its letter, or by its two pins where nobody explained it."""
        circuit, recognition = self.context.circuit, self.context.interfaces.recognition
        letter, pins = circuit.letter(element), circuit.pins(element)
        if element in recognition.unknown or element in recognition.ordinary or letter in "XU":
            self.unknown.append(element)
            if len(pins) == 2:
                yield element, pins[1 - pin]
        elif letter in "QMJ":
            for other in range(3):
                if other != pin and (letter == "Q" or {pin, other} == {0, 2}):
                    yield element, pins[other]
        elif letter in "RLDVS" and len(pins) >= 2 and pin < 2:
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
