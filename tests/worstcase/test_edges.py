"""Edges of transistor outputs: closed forms by hand, and the equations of charge integrated by another program."""

from __future__ import annotations

import math
import random

import pytest
from scipy.integrate import solve_ivp

from isolint.worstcase import edges

PITCH = (0.8, 2.0, 3.465)
"""Volts of a low and a high level, and of the open output."""


def load(ohms: float, farads: float) -> edges.Load:
    low, high, supply = PITCH
    return edges.Load(supply / ohms, (supply - low) / ohms, (supply - high) / ohms, ohms, farads)


def times(
    part: edges.SwitchingPart,
    ohms: float,
    farads: float,
    amps: tuple[float, float],
    base: float = 0.0,
    kind: bool = False,
) -> tuple[float, float]:
    """On and off in microseconds, at worst with the guard."""
    guard = 1.0 if kind else edges.BASE_GUARD if base else edges.GUARD
    light = edges.Light(amps[0] - base, amps[1], base)
    seen = load(ohms, farads)
    charge = edges.LEAST_CHARGE if kind else edges.CHARGE
    return guard * 1e6 * edges.turn_on(part, seen, light, charge), guard * 1e6 * edges.turn_off(part, seen, light)


WORST = edges.SwitchingPart(18e-6, 18e-6, 100.0, 4e-9, 17e-6)
KIND = edges.SwitchingPart(18e-6, 18e-6, 100.0, 1e-9, 2e-6)
STATED = edges.SwitchingPart(6e-6, 6e-6, 100.0, 2.4e-9, 3e-6)


@pytest.mark.parametrize(
    ("part", "ohms", "farads", "amps", "base", "kind", "expected"),
    [
        (WORST, 4.65e3, 100e-12, (2.4e-3, 16e-3), 0.0, False, (9.97, 79.01)),
        (KIND, 4.65e3, 100e-12, (2.4e-3, 16e-3), 0.0, True, (3.87, 17.49)),
        (WORST, 0.99e3, 20e-12, (4.8e-3, 24e-3), 0.0, False, (11.30, 45.00)),
        (KIND, 0.99e3, 20e-12, (4.8e-3, 24e-3), 0.0, True, (7.62, 11.68)),
        (STATED, 4.65e3, 100e-12, (2.4e-3, 16e-3), 0.0, False, (5.41, 22.42)),
        (STATED, 4.65e3, 100e-12, (2.4e-3, 16e-3), 0.0, True, (4.50, 21.35)),
        (WORST, 4.65e3, 100e-12, (2.4e-3, 16e-3), 300 * 0.6 / 220e3, False, (16.90, 52.99)),
        (KIND, 4.65e3, 100e-12, (2.4e-3, 16e-3), 300 * 0.6 / 220e3, True, (6.35, 8.90)),
    ],
)
def test_times_that_were_worked_out_by_hand(
    part: edges.SwitchingPart,
    ohms: float,
    farads: float,
    amps: tuple[float, float],
    base: float,
    kind: bool,
    expected: tuple[float, float],
) -> None:
    """3.3 V + 5 %, 18 us at 100 ohm, ratio 0.6 to 2.0 of 4 to 8 mA (8 to 12 mA)."""
    assert times(part, ohms, farads, amps, base, kind) == pytest.approx(expected, abs=0.006)


def test_a_current_that_is_not_enough_never_switches() -> None:
    seen = load(4.65e3, 0.0)
    assert math.isinf(edges.turn_on(WORST, seen, edges.Light(seen.on * 0.99, 1e-2), 2.0))
    assert math.isinf(edges.turn_off(WORST, seen._replace(off=0.0), edges.Light(2e-3, 1e-2)))


def test_more_capacitance_is_never_faster() -> None:
    on, off = times(WORST, 4.65e3, 100e-12, (2.4e-3, 16e-3))
    for farads in (200e-12, 1e-9, 10e-9):
        slower_on, slower_off = times(WORST, 4.65e3, farads, (2.4e-3, 16e-3))
        assert slower_on > on and slower_off > off
        on, off = slower_on, slower_off


@pytest.mark.parametrize("seed", [0, 1, 5])
def test_capacitors_behind_the_output_are_those_of_an_integrator(seed: int) -> None:
    """A pull-up, a resistor and a capacitor behind it: both edges against the same equations integrated."""
    draw = random.Random(seed)
    pull, series = 10.0 ** draw.uniform(3.0, 4.3), 10.0 ** draw.uniform(3.0, 4.3)
    own, behind, lag, supply = 4e-9, 10.0 ** draw.uniform(-9.0, -7.0), 8e-6, 5.0
    level, amps, least = draw.uniform(1.0, 2.0), 3.0 * supply / pull, 0.3
    rates = ((-1.0 / pull - 1.0 / series, 1.0 / series), (1.0 / series, -1.0 / series))
    falling = edges.Chain((own, behind), rates, (supply / pull, 0.0), level, (0.0, -1.0))
    rising = falling._replace(e0=-(supply - level), eu=(0.0, 1.0))

    def on(t: float, x: list[float]) -> list[float]:
        i, u, v = x
        move = ((supply - u) / pull - (u - v) / series - i) / own
        return [(amps - i) / lag, 0.0 if u <= least and move < 0.0 else move, (u - v) / series / behind]

    def off(t: float, x: list[float]) -> list[float]:
        i, u, v = x
        return [-i / lag, ((supply - u) / pull - (u - v) / series - i) / own, (u - v) / series / behind]

    end = 30.0 * (lag + own * pull + behind * (pull + series))
    fine = {"max_step": end / 2000.0, "rtol": 1e-7, "atol": 1e-9}
    run = solve_ivp(on, (0.0, end), [0.0, supply, supply], events=lambda t, x: x[2] - level, **fine)
    expected = run.t_events[0][0]
    assert edges.pull(falling, lag, amps, least) == pytest.approx(expected, rel=0.003)
    run = solve_ivp(off, (0.0, end), [supply / pull, 0.0, 0.0], events=lambda t, x: x[2] - supply + level, **fine)
    expected = run.t_events[0][0]
    assert edges.decay(rising, lag, supply / pull) == pytest.approx(expected, rel=0.003)


def test_a_chain_without_anything_behind_it_is_one_time_constant() -> None:
    only = edges.Chain((1e-9,), ((-1e-3,),), (5e-3,), -2.5, (1.0,))
    assert edges.settled(only, 2e-3) == pytest.approx([3.0])
    # 1 us of the load and hardly any lag: 5 V from 0 V to half of it.
    assert edges.decay(only, 1e-12, 5e-3) == pytest.approx(1e-6 * math.log(2.0), rel=1e-3)
