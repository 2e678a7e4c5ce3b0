"""Preferred values of IEC 60063 (key `iec-60063`): the E24 series, and E12, every second value of it."""

from __future__ import annotations

import math

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def at_most(value: float) -> float:
    """The largest E24 value that is not above `value` (any positive SI number)."""
    return _near(value, 1.0 + 1e-9, -1)


def at_least(value: float) -> float:
    """The smallest E24 value that is not below `value` (any positive SI number)."""
    return _near(value, 1.0 - 1e-9, 1)


def series(low: float, high: float) -> list[float]:
    """All E24 values from `low` to `high`, ascending."""
    found: list[float] = []
    value = at_least(low)
    while value <= high:
        found.append(value)
        value = at_least(value * 1.01)
    return found


def twelve(low: float, high: float) -> list[float]:
    """All E12 values from `low` to `high`, ascending; for parts that are not made in finer steps."""
    coarse = {f"{number:d}" for number in E24[::2]}
    return [value for value in series(low, high) if f"{value:.1e}".replace(".", "")[:2] in coarse]


def _near(value: float, slack: float, direction: int) -> float:
    if not value > 0.0 or not math.isfinite(value):
        raise ValueError(f"no preferred value for {value}")
    decade = math.floor(math.log10(value))
    values = sorted(float(f"{number}e{power - 1}") for power in range(decade - 1, decade + 3) for number in E24)
    if direction < 0:
        return max(item for item in values if item <= value * slack)
    return min(item for item in values if item >= value * slack)
