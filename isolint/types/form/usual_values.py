"""Generic figures: what can be said of a part whose record says nothing, as intervals. From memory, no source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from isolint.curve import Curve
from isolint.units import Interval

FORWARD_VOLTAGE_SPREAD = 0.15
"""Volts by which the smallest forward voltage lies below the typical one where a record does not say."""


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
    """Generic figures of a type, each an interval from the poorest to the best usual part; None: no usual figure.

    What has a figure here is so of a part of any type that does not say another. edge: seconds from 10 to 90 % at 100
    ohm. base_capacitance: gain times collector-base capacitance, farads. storage: the time constant with which a
    saturated output gives up its charge, seconds. leds: forward voltage by the LED technologies in use.
    versus_current, versus_temperature: the transfer ratio over that at 5 mA or so and over that at 25 degC, by
    technology; voltage_factor: over that at its test voltage, below it. leakage, low_level: of a logic output that is
    off, and that pulls down. no_power_at: degC at which nothing is left of `power_max`, 1.3 to 1.5 mW/K above 25 degC.
    """

    ratio: Interval | None = None
    ratio_current: float | None = None
    ratio_voltage: float = 5.0
    forward_current_max: Interval = Interval(20e-3, 60e-3)
    reverse_voltage_max: Interval = Interval(3.0, 6.0)
    voltage_max: Interval | None = None
    output_reverse_voltage_max: Interval | None = None
    current_max: Interval | None = None
    saturation_voltage: Interval = Interval(0.2, 1.0)
    dark_current: Interval = Interval(0.0, 1e-6)
    leakage: Interval = Interval(0.5e-6, 200e-6)
    low_level: Interval = Interval(0.1, 0.6)
    voltage_factor: Interval = Interval(0.6, 1.0)
    power_max: Interval = Interval(100e-3, 150e-3)
    no_power_at: Interval = Interval(100.0, 125.0)
    junction_max: Interval = Interval(100.0, 125.0)
    edge: Interval | None = None
    base_capacitance: Interval | None = None
    storage: Interval | None = None
    leds: Mapping[str, ForwardVoltage] = {}
    versus_current: Mapping[str, Curve] = {}
    versus_temperature: Mapping[str, Curve] = {}


WIDE = ForwardVoltage(Interval(1.6, 1.68), 1.85, 16e-3)
LOW_CURRENT = ForwardVoltage(Interval(1.2, 1.3), 1.5, 5e-3)
GAAS = ForwardVoltage(Interval(1.15, 1.25), 1.5, 10e-3)
GAASP = ForwardVoltage(Interval(1.5, 1.5), 1.7, 16e-3)
"""LEDs in use: AlGaAs for some tens of milliamperes and for few, GaAs, GaAsP."""

POWER = Family(forward_current_max=Interval(50e-3, 60e-3), reverse_voltage_max=Interval(3.0, 6.0))
"""LEDs of outputs for power: triacs, thyristors, MOSFETs, photovoltaic arrays."""

LOGIC = Family(
    forward_current_max=Interval(20e-3, 25e-3),
    reverse_voltage_max=Interval(3.0, 5.0),
    leds={"GaAsP": GAASP, "AlGaAs": WIDE},
)
"""LEDs of fast parts with a supply at their output."""

_AT = (-40.0, -25.0, 0.0, 25.0, 50.0, 70.0, 85.0, 100.0)


def over_current(points: Sequence[tuple[float, float]]) -> Curve:
    """A curve over LED current, given in milliamperes."""
    return Curve(tuple((x / 1000.0, y) for x, y in points), logarithmic=True)


def over_temperature(*values: float) -> Curve:
    """A curve over temperature: values at -40, -25, 0, 25, 50, 70, 85 and 100 degC."""
    return Curve(tuple(zip(_AT, values, strict=True)))
