"""Generic families: what can be said of a part whose record says nothing, as intervals per type.

In: a record, the LED's technology where it is known, an operating point. Out: an interval, 1.0 exactly at the point
where the ratio was measured, and None outside the curve: nothing is extrapolated. Every value that comes from here
is an assumption whose origin is `origin(type)`. Figures are the trade's typical ones, from memory, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from isolint.parts.hints import family_name_hints, name_hints
from isolint.parts.records import Curve, PartRecord
from isolint.parts.types import PHOTODARLINGTON, PHOTOTRANSISTOR
from isolint.units import Interval

__all__ = [
    "DARK_CURRENT_DOUBLING",
    "DARK_CURRENT_DOUBLING_TYPICAL",
    "FORWARD_VOLTAGE_SPREAD",
    "REMAINING",
    "Family",
    "ForwardVoltage",
    "current_factor",
    "family",
    "family_name_hints",
    "forward_voltage",
    "name_hints",
    "origin",
    "saturation_voltage",
    "temperature_coefficient",
    "temperature_factor",
    "voltage_factor",
]

TECHNOLOGY_SPREAD = 0.15
"""How far a part of a known technology may be from that technology's typical curve."""

TEST_TEMPERATURE = 25.0
REMAINING = Interval(0.5, 1.0)
"""What remains of the transfer ratio at the end of life."""

DARK_CURRENT_DOUBLING = Interval(8.0, 10.0)
"""Kelvins in which the dark current doubles: worst, typical."""

DARK_CURRENT_DOUBLING_TYPICAL = DARK_CURRENT_DOUBLING.high
FORWARD_VOLTAGE_SPREAD = 0.15
"""Volts by which the smallest forward voltage lies below the typical one where a record does not say."""

_VOLTAGE_FACTOR = Interval(0.6, 1.0)


class ForwardVoltage(NamedTuple):
    """A generic LED's forward voltage at the current `at`, 25 degC: typical values, smallest and largest."""

    typ: Interval
    max: float
    at: float

    @property
    def min(self) -> float:
        """The smallest forward voltage: typical minus the usual spread."""
        return self.typ.low - FORWARD_VOLTAGE_SPREAD


class Family(NamedTuple):
    """Generic figures of a type, each an interval from the poorest to the best usual part; None: no usual figure."""

    ratio: Interval | None = None
    ratio_current: float | None = None
    ratio_voltage: float | None = None
    forward_current_max: Interval | None = None
    reverse_voltage_max: Interval | None = None
    voltage_max: Interval | None = None
    output_reverse_voltage_max: Interval | None = None
    current_max: Interval | None = None
    saturation_voltage: Interval | None = None
    dark_current: Interval | None = None


_TRANSISTOR = Family(
    ratio=Interval(0.5, 6.0),
    ratio_current=5e-3,
    ratio_voltage=5.0,
    forward_current_max=Interval(50e-3, 60e-3),
    reverse_voltage_max=Interval(5.0, 6.0),
    voltage_max=Interval(30.0, 80.0),
    output_reverse_voltage_max=Interval(6.0, 7.0),
    current_max=Interval(50e-3, 50e-3),
    saturation_voltage=Interval(0.2, 0.4),
    dark_current=Interval(0.0, 100e-9),
)
_LOGIC = Family(forward_current_max=Interval(20e-3, 25e-3), reverse_voltage_max=Interval(3.0, 5.0))
_POWER = Family(forward_current_max=Interval(50e-3, 60e-3), reverse_voltage_max=Interval(3.0, 6.0))
_FAMILIES: Mapping[str, Family] = {
    PHOTOTRANSISTOR: _TRANSISTOR,
    PHOTODARLINGTON: Family(
        forward_current_max=Interval(20e-3, 60e-3),
        reverse_voltage_max=Interval(5.0, 6.0),
        voltage_max=Interval(30.0, 80.0),
        output_reverse_voltage_max=Interval(5.0, 7.0),
        current_max=Interval(80e-3, 150e-3),
        saturation_voltage=Interval(0.8, 1.0),
        dark_current=Interval(0.0, 1e-6),
    ),
    "logic-output": _LOGIC,
    "gate-driver": _LOGIC,
    "linear": Family(forward_current_max=Interval(25e-3, 60e-3), reverse_voltage_max=Interval(2.5, 5.0)),
    "phototriac": _POWER,
    "photo-scr": _POWER,
    "photovoltaic": _POWER,
    "mosfet-output": _POWER,
}

# LED technologies in use by type, and the forward voltage of each.
_WIDE = ForwardVoltage(Interval(1.6, 1.68), 1.85, 16e-3)
_LOW_CURRENT = ForwardVoltage(Interval(1.2, 1.3), 1.5, 5e-3)
_GAAS = ForwardVoltage(Interval(1.15, 1.25), 1.5, 10e-3)
_GAASP = ForwardVoltage(Interval(1.5, 1.5), 1.7, 16e-3)
_LEDS: Mapping[str, Mapping[str, ForwardVoltage]] = {
    PHOTOTRANSISTOR: {"GaAs": _GAAS, "AlGaAs": _LOW_CURRENT},
    PHOTODARLINGTON: {"GaAs": _GAAS, "GaAsP": _GAASP},
    "logic-output": {"GaAsP": _GAASP, "AlGaAs": _WIDE},
    "gate-driver": {"GaAsP": _GAASP, "AlGaAs": _WIDE},
    "linear": {"AlGaAs": _WIDE},
    "phototriac": {"GaAs": _GAAS},
    "photo-scr": {"GaAs": _GAAS},
    "photovoltaic": {"GaAs": _GAAS, "AlGaAs": _LOW_CURRENT},
    "mosfet-output": {"GaAs": _GAAS, "AlGaAs": _LOW_CURRENT},
}
_TECHNOLOGY: Mapping[str, ForwardVoltage] = {"GaAs": _GAAS, "AlGaAs": _WIDE, "GaAsP": _GAASP}
_COEFFICIENT: Mapping[str, float] = {"GaAs": -1.5e-3, "AlGaAs": -1.9e-3, "GaAsP": -1.6e-3}


def _ma(points: Sequence[tuple[float, float]]) -> Curve:
    return Curve(tuple((x / 1000.0, y) for x, y in points), logarithmic=True)


# Ratio against LED current, and against temperature, by type and technology.
_CURRENT: Mapping[str, Mapping[str, Curve]] = {
    PHOTOTRANSISTOR: {
        "GaAs": _ma([(0.1, 0.10), (0.5, 0.40), (1, 0.60), (2, 0.80), (5, 1.0), (10, 1.10), (20, 1.05), (50, 0.75)]),
        "AlGaAs": _ma([(0.1, 0.45), (0.5, 0.80), (1, 0.92), (2, 0.98), (5, 1.0), (10, 0.95), (20, 0.85), (50, 0.60)]),
    },
    PHOTODARLINGTON: {"GaAsP": _ma([(0.1, 0.6), (0.5, 1.1), (1, 1.1), (2, 0.95), (5, 0.6), (10, 0.35)])},
    "logic-output": {"GaAsP": _ma([(1, 0.6), (2, 0.75), (5, 0.95), (10, 1.02), (20, 0.98)])},
}
_AT = (-40.0, -25.0, 0.0, 25.0, 50.0, 70.0, 85.0, 100.0)
_TEMPERATURE: Mapping[str, Mapping[str, Curve]] = {
    PHOTOTRANSISTOR: {
        "GaAs": Curve(tuple(zip(_AT, (0.80, 0.90, 1.00, 1.00, 0.90, 0.80, 0.70, 0.60), strict=True))),
        "AlGaAs": Curve(tuple(zip(_AT, (0.95, 1.00, 1.02, 1.00, 0.94, 0.88, 0.83, 0.78), strict=True))),
    },
    PHOTODARLINGTON: {
        "GaAsP": Curve(tuple(zip(_AT, (0.55, 0.70, 0.85, 1.00, 1.10, 1.15, 1.18, 1.20), strict=True))),
    },
    "logic-output": {
        "GaAsP": Curve(tuple(zip(_AT, (0.95, 0.98, 1.00, 1.00, 0.96, 0.92, 0.88, 0.84), strict=True))),
    },
}


def origin(type_: str) -> str:
    """How an assumption names where a generic value comes from."""
    return f"generic {type_}"


def family(type_: str) -> Family:
    """The generic figures of a type; all None where the trade has no usual ones."""
    return _FAMILIES.get(type_, Family())


def forward_voltage(type_: str, technology: str | None = None) -> ForwardVoltage | None:
    """The forward voltage of a type's LEDs; over all technologies in use for the type when it is not known.

    None for a type without an LED. Where the technologies are measured at different currents the smallest current
    stands, so that the largest value is not undercut when it is held below its test current.
    """
    leds = _LEDS.get(type_)
    if leds is None:
        return None
    if technology is not None:
        return leds.get(technology) or _TECHNOLOGY.get(technology)
    low = min(led.typ.low for led in leds.values())
    high = max(led.typ.high for led in leds.values())
    return ForwardVoltage(
        Interval(low, high), max(led.max for led in leds.values()), min(led.at for led in leds.values())
    )


def temperature_coefficient(type_: str, technology: str | None = None) -> Interval:
    """Volts per kelvin of the forward voltage; a point for a known technology."""
    stated = _COEFFICIENT.get(technology or "")
    if stated is not None:
        return Interval(stated, stated)
    found = [_COEFFICIENT[name] for name in _LEDS.get(type_, _COEFFICIENT)]
    return Interval(min(found), max(found))


def saturation_voltage(record: PartRecord) -> float | None:
    """VCE(sat) max of the record, else the largest of its family; None for types that don't saturate."""
    if record.output.saturation_voltage is not None:
        return record.output.saturation_voltage.max
    usual = family(record.type).saturation_voltage
    return usual.high if usual else None


def current_factor(record: PartRecord, technology: str | None, current: float) -> Interval | None:
    """D_IF: the ratio at an LED current over that at the record's test current; None outside the curve.

    The record's own curve is a point, the generic one the envelope of the type's technologies; of one technology the
    curve and a spread around it. 1.0 exactly at the test current.
    """
    if record.transfer.versus_current is not None:
        return _point(record.transfer.versus_current.at(current))
    ratio = record.transfer.ratio
    test = ratio.current if ratio else None
    if test is None:
        return None
    return _envelope(_CURRENT.get(record.type, {}), technology, test, current)


def temperature_factor(record: PartRecord, technology: str | None, temperature: float) -> Interval | None:
    """D_T: the ratio at a temperature over that at 25 degC; None outside the curve. As `current_factor` otherwise."""
    if record.transfer.versus_temperature is not None:
        return _point(record.transfer.versus_temperature.at(temperature))
    return _envelope(_TEMPERATURE.get(record.type, {}), technology, TEST_TEMPERATURE, temperature)


def voltage_factor(record: PartRecord, voltage: float) -> Interval | None:
    """D_VCE: the ratio at an output voltage over that at the record's test voltage.

    The record's own curve where it has one, None outside it. Else 1.0 at and above the test voltage, 0.6 to 1 from
    VCE(sat) max up, and None below, where only a record's curve counts.
    """
    curve = record.transfer.versus_voltage
    if curve is not None:
        return _point(curve.at(voltage))
    floor = saturation_voltage(record)
    if floor is None or voltage < floor:
        return None
    test = record.transfer.ratio.voltage if record.transfer.ratio else None
    return Interval(1.0, 1.0) if test is not None and voltage >= test else _VOLTAGE_FACTOR


def _point(value: float | None) -> Interval | None:
    return None if value is None else Interval(value, value)


def _envelope(curves: Mapping[str, Curve], technology: str | None, test: float, x: float) -> Interval | None:
    """Between the lowest and highest of the normalised curves at x."""
    stated = curves.get(technology or "")
    taken = [stated] if stated is not None else list(curves.values())
    if not taken:
        return None
    if len(taken) == 1:
        # One curve says nothing of its spread, whether the technology is stated or the only one in the table.
        scales: tuple[float, ...] = (1.0 - TECHNOLOGY_SPREAD, 1.0 + TECHNOLOGY_SPREAD)
    else:
        scales = (1.0,)
    found = []
    for curve in taken:
        for scale in scales:
            value = _normalised(curve, test, scale, x)
            if value is None:
                return None
            found.append(value)
    return Interval(min(found), max(found))


def _normalised(curve: Curve, test: float, scale: float, x: float) -> float | None:
    """The curve over its value at the test point, scaled everywhere but there, where it is 1.0."""
    unit = curve.at(test)
    if unit is None:
        return None
    points = [(at, scale * y / unit) for at, y in curve.points if at != test]
    points.append((test, 1.0))
    return Curve(tuple(sorted(points)), curve.logarithmic).at(x)
