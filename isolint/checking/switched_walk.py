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
from isolint.interfaces.entities import Channel
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
                mains = main_nets(self.context, element, record)
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
