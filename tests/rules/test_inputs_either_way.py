"""Couplers for alternating current: two LEDs, one each way, light at either polarity."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from isolint import app
from isolint.results import NetlistReport
from tests.support import complaints, judge_files, only

FIXTURES = Path(__file__).parents[2] / "fixtures" / "rules"

BY_FLAG = """
[parts.DEMO_AC2]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
source = "invented for the tests"
[parts.DEMO_AC2.led]
bidirectional = true
technology = "GaAs"
forward_voltage = { typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
[parts.DEMO_AC2.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]
versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]
[parts.DEMO_AC2.output]
voltage_max = "70 V"
reverse_voltage_max = "6 V"
current_max = "50 mA"
power_max = "150 mW"
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
"""
BY_NAMES = BY_FLAG.replace('"anode", "cathode"', '"a1", "a2"')
ONE_WAY = BY_FLAG.replace("bidirectional = true\n", "")
RECORDS = {"stated": BY_FLAG, "with two anodes": BY_NAMES}
SUPPLY = '[supplies."L"]\nvoltage = "24 V"\nkind = "ac"\nfrequency = "50 Hz"\nground = "GND"\n'
LOAD = "R2 VB OUT 10k\n"


def judged(cards: str, record: str, facts: str = "") -> NetlistReport:
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    settings = (FIXTURES / "isolint.toml").read_text() + facts
    files |= {"parts/ac.toml": record, "isolint.toml": settings, "board.cir": f"an invented board\n{cards}{LOAD}"}
    return judge_files(files, app.Options(today=date(2026, 1, 1)))


@pytest.mark.parametrize("record", RECORDS)
@pytest.mark.parametrize("pins", ["A GND", "GND A"])
def test_it_lights_whichever_way_round_it_is_connected(pins: str, record: str) -> None:
    report = judged(f"R1 DRIVE A 470\nXU1 {pins} GNDB OUT DEMO_AC2\n", RECORDS[record])
    assert complaints(report) == []
    assert (report.coverage.channels, report.coverage.judged) == (1, 1)
    assert {only(report, rule).kind for rule in ("led-reversed", "led-reverse-exceeded")} == {"notApplicable"}
    assert only(report, "transfer-margin-low").kind == "pass"


def test_a_single_led_does_not() -> None:
    report = judged("R1 DRIVE A 470\nXU1 GND A GNDB OUT DEMO_AC2\n", ONE_WAY)
    assert [rule for rule, *_ in complaints(report)] == ["led-reversed"]


@pytest.mark.parametrize("record", RECORDS)
@pytest.mark.parametrize("pins", ["A GND", "GND A"])
def test_both_ways_give_the_same_margin_as_a_single_led(pins: str, record: str) -> None:
    def margin(cards: str, text: str) -> float:
        found = only(judged(cards, text), "transfer-margin-low").margin
        assert found is not None
        return found.value

    weak = "R1 DRIVE A 3.3k\nXU1 {} GNDB OUT DEMO_AC2\n"
    assert margin(weak.format(pins), RECORDS[record]) == pytest.approx(margin(weak.format("A GND"), ONE_WAY), rel=1e-9)


@pytest.mark.parametrize("record", RECORDS)
@pytest.mark.parametrize(
    ("cards", "rule"),
    [
        ("XU1 GND DRIVE GNDB OUT DEMO_AC2\n", "led-unlimited"),
        ("R1 DRIVE A 4.7k\nXU1 GND A GNDB OUT DEMO_AC2\n", "transfer-margin-low"),
        ("R1 DRIVE A 470\nXU1 GNX A GNDB OUT DEMO_AC2\n", "led-undriven"),
    ],
)
def test_what_is_wrong_with_a_single_led_is_wrong_with_two(cards: str, rule: str, record: str) -> None:
    assert [(slug, kind) for slug, kind, _ in complaints(judged(cards, RECORDS[record]))] == [(rule, "fail")]


@pytest.mark.parametrize("record", RECORDS)
@pytest.mark.parametrize("pins", ["A M", "M A"])
def test_its_led_in_series_with_another_conducts_either_way(pins: str, record: str) -> None:
    series = f"R1 DRIVE A 270\nXU1 {pins} GNDB OUT DEMO_AC2\nXU2 M GND GNDB OUT2 DEMO_PT1\nR3 VB OUT2 10k\n"
    assert complaints(judged(series, RECORDS[record])) == []


@pytest.mark.parametrize("record", RECORDS)
def test_alternating_current_lights_it_twice_a_period(record: str) -> None:
    """The gaps are short and asked about; a capacitor for half a period is enough to hold the level."""
    cards = "R1 L A 4.7k\nXU1 A GND GNDB OUT DEMO_AC2\n"
    gaps = only(judged(cards, RECORDS[record], SUPPLY), "output-chopped")
    assert gaps.kind == "open"
    held = judged(f"{cards}C2 OUT GNDB 10u\n", RECORDS[record], SUPPLY)
    assert only(held, "transfer-margin-low").kind == "pass"
    assert next(item.max for item in only(held, "transfer-margin-low").evidence if item.symbol == "T_r") == 10e-3
