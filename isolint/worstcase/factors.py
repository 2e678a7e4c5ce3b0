"""One factor of the available output current: its value, where it is from, and how to redo it by hand."""

from __future__ import annotations

import math
from typing import NamedTuple

from isolint.curve import Curve
from isolint.units import show
from isolint.worstcase import ageing


class Factor(NamedTuple):
    """One factor of the available current with its value and where it is from.

    formula and numbers: how it is worked out, alike in shape; empty for a value that is read. steps: factors that its
    formula names.
    """

    symbol: str
    name: str
    value: float
    origin: str
    formula: str = ""
    numbers: str = ""
    steps: tuple[Factor, ...] = ()


def read_off(symbol: str, name: str, curve: Curve, x: float, variable: str, origin: str) -> Factor | None:
    """A factor from a record's curve with its interpolation; None outside the curve."""
    value = curve.at(x)
    if value is None:
        return None
    points = curve.points
    index = next(i for i in range(1, len(points)) if x <= points[i][0])
    (x1, y1), (x2, y2) = points[index - 1], points[index]
    at = f"{x:.7g}" if x >= 0 else f"({x:.7g})"
    if curve.logarithmic:
        formula = f"y1 + (y2 - y1) * ln({variable} / x1) / ln(x2 / x1)"
        numbers = f"{y1:g} + ({y2:g} - {y1:g}) * ln({at} / {x1:g}) / ln({x2:g} / {x1:g})"
    else:
        formula = f"y1 + (y2 - y1) * ({variable} - x1) / (x2 - x1)"
        first = f"{x1:g}" if x1 >= 0 else f"({x1:g})"
        last = f"{x2:g}" if x2 >= 0 else f"({x2:g})"
        numbers = f"{y1:g} + ({y2:g} - {y1:g}) * ({at} - {first}) / ({last} - {first})"
    return Factor(symbol, name, value, origin, formula, numbers)


def reaching(curve: Curve, x: float, unit: str) -> str:
    """A record's curve with the point that it lacks at `x` or just beyond, as the line to write.

    The value there is a placeholder for the data sheet's: the straight line through the origin for a current, else that
    of the curve's nearest end.
    """
    points = list(curve.points)
    below = x < points[0][0]
    end = points[0 if below else -1]
    step = 10.0 ** math.floor(math.log10(abs(x))) if curve.logarithmic and x > 0.0 else 1.0
    step = 0.1 if unit == "V" and abs(x) < 1.0 else step
    # A little room, so that the rounded number is not on the wrong side.
    beyond = math.floor(x / step + 1e-9) * step if below else math.ceil(x / step - 1e-9) * step
    beyond = x if below and beyond <= 0.0 < x else beyond
    value = end[1] * beyond / end[0] if below and curve.logarithmic else end[1]
    points.insert(0 if below else len(points), (beyond, value))
    return "[" + ", ".join(f'["{show(at, unit)}", {factor:.3g}]' for at, factor in points) + "]"


def aged(stress: ageing.StressPoint, hours: float, current: float, hot: float, origin: str) -> Factor:
    """What is left of the ratio by the accelerated-life formula (key `ageing-white-paper`) and a power law of time."""
    low, _ = ageing.remaining_ratio(stress, hours, current, hot)
    name = "ratio left at the end of life"
    if current <= 0.0 or hours <= 0.0:
        return Factor("D_t", name, low, origin)
    factor = ageing.acceleration_factor(stress.current, stress.temperature, current, hot)
    span = hours / factor / stress.hours
    power = ageing.POWER_LAW[1] if span >= 1.0 else ageing.POWER_LAW[0]
    step = Factor(
        "AF",
        "acceleration factor",
        factor,
        "accelerated-life formula",
        "(J_test / IF_max) ^ 2 * exp(Ea / k * (1 / (T_hot + 273) - 1 / (T_test + 273)))",
        f"({stress.current:g} / {current:.7g}) ^ 2 * exp(0.43 / {ageing.BOLTZMANN_EV:g} * "
        f"(1 / ({_signed(hot)} + 273) - 1 / ({_signed(stress.temperature)} + 273)))",
    )
    return Factor(
        "D_t",
        name,
        low,
        origin,
        "1 - loss * (hours / (AF * hours_test)) ^ m",
        f"1 - {1.0 - stress.remaining:.6g} * ({hours:.7g} / ({factor:.7g} * {stress.hours:.7g})) ^ {power:g}",
        (step,),
    )


def _signed(value: float) -> str:
    return f"({value:g})" if value < 0 else f"{value:g}"
