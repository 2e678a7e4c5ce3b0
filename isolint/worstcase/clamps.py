"""What takes the current of a coil when its circuit opens: diode, Zener diode, RC network, a clamp inside the relay.

In: a `FoundCoil`. Out: a `Clamping`. A clamp may lie across the coil, across the switch, or from the switched end to
another supply: every path counts on which the coil's own current can return, with the voltage at which it begins to
conduct. Supplies and references of one side are joined for this purpose, at their nominal voltages.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import Literal, NamedTuple

from isolint.interfaces.entities import Interfaces
from isolint.worstcase.coils import FoundCoil, device_of, rail_voltage
from isolint.worstcase.devices import Diode, Mos
from isolint.worstcase.lookup import Lookup

DIODE_VOLTS = 0.6
SMALLEST_FARADS = 10e-9
"""Smaller capacitors take too little of a coil's energy to count (common practice, no source)."""

RESISTANCE_SHARE = 10.0
"""A resistor in the clamp lets the voltage rise to coil current times its value: up to ten times the coil's resistance
counts."""

OHMS_OF_UNKNOWN = 1e3
INDICATOR_SHARE = 0.1
# A lamp with its series resistor across the coil conducts while the coil is energised, and may.
INDICATOR_OHMS = 10.0
ZENER_SHARE = 4.0
ZENER_VOLTS = 36.0
# A rectifier's breakdown far above the supply protects no switch.
MOST_STEPS = 4
MOST_PATHS = 2000
# A net with hundreds of elements is a rail that nobody named; the search ends there.

ClampKind = Literal["diode", "zener", "rc", "internal"]


class Clamp(NamedTuple):
    """A clamp. knee: volts across the coil at which it conducts, None where that is not told. ohms: in series in it.

    farads: of an RC network. elements: on its path.
    """

    kind: ClampKind
    elements: tuple[int, ...]
    knee: float | None
    ohms: float = 0.0
    farads: float | None = None


class Clamping(NamedTuple):
    """What was found around a coil: the clamp, a wrong diode with what is wrong with it, parts that may be a clamp, a
    tiny capacitor."""

    clamp: Clamp | None = None
    wrong: int = -1
    fault: str = ""
    doubtful: tuple[int, ...] = ()
    tiny: int = -1


class _Path(NamedTuple):
    """A conducting path from a start net: its end, voltage drop, resistance, smallest capacitance and elements."""

    end: int
    drop: float = 0.0
    ohms: float = 0.0
    farads: float | None = None
    diode: bool = False
    zener: bool = False
    elements: tuple[int, ...] = ()


def clamping(lookup: Lookup, interfaces: Interfaces, coil: FoundCoil) -> Clamping:
    """What takes the coil's current, and what is connected the wrong way round."""
    return _ClampSearch(lookup, interfaces, coil).result()


class _ClampSearch:
    """One coil's surroundings."""

    def __init__(self, lookup: Lookup, interfaces: Interfaces, coil: FoundCoil) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.parts = interfaces.recognition.parts
        self.side_of = interfaces.separation.side_of_net
        self.ignored = frozenset(interfaces.separation.ignored)
        self.coil = coil
        self.on_volts = self._on_volts()
        ohms = coil.ohms
        self.most_ohms = OHMS_OF_UNKNOWN if ohms is None or ohms <= 0.0 else RESISTANCE_SHARE * ohms
        self.indicator = INDICATOR_OHMS if ohms is None or ohms <= 0.0 else max(INDICATOR_SHARE * ohms, 1e-3)
        self.most_zener = max(ZENER_SHARE * (self.on_volts or 0.0), ZENER_VOLTS)

    def _on_volts(self) -> float | None:
        """The voltage across coil and interrupters in the on state, from rails."""
        nets = [self.coil.plus, self.coil.minus, *(item.far for item in self.coil.interrupters if item.far >= 0)]
        known = [volts for volts in (rail_voltage(self.lookup, net) for net in nets) if volts is not None]
        return max(known) - min(known) if len(known) > 1 else None

    def result(self) -> Clamping:
        coil = self.coil
        if coil.internal_clamp:
            return Clamping(Clamp("internal", (coil.element,), DIODE_VOLTS))
        ways = [(coil.minus, coil.plus)] if coil.directed else [(coil.minus, coil.plus), (coil.plus, coil.minus)]
        if coil.directed:
            wrong = self._conducting(coil.plus, coil.minus)
            if wrong is not None:
                return Clamping(wrong=self._blame(wrong), fault="it conducts while the coil is energised")
            shorting = self._shorting(coil.minus, coil.plus)
            if shorting is not None:
                return Clamping(wrong=self._blame(shorting), fault="it conducts while the switch is open")
        best: Clamp | None = None
        tiny = -1
        for start, end in ways:
            for path in self._paths(start, end, capacitors=True):
                clamp, small = self._clamp(path)
                tiny = small if small >= 0 and tiny < 0 else tiny
                if clamp is not None and (best is None or self._rank(clamp) < self._rank(best)):
                    best = clamp
        if best is not None:
            return Clamping(best)
        doubtful = tuple(dict.fromkeys(self._doubtful(coil.minus)) | dict.fromkeys(self._doubtful(coil.plus)))
        return Clamping(None, doubtful=doubtful, tiny=tiny)

    @staticmethod
    def _rank(clamp: Clamp) -> tuple[bool, float]:
        return clamp.kind == "rc", clamp.knee if clamp.knee is not None else 1e9

    def _blame(self, path: _Path) -> int:
        """The diode of a path."""
        return next((element for element in path.elements if self.circuit.letter(element) == "D"), path.elements[0])

    def _conducting(self, start: int, end: int) -> _Path | None:
        """A diode path that shorts the coil while it is energised."""
        most = 2.0 if self.on_volts is None else 0.9 * self.on_volts
        for path in self._paths(start, end, capacitors=False):
            if (path.diode or path.zener) and path.drop < most and path.ohms < self.indicator:
                return path
        return None

    def _shorting(self, start: int, end: int) -> _Path | None:
        """A diode path that shorts the open switch, so that the coil stays energised."""
        for path in self._paths(start, end, capacitors=False):
            if (path.diode or path.zener) and path.drop < -0.5 and path.ohms < self.indicator:
                return path
        return None

    def _clamp(self, path: _Path) -> tuple[Clamp | None, int]:
        """The clamp that a path makes, or the capacitor that is too small for one."""
        if path.ohms > self.most_ohms:
            return None, -1
        if path.diode or path.zener:
            if path.farads is not None:
                return (
                    (Clamp("diode", path.elements, None, path.ohms), -1)
                    if path.farads >= SMALLEST_FARADS
                    else (None, -1)
                )
            kind: ClampKind = "zener" if path.zener else "diode"
            return (Clamp(kind, path.elements, path.drop, path.ohms), -1) if path.drop > -0.5 else (None, -1)
        if path.farads is None:
            return None, -1
        if path.farads < SMALLEST_FARADS:
            return None, next(element for element in path.elements if self.circuit.letter(element) == "C")
        return Clamp("rc", path.elements, None, path.ohms, path.farads), -1

    # -- paths ------------------------------------------------------------------------------------------------

    def _paths(self, start: int, end: int, capacitors: bool) -> Iterator[_Path]:
        """All ways for current from `start` to `end` outside the coil and its switches, with one jump between rails."""
        there = list(self._halves(start, end, True, capacitors))
        back = list(self._halves(end, start, False, capacitors))
        yield from (path for path in there if path.end == end and path.elements)
        for first in there:
            if not self._rail(first.end):
                continue
            for last in back:
                if (
                    not self._rail(last.end)
                    or not self._one_side(first.end, last.end)
                    or not (first.elements or last.elements)
                ):
                    continue
                if set(first.elements) & set(last.elements):
                    continue
                jump = self._jump(first.end, last.end)
                farads = [value for value in (first.farads, last.farads) if value is not None]
                if jump is None and not farads:
                    continue
                yield _Path(
                    end,
                    first.drop + last.drop + (jump or 0.0),
                    first.ohms + last.ohms,
                    min(farads) if farads else None,
                    first.diode or last.diode,
                    first.zener or last.zener,
                    first.elements + last.elements,
                )

    def _rail(self, net: int) -> bool:
        held = self.lookup.walker.held(net)
        return held is not None and held.kind in ("supply", "ground")

    def _one_side(self, one: int, other: int) -> bool:
        sides = self.side_of.get(one), self.side_of.get(other)
        return one == other or None in sides or sides[0] == sides[1]

    def _jump(self, one: int, other: int) -> float | None:
        """Volts that current loses from one rail into another, None where a voltage is not known."""
        if one == other:
            return 0.0
        volts = rail_voltage(self.lookup, one), rail_voltage(self.lookup, other)
        return None if volts[0] is None or volts[1] is None else volts[0] - volts[1]

    def _halves(self, start: int, stop: int, outward: bool, capacitors: bool) -> Iterator[_Path]:
        """Paths from `start` that end on `stop` or a rail; outward: current leaves `start`, else it arrives there."""
        waiting: deque[tuple[_Path, tuple[int, ...]]] = deque([(_Path(start), (start,))])
        tried = 0
        while waiting and tried < MOST_PATHS:
            path, seen = waiting.popleft()
            tried += 1
            if path.end == stop or self._rail(path.end):
                yield path
                continue
            if len(path.elements) >= MOST_STEPS:
                continue
            for element, pin in self.circuit.elements_at(path.end):
                if element in self.ignored or element == self.coil.element:
                    continue
                for other, step in self._steps(element, pin, path, outward, capacitors):
                    if other not in seen:
                        waiting.append((step._replace(end=other, elements=(*path.elements, element)), (*seen, other)))

    def _steps(
        self, element: int, pin: int, path: _Path, outward: bool, capacitors: bool
    ) -> Iterator[tuple[int, _Path]]:
        circuit = self.circuit
        letter, nets = circuit.letter(element), circuit.pins(element)
        part = self.parts.get(element)
        if part is not None:
            role = part.roles[pin] if pin < len(part.roles) else ""
            wanted, other = ("anode", "cathode") if outward else ("cathode", "anode")
            if role == wanted:
                group = next(group for group in part.groups if pin in group)
                for index in group:
                    if part.roles[index] == other:
                        yield nets[index], path._replace(drop=path.drop + 2.0 * DIODE_VOLTS, diode=True)
        elif letter == "R" and pin < 2:
            yield nets[1 - pin], path._replace(ohms=path.ohms + abs(circuit.value(element) or 0.0))
        elif letter == "V" and pin < 2 and circuit.stimulus(element) is None:
            volts = circuit.value(element) or 0.0
            sign = 1.0 if (pin == 0) == outward else -1.0
            yield nets[1 - pin], path._replace(drop=path.drop + sign * volts)
        elif letter == "C" and pin < 2 and capacitors:
            farads = circuit.value(element) or 0.0
            yield nets[1 - pin], path._replace(farads=farads if path.farads is None else min(farads, path.farads))
        elif letter == "D" and pin < 2:
            device = device_of(circuit, element)
            if (pin == 0) == outward:
                yield nets[1 - pin], path._replace(drop=path.drop + DIODE_VOLTS, diode=True)
            elif isinstance(device, Diode) and device.BV is not None and self.most_zener >= device.BV:
                yield nets[1 - pin], path._replace(drop=path.drop + device.BV, zener=True)
        elif letter == "M" and pin in (0, 2):
            mos = device_of(circuit, element)
            # The body diode of an n-channel device conducts from source to drain.
            forward = 2 if not isinstance(mos, Mos) or mos.polarity > 0 else 0
            if (pin == forward) == outward:
                yield nets[2 - pin], path._replace(drop=path.drop + DIODE_VOLTS, diode=True)

    def _doubtful(self, net: int) -> Iterator[int]:
        """Small parts that nobody explained between a net and its other end or a rail."""
        if self._rail(net):
            return
        for element, _ in self.circuit.elements_at(net):
            if self.circuit.letter(element) in "XUA" and element not in self.parts:
                others = {other for other in self.circuit.pins(element) if other != net}
                if len(self.circuit.pins(element)) <= 3 and any(
                    other in (self.coil.plus, self.coil.minus) or self._rail(other) for other in others
                ):
                    yield element
