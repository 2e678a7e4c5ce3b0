"""Range of the servo loop of linear couplers: published sums, networks by Kirchhoff, what is asked and what blocks."""

from __future__ import annotations

import random

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge, only

SHORT, OVER = "servo-range-short", "photodiode-overdriven"
RECORDS = """
[parts.LIN]
type = "linear"
pins = ["cathode", "anode", "pd1-", "pd1+", "pd2+", "pd2-"]
[parts.LIN.led]
technology = "AlGaAs"
forward_voltage = {{ min = "{forward} V", typ = "{forward} V", max = "{forward} V", at = "{lit:.9g} A" }}
forward_current_max = "{most:.9g} A"
[parts.LIN.trigger]
remaining = {remaining:.9g}
[parts.LIN.photodiodes]
servo_gain = {{ min = {gain:.9g}, current = "10 mA" }}
transfer_gain = {{ max = {third:.9g} }}
current_max = "{linear:.9g} A"
[parts.AMP]
type = "amplifier"
pins = ["in+", "in-", "v+", "v-", "out"]
[parts.AMP.amplifier]
swing_high = "{swing} V"
swing_low = "{swing} V"
output_current_max = "25 mA"
"""
FACTS = """
parts = ["parts.toml"]
[elements."R*"]
tolerance = "0 %"
[environment]
ambient = ["25 degC", "25 degC"]
[supplies."VP"]
voltage = "{feed} V"
tolerance = "0 %"
ground = "GND"
[supplies."VB"]
voltage = "15 V"
tolerance = "0 %"
ground = "GNDB"
"""
USUAL = {"forward": 1.5, "lit": 10e-3, "most": 25e-3, "remaining": 1.0, "gain": 0.006, "third": 1.0, "linear": 200e-6}
USUAL["swing"] = 0.0
STAGE = """* linear
XA1 GND SUM VP GND LEDK AMP
XU1 LEDK A SUM GND GNDB SUMB LIN
XA2 GNDB SUMB VB GNDB READ AMP
R9 SUMB READ 10k
"""


def judged(cards: str, signals: str, feed: float = 5.0, **values: float) -> NetlistReport:
    """A sinking stage with the LED's resistor and the network of the signal in `cards`."""
    facts = FACTS.format(feed=feed) + signals
    return judge(STAGE + cards, facts, parts__toml=RECORDS.format(**{**USUAL, **values}))


def of(report: NetlistReport, rule: str, name: str) -> float:
    """A number of the evidence of the one result of a rule."""
    found = next(each for each in only(report, rule).evidence if each.symbol == name)
    value = found.max if found.max is not None else found.min
    assert value is not None
    return value


def margin(result: Result) -> float:
    """Its margin."""
    assert result.margin is not None
    return result.margin.value


SIGNAL = '[signals."S"]\nrange = ["0 V", "5 V"]\n'


def test_a_published_resistor_of_the_led_is_just_enough() -> None:
    """2.5 V, 1.3 V and 12 mA give 100 ohm: key linear-200-khz. 2.5 V is what is left of the supply."""
    stated = {"forward": 1.3, "lit": 12e-3, "gain": 50e-6 / 12e-3}
    found = [only(judged(f"R1 S SUM 100k\nR2 VP A {ohms}\n", SIGNAL, 2.5, **stated), SHORT) for ohms in (100, 101)]
    assert margin(found[0]) == pytest.approx(1.0, rel=1e-6)
    assert found[1].kind == "fail"


def test_a_published_servo_gain_gives_its_led_current() -> None:
    """120 uA at 10 mA are a gain of 0.012: key linear-200-khz."""
    report = judged("R1 S SUM 41.6666667k\nR2 VP A 340\n", SIGNAL, gain=0.012)
    assert of(report, SHORT, "IF_max") == pytest.approx(10e-3, rel=1e-6)


@pytest.mark.parametrize(("ohms", "kind"), [(117.0, "pass"), (119.0, "fail")])
def test_the_led_current_rises_with_the_life_of_the_light(ohms: float, kind: str) -> None:
    """Derived: 100 uA over a gain of 0.006 are 16.7 mA, of 1.3 times 21.7 mA; (4.5 - 1.95) V / 21.7 mA = 117.7 ohm."""
    stated = {"forward": 1.95, "lit": 21.6667e-3, "remaining": 1 / 1.3, "swing": 0.5}
    report = judged(f"R1 S SUM 50k\nR2 VP A {ohms}\n", SIGNAL, **stated)
    assert only(report, SHORT).kind == kind


def test_a_diode_at_its_linear_limit_holds_and_one_percent_less_resistance_does_not() -> None:
    report = judged("R1 S SUM 100k\nR2 VP A 100\n", SIGNAL, linear=50e-6)
    assert margin(only(report, OVER)) == pytest.approx(1.0, rel=1e-9)
    assert margin(only(judged("R1 S SUM 99k\nR2 VP A 100\n", SIGNAL, linear=50e-6), OVER)) == pytest.approx(0.99)


def test_the_receiver_of_a_current_loop_divides_its_current() -> None:
    """I_P1 = I R3 / (R1 + R3): key linear-200-khz."""
    report = judged("R1 S SUM 30k\nR3 S GND 100\nR2 VP A 100\n", '[signals."S"]\ncurrent = ["4 mA", "20 mA"]\n')
    assert of(report, OVER, "I_P1") == pytest.approx(20e-3 * 100.0 / 30.1e3, rel=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_random_networks_of_the_signal_agree_with_a_sum_by_hand(seed: int) -> None:
    """A T of three resistors between signal and summing net and an offset from the supply, by Kirchhoff."""
    draw = random.Random(seed)
    one, shunt, two, offset = (draw.uniform(20e3, 90e3) for _ in range(4))
    top = draw.uniform(2.0, 8.0)
    cards = f"R1 S M {one:.9g}\nR3 M GND {shunt:.9g}\nR4 M SUM {two:.9g}\nR5 VP SUM {offset:.9g}\nR2 VP A 10\n"
    report = judged(cards, f'[signals."S"]\nrange = ["0 V", "{top:.9g} V"]\n', linear=1e-6)
    middle = (top / one) / (1 / one + 1 / shunt + 1 / two)
    assert of(report, OVER, "I_P1") == pytest.approx(middle / two + 5.0 / offset, rel=1e-6)


def test_a_signal_of_both_signs_fails_until_an_offset_carries_it() -> None:
    both = '[signals."S"]\nrange = ["-2 V", "2 V"]\n'
    assert only(judged("R1 S SUM 100k\nR2 VP A 100\n", both), SHORT).kind == "fail"
    assert only(judged("R1 S SUM 100k\nR5 VP SUM 240k\nR2 VP A 100\n", both), SHORT).kind == "pass"


def test_what_the_output_is_to_reach_is_held_against_its_swing() -> None:
    report = judge(
        STAGE.replace("READ 10k", "READ 310k") + "R1 S SUM 100k\nR2 VP A 100\n",
        FACTS.format(feed=5.0) + SIGNAL,
        parts__toml=RECORDS.format(**USUAL),
    )
    assert margin(only(report, SHORT)) == pytest.approx(15.0 / 15.5, rel=1e-6)


def test_nothing_is_said_of_a_loop_that_is_open_or_not_understood() -> None:
    turned = STAGE.replace("XA1 GND SUM", "XA1 SUM GND") + "R1 S SUM 100k\nR2 VP A 100\n"
    report = judge(turned, FACTS.format(feed=5.0) + SIGNAL, parts__toml=RECORDS.format(**USUAL))
    assert {only(report, rule).blocked_by for rule in (SHORT, OVER)} == {"servo-open"}


def test_a_signal_without_a_range_is_asked_for_once() -> None:
    report = judged("R1 S SUM 100k\nR2 VP A 100\n", "")
    (told,) = [result for result in report.results if result.kind == "open" and result.missing]
    assert [fact.key for fact in told.missing] == ['signals."S".range']


def test_the_led_bears_what_the_amplifier_drives_at_its_rail() -> None:
    """By hand: (5 - 1.5) V over 140 ohm are 25 mA."""
    stated = {"lit": 25e-3}
    assert margin(only(judged("R1 S SUM 100k\nR2 VP A 140\n", SIGNAL, **stated), "led-overdriven")) == pytest.approx(
        1.0
    )
    assert only(judged("R1 S SUM 100k\nR2 VP A 139\n", SIGNAL, **stated), "led-overdriven").kind == "fail"
    assert only(judged("R1 S SUM 100k\nR2 VP A 0\n", SIGNAL, **stated), "led-overdriven").kind == "fail"


@pytest.mark.parametrize(("bottom", "volts"), [("GND", 0.0), ("VN", 4.0)])
def test_the_led_sees_the_other_rail_in_reverse(bottom: str, volts: float) -> None:
    cards = (
        f"* sourcing\nXA1 GND SUM VP {bottom} HOT AMP\nR2 HOT A 180\nXU1 GND A VP SUM GNDB SUMB LIN\nR1 S SUM 100k\n"
    )
    facts = FACTS.format(feed=5.0) + SIGNAL.replace('"0 V", "5 V"', '"-5 V", "0 V"')
    facts += '[supplies."VN"]\nvoltage = "-4 V"\ntolerance = "0 %"\nground = "GND"\n'
    head = "[parts.LIN.trigger]"
    records = RECORDS.format(**USUAL).replace(head, f'reverse_voltage_max = "3 V"\n{head}')
    report = judge(cards, facts, parts__toml=records)
    found = only(report, "led-reverse-exceeded")
    assert found.kind == ("fail" if volts > 3.0 else "pass")
    if volts:
        assert margin(found) == pytest.approx(3.0 / volts, rel=1e-6)
