"""How much output current a channel can give at the very most, where a factor of its ratio lies outside every curve.

In: a context and a channel. Out: an upper bound of available over required. Curves are not extrapolated: outside a
curve the factor is taken between 0 and the curve's highest point, so that nothing passes there, and fails only what
would fail even so.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.checking.context import Context
from isolint.curve import Curve
from isolint.interfaces.entities import Channel
from isolint.worstcase.transfer import TransferAnalyser
from isolint.worstcase.uncertain import KINDEST, Lacking

HIGHEST_GENERIC = 1.2
"""Highest point of the generic curves over LED current and temperature."""


class Best(NamedTuple):
    """The most that a channel can give at the temperature where it is worst, in amperes."""

    led: float
    factor: float
    required: float
    temperature: float
    led_corner: str
    required_corner: str

    @property
    def available(self) -> float:
        """LED current times the best factor."""
        return self.led * self.factor

    @property
    def margin(self) -> float:
        """Available over required."""
        return self.available / self.required


def best_transfer(context: Context, channel: Channel) -> Best | None:
    """The bound with every defaulted value at its kindest; None where even that can't be told."""
    analysis = context.analysis
    try:
        drive, load = analysis.drive(channel, KINDEST), analysis.load(channel, KINDEST)
        factor = highest_factor(analysis.ratio(channel, KINDEST))
    except Lacking:
        return None
    if factor is None:
        return None
    rows = [
        Best(max(at.low.value, 0.0), factor, need.required.value, at.temperature, at.low.corner, need.required.corner)
        for at, need in zip(drive.by_temperature, load.rows, strict=True)
        if need.required.value > 0.0
    ]
    return min(rows, key=lambda row: row.margin, default=None)


def highest_factor(ratio: TransferAnalyser) -> float | None:
    """The larger of both bounds of the output current over the LED current, each factor at its highest; a new part."""
    transfer = ratio.record.transfer
    over_temperature = _top(transfer.versus_temperature)
    found: list[float] = []
    line = ratio.record.output.saturation_voltage
    if line is not None:
        found.append(line.at / line.drive * over_temperature)
    least = None if transfer.ratio is None else transfer.ratio.min
    if least is None and ratio.family.ratio is not None:
        least = ratio.family.ratio.high
    if least is not None:
        over_voltage = 1.0 if transfer.versus_voltage is None else max(1.0, _top(transfer.versus_voltage))
        found.append(least * _top(transfer.versus_current) * over_voltage * over_temperature)
    return max(found, default=None)


def _top(curve: Curve | None) -> float:
    return HIGHEST_GENERIC if curve is None else max(value for _, value in curve.points)
