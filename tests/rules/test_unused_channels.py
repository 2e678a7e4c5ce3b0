"""Channels of a package that the board does not use, wholly or by half."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from isolint import app
from isolint.results import NetlistReport
from tests.support import judge_files

FIXTURES = Path(__file__).parents[2] / "fixtures" / "rules"

DUAL = """
[parts.DEMO_DUAL1]
type = "phototransistor"
pins = ["a1", "k1", "a2", "k2", "e2", "c2", "e1", "c1"]
source = "invented for the tests"
[parts.DEMO_DUAL1.led]
technology = "GaAs"
forward_voltage = { typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "50 mA"
reverse_voltage_max = "6 V"
[parts.DEMO_DUAL1.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["20 mA", 1.05]]
versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]
[parts.DEMO_DUAL1.output]
voltage_max = "70 V"
reverse_voltage_max = "6 V"
current_max = "50 mA"
power_max = "150 mW"
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
[[parts.DEMO_DUAL1.channels]]
input = ["a1", "k1"]
output = ["e1", "c1"]
[[parts.DEMO_DUAL1.channels]]
input = ["a2", "k2"]
output = ["e2", "c2"]
"""

FIRST = "R1 DRIVE A 470\nR2 VB OUT 10k\n"


def judged(second: str, cards: str = "") -> NetlistReport:
    """The board with the pins of the second channel on these nets: anode, cathode, emitter, collector."""
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    netlist = f"an invented board\n{FIRST}{cards}XU1 A GND {second} GNDB OUT DEMO_DUAL1\n"
    settings = (FIXTURES / "isolint.toml").read_text()
    files |= {"parts/dual.toml": DUAL, "isolint.toml": settings, "board.cir": netlist}
    return judge_files(files, app.Options(today=date(2026, 1, 1)))


def failed(report: NetlistReport) -> list[tuple[str, str, str | None]]:
    return [(r.rule, r.level, r.channel) for r in report.results if r.kind in ("fail", "open")]


@pytest.mark.parametrize(
    "second",
    ["N1 N2 N3 N4", "GND GND GNDB GNDB", "N1 N1 N3 N3", "N1 N2 GNDB N4", "GND GND GNDB N4"],
)
def test_nothing_is_asked_of_a_channel_whose_both_ends_are_not_connected(second: str) -> None:
    report = judged(second)
    assert failed(report) == []
    assert (report.coverage.channels, report.coverage.judged) == (1, 1)
    assert any("XU1 channel 2" in note for note in report.notes)
    assert not [result for result in report.results if result.channel == "2"]


def test_a_link_across_the_led_of_an_idle_channel_is_no_drive() -> None:
    assert failed(judged("N1 N2 GNDB N4", "R9 N1 N2 0\n")) == []


def test_a_used_output_with_an_idle_led_is_a_fault() -> None:
    assert failed(judged("N1 N2 GNDB OUT2", "R12 VB OUT2 10k\n")) == [("led-undriven", "error", "2")]


def test_a_stated_input_makes_an_output_used() -> None:
    assert ("led-undriven", "error", "2") in failed(judged("N1 N2 GNDB OUT2"))


def test_a_driven_led_with_an_idle_output_is_a_note_beside_a_used_channel() -> None:
    assert failed(judged("A2 GND GNDB N4", "R11 DRIVE2 A2 470\n")) == [("load-missing", "note", "2")]


def test_both_channels_are_judged_where_both_are_used() -> None:
    report = judged("A2 GND GNDB OUT2", "R11 DRIVE2 A2 470\nR12 VB OUT2 10k\n")
    assert failed(report) == []
    assert (report.coverage.channels, report.coverage.judged) == (2, 2)


def test_a_part_on_which_nothing_is_connected_is_unused_beside_one_that_is_judged() -> None:
    report = judged("N1 N2 N3 N4", "XU2 NC1 NC2 NC3 NC4 DEMO_PT1\n")
    assert failed(report) == []
    assert report.coverage.channels == 1
    assert any("XU2" in note for note in report.notes)


@pytest.mark.parametrize("pins", ["A GND NC3 NC4", "NC1 NC2 GNDB OUT", "NC1 GND GNDB OUT"])
def test_a_part_of_which_one_end_is_connected_is_judged(pins: str) -> None:
    assert any(level == "error" for _, level, _ in failed(judged("N1 N2 N3 N4", f"XU2 {pins} DEMO_PT1\n")))


def test_a_part_that_is_tied_off_is_unused() -> None:
    report = judge_files({"isolint.toml": "top = true\n", "board.cir": "invented\nXU1 A A E E DEMO_PT1\nR1 A E2 1\n"})
    assert not [result for result in report.results if result.kind == "fail"]
    assert any("XU1" in note for note in report.notes)


TRIAC = '[parts.DEMO_TX]\ntype = "phototriac"\npins = ["anode", "cathode", "terminal1", "terminal2"]\n'


@pytest.mark.parametrize(
    ("pins", "rules"),
    [
        ("NC1 NC2 NC3 NC4", []),
        ("GND GND NC3 NC3", []),
        ("NC1 NC2 OUT2 GNDB", ["led-undriven"]),
        ("V5 NC2 NC3 NC4", ["led-undriven", "load-missing"]),
    ],
)
def test_a_part_whose_output_nothing_solves_is_unused_alike(pins: str, rules: list[str]) -> None:
    cards = f"{FIRST}R3 VB OUT2 10k\nXU1 A GND GNDB OUT DEMO_PT1\nXU2 {pins} DEMO_TX\n"
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    files |= {"parts/triac.toml": TRIAC, "isolint.toml": (FIXTURES / "isolint.toml").read_text()}
    report = judge_files({**files, "board.cir": f"an invented board\n{cards}"}, app.Options(today=date(2026, 1, 1)))
    assert [rule for rule, level, _ in failed(report) if level == "error"] == rules
