"""Input levels by supply voltage."""

from __future__ import annotations

import pytest

from isolint.standards.logic import levels
from isolint.units import Interval


@pytest.mark.parametrize(
    ("nominal", "low", "high"),
    [(5.0, 0.8, 3.5), (3.3, 0.8, 2.31), (2.5, 0.7, 1.75), (1.8, 0.54, 1.26), (1.2, 0.36, 0.84)],
)
def test_the_most_demanding_usual_family_decides_at_worst(nominal: float, low: float, high: float) -> None:
    found = levels(Interval(nominal, nominal), nominal)
    assert found.low_max.low == pytest.approx(low)
    assert found.high_min.high == pytest.approx(high)


def test_the_kindest_family_at_5_volts_is_cmos_for_low_and_ttl_for_high() -> None:
    found = levels(Interval(4.75, 5.25), 5.0)
    assert found.low_max.high == pytest.approx(0.3 * 4.75)
    assert found.high_min.low == pytest.approx(2.0)


def test_a_schmitt_input_is_low_below_a_fifth_of_its_supply() -> None:
    assert levels(Interval(4.5, 4.5), 4.5, hysteresis=True).low_max.low == pytest.approx(0.8)
    assert levels(Interval(3.0, 3.0), 3.0, hysteresis=True).low_max.low == pytest.approx(0.6)


def test_above_the_families_shares_of_the_supply_remain() -> None:
    found = levels(Interval(12.0, 12.0), 12.0)
    assert [found.low_max.low, found.high_min.high] == pytest.approx([3.6, 8.4])
