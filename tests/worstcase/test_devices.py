"""Device equations against hand calculation and limits."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from isolint.worstcase.devices import Bipolar, Diode, LedCurve, Mos, Switch, from_model, thermal_voltage

TYPICAL = LedCurve(1.2, 0.01, 1.8, 2.0, -1.5e-3)
HIGHEST = LedCurve.highest(1.4, 0.01, (1.5, 2.0), (1.0, 5.0), -1.5e-3)
LOWEST = LedCurve.lowest(1.05, 0.01, (1.5, 2.0), (1.0, 5.0), -1.5e-3)
CURRENTS = [10 ** (e / 4) for e in range(-40, -3)]


def test_thermal_voltage_is_25_7_millivolts_at_room_temperature() -> None:
    assert thermal_voltage(25.0) == pytest.approx(0.025693, rel=1e-4)


def test_led_has_its_data_sheet_voltage_at_its_test_current() -> None:
    assert TYPICAL.forward(0.01, 25.0) == pytest.approx(1.2, rel=1e-12)


def test_led_voltage_falls_by_its_coefficient_with_temperature() -> None:
    assert TYPICAL.forward(0.01, 85.0) == pytest.approx(1.2 - 60 * 1.5e-3, rel=1e-12)


def test_led_voltage_follows_the_formula_between_points() -> None:
    by_hand = 1.2 + 1.8 * 0.0256926 * math.log(0.1) + 2.0 * (0.001 - 0.01)
    assert TYPICAL.forward(0.001, 25.0) == pytest.approx(by_hand, abs=1e-6)


@pytest.mark.parametrize("curve", [TYPICAL, HIGHEST, LOWEST])
@pytest.mark.parametrize("temperature", [-40.0, 25.0, 100.0])
def test_led_voltage_rises_with_current_without_a_step(curve: LedCurve, temperature: float) -> None:
    for low, high in pairwise(CURRENTS):
        assert curve.forward(low, temperature) <= curve.forward(high, temperature)
    for knee in (1e-6, 0.01):
        below, above = (curve.forward(knee * (1 + d), temperature) for d in (-1e-9, 1e-9))
        assert below == pytest.approx(above, abs=1e-7)


@pytest.mark.parametrize("current", [1e-7, 1e-6, 1e-4, 9e-3, 11e-3, 0.05])
def test_led_slope_is_the_derivative_of_its_voltage(current: float) -> None:
    for curve in (TYPICAL, LOWEST):
        u, step = math.log(current), 1e-5
        numeric = (curve.voltage(u + step, 50.0) - curve.voltage(u - step, 50.0)) / (2 * step)
        assert curve.slope(u, 50.0) == pytest.approx(numeric, rel=1e-6)


def test_highest_curve_is_not_lowered_below_its_test_current() -> None:
    curve = HIGHEST
    for current in (1e-6, 1e-5, 1e-3, 9.99e-3):
        assert curve.forward(current, 25.0) == pytest.approx(1.4, abs=1e-7)
    assert curve.forward(0.02, 25.0) == pytest.approx(1.4 + 2.0 * 0.0256926 * math.log(2) + 5.0 * 0.01, abs=1e-6)


def test_highest_curve_still_reaches_zero_volts_for_vanishing_currents() -> None:
    curve = HIGHEST
    assert curve.voltage(math.log(1e-6) - 1.4 / (2.0 * thermal_voltage(25.0)), 25.0) == pytest.approx(0.0, abs=1e-6)


def test_highest_and_lowest_curves_enclose_every_led_of_the_spread() -> None:
    low, high = LOWEST, HIGHEST
    for volts in (1.05, 1.2, 1.4):
        for emission in (1.5, 1.8, 2.0):
            for ohms in (1.0, 2.0, 5.0):
                led = LedCurve(volts, 0.01, emission, ohms, -1.5e-3)
                for current in CURRENTS:
                    if current >= 1e-6:
                        middle = led.forward(current, 60.0)
                        assert low.forward(current, 60.0) <= middle + 1e-12
                        assert middle <= high.forward(current, 60.0) + 1e-7


def test_series_resistance_of_the_branch_adds_to_the_curve() -> None:
    plain, more = TYPICAL.pieces(25.0)[0], TYPICAL.pieces(25.0, 47.0)[0]
    assert more.ohms - plain.ohms == 47.0
    assert more.constant == plain.constant


def test_diode_carries_ten_times_the_current_per_60_millivolts() -> None:
    diode = Diode(IS=1e-14)
    decade = thermal_voltage(27.0) * math.log(10)
    assert diode.current(0.6 + decade, 27.0) == pytest.approx(10 * diode.current(0.6, 27.0), rel=1e-6)
    assert diode.current(-5.0, 27.0) == pytest.approx(-1e-14, rel=1e-9)


def test_diode_voltage_falls_by_about_two_millivolts_per_kelvin() -> None:
    """Textbook silicon junction, 1 mA, key `spice-1973` for the formula of IS over temperature."""
    diode = Diode(IS=1e-14)

    def volts(temperature: float) -> float:
        return thermal_voltage(temperature) * math.log(1e-3 / diode.saturation(temperature) + 1)

    assert -2.2e-3 < (volts(37.0) - volts(27.0)) / 10 < -1.6e-3


def test_zener_carries_its_test_current_at_its_breakdown_voltage() -> None:
    assert Diode(BV=5.1, IBV=5e-3).current(-5.1, 27.0) == pytest.approx(-5e-3, rel=1e-6)


def test_transistor_in_its_active_region_has_its_current_gain() -> None:
    collector, base = Bipolar(BF=250.0).currents(0.65, -5.0, 27.0)
    assert collector / base == pytest.approx(250.0, rel=1e-6)


def test_pnp_is_the_mirror_of_npn() -> None:
    npn = Bipolar(BF=80.0, BR=3.0).currents(0.7, 0.55, 50.0)
    pnp = Bipolar(BF=80.0, BR=3.0, polarity=-1).currents(-0.7, -0.55, 50.0)
    assert pnp == pytest.approx(tuple(-i for i in npn))


def test_mos_is_a_square_law_above_its_threshold() -> None:
    """Key `shichman-hodges-1968`."""
    mos = Mos(VTO=2.0, KP=0.1)
    assert mos.current(1.9, 5.0, 27.0) == 0.0
    assert mos.current(3.0, 5.0, 27.0) == pytest.approx(0.05)
    assert mos.current(3.0, 0.5, 27.0) == pytest.approx(0.1 * (1.0 - 0.25) * 0.5)
    assert Mos(VTO=-2.0, KP=0.1, polarity=-1).current(-3.0, -5.0, 27.0) == pytest.approx(-0.05)


def test_mos_with_drain_and_source_exchanged_carries_the_opposite_current() -> None:
    mos = Mos(VTO=1.0, KP=0.1, LAMBDA=0.02)
    assert mos.current(3.0 - -0.4, 0.4, 27.0) == pytest.approx(-mos.current(3.0, -0.4, 27.0))


def test_a_channel_conducts_less_when_hot_and_more_at_a_high_drain() -> None:
    mos = Mos(VTO=2.0, KP=0.1, LAMBDA=0.04)
    assert mos.transconductance(127.0) == pytest.approx(0.1 * ((127.0 + 273.15) / 300.15) ** -1.5)
    assert mos.current(3.0, 5.0, 27.0) == pytest.approx(0.05 * 1.2)


def test_the_gap_and_the_exponent_of_a_diode_count_over_its_emission_coefficient() -> None:
    plain, emitting = Diode(IS=1e-9), Diode(IS=1e-9, N=2.0)
    assert plain.saturation(27.0) == emitting.saturation(27.0) == pytest.approx(1e-9)
    assert emitting.saturation(87.0) / 1e-9 == pytest.approx(math.sqrt(plain.saturation(87.0) / 1e-9))
    assert plain.saturation(37.0) / 1e-9 == pytest.approx(4.4, rel=0.05)


def test_switch_has_one_resistance_a_state() -> None:
    assert (Switch(RON=2.0, ROFF=1e9, on=True).ohms, Switch(RON=2.0, ROFF=1e9).ohms) == (2.0, 1e9)


@pytest.mark.parametrize(
    ("letter", "type", "device"),
    [
        ("D", None, Diode(IS=1e-14, N=1.0)),
        ("Q", None, Bipolar(IS=1e-14, BF=100.0, BR=1.0)),
        ("q", "PNP", Bipolar(polarity=-1)),
        ("M", None, Mos(VTO=0.0, KP=2e-5, body=Diode())),
        ("M", "pmos", Mos(VTO=0.0, KP=2e-5, polarity=-1, body=Diode())),
        ("M", "vdmos", Mos(VTO=0.0, KP=1.0, body=Diode())),
        ("S", "sw", Switch()),
    ],
)
def test_a_model_without_parameters_has_the_defaults_of_spice(letter: str, type: str | None, device: object) -> None:
    assert from_model(letter, type, {}, {}) == device


def test_model_parameters_and_card_parameters_make_the_device() -> None:
    assert from_model("D", "d", {"is": 1e-9, "n": 1.8, "rs": 0.5, "bv": 75.0}, {}) == Diode(1e-9, 1.8, 0.5, 75.0)
    assert from_model("D", "d", {"is": 1e-9, "rs": 0.5}, {"area": 2.0}) == Diode(IS=2e-9, RS=0.25, IBV=2e-3)
    assert from_model("M", "nmos", {"vto": 1.0, "kp": 0.5}, {"w": 2e-3, "l": 1e-3}) == Mos(1.0, 1.0, body=Diode())
    power = from_model("M", "vdmos", {"vto": -2.0, "kp": 3.0, "pchan": 1.0, "rds": 1e7, "rd": 0.05}, {})
    assert power == Mos(VTO=-2.0, KP=3.0, polarity=-1, RDS=1e7, RD=0.05, body=Diode())
    # I = BETA (VGS - VTO)^2 is KP / 2 (VGS - VTO)^2, and VTO is negative in the model of either channel.
    junction = from_model("J", "pjf", {"vto": -2.0, "beta": 1e-3, "rs": 10.0}, {"area": 2.0})
    assert junction == Mos(VTO=2.0, KP=4e-3, polarity=-1, RS=5.0, body=Diode(IS=2e-14))


@pytest.mark.parametrize(("letter", "type"), [("J", "nmf"), ("D", "ldiode2"), ("Q", "nmos"), ("M", "npn"), ("Z", None)])
def test_a_model_type_without_an_equation_gives_no_device(letter: str, type: str | None) -> None:
    assert from_model(letter, type, {}, {}) is None
