"""Computed numbers with both ends: each end with the corner and the temperature at which it was found."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from isolint.worstcase.corner_words import words
from isolint.worstcase.corners import Extreme

NO_CURRENT = 1e-9
"""Amperes below which there is no current: no LED is lit, no switch conducts, no port gives or takes."""

MOST_AMPS = 10.0
"""Amperes beyond which nothing limits what an output that reads or drives logic is to carry."""


class Bound(NamedTuple):
    """One end of a quantity: value in SI units, corner as (term name, value) pairs, temperature in degrees Celsius."""

    value: float
    at: tuple[tuple[str, float], ...]
    temperature: float

    @property
    def corner(self) -> str:
        """The corner in words, temperature last."""
        return words(self.at, self.temperature)


class Quantity(NamedTuple):
    """A computed number with both ends over its worst-case box and temperature."""

    nominal: float
    low: Bound
    high: Bound


def steady(value: float) -> float:
    """A value without its last digits: of ends that differ by rounding alone the first one is named."""
    return float(f"{value:.9g}")


def lowest(bounds: Iterable[Bound]) -> Bound:
    """The bound with the smallest value."""
    return min(bounds, key=lambda bound: steady(bound.value))


def highest(bounds: Iterable[Bound]) -> Bound:
    """The bound with the largest value."""
    return max(bounds, key=lambda bound: steady(bound.value))


def over_temperature(index: int, nominal: float, per_temperature: list[tuple[float, tuple[Extreme, ...]]]) -> Quantity:
    """The worst ends over all temperatures."""
    low_t, low = min(((t, e[index]) for t, e in per_temperature), key=lambda pair: steady(pair[1].low))
    high_t, high = max(((t, e[index]) for t, e in per_temperature), key=lambda pair: steady(pair[1].high))
    return Quantity(nominal, Bound(low.low, low.low_corner, low_t), Bound(high.high, high.high_corner, high_t))
