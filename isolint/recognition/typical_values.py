"""The typical values that a model gives."""

from __future__ import annotations

from typing import NamedTuple

VOLTAGE_CURRENT = 10e-3
"""Amperes of LED current at which the forward voltage stands."""


class Typical(NamedTuple):
    """Typical values of a model: volts at 10 mA, (LED current, ratio) pairs."""

    forward_voltage: float | None = None
    ratios: tuple[tuple[float, float], ...] = ()

    def ratio_at(self, current: float) -> float | None:
        """The ratio at one of the currents that were looked at."""
        return dict(self.ratios).get(current)
