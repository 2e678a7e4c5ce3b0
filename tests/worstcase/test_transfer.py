"""The available output current factor by factor, ageing, both bounds of the saturated current, by hand."""

from __future__ import annotations

import math

import pytest

from isolint.parts import Curve
from isolint.worstcase.factors import reaching
from isolint.worstcase.transfer import Available, TransferAnalyser
from isolint.worstcase.uncertain import KINDEST, Lacking, Setting
from tests.worstcase.boards import FACTS, PART, board, channel, context, report, result, transfer, without

NETLIST = board("R1 V5 A 470")
NO_VOLTAGE_CURVE = without(PART, "versus_voltage")
NO_LINE = without(PART, "saturation_voltage")


def analyser(part: str = PART, facts: str = FACTS, setting: Setting | None = None) -> TransferAnalyser:
    found = context(NETLIST, facts, part)
    return found.analysis.ratio(channel(found), setting or Setting())


def available(
    led: float = 5e-3,
    volts: float = 0.8,
    temperature: float = 25.0,
    stress: float = 5e-3,
    part: str = PART,
    **more: object,
) -> Available:
    return analyser(part, **more).available(led, stress, temperature, volts)  # type: ignore[arg-type]


def factor(found: Available, symbol: str) -> float:
    return next(item.value for item in found.factors if item.symbol == symbol)


# -- the two bounds ---------------------------------------------------------------------------------------------


def test_bound_b_is_the_product_of_the_ratio_and_its_factors() -> None:
    """5 mA x 100 % x 1 x (0.7 + 0.2 ln-free: 0.4/0.6 of the way from 0.4 V to 1 V) x 1 x 0.8."""
    found = available(part=NO_LINE)
    over_voltage = 0.7 + (0.9 - 0.7) * (0.8 - 0.4) / (1.0 - 0.4)
    assert found.bound == "ratio"
    assert found.current == pytest.approx(5e-3 * 1.0 * 1.0 * over_voltage * 1.0 * 0.8)


def test_bound_a_is_the_forced_ratio_scaled_by_led_current_temperature_and_life() -> None:
    """2 mA / 10 mA, D_IF(1 mA) / D_IF(10 mA), D_T, D_t."""
    part = PART.replace('max = "0.3 V", at = "2 mA", drive = "10 mA"', 'max = "0.3 V", at = "9 mA", drive = "10 mA"')
    found = available(led=1e-3, part=part)
    at_1, at_10 = 0.5 + 0.5 * math.log(2) / math.log(10), 1.0 - 0.2 * math.log(2) / math.log(10)
    assert found.bound == "saturation line"
    assert found.current == pytest.approx(1e-3 * 0.9 * at_1 / at_10 * 0.8)


def test_bound_a_is_never_scaled_up() -> None:
    """D_IF(5 mA) = 1.0 is more than D_IF(10 mA): the factor stays 1."""
    part = PART.replace('at = "2 mA", drive = "10 mA"', 'at = "9 mA", drive = "10 mA"')
    assert factor(available(led=5e-3, part=part), "D_IF") == 1.0


def test_the_larger_bound_counts() -> None:
    weak = available()
    strong = available(part=PART.replace('at = "2 mA", drive = "10 mA"', 'at = "9 mA", drive = "10 mA"'))
    assert (weak.bound, strong.bound) == ("ratio", "saturation line")
    assert strong.current > weak.current


def test_bound_a_counts_at_or_above_the_saturation_voltage_only() -> None:
    part = PART.replace('max = "0.3 V", at = "2 mA"', 'max = "0.5 V", at = "9 mA"')
    assert available(volts=0.5, part=part).bound == "saturation line"
    assert available(volts=0.49, part=part).bound == "ratio"


def test_below_the_saturation_voltage_only_a_curve_of_the_record_counts() -> None:
    part = PART.replace('max = "0.3 V", at = "2 mA"', 'max = "0.5 V", at = "2 mA"')
    assert available(volts=0.45, part=part).current > 0.0
    with pytest.raises(Lacking) as reason:
        available(volts=0.45, part=without(part, "versus_voltage"))
    assert reason.value.blocked_by == "level"


def test_a_level_below_the_saturation_voltage_without_a_curve_fails_as_a_level_and_not_as_a_margin() -> None:
    facts = FACTS.replace('low_max = "0.8 V"', 'low_max = "0.25 V"')
    found = report(NETLIST, facts, NO_VOLTAGE_CURVE)
    assert result(found, "output-level-invalid").kind == "fail"
    assert result(found, "transfer-margin-low").kind == "notApplicable"


def test_too_little_current_at_a_valid_level_is_a_margin_and_not_a_level() -> None:
    found = report(board("R1 V5 A 4.7k", "R9 VB OUT 1k\n"))
    assert result(found, "transfer-margin-low").kind == "fail"
    assert result(found, "output-level-invalid").kind == "pass"


DARLINGTON = PART.replace('"phototransistor"', '"photodarlington"').replace('max = "0.3 V"', 'max = "0.5 V"')


def test_a_darlington_never_saturates_below_0_7_volts() -> None:
    assert analyser(DARLINGTON).saturation_voltage() == 0.7
    assert analyser(DARLINGTON.replace('max = "0.5 V", at', 'max = "0.9 V", at')).saturation_voltage() == 0.9
    with pytest.raises(Lacking) as reason:
        available(volts=0.6, part=DARLINGTON)
    assert reason.value.blocked_by == "level"
    facts = FACTS.replace('low_max = "0.8 V"', 'low_max = "0.6 V"')
    assert result(report(NETLIST, facts, DARLINGTON), "output-level-invalid").kind == "fail"


def test_the_saturation_voltage_is_not_lowered_below_its_test_current() -> None:
    """10 uA of output current instead of 2 mA: still 0.3 V."""
    assert analyser().saturation_voltage() == 0.3


# -- factors ----------------------------------------------------------------------------------------------------


def test_the_led_current_factor_runs_straight_over_the_logarithm() -> None:
    found = available(led=2e-3)
    assert factor(found, "D_IF") == pytest.approx(0.5 + 0.5 * math.log(4) / math.log(10))


def test_the_temperature_factor_runs_straight_over_the_temperature() -> None:
    assert factor(available(temperature=55.0), "D_T") == pytest.approx(0.85)
    assert factor(available(temperature=0.0), "D_T") == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("what", "key"),
    [
        ({"led": 0.4e-3}, "versus_current"),
        ({"led": 60e-3}, "versus_current"),
        ({"temperature": -30.0}, "versus_temperature"),
        ({"temperature": 90.0}, "versus_temperature"),
        ({"volts": 0.35, "part": NO_LINE}, "versus_voltage"),
    ],
)
def test_curves_are_never_extrapolated(what: dict[str, object], key: str) -> None:
    with pytest.raises(Lacking) as reason:
        available(**what)  # type: ignore[arg-type]
    assert f"parts.DEMO_A.transfer.{key}" in {fact.key for fact in reason.value.missing}


def test_at_or_above_the_test_voltage_the_voltage_factor_is_1() -> None:
    for volts in (5.0, 12.0, 60.0):
        assert factor(available(volts=volts, part=NO_LINE), "D_VCE") == 1.0


def test_without_a_curve_the_voltage_factor_lies_between_0_6_and_1() -> None:
    part = without(NO_VOLTAGE_CURVE, "saturation_voltage")
    assert factor(available(part=part), "D_VCE") == 0.6
    assert factor(available(part=part, setting=KINDEST), "D_VCE") == 1.0


def test_without_curves_the_generic_ones_hold_between_the_lowest_and_the_highest_of_the_technologies() -> None:
    """Phototransistors at 1 mA: GaAs 0.60, AlGaAs 0.92; at 85 degC 0.70 and 0.83."""
    part = without(PART, "versus_current", "versus_temperature", "technology", "saturation_voltage")
    worst, kindest = (
        available(led=1e-3, temperature=85.0, part=part),
        available(led=1e-3, temperature=85.0, part=part, setting=KINDEST),
    )
    assert (factor(worst, "D_IF"), factor(kindest, "D_IF")) == pytest.approx((0.60, 0.92))
    assert (factor(worst, "D_T"), factor(kindest, "D_T")) == pytest.approx((0.70, 0.83))


def test_a_stated_technology_takes_its_own_curve_with_15_percent_and_1_at_the_test_point() -> None:
    part = without(PART, "versus_current", "versus_temperature", "saturation_voltage")
    worst, kindest = available(led=1e-3, part=part), available(led=1e-3, part=part, setting=KINDEST)
    assert (factor(worst, "D_IF"), factor(kindest, "D_IF")) == pytest.approx((0.60 * 0.85, 0.60 * 1.15))
    assert factor(available(led=5e-3, part=part), "D_IF") == 1.0
    assert factor(available(temperature=25.0, part=part), "D_T") == 1.0


def test_of_bound_a_the_divisor_counts_at_its_high_end() -> None:
    """Generic curve, technology unknown: (0.60 to 0.92) at 1 mA over (1.10 and 0.95) at 10 mA."""
    part = (
        without(PART, "versus_current", "technology", "versus_voltage")
        .replace('at = "2 mA", drive = "10 mA"', 'at = "9 mA", drive = "10 mA"')
        .replace('min = "100 %"', 'min = "10 %"')
    )
    worst = available(led=1e-3, part=part)
    assert worst.bound == "saturation line"
    assert factor(worst, "D_IF") == pytest.approx(0.60 / 1.10)
    assert factor(available(led=1e-3, part=part, setting=KINDEST), "D_IF") == pytest.approx(0.92 / 0.95)


def test_a_ratio_that_nobody_stated_lies_in_the_family_s_interval() -> None:
    part = without(PART, "ratio", "saturation_voltage", "versus_current", "versus_voltage")
    worst, kindest = available(part=part), available(part=part, setting=KINDEST)
    assert (factor(worst, "ratio_min"), factor(kindest, "ratio_min")) == (0.5, 6.0)


def test_a_typical_ratio_is_no_minimum_and_no_minimum_lies_above_it() -> None:
    """The poorest usual part has 0.3 of what a typical one has: 0.3 of 150 %."""
    part = without(PART.replace('min = "100 %", max = "200 %"', 'typ = "150 %"'), "saturation_voltage")
    worst, kindest = available(part=part), available(part=part, setting=KINDEST)
    assert (factor(worst, "ratio_min"), factor(kindest, "ratio_min")) == pytest.approx((0.45, 1.5))


def test_terms_of_both_bounds_are_named_because_either_may_become_the_larger() -> None:
    """Bound (a) alone would rest on nothing defaulted; the kindest D_VCE makes (b) the larger one."""
    part = NO_VOLTAGE_CURVE.replace('at = "2 mA", drive = "10 mA"', 'at = "7 mA", drive = "10 mA"')
    worst = available(part=part)
    assert worst.bound == "saturation line"
    assert "parts.DEMO_A.transfer.versus_voltage" in {term.key for term in worst.terms}
    assert available(part=part, setting=KINDEST).bound == "ratio"


# -- life -------------------------------------------------------------------------------------------------------

STRESS = PART.replace(
    "ageing = { remaining = 0.8 }",
    'ageing = { loss = 0.1, time = "1000 h", current = "20 mA", temperature = "125 degC" }',
)


def test_a_stated_remainder_is_used_as_it_is() -> None:
    assert factor(available(), "D_t") == 0.8


def test_without_a_word_on_ageing_half_of_the_ratio_may_be_gone() -> None:
    part = without(PART, "ageing")
    assert factor(available(part=part), "D_t") == 0.5
    assert factor(available(part=part, setting=KINDEST), "D_t") == 1.0


def test_without_life_or_duty_nothing_ages() -> None:
    part = without(PART, "ageing")
    for facts in (FACTS.replace("10 year", "0 year"), FACTS.replace("duty = 1.0", "duty = 0.0")):
        assert factor(available(part=part, facts=facts), "D_t") == 1.0


def test_stress_is_taken_at_the_largest_led_current_and_the_hot_end() -> None:
    """AF = (20/5)^2 exp(0.43/8.62e-5 (1/333 - 1/398)) = 184.7; 87,660 h are 0.4746 tests; m = 0.25 loses more."""
    found = available(part=STRESS, stress=5e-3)
    factor_ = 16 * math.exp(0.43 / 8.62e-5 * (1 / 333 - 1 / 398))
    assert factor(found, "D_t") == pytest.approx(1 - 0.1 * (87660 / factor_ / 1000) ** 0.25)
    assert factor(available(part=STRESS, stress=10e-3), "D_t") < factor(found, "D_t")
    # The temperature of the corner does not matter, that of the ambient does.
    assert factor(available(part=STRESS, temperature=0.0), "D_t") == factor(found, "D_t")


def test_duty_counts_as_hours_with_current() -> None:
    half = available(part=STRESS, facts=FACTS.replace("duty = 1.0", "duty = 0.5"))
    years = available(part=STRESS, facts=FACTS.replace("10 year", "5 year"))
    assert factor(half, "D_t") == pytest.approx(factor(years, "D_t"))


def test_the_loss_of_the_largest_current_is_applied_at_the_smallest() -> None:
    found = transfer(NETLIST, part=STRESS)
    whole = context(NETLIST, part=STRESS)
    drive = whole.analysis.drive(channel(whole))
    hours = 87660 / ((20e-3 / drive.current.high.value) ** 2 * math.exp(0.43 / 8.62e-5 * (1 / 333 - 1 / 398)))
    exponent = 0.5 if hours > 1000 else 0.25
    assert factor(found.worst.available, "D_t") == pytest.approx(1 - 0.1 * (hours / 1000) ** exponent)
    assert found.worst.available.led_current < drive.current.high.value


# -- temperature is one variable --------------------------------------------------------------------------------


def test_never_the_cold_led_current_together_with_the_hot_ratio() -> None:
    found = transfer(NETLIST)
    whole = context(NETLIST)
    rows = {row.temperature: row for row in whole.analysis.drive(channel(whole)).by_temperature}
    for row in found.rows:
        assert row.available.led_current == rows[row.temperature].low.value
        expected = 0.95 if row.temperature == 0.0 else 1.0 - 0.3 * 35 / 60
        assert factor(row.available, "D_T") == pytest.approx(expected)
    assert found.worst.margin == min(row.margin for row in found.rows)
    cold_led, hot_ratio = rows[0.0].low.value, factor(found.rows[-1].available, "D_T")
    mixed = cold_led * hot_ratio
    assert all(row.available.led_current * factor(row.available, "D_T") > mixed for row in found.rows)


def test_where_a_curve_bends_upwards_the_temperature_between_is_tried() -> None:
    bent = 'versus_temperature = [["-25 degC", 1.0], ["25 degC", 1.0], ["40 degC", 0.6], ["85 degC", 0.9]]'
    part = "\n".join(bent if line.startswith("versus_temperature") else line for line in PART.splitlines()) + "\n"
    found = transfer(NETLIST, part=part)
    assert [row.temperature for row in found.rows] == [0.0, 40.0, 60.0]
    assert found.worst.temperature == 40.0
    straight = transfer(NETLIST)
    assert [row.temperature for row in straight.rows] == [0.0, 60.0]


def test_the_margin_is_available_over_required_at_one_temperature() -> None:
    found = transfer(NETLIST)
    for row in found.rows:
        assert row.margin == pytest.approx(row.available.current / row.required)


# -- limits and verdicts ----------------------------------------------------------------------------------------


def test_a_stricter_limit_never_turns_fail_into_pass() -> None:
    netlist = board("R1 V5 A 1.5k", "R9 VB OUT 4.7k\n")
    order = {"fail": 0, "open": 1, "pass": 2}
    for part in (PART, without(PART, "ageing", "versus_voltage")):
        kinds = [
            order[
                result(
                    report(netlist, FACTS + f"\n[limits]\ntransfer_margin = {limit}\n", part), "transfer-margin-low"
                ).kind
            ]
            for limit in (0.2, 0.5, 0.8, 1.0, 1.2, 1.5, 2.0, 4.0)
        ]
        assert kinds == sorted(kinds, reverse=True)
        assert kinds[0] == 2
        assert kinds[-1] == 0


def test_between_worst_and_kindest_it_is_open_and_names_the_fact_and_where_it_flips() -> None:
    netlist = board("R1 V5 A 1.5k", "R9 VB OUT 4.7k\n")
    found = result(report(netlist, FACTS, without(PART, "ageing")), "transfer-margin-low")
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ["parts.DEMO_A.transfer.ageing"]
    flip = next(item.flips_at for item in found.assumptions if "ratio left" in item.name)
    assert flip is not None
    assert 0.5 < flip < 1.0
    better = FACTS
    stated = PART.replace("remaining = 0.8", f"remaining = {min(flip * 1.001, 1.0):.6f}")
    assert result(report(netlist, better, stated), "transfer-margin-low").kind == "pass"
    worse = PART.replace("remaining = 0.8", f"remaining = {flip * 0.999:.6f}")
    assert result(report(netlist, better, worse), "transfer-margin-low").kind == "fail"


@pytest.mark.parametrize(
    ("points", "logarithmic", "x", "unit", "line"),
    [
        (((5e-4, 0.4), (5e-3, 1.0)), True, 2.85e-4, "A", '[["0.2 mA", 0.16], ["0.5 mA", 0.4], ["5 mA", 1]]'),
        (((5e-4, 0.4), (5e-3, 1.0)), True, 1.4e-2, "A", '[["0.5 mA", 0.4], ["5 mA", 1], ["20 mA", 1]]'),
        (((-25.0, 0.9), (25.0, 1.0)), False, 85.0, "degC", '[["-25 degC", 0.9], ["25 degC", 1], ["85 degC", 1]]'),
        (((0.4, 0.7), (5.0, 1.0)), False, 0.35, "V", '[["0.3 V", 0.7], ["0.4 V", 0.7], ["5 V", 1]]'),
    ],
    ids=["below", "above", "hot", "saturated"],
)
def test_the_line_for_a_curve_that_ends_too_early_keeps_its_points_and_reaches_the_one_that_is_wanted(
    points: tuple[tuple[float, float], ...], logarithmic: bool, x: float, unit: str, line: str
) -> None:
    assert reaching(Curve(points, logarithmic), x, unit) == line
