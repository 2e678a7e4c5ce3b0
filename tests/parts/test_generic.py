"""Generic families are intervals: 1.0 at the test point, never extrapolated, wide enough for what they stand for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.parts import Curve, Interval, Output, PartRecord, Ratio, Transfer, builtin, generic

PT1 = builtin()["DEMO_PT1"]


def bare(current: float = 5e-3, type_: str = "phototransistor") -> PartRecord:
    """A record that states a ratio and no curve."""
    return PT1._replace(type=type_, transfer=Transfer(ratio=Ratio(min=0.8, current=current, voltage=5.0)))


class near:  # noqa: N801  reads as a function
    """An interval compared within rounding."""

    def __init__(self, low: float, high: float) -> None:
        self.ends = (low, high)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Interval) and (other.low, other.high) == pytest.approx(self.ends)

    def __hash__(self) -> int:
        return hash(self.ends)


def test_a_curve_is_met_at_its_points_and_never_extrapolated() -> None:
    curve = Curve(((1.0, 10.0), (2.0, 20.0), (4.0, 0.0)))
    assert [curve.at(x) for x in (1.0, 1.5, 2.0, 3.0, 4.0)] == [10.0, 15.0, 20.0, 10.0, 0.0]
    assert curve.at(0.999) is None
    assert curve.at(4.001) is None
    assert Curve(()).at(1.0) is None


def test_a_curve_over_current_is_straight_over_its_logarithm() -> None:
    curve = Curve(((1e-3, 0.0), (100e-3, 2.0)), logarithmic=True)
    assert curve.at(10e-3) == pytest.approx(1.0)


def test_the_curve_of_the_record_is_a_point() -> None:
    assert generic.current_factor(PT1, None, 1e-3) == Interval(0.6, 0.6)
    assert generic.temperature_factor(PT1, None, 85.0) == Interval(0.7, 0.7)
    assert generic.current_factor(PT1, None, 0.1e-3) is None
    assert generic.temperature_factor(PT1, None, 100.0) is None


@given(st.floats(0.1e-3, 50e-3), st.sampled_from(["GaAs", "AlGaAs", None]))
def test_the_generic_current_factor_is_exactly_one_at_the_test_current(current: float, technology: str | None) -> None:
    assert generic.current_factor(bare(current), technology, current) == Interval(1.0, 1.0)


@given(st.floats(0.1e-3, 50e-3), st.floats(0.1e-3, 50e-3))
def test_the_unknown_technology_encloses_the_typical_curves_of_all(current: float, test: float) -> None:
    unknown = generic.current_factor(bare(test), None, current)
    assert unknown is not None
    assert unknown.low <= unknown.high
    for technology in ("GaAs", "AlGaAs"):
        known = generic.current_factor(bare(test), technology, current)
        assert known is not None
        middle = (known.low + known.high) / 2
        assert unknown.low <= middle * (1 + 1e-9)
        assert middle <= unknown.high * (1 + 1e-9)


def test_a_stated_technology_is_its_curve_with_a_spread() -> None:
    assert generic.current_factor(bare(), "GaAs", 1e-3) == near(0.51, 0.69)
    assert generic.temperature_factor(bare(), "GaAs", 85.0) == near(0.595, 0.805)
    assert generic.temperature_factor(bare(), "GaAs", 25.0) == Interval(1.0, 1.0)


def test_another_test_current_renormalises_the_curve() -> None:
    factor = generic.current_factor(bare(10e-3), "GaAs", 1e-3)
    assert factor == near(0.85 * 0.60 / 1.10, 1.15 * 0.60 / 1.10)


@pytest.mark.parametrize("current", [0.0, 0.05e-3, 60e-3])
def test_outside_the_generic_curve_nothing_is_known(current: float) -> None:
    assert generic.current_factor(bare(), "GaAs", current) is None
    assert generic.current_factor(bare(60e-3), "GaAs", 5e-3) is None


@pytest.mark.parametrize("temperature", [-41.0, 101.0])
def test_outside_the_generic_temperatures_nothing_is_known(temperature: float) -> None:
    assert generic.temperature_factor(bare(), None, temperature) is None


def test_without_a_ratio_or_a_family_there_is_no_factor() -> None:
    assert generic.current_factor(PT1._replace(transfer=Transfer()), "GaAs", 5e-3) is None
    assert generic.current_factor(bare(type_="phototriac"), "GaAs", 5e-3) is None
    assert generic.temperature_factor(bare(type_="relay"), None, 25.0) is None


def test_one_curve_alone_gets_a_spread_too() -> None:
    assert generic.temperature_factor(bare(type_="photodarlington"), None, 100.0) == near(1.02, 1.38)


def test_the_voltage_factor_counts_from_saturation_up() -> None:
    assert generic.voltage_factor(bare(), 0.29) is None
    assert generic.voltage_factor(bare(), 0.3) == Interval(0.6, 1.0)
    assert generic.voltage_factor(bare(), 4.9) == Interval(0.6, 1.0)
    assert generic.voltage_factor(bare(), 5.0) == Interval(1.0, 1.0)
    assert generic.voltage_factor(bare(), 24.0) == Interval(1.0, 1.0)
    unstated = bare()._replace(output=Output())
    assert generic.voltage_factor(unstated, 0.39) is None
    assert generic.voltage_factor(unstated, 0.4) == Interval(0.6, 1.0)
    curve = Curve(((0.2, 0.5), (5.0, 1.0)))
    own = PT1._replace(transfer=PT1.transfer.with_(versus_voltage=curve))
    assert generic.voltage_factor(own, 0.2) == Interval(0.5, 0.5)
    assert generic.voltage_factor(own, 6.0) is None


def test_the_forward_voltage_of_an_unknown_technology_encloses_all() -> None:
    unknown = generic.forward_voltage("phototransistor")
    assert unknown is not None
    for technology in ("GaAs", "AlGaAs"):
        known = generic.forward_voltage("phototransistor", technology)
        assert known is not None
        assert unknown.min <= known.min < known.typ.low <= known.typ.high < known.max <= unknown.max
        assert unknown.at <= known.at
    assert generic.forward_voltage("relay") is None
    assert generic.temperature_coefficient("phototransistor", "GaAs") == Interval(-1.5e-3, -1.5e-3)
    assert generic.temperature_coefficient("phototransistor") == Interval(-1.9e-3, -1.5e-3)


def test_an_assumption_says_where_it_comes_from() -> None:
    assert generic.origin("phototransistor") == "generic phototransistor"
    assert generic.family("phototransistor").ratio == Interval(0.5, 6.0)
    assert generic.family("transformer") == generic.Family()
