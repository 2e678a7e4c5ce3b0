"""Ageing of the LED: accelerated-life formula and what is left of the transfer ratio.

Amperes, degrees Celsius, hours. The formula is the one of key `ageing-white-paper`; its constants were recovered
from the factors printed there.
"""

from __future__ import annotations

import math
from typing import NamedTuple

BOLTZMANN_EV = 8.62e-5
"""k in eV/K, in the digits of the source."""

KELVIN = 273.0
"""The source adds 273, not 273.15."""

POWER_LAW = (0.25, 0.5)
"""The exponents m between which loss grows with time, D = D1 (t / t1)^m."""


def acceleration_factor(
    stress_current: float,
    stress_temperature: float,
    use_current: float,
    use_temperature: float,
    exponent: float = 2.0,
    activation_ev: float = 0.43,
) -> float:
    """Hours in use that age like one hour of stress: (Js / Ju)^N exp(Ea / k (1 / Tu - 1 / Ts)).

    Both currents in amperes (junctions are the same, so their ratio is that of the current densities); infinite
    without a current in use.
    """
    if use_current <= 0.0:
        return math.inf
    inverse = 1.0 / (use_temperature + KELVIN) - 1.0 / (stress_temperature + KELVIN)
    return math.pow(stress_current / use_current, exponent) * math.exp(activation_ev / BOLTZMANN_EV * inverse)


class StressPoint(NamedTuple):
    """What a record says of a life test: `remaining` part of the ratio (1.0 = as new) after `hours` at a stress."""

    remaining: float
    hours: float
    current: float
    temperature: float


def remaining_ratio(
    stress: StressPoint,
    use_hours: float,
    use_current: float,
    use_temperature: float,
    exponent: float = 2.0,
    activation_ev: float = 0.43,
) -> tuple[float, float]:
    """The part of the transfer ratio that is left after `use_hours` of LED current, as (low, high).

    use_hours: hours with current, that is life times duty. One stress point fixes the loss; it grows with the power
    m of time, m in `POWER_LAW`. Before the equivalent of the stress point the small m loses more, after it the
    large one. A ratio that rose under stress counts as unchanged.
    """
    factor = acceleration_factor(
        stress.current, stress.temperature, use_current, use_temperature, exponent, activation_ev
    )
    span = use_hours / factor / stress.hours
    loss = max(0.0, 1.0 - stress.remaining)
    losses = [loss * math.pow(span, m) for m in POWER_LAW] if span > 0.0 else [0.0]
    return max(0.0, 1.0 - max(losses)), max(0.0, 1.0 - min(losses))
