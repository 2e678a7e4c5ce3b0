"""Diodes and transistors as the Newton iteration sees them: companions seen from their terminals.

Each keeps the junction or channel voltages about which it is linear, limited as in key `spice-1973`, and asks the
iteration to go on while they differ from the terminals'.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from isolint.worstcase.companion_models import LARGEST, WEIGHT, Matrix
from isolint.worstcase.devices import Bipolar, Diode, Mos, thermal_voltage

ROUNDED = 2e-4
"""With the tolerance of 1e-12 about one unit in the last place of a voltage."""


def limited(new: float, old: float, width: float, critical: float) -> float:
    """The junction voltage to try next: where it would rise far beyond the knee, follow the current instead."""
    if new <= critical or abs(new - old) <= 2.0 * width:
        return new
    if old > 0.0:
        rise = 1.0 + (new - old) / width
        return old + width * math.log(rise) if rise > 0.0 else critical
    return width * math.log(new / width)


class DiodeCompanion:
    """Junction with breakdown and series resistance, seen from its terminals."""

    __slots__ = (
        "amps",
        "anode",
        "breakdown",
        "cathode",
        "conductance",
        "critical",
        "knee",
        "knee_critical",
        "mismatch",
        "saturation",
        "series",
        "v",
        "volts",
        "width",
    )

    def __init__(self, anode: int, cathode: int, device: Diode, temperature: float) -> None:
        self.anode, self.cathode = anode, cathode
        self.saturation = device.saturation(temperature)
        self.width = device.N * thermal_voltage(temperature)
        self.critical = _critical(self.width, self.saturation)
        self.series = device.RS
        self.breakdown = device.BV
        self.knee = device.IBV
        self.knee_critical = _critical(self.width, device.IBV)
        self.v = self.critical
        self.mismatch = 0.0
        self._evaluate()

    def _evaluate(self) -> None:
        width, v = self.width, self.v
        power = self.saturation * math.exp(min(v / width, LARGEST))
        amps = power - self.saturation
        slope = power / width
        if self.breakdown is not None:
            power = self.knee * math.exp(min(-(v + self.breakdown) / width, LARGEST))
            amps -= power
            slope += power / width
        self.amps = amps
        self.volts = v + self.series * amps
        self.conductance = slope / (1.0 + self.series * slope)

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None:
        a, k, g = self.anode, self.cathode, self.conductance
        self.mismatch = x[a] - x[k] - self.volts
        amps = self.amps + g * self.mismatch
        residual[a] += amps
        residual[k] -= amps
        weight = WEIGHT * abs(amps)
        scale[a] += weight
        scale[k] += weight
        row = matrix[a]
        row[a] += g
        row[k] -= g
        row = matrix[k]
        row[a] -= g
        row[k] += g

    def settle(self, x: list[float], step: Sequence[float]) -> None:
        terminal = x[self.anode] - x[self.cathode]
        new = terminal
        if self.series:
            new -= self.series * (self.amps + self.conductance * (terminal - self.volts))
        width = self.width
        if self.breakdown is not None and new < -0.5 * self.breakdown:
            mirrored = limited(-(new + self.breakdown), -(self.v + self.breakdown), width, self.knee_critical)
            new = -mirrored - self.breakdown
        else:
            new = limited(new, self.v, width, self.critical)
        self.v = new
        self._evaluate()

    def state(self) -> tuple[float, ...]:
        return (self.v,)

    def restore(self, state: tuple[float, ...], x: list[float]) -> None:
        self.v = state[0]
        self._evaluate()

    def currents(self) -> tuple[float, ...]:
        return (self.amps,)

    def steepness(self) -> float:
        return self.conductance


class BipolarCompanion:
    """Two junctions and the transport current between collector and emitter."""

    __slots__ = (
        "base",
        "collector",
        "emitter",
        "forward_critical",
        "forward_gain",
        "forward_width",
        "mismatch",
        "polarity",
        "reverse_critical",
        "reverse_gain",
        "reverse_width",
        "saturation",
        "values",
        "vbc",
        "vbe",
    )

    def __init__(self, collector: int, base: int, emitter: int, device: Bipolar, temperature: float) -> None:
        self.collector, self.base, self.emitter = collector, base, emitter
        vt = thermal_voltage(temperature)
        self.polarity = float(device.polarity)
        self.saturation = device.saturation(temperature)
        self.forward_width, self.reverse_width = device.NF * vt, device.NR * vt
        self.forward_critical = _critical(self.forward_width, self.saturation)
        self.reverse_critical = _critical(self.reverse_width, self.saturation)
        self.forward_gain, self.reverse_gain = device.gains(temperature)
        self.vbe, self.vbc = self.forward_critical, 0.0
        self.mismatch = 0.0
        self.values = (0.0, 0.0, 0.0, 0.0)
        self._evaluate()

    def _evaluate(self) -> None:
        saturation = self.saturation
        forward = saturation * math.exp(min(self.vbe / self.forward_width, LARGEST))
        reverse = saturation * math.exp(min(self.vbc / self.reverse_width, LARGEST))
        self.values = (
            forward - saturation,
            reverse - saturation,
            forward / self.forward_width,
            reverse / self.reverse_width,
        )

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None:
        c, b, e, p = self.collector, self.base, self.emitter, self.polarity
        forward, reverse, gf, gr = self.values
        off_be = p * (x[b] - x[e]) - self.vbe
        off_bc = p * (x[b] - x[c]) - self.vbc
        self.mismatch = abs(off_be) + abs(off_bc)
        forward += gf * off_be
        reverse += gr * off_bc
        bf, br = self.forward_gain, self.reverse_gain
        ic = p * (forward - reverse * (1.0 + 1.0 / br))
        ib = p * (forward / bf + reverse / br)
        residual[c] += ic
        residual[b] += ib
        residual[e] -= ic + ib
        scale[c] += WEIGHT * abs(ic)
        scale[b] += WEIGHT * abs(ib)
        scale[e] += WEIGHT * abs(ic + ib)
        # Derivatives to vbe and vbc; polarity enters twice and cancels.
        c_be, c_bc = gf, -gr * (1.0 + 1.0 / br)
        b_be, b_bc = gf / bf, gr / br
        row = matrix[c]
        row[b] += c_be + c_bc
        row[e] -= c_be
        row[c] -= c_bc
        row = matrix[b]
        row[b] += b_be + b_bc
        row[e] -= b_be
        row[c] -= b_bc
        row = matrix[e]
        row[b] -= c_be + c_bc + b_be + b_bc
        row[e] += c_be + b_be
        row[c] += c_bc + b_bc

    def settle(self, x: list[float], step: Sequence[float]) -> None:
        p = self.polarity
        base = x[self.base]
        self.vbe = limited(p * (base - x[self.emitter]), self.vbe, self.forward_width, self.forward_critical)
        self.vbc = limited(p * (base - x[self.collector]), self.vbc, self.reverse_width, self.reverse_critical)
        self._evaluate()

    def state(self) -> tuple[float, ...]:
        return (self.vbe, self.vbc)

    def restore(self, state: tuple[float, ...], x: list[float]) -> None:
        self.vbe, self.vbc = state
        self._evaluate()

    def currents(self) -> tuple[float, ...]:
        forward, reverse, _, _ = self.values
        ic = self.polarity * (forward - reverse * (1.0 + 1.0 / self.reverse_gain))
        ib = self.polarity * (forward / self.forward_gain + reverse / self.reverse_gain)
        return ic, ib, -(ic + ib)

    def steepness(self) -> float:
        return self.values[2] + self.values[3] * (1.0 + 1.0 / self.reverse_gain)


class MosCompanion:
    """The channel; the gate takes no current."""

    __slots__ = (
        "drain",
        "gate",
        "k",
        "mismatch",
        "modulation",
        "polarity",
        "source",
        "threshold",
        "values",
        "vds",
        "vgs",
    )

    def __init__(self, drain: int, gate: int, source: int, device: Mos, temperature: float) -> None:
        self.drain, self.gate, self.source = drain, gate, source
        self.polarity = float(device.polarity)
        self.k = device.transconductance(temperature)
        self.threshold = self.polarity * device.VTO
        self.modulation = device.LAMBDA
        self.vgs, self.vds = self.threshold + 1.0, 1.0
        self.mismatch = 0.0
        self.values = (0.0, 0.0, 0.0)
        self._evaluate()

    def _evaluate(self) -> None:
        vgs, vds = self.vgs, self.vds
        swapped = vds < 0.0
        if swapped:
            vgs, vds = vgs - vds, -vds
        over = vgs - self.threshold
        if over <= 0.0:
            self.values = (0.0, 0.0, 0.0)
            return
        k, bend = self.k, 1.0 + self.modulation * vds
        if vds < over:
            shape, by_gate, by_drain = (over - 0.5 * vds) * vds, vds, over - vds
        else:
            shape, by_gate, by_drain = 0.5 * over * over, over, 0.0
        amps, gm, gds = k * shape * bend, k * by_gate * bend, k * (by_drain * bend + shape * self.modulation)
        # With the ends swapped I(vgs, vds) = -i(vgs - vds, -vds).
        self.values = (-amps, -gm, gm + gds) if swapped else (amps, gm, gds)

    def stamp(self, x: Sequence[float], matrix: Matrix, residual: list[float], scale: list[float]) -> None:
        d, g, s, p = self.drain, self.gate, self.source, self.polarity
        amps, gm, gds = self.values
        off_gs = p * (x[g] - x[s]) - self.vgs
        off_ds = p * (x[d] - x[s]) - self.vds
        self.mismatch = abs(off_gs) + abs(off_ds)
        amps = p * (amps + gm * off_gs + gds * off_ds)
        residual[d] += amps
        residual[s] -= amps
        # A channel far steeper than its current asks for, at a high potential, is known no better than its voltages.
        weight = WEIGHT * abs(amps) + ROUNDED * (gm * (abs(x[g]) + abs(x[s])) + abs(gds) * (abs(x[d]) + abs(x[s])))
        scale[d] += weight
        scale[s] += weight
        row = matrix[d]
        row[g] += gm
        row[d] += gds
        row[s] -= gm + gds
        row = matrix[s]
        row[g] -= gm
        row[d] -= gds
        row[s] += gm + gds

    def settle(self, x: list[float], step: Sequence[float]) -> None:
        p, source = self.polarity, x[self.source]
        self.vgs = _bounded(p * (x[self.gate] - source), self.vgs)
        self.vds = _bounded(p * (x[self.drain] - source), self.vds)
        self._evaluate()

    def state(self) -> tuple[float, ...]:
        return (self.vgs, self.vds)

    def restore(self, state: tuple[float, ...], x: list[float]) -> None:
        self.vgs, self.vds = state
        self._evaluate()

    def currents(self) -> tuple[float, ...]:
        amps = self.polarity * self.values[0]
        return amps, 0.0, -amps

    def steepness(self) -> float:
        return abs(self.values[1]) + abs(self.values[2])


def _critical(width: float, saturation: float) -> float:
    return width * math.log(width / (math.sqrt(2.0) * saturation))


def _bounded(new: float, old: float) -> float:
    """A channel voltage moves by no more than itself, 2 V at least: enough for a square law."""
    most = max(2.0, abs(old))
    return min(max(new, old - most), old + most)
