"""Logic outputs, gate drivers and photovoltaic drivers need their threshold current in the cold and when aged, too."""

from __future__ import annotations

import pytest

from isolint.results import Result
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["-40 degC", "25 degC"]
[supplies."V5"]
voltage = "5 V"
tolerance = "0 %"
ground = "GND"
[elements."R*"]
tolerance = "0 %"
"""
LED = """
forward_voltage = { min = "1.5 V", typ = "1.5 V", max = "1.5 V", at = "5 mA" }
forward_current_max = "25 mA"
"""
PINS = {
    "logic-output": '["anode", "cathode", "vcc", "output", "gnd"]',
    "gate-driver": '["anode", "cathode", "vcc", "out", "vee"]',
    "photovoltaic": '["anode", "cathode", "pv+", "pv-"]',
}


def told(kind: str, led: str, ohms: str = "580", more: str = "") -> Result:
    part = f'[parts.DEMO_T]\ntype = "{kind}"\npins = {PINS[kind]}\n[parts.DEMO_T.led]{LED}{led}\n{more}'
    pins = "VB OUT GNDB" if kind != "photovoltaic" else "G GNDB"
    cards = f"cold\nR1 V5 A {ohms}\nXU1 A GND {pins} DEMO_T\n"
    report = judge(cards, FACTS, parts__toml=part)
    (found,) = [one for one in report.results if one.rule == "trigger-margin-low"]
    return found


@pytest.mark.parametrize("kind", PINS)
def test_a_threshold_alone_is_a_question_where_cold_and_age_decide(kind: str) -> None:
    """6 mA for 5 mA: enough when new and warm, not with 1.4 in the cold, where the LED drops 1.9 mV/K more, and 1.3."""
    result = told(kind, 'threshold_current = "5 mA"')
    assert result.kind == "open"
    assert result.margin is not None
    cold = 1.4 if kind != "photovoltaic" else 1 + 0.5 * 65 / 60
    amps = (5 - 1.5 - 65 * 1.9e-3) / 580
    assert result.margin.value == pytest.approx(amps / (0.005 * cold * 1.3), rel=0.01)


def test_a_guaranteed_range_takes_the_cold_away_and_a_stated_remaining_light_the_age() -> None:
    cold = 'threshold_current = "5 mA"\nthreshold_temperature = ["-40 degC", "85 degC"]'
    assert told("logic-output", cold).kind == "open"
    assert told("logic-output", cold, more="[parts.DEMO_T.trigger]\nremaining = 0.9").kind == "pass"
    assert told("logic-output", cold, more="[parts.DEMO_T.trigger]\nremaining = 0.8").kind == "fail"


def test_a_range_that_does_not_hold_the_ambient_takes_nothing_away() -> None:
    narrow = 'threshold_current = "5 mA"\nthreshold_temperature = ["0 degC", "70 degC"]'
    assert told("logic-output", narrow, more="[parts.DEMO_T.trigger]\nremaining = 0.99").kind == "open"


def test_a_recommended_current_has_both_in_it() -> None:
    result = told("logic-output", 'threshold_current = "5 mA"\nrecommended_current_min = "5.9 mA"')
    assert result.kind == "notApplicable"
