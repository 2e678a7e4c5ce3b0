"""The ends of quantities at each of some temperatures, sought once where nothing that is solved depends on them.

In: a network of uncertain numbers, what is read from its solved points. Out: the ends by temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from isolint.worstcase.box import Range
from isolint.worstcase.corners import Extreme, Sought
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.tangent import LEAST, solved_extremes
from isolint.worstcase.uncertain import Setting

if TYPE_CHECKING:
    from isolint.worstcase.solve import Solver

AtTemperature = Callable[[Sequence[float], float], Sequence[float]]
"""Quantities at a vector and a temperature, which is handed on to the network and the solver and asked for no more."""


def extremes_at_each(
    solver: Solver,
    made: Assembly,
    setting: Setting,
    temperatures: Iterable[float],
    evaluate: AtTemperature,
    noise: float = LEAST,
    sought: Sought | Sequence[Sought] = "both",
) -> list[tuple[float, tuple[Extreme, ...]]]:
    """The ends at each temperature, as `solved_extremes` gives them."""
    found: list[tuple[float, tuple[Extreme, ...]]] = []
    still: list[Range] | None = None
    for temperature in temperatures:
        ranges = made.ranges(setting, temperature)
        if ranges == still:
            found.append((temperature, found[-1][1]))
            continue
        with solver.followed() as points:
            at_one = partial(_at, evaluate, temperature)
            found.append((temperature, solved_extremes(solver, ranges, at_one, noise, sought)))
        is_cold = not made.is_warm and not any(point.network.is_warm for point in points)
        still = ranges if is_cold else None
    return found


def _at(evaluate: AtTemperature, temperature: float, vector: Sequence[float]) -> Sequence[float]:
    return evaluate(vector, temperature)
