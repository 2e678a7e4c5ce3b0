"""Junction transistors that limit the current of an LED: by the square law, from their saturation current."""

from __future__ import annotations

import math

import pytest

from isolint.results import NetlistReport, Result
from tests.rules.test_rows_of_couplers import judged, said

LINE = '[lines.IN]\non = ["15 V", "30 V"]\noff = ["0 V", "0.2 V"]\nreverse = "0 V"\n'
MODEL = ".model JX NJF(VTO=-2 BETA=1m)\n"
STATED = '[elements.J1]\nsaturation_current = ["4 mA", "6 mA"]\npinch_off = ["1 V", "3 V"]\n'
LOAD = "R2 VB OUT 22k\n"
TIED = f"J1 IN A A JX\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"


def board(cards: str = TIED, facts: str = STATED, model: str = MODEL) -> NetlistReport:
    return judged(f"{cards}{model}", LINE + facts)


def of(report: NetlistReport, rule: str) -> Result:
    return next(one for one in report.results if one.rule == rule and one.kind != "notApplicable")


def most(report: NetlistReport) -> float:
    """The largest LED current that the report tells."""
    found = [item.max for item in of(report, "led-overdriven").evidence if item.unit == "A" and item.limit is not None]
    return max(amps for amps in found if amps is not None)


def test_a_limiter_with_its_gate_at_its_source_gives_its_saturation_current() -> None:
    """Derived: 6 mA at 27 degC, the law falls with the power -1.5 of the absolute temperature: 6.91 mA at 0 degC."""
    report = board()
    assert said(report) == []
    assert most(report) == pytest.approx(6e-3 * (300.15 / 273.15) ** 1.5, rel=1e-3)


def test_over_a_resistor_at_its_source_it_gives_less() -> None:
    """Derived: I = I_s (1 - I R / V_p)^2 solved for I, with the largest I_s and V_p and R 1 % low, at 0 degC."""
    amps, volts, ohms = 6e-3 * (300.15 / 273.15) ** 1.5, 3.0, 198.0
    x = volts * (2.0 * amps * ohms + volts - math.sqrt(4.0 * amps * ohms * volts + volts * volts)) / (2.0 * amps * ohms)
    expected = x / ohms
    assert amps * (1.0 - expected * ohms / volts) ** 2 == pytest.approx(expected)
    report = board(f"J1 IN G S JX\nR9 S G 200\nXU1 G GND GNDB OUT DEMO_PT1\n{LOAD}")
    assert most(report) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("range_", "rule"), [('["4 mA", "60 mA"]', "led-overdriven"), ('["0.1 mA", "0.2 mA"]', "transfer-margin-low")]
)
def test_too_large_and_too_small_a_limiter_fail(range_: str, rule: str) -> None:
    report = board(facts=STATED.replace('["4 mA", "6 mA"]', range_))
    assert ("fail", rule) in {(one.kind, one.rule) for one in report.results}


def test_a_p_channel_limits_towards_its_drain_and_neither_limits_backwards() -> None:
    turned = f"J1 A IN IN JX\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"
    assert said(board(turned, model=MODEL.replace("NJF", "PJF"))) == []
    assert [one[:2] for one in said(board(turned))] == [("led-unlimited", "fail")]
    assert [one[:2] for one in said(board(model=MODEL.replace("NJF", "PJF")))] == [("led-unlimited", "fail")]


def test_where_nobody_states_the_saturation_current_half_to_twice_that_of_the_model_counts() -> None:
    """Derived: 1 mA/V^2 (2 V)^2 = 4 mA of the model; at 2 mA the output is too weak, at 4 mA it is not."""
    report = board(facts="", cards=TIED.replace("22k", "15k"))
    found = of(report, "transfer-margin-low")
    assert found.kind == "open"
    assert 'elements."J1".saturation_current' in [fact.key for fact in found.missing]
    assert "saturation current of J1 2 mA" in found.message
    assert most(report) == pytest.approx(8e-3 * (300.15 / 273.15) ** 1.5, rel=1e-3)


def test_a_limiter_without_a_model_is_asked_for_both() -> None:
    found = [one for one in board(facts="", model="").results if one.kind == "open"]
    assert {fact.key for one in found for fact in one.missing} == {".model JX", 'elements."J1".saturation_current'}


def test_a_junction_transistor_with_another_gate_is_never_silent() -> None:
    report = board(TIED.replace("J1 IN A A", "J1 IN GND A"))
    assert [one[1] for one in said(report)] == ["open"]
    assert "J1" in next(one for one in report.results if one.kind == "open").message
