"""Values of part records that are more than a number: specified values with their spread, levels, limits.

SI units, temperatures in degrees Celsius, ratios as plain numbers. (`from_` stands for the key `from`.)
"""

from __future__ import annotations

from typing import NamedTuple


class Spec(NamedTuple):
    """A specified value with its spread, at a test current `at`."""

    min: float | None = None
    typ: float | None = None
    max: float | None = None
    at: float | None = None


class Ratio(NamedTuple):
    """A transfer ratio at a test LED current and output voltage, 25 degC."""

    min: float | None = None
    typ: float | None = None
    max: float | None = None
    current: float | None = None
    voltage: float | None = None


class Saturation(NamedTuple):
    """The output voltage `max` at the output current `at` and the LED current `drive`."""

    max: float
    at: float
    drive: float


class DarkCurrent(NamedTuple):
    """The off current `max` at the temperature `at`; hot is (current, temperature) of a second guaranteed point."""

    max: float
    at: float
    voltage: float | None = None
    hot: tuple[float, float] | None = None


class RecordLevel(NamedTuple):
    """A guaranteed level, `min` for a high and `max` for a low one, up to the current `at`."""

    min: float | None = None
    max: float | None = None
    at: float | None = None


class Saturated(NamedTuple):
    """The times of a saturated output in seconds, with the load in ohms, the LED current and the supply of the test."""

    load: float
    drive: float
    supply: float
    storage: float | None = None
    turn_on: float | None = None
    turn_off: float | None = None


class Leakage(NamedTuple):
    """The rms current `max` across the insulation at the rms voltage `at`."""

    max: float
    at: float


class Derating(NamedTuple):
    """A limit falls by `slope` per kelvin above the temperature `from_`."""

    from_: float
    slope: float


class Ageing(NamedTuple):
    """Either the ratio that remains at the end of life, or the loss in one stress test."""

    remaining: float | None = None
    loss: float | None = None
    time: float | None = None
    current: float | None = None
    temperature: float | None = None


class ShortCurrent(NamedTuple):
    """Amperes into a short at the LED current `drive`."""

    min: float
    drive: float
