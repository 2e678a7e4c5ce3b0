"""A second opinion on operating points: the device equations written down again, solved by scipy.

Nothing here uses the package's own equations or its solver; only the values on the branches are read. Unknowns are
node voltages, logarithms of LED currents, and currents of sources and ports.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from isolint.worstcase import network as n
from isolint.worstcase.devices import Bipolar, Diode, LedCurve, Mos
from isolint.worstcase.solve import Point

Array = NDArray[np.float64]
K, Q = 1.380649e-23, 1.602176634e-19


def exp(x: float) -> float:
    return math.exp(min(x, 250.0))


def warm(saturation: float, celsius: float, exponent: float, gap: float, nominal: float) -> float:
    t, t0 = celsius + 273.15, nominal + 273.15
    return saturation * (t / t0) ** exponent * math.exp(gap * (t / t0 - 1) / (K * t / Q))


def diode_current(d: Diode, v: float, celsius: float) -> float:
    """Current at the junction voltage, key `spice-1973`."""
    nvt = d.N * K * (celsius + 273.15) / Q
    current = warm(d.IS, celsius, d.XTI / d.N, d.EG / d.N, d.TNOM) * (exp(v / nvt) - 1)
    return current if d.BV is None else current - d.IBV * exp(-(v + d.BV) / nvt)


def bipolar_currents(q: Bipolar, vbe: float, vbc: float, celsius: float) -> tuple[float, float]:
    """Collector and base current, transport form of Ebers and Moll, key `spice-1973`."""
    vt = K * (celsius + 273.15) / Q
    p = q.polarity
    saturation = warm(q.IS, celsius, q.XTI, q.EG, q.TNOM)
    icc = saturation * (exp(p * vbe / (q.NF * vt)) - 1)
    iec = saturation * (exp(p * vbc / (q.NR * vt)) - 1)
    scale = ((celsius + 273.15) / (q.TNOM + 273.15)) ** q.XTB
    ib = icc / (q.BF * scale) + iec / (q.BR * scale)
    return p * (icc - iec - iec / (q.BR * scale)), p * ib


def mos_current(m: Mos, vgs: float, vds: float, celsius: float) -> float:
    """Drain current of the level-1 model, key `shichman-hodges-1968`."""
    k = m.KP * ((celsius + 273.15) / (m.TNOM + 273.15)) ** -1.5
    p = m.polarity
    vgs, vds = p * vgs, p * vds
    if vds < 0:
        return -p * _channel(k, vgs - vds - p * m.VTO, -vds, m.LAMBDA)
    return p * _channel(k, vgs - p * m.VTO, vds, m.LAMBDA)


def _channel(k: float, over: float, vds: float, modulation: float) -> float:
    if over <= 0:
        return 0.0
    if vds >= over:
        return k / 2 * over**2 * (1 + modulation * vds)
    return k * (over * vds - vds**2 / 2) * (1 + modulation * vds)


def led_voltage(c: LedCurve, u: float, celsius: float) -> float:
    vt = K * (celsius + 273.15) / Q
    i = exp(u)
    base = c.forward_voltage + c.temperature_coefficient * (celsius - 25)
    if c.floor and i < c.at:
        return base if i > 1e-6 else base + c.emission * vt * (u - math.log(1e-6))
    emission, ohms = c.emission, c.series_resistance
    if i < c.at and c.emission_below is not None:
        emission = c.emission_below
    if i < c.at and c.series_resistance_below is not None:
        ohms = c.series_resistance_below
    return base + emission * vt * (u - math.log(c.at)) + ohms * (i - c.at)


def port_voltage(table: tuple[tuple[float, float], ...], i: float) -> float:
    if len(table) == 1:
        return table[0][1]
    for (i0, v0), (i1, v1) in pairwise(table):
        if i <= i1 or (i1, v1) == table[-1]:
            return v0 + (v1 - v0) * (i - i0) / (i1 - i0)
    raise AssertionError


@dataclass
class Equations:
    """The residuals of a network at a temperature. order: what each unknown is."""

    network: n.BranchNetwork
    celsius: float
    extra: list[tuple[str, n.Branch]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for branch in self.network.branches:
            if isinstance(branch, n.LedBranch):
                self.extra.append(("u", branch))
            elif isinstance(branch, (n.VoltageSource, n.Port)):
                self.extra.append(("i", branch))
            elif isinstance(branch, n.DiodeBranch) and branch.device.RS:
                self.extra.append(("v", branch))
            elif isinstance(branch, n.BipolarBranch) and (branch.device.RB or branch.device.RE or branch.device.RC):
                self.extra.extend([("vc", branch), ("vb", branch), ("ve", branch)])
        self.own = {(kind, branch.name): len(self.network.nodes) - 1 + i for i, (kind, branch) in enumerate(self.extra)}
        self.size = len(self.network.nodes) - 1 + len(self.extra)

    def residual(self, x: Array) -> Array:
        """KCL in milliamperes, then one equation for each further unknown in volts (milliamperes inside a BJT)."""
        v = [0.0, *x[: len(self.network.nodes) - 1].tolist()]
        kcl = [0.0] * len(v)
        out = np.zeros(self.size)

        def flow(a: int, b: int, i: float) -> None:
            kcl[a] += i
            kcl[b] -= i

        for b in self.network.branches:
            match b:
                case n.Resistor():
                    flow(b.a, b.b, (v[b.a] - v[b.b]) / b.ohms)
                case n.SwitchBranch():
                    flow(b.a, b.b, (v[b.a] - v[b.b]) / (b.device.RON if b.device.on else b.device.ROFF))
                case n.CurrentSource():
                    flow(b.a, b.b, b.amps)
                case n.VoltageSource():
                    at = self.own["i", b.name]
                    flow(b.a, b.b, -x[at])
                    out[at] = v[b.a] - v[b.b] - b.volts
                case n.Port():
                    at = self.own["i", b.name]
                    flow(b.a, b.ref, -x[at] / 1000)
                    out[at] = v[b.a] - v[b.ref] - port_voltage(b.table, x[at] / 1000)
                case n.LedBranch():
                    at = self.own["u", b.name]
                    flow(b.anode, b.cathode, exp(x[at]) + 1e-12 * (v[b.anode] - v[b.cathode]))
                    drop = led_voltage(b.curve, x[at], self.celsius) + b.series_ohms * exp(x[at])
                    out[at] = v[b.anode] - v[b.cathode] - drop
                case n.DiodeBranch():
                    across = v[b.anode] - v[b.cathode]
                    junction = x[self.own["v", b.name]] if b.device.RS else across
                    i = diode_current(b.device, junction, self.celsius)
                    flow(b.anode, b.cathode, i + 1e-12 * across)
                    if b.device.RS:
                        out[self.own["v", b.name]] = across - junction - b.device.RS * i
                case n.BipolarBranch():
                    self._bipolar(b, v, x, flow, out)
                case n.MosBranch():
                    m = b.device
                    vds = v[b.drain] - v[b.source]
                    i = mos_current(m, v[b.gate] - v[b.source], vds, self.celsius) + 1e-12 * vds
                    if m.RDS:
                        i += vds / m.RDS
                    if m.body is not None:
                        i -= m.polarity * diode_current(m.body, -m.polarity * vds, self.celsius)
                    flow(b.drain, b.source, i)
        out[: len(v) - 1] = np.array(kcl[1:]) * 1000
        return out

    def _bipolar(
        self, b: n.BipolarBranch, v: list[float], x: Array, flow: Callable[[int, int, float], None], out: Array
    ) -> None:
        pins = (b.collector, b.base, b.emitter)
        inner = [v[pin] for pin in pins]
        ohms = (b.device.RC, b.device.RB, b.device.RE)
        split = any(ohms)
        if split:
            inner = [x[self.own[kind, b.name]] for kind in ("vc", "vb", "ve")]
        vc, vb, ve = inner
        ic, ib = bipolar_currents(b.device, vb - ve, vb - vc, self.celsius)
        ic -= 1e-12 * (vb - vc)
        ib += 1e-12 * (vb - vc) + 1e-12 * (vb - ve)
        for pin, i in zip(pins, (ic, ib, -ic - ib), strict=True):
            flow(pin, 0, i)
        if split:
            for kind, pin, r, i in zip(("vc", "vb", "ve"), pins, ohms, (ic, ib, -ic - ib), strict=True):
                out[self.own[kind, b.name]] = v[pin] - x[self.own[kind, b.name]] - r * i

    def guess(self, point: Point, seed: int) -> Array:
        """Unknowns near a point that is to be judged: 20 mV and 20 % away from it."""
        random = np.random.default_rng(seed)
        x = np.zeros(self.size)
        x[: len(self.network.nodes) - 1] = point.voltages[1:]
        for kind, branch in self.extra:
            at = self.own[kind, branch.name]
            if kind == "u":
                x[at] = math.log(max(point.current(branch.name), 1e-14))
            elif kind == "i":
                x[at] = point.current(branch.name) * (1000 if isinstance(branch, n.Port) else 1)
            elif kind == "v":
                assert isinstance(branch, n.DiodeBranch)
                across = point.voltages[branch.anode] - point.voltages[branch.cathode]
                x[at] = across - branch.device.RS * point.current(branch.name)
            else:
                assert isinstance(branch, n.BipolarBranch)
                pin, ohms = {
                    "vc": ("collector", branch.device.RC),
                    "vb": ("base", branch.device.RB),
                    "ve": ("emitter", branch.device.RE),
                }[kind]
                outer = point.voltages[getattr(branch, pin)]
                x[at] = outer - ohms * point.current(branch.name, pin)
        shift = np.where(np.arange(self.size) < len(self.network.nodes) - 1, 0.02, 0.0)
        return np.asarray(x + random.uniform(-1, 1, self.size) * (shift + 0.2 * (shift == 0) * np.abs(x) * 0.1))


def operating_point(
    network: n.BranchNetwork, celsius: float, near: Point, seed: int
) -> tuple[list[float], dict[str, float]]:
    """Node voltages and the currents of LEDs, by scipy from a start near the given point."""
    equations = Equations(network, celsius)
    best = None
    for attempt in range(6):
        start = equations.guess(near, seed + attempt)
        for method in ("hybr", "lm"):
            found = root(equations.residual, start, method=method, options={"xtol": 1e-14} if method == "hybr" else {})
            error = float(np.max(np.abs(equations.residual(found.x))))
            if best is None or error < best[0]:
                best = (error, found.x)
        if best is not None and best[0] < 1e-9:
            break
    assert best is not None
    assert best[0] < 1e-7, f"the reference did not converge: {best[0]}"
    x = best[1]
    volts = [0.0, *x[: len(network.nodes) - 1].tolist()]
    currents = {
        branch.name: exp(x[equations.own["u", branch.name]]) + 1e-12 * (volts[branch.anode] - volts[branch.cathode])
        for kind, branch in equations.extra
        if kind == "u" and isinstance(branch, n.LedBranch)
    }
    return volts, currents
