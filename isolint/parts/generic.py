"""Generic families: what can be said of a part whose record says nothing, as intervals per type.

In: a record, the LED's technology where it is known, an operating point. Out: an interval, 1.0 exactly at the point
where the ratio was measured, and None outside the curve: nothing is extrapolated. Every value that comes from here
is an assumption whose origin is `origin(type)`. Figures are the trade's typical ones, from memory, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from isolint import types
from isolint.curve import Curve
from isolint.parts.records import PartRecord
from isolint.types.form.usual_values import FORWARD_VOLTAGE_SPREAD, GAAS, GAASP, WIDE, Family, ForwardVoltage
from isolint.units import Interval

__all__ = [
    "DARK_CURRENT_DOUBLING",
    "DARK_CURRENT_DOUBLING_TYPICAL",
    "FORWARD_VOLTAGE_SPREAD",
    "RATIO_SPREAD",
    "REMAINING",
    "Family",
    "ForwardVoltage",
    "current_factor",
    "family",
    "forward_voltage",
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
RATIO_SPREAD = 0.3
"""What a type's poorest usual part has of a typical one's transfer ratio: 50 % of about 170 %."""


_TECHNOLOGY: Mapping[str, ForwardVoltage] = {"GaAs": GAAS, "AlGaAs": WIDE, "GaAsP": GAASP}
_COEFFICIENT: Mapping[str, float] = {"GaAs": -1.5e-3, "AlGaAs": -1.9e-3, "GaAsP": -1.6e-3}


def origin(type_: str) -> str:
    """How an assumption names where a generic value comes from."""
    return f"generic {type_}"


def family(type_: str) -> Family:
    """The generic figures of a type; all None where the trade has no usual ones."""
    return types.of(type_).generic


def forward_voltage(type_: str, technology: str | None = None) -> ForwardVoltage | None:
    """The forward voltage of a type's LEDs; over all technologies in use for the type when it is not known.

    None for a type without an LED. Where the technologies are measured at different currents the smallest current
    stands, so that the largest value is not undercut when it is held below its test current.
    """
    leds = family(type_).leds
    if not leds:
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
    found = [_COEFFICIENT[name] for name in family(type_).leds or _COEFFICIENT]
    return Interval(min(found), max(found))


def saturation_voltage(record: PartRecord) -> float | None:
    """VCE(sat) max of the record, else the largest of its family; None for types that don't saturate."""
    if record.output.saturation_voltage is not None:
        return record.output.saturation_voltage.max
    kind = types.of(record.type)
    return kind.generic.saturation_voltage.high if kind.output.conducts == "transistor" else None


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
    return _envelope(family(record.type).versus_current, technology, test, current)


def temperature_factor(record: PartRecord, technology: str | None, temperature: float) -> Interval | None:
    """D_T: the ratio at a temperature over that at 25 degC; None outside the curve. As `current_factor` otherwise."""
    if record.transfer.versus_temperature is not None:
        return _point(record.transfer.versus_temperature.at(temperature))
    return _envelope(family(record.type).versus_temperature, technology, TEST_TEMPERATURE, temperature)


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
    return Interval(1.0, 1.0) if test is not None and voltage >= test else family(record.type).voltage_factor


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
