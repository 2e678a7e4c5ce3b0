"""Device equations: LEDs, diodes, bipolar transistors, MOS transistors and switches as small frozen values.

Volts, amperes, ohms, degrees Celsius. The semiconductor equations are the textbook ones that SPICE models are
written for (key `spice-1973`): exponential junctions, the Ebers-Moll model in transport form, the
Shichman-Hodges model (key `shichman-hodges-1968`). The LED is a curve through data-sheet points.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

BOLTZMANN = 1.380649e-23
CHARGE = 1.602176634e-19
KELVIN = 273.15
MODEL_TEMPERATURE = 27.0
"""Temperature in degrees Celsius at which model parameters hold unless the model says otherwise."""

PLATEAU_END = 1e-6
"""A floored LED curve keeps its voltage down to this current and falls logarithmically below it."""

PLATEAU_SLOPE = 1e-9
# Volts per e-fold: small enough to be no lowering, and it settles how floored LEDs in parallel share a current.


def thermal_voltage(temperature: float) -> float:
    """k T / q in volts at a temperature in degrees Celsius."""
    return BOLTZMANN * (temperature + KELVIN) / CHARGE


class LedPiece(NamedTuple):
    """One piece of an LED curve, V = constant + slope u + ohms e^u with u = ln(I / 1 A), valid up to u = upper."""

    upper: float
    constant: float
    slope: float
    ohms: float


class LedCurve(NamedTuple):
    """VF(I, T) = VF0 + n Vt ln(I / I0) + Rs (I - I0) + k (T - 25) with VF0 = `forward_voltage` at I0 = `at`.

    floor: below I0 the voltage stays VF0 + k (T - 25) down to 1 uA (a data-sheet maximum is not lowered below its
    test current), then falls logarithmically. emission_below, series_resistance_below: n and Rs below I0 where they
    differ from those above it (a spread of n and Rs makes a lowest curve steep below and shallow above I0).
    """

    forward_voltage: float
    at: float
    emission: float
    series_resistance: float
    temperature_coefficient: float
    floor: bool = False
    emission_below: float | None = None
    series_resistance_below: float | None = None

    @classmethod
    def highest(
        cls,
        forward_voltage: float,
        at: float,
        emission: tuple[float, float],
        series_resistance: tuple[float, float],
        temperature_coefficient: float,
    ) -> LedCurve:
        """The curve that no LED of the spread exceeds: steepest above the test current, floored below it."""
        return cls(forward_voltage, at, max(emission), max(series_resistance), temperature_coefficient, floor=True)

    @classmethod
    def lowest(
        cls,
        forward_voltage: float,
        at: float,
        emission: tuple[float, float],
        series_resistance: tuple[float, float],
        temperature_coefficient: float,
    ) -> LedCurve:
        """The curve that no LED of the spread undercuts: shallowest above the test current, steepest below it."""
        return cls(
            forward_voltage,
            at,
            min(emission),
            min(series_resistance),
            temperature_coefficient,
            emission_below=max(emission),
            series_resistance_below=max(series_resistance),
        )

    def pieces(self, temperature: float, series_ohms: float = 0.0) -> tuple[LedPiece, ...]:
        """The curve at one temperature as pieces in u = ln(I / 1 A), lowest current first.

        `series_ohms` is added in series with the whole curve.
        """
        vt = thermal_voltage(temperature)
        u0 = math.log(self.at)
        base = self.forward_voltage + self.temperature_coefficient * (temperature - 25.0)

        def law(upper: float, emission: float, resistance: float) -> LedPiece:
            constant = base - emission * vt * u0 - resistance * self.at
            return LedPiece(upper, constant, emission * vt, resistance + series_ohms)

        above = law(math.inf, self.emission, self.series_resistance)
        if self.floor:
            end = min(u0, math.log(PLATEAU_END))
            plateau = LedPiece(u0, base - PLATEAU_SLOPE * u0, PLATEAU_SLOPE, series_ohms)
            knee = plateau.constant + plateau.slope * end
            tail = LedPiece(end, knee - self.emission * vt * end, self.emission * vt, series_ohms)
            return (tail, plateau, above) if end < u0 else (tail, above)
        if self.emission_below is None and self.series_resistance_below is None:
            return (above,)
        emission = self.emission if self.emission_below is None else self.emission_below
        resistance = self.series_resistance if self.series_resistance_below is None else self.series_resistance_below
        return (law(u0, emission, resistance), above)

    def voltage(self, u: float, temperature: float) -> float:
        """Forward voltage at the current e^u amperes."""
        piece = self._piece(u, temperature)
        return piece.constant + piece.slope * u + piece.ohms * math.exp(u)

    def slope(self, u: float, temperature: float) -> float:
        """dV/du at the current e^u amperes; always positive."""
        piece = self._piece(u, temperature)
        return piece.slope + piece.ohms * math.exp(u)

    def forward(self, current: float, temperature: float) -> float:
        """Forward voltage at a current in amperes; the current must be positive."""
        return self.voltage(math.log(current), temperature)

    def _piece(self, u: float, temperature: float) -> LedPiece:
        return next(piece for piece in self.pieces(temperature) if u <= piece.upper)


class Diode(NamedTuple):
    """I = IS (exp(V / (N Vt)) - 1) behind RS; with BV a mirrored exponential that carries IBV at -BV (Zener)."""

    IS: float = 1e-14
    N: float = 1.0
    RS: float = 0.0
    BV: float | None = None
    IBV: float = 1e-3
    XTI: float = 3.0
    EG: float = 1.11
    TNOM: float = MODEL_TEMPERATURE

    def saturation(self, temperature: float) -> float:
        """IS at the temperature by the saturation-current formula of the model family."""
        return _saturation(self.IS, temperature, self.TNOM, self.XTI / self.N, self.EG / self.N)

    def current(self, junction: float, temperature: float) -> float:
        """Current anode to cathode at the junction voltage (without the drop in RS)."""
        nvt = self.N * thermal_voltage(temperature)
        amps = self.saturation(temperature) * math.expm1(junction / nvt)
        if self.BV is not None:
            amps -= self.IBV * math.exp(-(junction + self.BV) / nvt)
        return amps


class Bipolar(NamedTuple):
    """Ebers-Moll model in transport form; polarity +1 for npn, -1 for pnp; RB, RE, RC outside the intrinsic part."""

    IS: float = 1e-14
    BF: float = 100.0
    BR: float = 1.0
    NF: float = 1.0
    NR: float = 1.0
    polarity: int = 1
    RB: float = 0.0
    RE: float = 0.0
    RC: float = 0.0
    XTI: float = 3.0
    EG: float = 1.11
    XTB: float = 0.0
    TNOM: float = MODEL_TEMPERATURE

    def saturation(self, temperature: float) -> float:
        """IS at the temperature by the saturation-current formula of the model family."""
        return _saturation(self.IS, temperature, self.TNOM, self.XTI, self.EG)

    def gains(self, temperature: float) -> tuple[float, float]:
        """Forward and reverse current gain at the temperature."""
        scale = math.pow((temperature + KELVIN) / (self.TNOM + KELVIN), self.XTB)
        return self.BF * scale, self.BR * scale

    def currents(self, base_emitter: float, base_collector: float, temperature: float) -> tuple[float, float]:
        """Currents into collector and base from the junction voltages vB - vE and vB - vC."""
        vt = thermal_voltage(temperature)
        saturation = self.saturation(temperature)
        forward_gain, reverse_gain = self.gains(temperature)
        forward = saturation * math.expm1(self.polarity * base_emitter / (self.NF * vt))
        reverse = saturation * math.expm1(self.polarity * base_collector / (self.NR * vt))
        collector = forward - reverse - reverse / reverse_gain
        base = forward / forward_gain + reverse / reverse_gain
        return self.polarity * collector, self.polarity * base


class Mos(NamedTuple):
    """Shichman-Hodges model (level 1), bulk tied to source; polarity +1 for n-channel, -1 for p-channel.

    KP is the whole transconductance KP W / L in A/V^2 at TNOM and falls with (T / TNOM)^-1.5; VTO is taken as
    constant over temperature. RD and RS stand outside the channel, RDS shunts drain and source, `body` is the diode
    between bulk and drain (anode at the source of an n-channel device).
    """

    VTO: float = 0.0
    KP: float = 2e-5
    LAMBDA: float = 0.0
    polarity: int = 1
    RD: float = 0.0
    RS: float = 0.0
    RDS: float | None = None
    body: Diode | None = None
    TNOM: float = MODEL_TEMPERATURE

    def transconductance(self, temperature: float) -> float:
        """KP W / L at the temperature."""
        return self.KP * math.pow((temperature + KELVIN) / (self.TNOM + KELVIN), -1.5)

    def current(self, gate_source: float, drain_source: float, temperature: float) -> float:
        """Channel current drain to source; drain and source change places where the voltage does."""
        k = self.transconductance(temperature)
        vgs, vds = self.polarity * gate_source, self.polarity * drain_source
        sign = self.polarity
        if vds < 0.0:
            vgs, vds, sign = vgs - vds, -vds, -sign
        over = vgs - self.polarity * self.VTO
        if over <= 0.0:
            return 0.0
        shape = (over - 0.5 * vds) * vds if vds < over else 0.5 * over * over
        return sign * k * shape * (1.0 + self.LAMBDA * vds)


class Switch(NamedTuple):
    """A contact or saturated switch: RON when it is on, ROFF when it is off."""

    RON: float = 1.0
    ROFF: float = 1e12
    on: bool = False

    @property
    def ohms(self) -> float:
        """The resistance in the present state."""
        return self.RON if self.on else self.ROFF


Device = Diode | Bipolar | Mos | Switch

_POLARITIES = {"npn": 1, "pnp": -1, "lpnp": -1, "nmos": 1, "pmos": -1, "vdmos": 1, "vdmosn": 1, "vdmosp": -1}
_JUNCTION_GATES = {"njf": 1, "pjf": -1}
_DEFAULT_TYPES = {"D": "d", "Q": "npn", "M": "nmos", "S": "sw", "W": "csw"}


def from_model(
    letter: str, type: str | None, parameters: Mapping[str, float], tail: Mapping[str, float]
) -> Device | None:
    """Make the device that a D, Q, M, J, S or W card with its `.model` describes; None where no equation here does.

    type and parameters: of the `.model`, None and empty where there is none (SPICE defaults then hold). tail: the
    card's own parameters (`w`, `l`, `m`, `area`). Keys in lower case.
    """
    letter = letter.upper()
    kind = (type or _DEFAULT_TYPES.get(letter, "")).lower()
    number = tail.get("m", 1.0) * tail.get("area", 1.0)
    if number <= 0.0 or not math.isfinite(number):
        return None
    get = parameters.get
    nominal = get("tnom", MODEL_TEMPERATURE)
    if letter == "D" and kind == "d":
        return Diode(
            IS=get("is", 1e-14) * number,
            N=get("n", 1.0),
            RS=get("rs", 0.0) / number,
            BV=abs(parameters["bv"]) if "bv" in parameters else None,
            IBV=abs(get("ibv", 1e-3)) * number,
            XTI=get("xti", 3.0),
            EG=get("eg", 1.11),
            TNOM=nominal,
        )
    if letter == "Q" and kind in ("npn", "pnp", "lpnp"):
        return Bipolar(
            IS=get("is", 1e-14) * number,
            BF=get("bf", 100.0),
            BR=get("br", 1.0),
            NF=get("nf", 1.0),
            NR=get("nr", 1.0),
            polarity=_POLARITIES[kind],
            RB=get("rb", 0.0) / number,
            RE=get("re", 0.0) / number,
            RC=get("rc", 0.0) / number,
            XTI=get("xti", 3.0),
            EG=get("eg", 1.11),
            XTB=get("xtb", 0.0),
            TNOM=nominal,
        )
    if letter == "M" and kind in _POLARITIES and kind not in ("npn", "pnp", "lpnp"):
        return _mos(kind, parameters, tail, nominal)
    if letter == "J" and kind in _JUNCTION_GATES:
        # The same square law, conducting at 0 V between gate and source; the junction of the gate lies there as well.
        polarity = _JUNCTION_GATES[kind]
        return Mos(
            VTO=polarity * get("vto", get("vt0", -2.0)),
            KP=2.0 * get("beta", 1e-4) * number,
            LAMBDA=get("lambda", 0.0),
            polarity=polarity,
            RD=get("rd", 0.0) / number,
            RS=get("rs", 0.0) / number,
            body=Diode(IS=get("is", 1e-14) * number, N=get("n", 1.0), TNOM=nominal),
            TNOM=nominal,
        )
    if letter in ("S", "W") and kind in ("sw", "csw", "vswitch", "iswitch"):
        return Switch(RON=get("ron", 1.0), ROFF=get("roff", 1e12))
    return None


def _mos(kind: str, parameters: Mapping[str, float], tail: Mapping[str, float], nominal: float) -> Mos:
    power = kind.startswith("vdmos")
    number = tail.get("m", 1.0)
    width = tail.get("w", parameters.get("w", 1e-4))
    length = tail.get("l", parameters.get("l", 1e-4))
    # A power MOS model states the transconductance of the whole device; W and L mean nothing to it.
    ratio = 1.0 if power or width <= 0.0 or length <= 0.0 else width / length
    shunt = parameters.get("rds")
    body = Diode(IS=parameters.get("is", 1e-14) * number, N=parameters.get("n", 1.0), TNOM=nominal)
    return Mos(
        VTO=parameters.get("vto", parameters.get("vt0", 0.0)),
        KP=parameters.get("kp", 1.0 if power else 2e-5) * ratio * number,
        LAMBDA=parameters.get("lambda", 0.0),
        polarity=-1 if "pchan" in parameters else _POLARITIES[kind],
        RD=parameters.get("rd", 0.0) / number,
        RS=parameters.get("rs", 0.0) / number,
        RDS=shunt / number if shunt is not None and shunt > 0.0 else None,
        body=body,
        TNOM=nominal,
    )


def _saturation(at_nominal: float, temperature: float, nominal: float, exponent: float, gap: float) -> float:
    """IS(T) = IS (T / Tnom)^exponent exp((T / Tnom - 1) gap / Vt(T)) with absolute temperatures."""
    ratio = (temperature + KELVIN) / (nominal + KELVIN)
    return at_nominal * math.pow(ratio, exponent) * math.exp((ratio - 1.0) * gap / thermal_voltage(temperature))
