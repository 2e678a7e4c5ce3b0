"""Branches of a network as Newton's method sees them: each adds its currents and their slopes at a trial point.

Unknowns are voltages of nodes against ground and currents of branches that hold a voltage; -1 is ground. A junction is
linear about its own voltage, which follows the trial point in bounded steps; `load` says whether it was held back.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Protocol

from isolint.measure.semiconductors import BipolarModel, ChannelModel, DiodeModel, limited
from isolint.measure.sparse import Rows

GROUND = -1
_FLOOR_VOLTS = 1e-3
_FLOOR_AMPS = 1e-6
_STEP = 1e-5
_FREE_STEP = 0.2
# Volts that the input of a law with an exponential may move at least; or by half of itself.


class NoValue(Exception):
    """A law that has no value at a trial point."""


class Sums:
    """The equations at a trial point: what is left of each, and the slopes."""

    def __init__(self, size: int) -> None:
        self.rows: Rows = [{} for _ in range(size)]
        self.left = [0.0] * size

    def add(self, equation: int, value: float) -> None:
        if equation >= 0:
            self.left[equation] += value

    def slope(self, equation: int, unknown: int, value: float) -> None:
        if equation >= 0 and unknown >= 0:
            row = self.rows[equation]
            row[unknown] = row.get(unknown, 0.0) + value

    def flow(self, a: int, b: int, amps: float, slopes: Sequence[tuple[int, float]] = ()) -> None:
        """A current out of node a into node b, with its slope over some unknowns."""
        self.add(a, amps)
        self.add(b, -amps)
        for unknown, value in slopes:
            self.slope(a, unknown, value)
            self.slope(b, unknown, -value)


class Branch(Protocol):
    """Something that carries current. factor: scales sources that nothing controls."""

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool: ...


def at(x: Sequence[float], node: int) -> float:
    """The value of an unknown, 0 of ground."""
    return x[node] if node >= 0 else 0.0


class Resistance:
    """A linear conductance."""

    def __init__(self, a: int, b: int, siemens: float) -> None:
        self.a, self.b, self.siemens = a, b, siemens

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        g = self.siemens
        sums.flow(self.a, self.b, g * (at(x, self.a) - at(x, self.b)), ((self.a, g), (self.b, -g)))
        return False


class Push:
    """A current of its own from a through itself to b."""

    def __init__(self, a: int, b: int, amps: float) -> None:
        self.a, self.b, self.amps = a, b, amps

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        sums.flow(self.a, self.b, factor * self.amps)
        return False


class Hold:
    """A voltage of a over b, behind some ohms; its current counts from a through itself to b."""

    def __init__(self, a: int, b: int, own: int, volts: float, ohms: float = 0.0) -> None:
        self.a, self.b, self.own, self.volts, self.ohms = a, b, own, volts, ohms

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        held(self.a, self.b, self.own, x, sums)
        sums.add(self.own, -factor * self.volts - self.ohms * x[self.own])
        sums.slope(self.own, self.own, -self.ohms)
        return False


def held(a: int, b: int, own: int, x: Sequence[float], sums: Sums) -> None:
    """The part of a branch that holds a voltage that all such branches share."""
    sums.flow(a, b, x[own], ((own, 1.0),))
    sums.add(own, at(x, a) - at(x, b))
    sums.slope(own, a, 1.0)
    sums.slope(own, b, -1.0)


Input = tuple[int, int, bool]
"""What a law listens to: a node over another, or (third: False) the current of a branch and nothing."""


class Controlled:
    """A source whose current or voltage is a function of voltages and currents elsewhere.

    value: the function, None where it has no value. own: the unknown of its current if it holds a voltage, else -1.
    bounded: whether voltages that it listens to move in bounded steps, as junctions do.
    """

    def __init__(
        self,
        a: int,
        b: int,
        own: int,
        inputs: Sequence[Input],
        value: Callable[[Sequence[float]], float | None],
        bounded: bool = False,
    ) -> None:
        self.a, self.b, self.own, self.inputs, self.value, self.bounded = a, b, own, inputs, value, bounded
        self.last = [0.0] * len(inputs)

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        given = [at(x, one) - at(x, other) for one, other, _ in self.inputs]
        found = list(given)
        if self.bounded:
            for number, (new, old) in enumerate(zip(given, self.last, strict=True)):
                most = max(_FREE_STEP, 0.5 * abs(old))
                if self.inputs[number][2]:
                    found[number] = min(max(new, old - most), old + most)
        value, slopes = self._linear(found)
        self.last = found
        value += sum(slope * (new - used) for slope, new, used in zip(slopes, given, found, strict=True))
        terms = []
        for (one, other, _), slope in zip(self.inputs, slopes, strict=True):
            terms += [(one, slope), (other, -slope)]
        if self.own < 0:
            sums.flow(self.a, self.b, value, terms)
        else:
            held(self.a, self.b, self.own, x, sums)
            sums.add(self.own, -value)
            for unknown, slope in terms:
                sums.slope(self.own, unknown, -slope)
        return any(abs(new - used) > 1e-9 * (1.0 + abs(new)) for new, used in zip(given, found, strict=True))

    def _linear(self, inputs: list[float]) -> tuple[float, list[float]]:
        """The value and its slopes, by differences: they steer the iteration and don't enter its result."""
        middle = self._at(inputs)
        slopes = []
        for number, (_, _, is_voltage) in enumerate(self.inputs):
            width = _STEP * max(abs(inputs[number]), _FLOOR_VOLTS if is_voltage else _FLOOR_AMPS)
            ends = []
            for sign in (1.0, -1.0):
                moved = list(inputs)
                moved[number] += sign * width
                ends.append(self.value(moved))
            high, low = ends
            if high is not None and low is not None:
                slopes.append((high - low) / (2.0 * width))
            elif high is not None:
                slopes.append((high - middle) / width)
            else:
                slopes.append(0.0 if low is None else (middle - low) / width)
        return middle, slopes

    def _at(self, inputs: Sequence[float]) -> float:
        value = self.value(inputs)
        if value is None or not math.isfinite(value):
            raise NoValue
        return value


class Junction:
    """A diode without its resistance."""

    def __init__(self, anode: int, cathode: int, device: DiodeModel) -> None:
        self.anode, self.cathode, self.device = anode, cathode, device
        self.volts = 0.0

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        volts = at(x, self.anode) - at(x, self.cathode)
        self.volts = self.device.step(volts, self.volts)
        amps, slope = self.device.current(self.volts)
        amps += slope * (volts - self.volts)
        sums.flow(self.anode, self.cathode, amps, ((self.anode, slope), (self.cathode, -slope)))
        return abs(volts - self.volts) > 1e-9


class Transistor:
    """A bipolar transistor without its resistances, but for that of the base, which falls with the base charge."""

    def __init__(self, collector: int, base: int, emitter: int, device: BipolarModel, outside: int) -> None:
        self.collector, self.base, self.emitter, self.outside = collector, base, emitter, outside
        self.device = device
        self.vbe = self.vbc = 0.0

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        device, p = self.device, self.device.polarity
        c, b, e = self.collector, self.base, self.emitter
        vbe, vbc = p * (at(x, b) - at(x, e)), p * (at(x, b) - at(x, c))
        self.vbe = limited(vbe, self.vbe, device.forward_width, device.amps)
        self.vbc = limited(vbc, self.vbc, device.reverse_width, device.amps)
        (ic, ce, cc), (ib, be, bc), charge = device.currents(self.vbe, self.vbc)
        off_e, off_c = vbe - self.vbe, vbc - self.vbc
        ic += ce * off_e + cc * off_c
        ib += be * off_e + bc * off_c
        # Polarity enters voltages and currents, and cancels in the slopes.
        sums.flow(c, e, p * ic, ((b, ce + cc), (e, -ce), (c, -cc)))
        sums.flow(b, e, p * ib, ((b, be + bc), (e, -be), (c, -bc)))
        if self.outside != b:
            ohms = device.least_base_ohms + (device.base_ohms - device.least_base_ohms) / charge
            g = 1.0 / max(ohms, 1e-6)
            sums.flow(self.outside, b, g * (at(x, self.outside) - at(x, b)), ((self.outside, g), (b, -g)))
        return abs(off_e) + abs(off_c) > 1e-9


class FieldEffect:
    """The channel of a field-effect transistor; its gate takes no current."""

    def __init__(self, drain: int, gate: int, source: int, device: ChannelModel) -> None:
        self.drain, self.gate, self.source, self.device = drain, gate, source, device
        self.vgs = self.vds = 0.0

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        p, d, g, s = self.device.polarity, self.drain, self.gate, self.source
        vgs, vds = p * (at(x, g) - at(x, s)), p * (at(x, d) - at(x, s))
        self.vgs, self.vds = _bounded(vgs, self.vgs), _bounded(vds, self.vds)
        amps, gm, gds = self.device.current(self.vgs, self.vds)
        off_g, off_d = vgs - self.vgs, vds - self.vds
        amps += gm * off_g + gds * off_d
        sums.flow(d, s, p * amps, ((g, gm), (d, gds), (s, -gm - gds)))
        return abs(off_g) + abs(off_d) > 1e-9


def _bounded(new: float, old: float) -> float:
    most = max(2.0, abs(old))
    return min(max(new, old - most), old + most)


class ThresholdSwitch:
    """A switch by its two thresholds. It keeps its state while a point is sought; `turn` moves it after."""

    def __init__(self, a: int, b: int, control: Input, limits: tuple[float, float], ohms: tuple[float, float]) -> None:
        self.a, self.b, self.control = a, b, control
        self.low, self.high = limits
        self.on_ohms, self.off_ohms = ohms
        self.on = False

    def load(self, x: Sequence[float], sums: Sums, factor: float) -> bool:
        g = 1.0 / (self.on_ohms if self.on else self.off_ohms)
        sums.flow(self.a, self.b, g * (at(x, self.a) - at(x, self.b)), ((self.a, g), (self.b, -g)))
        return False

    def turn(self, x: Sequence[float]) -> bool:
        """Take the state that its control asks for; whether that is another one."""
        value = at(x, self.control[0]) - at(x, self.control[1])
        before = self.on
        self.on = True if value > self.high else False if value < self.low else before
        return self.on != before
