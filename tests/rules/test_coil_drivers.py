"""What drives the coil of a relay: outputs within what they give, transistors with gain, pins within their voltage."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["25 degC", "25 degC"]
[supplies."V5"]
voltage = "5 V"
tolerance = "0 %"
ground = "GND"
[supplies."V12"]
voltage = "12 V"
tolerance = "0 %"
ground = "GND"
[elements."R*"]
tolerance = "0 %"
[elements."Q*"]
gain_min = 20
[outputs."DO"]
supply = "V5"
drive = "push-pull"
high = { min = "5 V", at = "20 mA" }
low = { max = "0 V", at = "20 mA" }
source_max = "10 mA"
sink_max = "50 mA"
voltage_max = "5.5 V"
[outputs."OD"]
supply = "V5"
drive = "open-drain"
low = { max = "0 V", at = "50 mA" }
sink_max = "50 mA"
off_leakage = "1 uA"
voltage_max = "5.5 V"
[outputs."OD12"]
supply = "V5"
drive = "open-drain"
low = { max = "0 V", at = "50 mA" }
sink_max = "50 mA"
off_leakage = "1 uA"
voltage_max = "15 V"
"""
PARTS = """
[parts.DEMO_K12]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_K12.coil]
resistance = "400 ohm"
voltage = "12 V"
pull_in = "9 V"
drop_out = "1.2 V"
"""
CARDS = ".model QSW NPN(IS=1e-14 BF=40)\n.model DSIG D(IS=2n N=1.8)\n.model NLOW NMOS(VTO=1.5 KP=2)\n"
SWITCHED = "Q1 K B GND QSW\nXK1 V12 K COM NO DEMO_K12\nD1 K V12 DSIG\n"


def coil(cards: str, facts: str = "") -> NetlistReport:
    return judge(f"coil drivers\n{cards}{CARDS}", FACTS + facts, parts__toml=PARTS)


def said(report: NetlistReport, rule: str, role: str = "") -> Result:
    (found,) = [one for one in report.results if one.rule == rule and role in one.role and one.part == "XK1"]
    return found


def test_the_published_relay_driver_has_its_headroom_of_two_and_fails_with_four_times_the_base_resistor() -> None:
    """12 V / 400 ohm = 30 mA; 4.3 V / 717 ohm = 6 mA: forced gain of 10 with twice the base current (W57)."""
    report = coil(f"R1 DO B 717\n{SWITCHED}")
    result = said(report, "drive-headroom-low", "Q1")
    assert result.kind == "pass"
    assert result.margin is not None
    assert result.margin.value == pytest.approx(20 * (5 - 0.7) / 717 / 0.030, rel=0.03)
    assert said(coil(f"R1 DO B 2.9k\n{SWITCHED}"), "drive-headroom-low", "Q1").kind == "fail"


def test_a_coil_in_the_cold_draws_more_of_the_output_that_sinks_it() -> None:
    """Copper: 400 ohm at 25 degC are 400 (1 - 45 x 0.00393) = 329 ohm at -20 degC, 36.5 mA of 50."""
    cold = FACTS.replace('["25 degC", "25 degC"]', '["-20 degC", "25 degC"]')
    cards = f"cold\nXK1 V12 OD12 COM NO DEMO_K12\nD1 OD12 V12 DSIG\n{CARDS}"
    result = said(judge(cards, cold, parts__toml=PARTS), "drive-headroom-low", "OD12")
    assert result.margin is not None
    assert result.margin.value == pytest.approx(0.050 / (12 / (400 * (1 - 45 * 0.00393))), rel=0.01)


def test_nothing_is_pushed_into_an_output_that_feeds_a_base_or_sinks_a_coil_of_its_own_supply() -> None:
    for cards in (f"R1 DO B 717\n{SWITCHED}", "XK1 V5 DO COM NO DEMO_K12\nD1 DO V5 DSIG\n"):
        assert [one for one in coil(cards).results if one.rule == "driver-port-overloaded" and one.part == "XK1"] == []


@pytest.mark.parametrize(("ohms", "kind"), [("717", "pass"), ("470", "fail"), ("0.1", "fail")])
def test_an_output_gives_the_base_current_with_the_headroom_of_an_led(ohms: str, kind: str) -> None:
    """Of 10 mA 7.7 mA with 1.3 to spare: (5 - 0.7) V / 7.7 mA = 560 ohm."""
    assert said(coil(f"R1 DO B {ohms}\n{SWITCHED}"), "drive-headroom-low", "DO").kind == kind


def test_an_output_that_sinks_the_coil_itself_is_held_to_what_it_sinks() -> None:
    report = coil("XK1 V12 OD12 COM NO DEMO_K12\nD1 OD12 V12 DSIG\n")
    result = said(report, "drive-headroom-low", "OD12")
    assert result.margin is not None
    assert result.kind == "pass"
    assert result.margin.value == pytest.approx(50 / 30, rel=0.01)
    assert said(report, "driver-port-overloaded").kind == "pass"


@pytest.mark.parametrize("output", ["OD", "DO"])
def test_a_coil_from_a_higher_supply_lifts_the_pin_of_an_output_that_is_off_or_high(output: str) -> None:
    """The 12 V stand on a pin that takes 5.5 V as soon as it lets go, and are pushed into one that drives 5 V."""
    result = said(coil(f"XK1 V12 {output} COM NO DEMO_K12\nD1 {output} V12 DSIG\n"), "driver-port-overloaded")
    assert result.kind == "fail"
    assert result.margin is not None
    assert result.margin.value == pytest.approx(5.5 / 12, rel=0.01)


def test_an_output_without_a_stated_limit_of_its_current_is_asked_for_it() -> None:
    stated = (
        '[outputs."DX"]\nsupply = "V5"\nhigh = { min = "5 V", at = "20 mA" }\nlow = { max = "0 V", at = "20 mA" }\n'
    )
    result = said(coil(f"R1 DX B 717\n{SWITCHED}", stated), "drive-headroom-low", "DX")
    assert result.kind == "open"
    assert "source_max" in result.missing[0].key


def test_a_mos_switch_needs_the_gate_voltage_that_turns_it_on() -> None:
    cards = "M1 K DO GND GND NLOW\nXK1 V12 K COM NO DEMO_K12\nD1 K V12 DSIG\n"
    assert said(coil(cards), "drive-headroom-low", "M1").kind == "pass"
    starved = said(coil(cards, '[elements."M1"]\ngate_full_on = "6 V"\n'), "drive-headroom-low", "M1")
    assert starved.kind == "fail"
