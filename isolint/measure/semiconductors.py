"""Device equations as simulators have them: junctions, bipolar and field-effect transistors, with their derivatives.

Volts, amperes, siemens, at one temperature. Each function gives currents with their slopes at given voltages; nothing
here knows nodes. The transistor is the charge-control model of key `gummel-poon-1970`, at rest: with Early voltages,
high-current loss and leaking junctions. A parameter that a model leaves out has the default of the model family.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

BOLTZMANN_OVER_CHARGE = 1.380649e-23 / 1.602176634e-19
KELVIN = 273.15
NOMINAL = 27.0
"""Temperature in degrees Celsius at which models hold, and at which they are measured."""

_LARGEST = 600.0
# Exponents are cut here; e^600 still multiplies.


def thermal(temperature: float) -> float:
    """k T / q in volts at a temperature in degrees Celsius."""
    return BOLTZMANN_OVER_CHARGE * (temperature + KELVIN)


def grown(value: float, volts: float, width: float) -> tuple[float, float]:
    """value (exp(volts / width) - 1) and its slope."""
    power = value * math.exp(min(volts / width, _LARGEST))
    return power - value, power / width


def limited(new: float, old: float, width: float, value: float) -> float:
    """The voltage of a junction to go on with: where it would rise far beyond the knee, the current is followed."""
    critical = width * math.log(width / (math.sqrt(2.0) * value)) if value > 0.0 else math.inf
    if new <= critical or abs(new - old) <= 2.0 * width:
        return new
    if old > 0.0:
        rise = 1.0 + (new - old) / width
        return old + width * math.log(rise) if rise > 0.0 else critical
    return width * math.log(new / width)


def saturation(value: float, temperature: float, nominal: float, exponent: float, gap: float) -> float:
    """The saturation current of a junction at a temperature, from that at the nominal one."""
    ratio = (temperature + KELVIN) / (nominal + KELVIN)
    return value * math.pow(ratio, exponent) * math.exp((ratio - 1.0) * gap / thermal(temperature))


class DiodeModel(NamedTuple):
    """A junction with its recombination, high-current loss and breakdown; `ohms` stands outside.

    forward: where it is stated, the diode is made of straight lines: volts of the knee, ohms on, ohms off.
    """

    amps: float
    width: float
    ohms: float = 0.0
    breakdown: float | None = None
    breakdown_amps: float = 1e-3
    breakdown_width: float = 0.0259
    knee: float | None = None
    leak: float = 0.0
    leak_width: float = 0.0518
    forward: tuple[float, float, float] | None = None

    def current(self, volts: float) -> tuple[float, float]:
        """Amperes and slope at a junction voltage."""
        if self.forward is not None:
            start, on, off = self.forward
            bent = max(volts - start, 0.0) / on
            return volts / off + bent, 1.0 / off + (1.0 / on if volts > start else 0.0)
        amps, slope = grown(self.amps, volts, self.width)
        if self.knee is not None and amps > 0.0:
            share = math.sqrt(self.knee / (self.knee + amps))
            slope *= share * (1.0 - 0.5 * amps / (self.knee + amps))
            amps *= share
        if self.leak:
            more, steep = grown(self.leak, volts, self.leak_width)
            wide = math.sqrt(math.sqrt((1.0 - min(volts, 1.0)) ** 2 + 0.005))
            amps += more * wide
            slope += steep * wide
        if self.breakdown is not None:
            power = self.breakdown_amps * math.exp(min(-(volts + self.breakdown) / self.breakdown_width, _LARGEST))
            amps -= power
            slope += power / self.breakdown_width
        return amps, slope

    def step(self, new: float, old: float) -> float:
        """The junction voltage to go on with."""
        if self.forward is not None:
            return new
        if self.breakdown is not None and new < -0.5 * self.breakdown:
            mirrored = limited(
                -(new + self.breakdown), -(old + self.breakdown), self.breakdown_width, self.breakdown_amps
            )
            return -mirrored - self.breakdown
        return limited(new, old, self.width, self.amps)


def diode(parameters: Mapping[str, float], number: float, series: float, temperature: float) -> DiodeModel:
    """The diode of a model, so many in parallel and in series."""
    get = parameters.get
    nominal = get("tnom", get("t_measured", NOMINAL))
    emission = get("n", 1.0)
    vt = thermal(temperature)
    if "vfwd" in parameters or "ron" in parameters:
        on, off = get("ron", 1.0), get("roff", 1e12)
        return DiodeModel(0.0, vt, forward=(get("vfwd", 0.0) * series, on * series / number, off * series / number))
    exponent, gap = get("xti", 3.0) / emission, get("eg", 1.11) / emission
    breakdown = get("bv", get("vb"))
    width = series * emission * vt
    leak_emission = get("nr", 2.0)
    return DiodeModel(
        saturation(get("is", 1e-14), temperature, nominal, exponent, gap) * number,
        width,
        get("rs", 0.0) * series / number,
        None if breakdown is None or not abs(breakdown) > 0.0 else series * abs(breakdown),
        abs(get("ibv", 1e-3)) * number,
        series * get("nbv", emission) * vt,
        get("ikf", get("ik", 0.0)) * number or None,
        get("isr", 0.0) * number,
        series * leak_emission * vt,
    )


class BipolarModel(NamedTuple):
    """A bipolar transistor; polarity +1 for npn. Voltages and currents of the functions are those of an npn."""

    amps: float
    forward_gain: float
    reverse_gain: float
    forward_width: float
    reverse_width: float
    polarity: int = 1
    early: float | None = None
    reverse_early: float | None = None
    knee: float | None = None
    reverse_knee: float | None = None
    emitter_leak: float = 0.0
    emitter_leak_width: float = 0.0388
    collector_leak: float = 0.0
    collector_leak_width: float = 0.0518
    base_ohms: float = 0.0
    least_base_ohms: float = 0.0
    emitter_ohms: float = 0.0
    collector_ohms: float = 0.0

    def currents(self, vbe: float, vbc: float) -> tuple[tuple[float, float, float], tuple[float, float, float], float]:
        """Collector and base current, each with its slopes over vbe and vbc; third, the base charge."""
        forward, gf = grown(self.amps, vbe, self.forward_width)
        reverse, gr = grown(self.amps, vbc, self.reverse_width)
        inverse = 1.0
        if self.early is not None:
            inverse -= vbc / self.early
        if self.reverse_early is not None:
            inverse -= vbe / self.reverse_early
        inverse = max(inverse, 1e-3)
        wide = 1.0 / inverse
        wide_e = 0.0 if self.reverse_early is None else wide * wide / self.reverse_early
        wide_c = 0.0 if self.early is None else wide * wide / self.early
        high = (forward / self.knee if self.knee else 0.0) + (reverse / self.reverse_knee if self.reverse_knee else 0.0)
        root = math.sqrt(max(1.0 + 4.0 * high, 1e-6))
        charge = wide * (1.0 + root) / 2.0
        charge_e = wide_e * (1.0 + root) / 2.0 + (wide / root * gf / self.knee if self.knee else 0.0)
        charge_c = wide_c * (1.0 + root) / 2.0 + (wide / root * gr / self.reverse_knee if self.reverse_knee else 0.0)
        passing = (forward - reverse) / charge
        passing_e = (gf - passing * charge_e) / charge
        passing_c = (-gr - passing * charge_c) / charge
        leak_e, gle = grown(self.emitter_leak, vbe, self.emitter_leak_width)
        leak_c, glc = grown(self.collector_leak, vbc, self.collector_leak_width)
        back, back_c = reverse / self.reverse_gain + leak_c, gr / self.reverse_gain + glc
        collector = (passing - back, passing_e, passing_c - back_c)
        base = (forward / self.forward_gain + leak_e + back, gf / self.forward_gain + gle, back_c)
        return collector, base, charge


def bipolar(kind: str, parameters: Mapping[str, float], number: float, temperature: float) -> BipolarModel:
    """The transistor of a model, so many in parallel."""
    get = parameters.get
    nominal = get("tnom", get("t_measured", NOMINAL))
    vt = thermal(temperature)
    exponent, gap, drift = get("xti", get("pt", 3.0)), get("eg", 1.11), get("xtb", 0.0)
    gain = math.pow((temperature + KELVIN) / (nominal + KELVIN), drift)
    amps = saturation(get("is", 1e-16), temperature, nominal, exponent, gap)
    base = get("rb", 0.0)

    def leak(name: str, share: str, emission: float) -> float:
        stated = get(name, get(share, 0.0) * get("is", 1e-16))
        return saturation(stated, temperature, nominal, exponent / emission, gap / emission) / gain * number

    def positive(*names: str) -> float | None:
        value = next((parameters[name] for name in names if name in parameters), 0.0)
        return value if value > 0.0 else None

    knee, reverse_knee = positive("ikf", "ik"), positive("ikr")
    emitter, collector = get("ne", 1.5), get("nc", 2.0)
    return BipolarModel(
        amps * number,
        max(get("bf", 100.0) * gain, 1e-9),
        max(get("br", 1.0) * gain, 1e-9),
        get("nf", 1.0) * vt,
        get("nr", 1.0) * vt,
        -1 if "pnp" in kind else 1,
        positive("vaf", "va"),
        positive("var", "vb"),
        None if knee is None else knee * number,
        None if reverse_knee is None else reverse_knee * number,
        leak("ise", "c2", emitter),
        emitter * vt,
        leak("isc", "c4", collector),
        collector * vt,
        base / number,
        get("rbm", base) / number,
        get("re", 0.0) / number,
        get("rc", 0.0) / number,
    )


class ChannelModel(NamedTuple):
    """The channel of a field-effect transistor by the square law; polarity +1 for n-channel."""

    threshold: float
    steepness: float
    modulation: float
    polarity: int = 1

    def current(self, vgs: float, vds: float) -> tuple[float, float, float]:
        """Current from drain to source with its slopes over vgs and vds, of an n-channel device."""
        swapped = vds < 0.0
        if swapped:
            vgs, vds = vgs - vds, -vds
        over = vgs - self.threshold
        if over <= 0.0:
            return 0.0, 0.0, 0.0
        bend = 1.0 + self.modulation * vds
        if vds < over:
            shape, by_gate, by_drain = (over - 0.5 * vds) * vds, vds, over - vds
        else:
            shape, by_gate, by_drain = 0.5 * over * over, over, 0.0
        amps, gm = self.steepness * shape * bend, self.steepness * by_gate * bend
        gds = self.steepness * (by_drain * bend + shape * self.modulation)
        return (-amps, -gm, gm + gds) if swapped else (amps, gm, gds)
