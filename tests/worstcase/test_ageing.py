"""Accelerated life and what is left of the ratio."""

from __future__ import annotations

import math

import pytest

from isolint.worstcase.ageing import StressPoint, acceleration_factor, remaining_ratio

STRESS = StressPoint(remaining=0.992, hours=1000.0, current=20e-3, temperature=125.0)


def test_worked_example_w12_comes_out_to_every_printed_digit() -> None:
    """Published, key `ageing-white-paper`: 20 mA at 125 degC against 5 mA at 60 degC; 1000 h are 184 767 h."""
    factor = acceleration_factor(20e-3, 125.0, 5e-3, 60.0)
    assert math.floor(factor * 10) / 10 == 184.7
    assert math.floor(factor * 1000) == 184767


@pytest.mark.parametrize(
    ("current", "temperature", "factor"),
    [(2e-3, 25, 6708), (5e-3, 55, 232), (10e-3, 40, 120), (16e-3, 85, 6.3), (20e-3, 85, 4.1), (20e-3, 55, 14.5)],
)
def test_acceleration_over_use_conditions(current: float, temperature: float, factor: float) -> None:
    """Derived: our arithmetic from the constants of key `ageing-white-paper`."""
    assert acceleration_factor(20e-3, 125.0, current, temperature) == pytest.approx(factor, rel=0.015)


def test_stress_ages_like_itself_and_no_current_does_not_age() -> None:
    assert acceleration_factor(20e-3, 125.0, 20e-3, 125.0) == 1.0
    assert remaining_ratio(STRESS, 1e6, 0.0, 60.0) == (1.0, 1.0)


def test_the_equivalent_of_the_stress_test_leaves_what_it_left() -> None:
    hours = 1000.0 * acceleration_factor(20e-3, 125.0, 5e-3, 60.0)
    assert remaining_ratio(STRESS, hours, 5e-3, 60.0) == pytest.approx((0.992, 0.992))


def test_the_hurting_exponent_is_taken_on_each_side_of_the_stress_point() -> None:
    hours = 1000.0 * acceleration_factor(20e-3, 125.0, 5e-3, 60.0)
    assert remaining_ratio(STRESS, 16 * hours, 5e-3, 60.0) == pytest.approx((1 - 0.008 * 4, 1 - 0.008 * 2))
    assert remaining_ratio(STRESS, hours / 16, 5e-3, 60.0) == pytest.approx((1 - 0.008 / 2, 1 - 0.008 / 4))


def test_no_ratio_falls_below_zero_or_rises() -> None:
    poor = StressPoint(remaining=0.5, hours=10.0, current=1e-3, temperature=25.0)
    assert remaining_ratio(poor, 87660.0, 50e-3, 100.0) == (0.0, 0.0)
    better = StressPoint(remaining=1.02, hours=1000.0, current=20e-3, temperature=125.0)
    assert remaining_ratio(better, 87660.0, 5e-3, 60.0) == (1.0, 1.0)


def test_more_current_heat_or_time_never_leaves_more() -> None:
    base = remaining_ratio(STRESS, 87660.0, 5e-3, 60.0)
    for worse in ((2 * 87660.0, 5e-3, 60.0), (87660.0, 8e-3, 60.0), (87660.0, 5e-3, 75.0)):
        low, high = remaining_ratio(STRESS, *worse)
        assert low < base[0]
        assert high < base[1]
