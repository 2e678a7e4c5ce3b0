"""Couplers whose outputs lie in series, side by side, or before the LED of another one."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from isolint import app
from isolint.results import NetlistReport
from tests.support import judge_files

FIXTURES = Path(__file__).parents[2] / "fixtures" / "rules"

THIRD = """
[supplies."VC"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDC"
[sides.third]
nets = ["GNDC"]
kind = "selv"
[[barriers]]
between = ["third", "field"]
[inputs."LAST"]
supply = "VC"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
"""
FIRST = "R1 DRIVE A 390\nXU1 A GND {first} DEMO_PT1\n"
SECOND = "XU2 {second} GNDC LAST DEMO_PT1\nR2 VC LAST 47k\n"


def judged(cards: str, settings: str = "") -> NetlistReport:
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    files |= {"isolint.toml": (FIXTURES / "isolint.toml").read_text() + settings}
    files |= {"board.cir": f"an invented board\n{cards}"}
    return judge_files(files, app.Options(today=date(2026, 1, 1)))


def row(first: str, between: str, second: str, more: str = "") -> NetlistReport:
    """XU1 (emitter and collector on `first`) moves the LED of XU2 (on `second`), over what lies between."""
    return judged(FIRST.format(first=first) + between + SECOND.format(second=second) + more, THIRD)


def said(report: NetlistReport) -> list[tuple[str, str, str]]:
    """What fails or is open, by rule, kind and subject."""
    return [(r.rule, r.kind, r.subject) for r in report.results if r.kind in ("fail", "open")]


def of(report: NetlistReport, rule: str, subject: str) -> tuple[str, str, str | None]:
    found = next(r for r in report.results if r.rule == rule and r.subject == subject)
    return found.kind, found.message, found.blocked_by


# -- series and parallel ------------------------------------------------------------------------------------------


def series(resistor: str = "10k", net: str = "OUT") -> str:
    return (
        f"R1 DRIVE A 470\nXU1 A GND M {net} DEMO_PT1\nR11 DRIVE2 A2 470\nXU2 A2 GND GNDB M DEMO_PT1\n"
        f"R2 VB {net} {resistor}\n"
    )


def test_each_of_two_outputs_in_series_must_carry_the_whole_load() -> None:
    """5.25 V - 1.5 V over 9.9 kohm, and 1 uA of the input: 0.380 mA, for both."""
    report = judged(series())
    for subject in ("XU1", "XU2"):
        found = next(r for r in report.results if r.rule == "transfer-margin-low" and r.subject == subject)
        needed = next(e for e in found.evidence if e.symbol == "IC_required")
        assert needed.max == pytest.approx((5.25 - 1.5) / 9900 + 1e-6, rel=1e-4)


def test_what_is_left_across_one_of_two_in_series_is_the_level_without_the_drop_of_the_other() -> None:
    """0.6 V for low less 0.3 V: just what an output of 0.3 V needs."""
    found = next(r for r in judged(series(net="LOW")).results if r.rule == "output-level-invalid")
    assert found.kind == "pass"
    assert found.margin is not None
    assert found.margin.value == pytest.approx(1.0, abs=1e-5)


def test_each_of_two_in_series_stands_the_whole_off_voltage() -> None:
    found = next(r for r in judged(series()).results if r.rule == "output-voltage-exceeded")
    volts = next(e for e in found.evidence if e.unit == "V" and e.max is not None)
    assert volts.max == pytest.approx(5.25, abs=0.01)


def test_an_output_beside_one_that_is_always_on_decides_nothing_and_that_is_one_failure() -> None:
    cards = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nR11 V5 A2 470\nXU2 A2 GND GNDB OUT DEMO_PT1\n"
    report = judged(cards)
    assert said(report) == [("load-missing", "fail", "XU1")]
    assert "XU2 is always parallel on" in of(report, "load-missing", "XU1")[1]


def test_more_than_six_outputs_in_one_load_are_open() -> None:
    cards = "R2 VB OUT 10k\n"
    nets = ["OUT", *(f"M{number}" for number in range(7)), "GNDB"]
    for number in range(8):
        cards += f"R1{number} DRIVE{number} A{number} 470\n"
        cards += f"XU{number} A{number} GND {nets[number + 1]} {nets[number]} DEMO_PT1\n"
    report = judged(cards)
    assert "7 other outputs" in of(report, "led-not-off", "XU0")[1]
    assert {r.kind for r in report.results if r.rule == "load-missing"} == {"notApplicable"}


# -- one drives the next --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "between", "second"),
    [
        ("GNDB K2", "R3 VB A2 1.5k\n", "A2 K2"),
        ("K2 VB", "R3 K2 A2 1.5k\n", "A2 GNDB"),
        ("M K2", "R3 VB A2 1.5k\nR5 DRIVE2 A5 390\nXU5 A5 GND GNDB M DEMO_PT1\n", "A2 K2"),
        ("GNDB K2", "R3 VB A2 1.5k\nR5 DRIVE2 A5 390\nXU5 A5 GND GNDB K2 DEMO_PT1\n", "A2 K2"),
    ],
    ids=["sinks", "sources", "two in series", "two side by side"],
)
def test_a_coupler_that_drives_the_next_one_is_judged_and_no_outputs_are_asked_for(
    first: str, between: str, second: str
) -> None:
    assert said(row(first, between, second)) == []


def test_a_coupler_that_gives_the_next_led_too_little_is_one_failure() -> None:
    cards = "R1 DRIVE A 4.7k\nXU1 A GND GNDB K2 DEMO_PT1\nR3 VB A2 1.5k\n"
    report = judged(cards + SECOND.format(second="A2 K2").replace("47k", "10k"), THIRD)
    assert said(report) == [("transfer-margin-low", "fail", "XU1")]
    assert of(report, "transfer-margin-low", "XU2")[2] == "transfer-margin-low"


def test_a_resistor_that_starves_the_next_led_is_the_fault_of_that_one_alone() -> None:
    assert said(row("GNDB K2", "R3 VB A2 100k\n", "A2 K2")) == [("transfer-margin-low", "fail", "XU2")]


def test_an_led_without_a_resistor_behind_a_coupler_is_unlimited() -> None:
    rules = [found for found in said(row("GNDB K2", "", "VB K2")) if found[1] == "fail"]
    assert rules == [("led-unlimited", "fail", "XU2")]


def test_an_led_the_wrong_way_round_behind_a_coupler_is_one_failure() -> None:
    assert said(row("GNDB K2", "R3 VB A2 1.5k\n", "K2 A2")) == [("led-reversed", "fail", "XU2")]


def test_an_emitter_on_nothing_before_an_led_is_one_failure() -> None:
    assert said(row("NX K2", "R3 VB A2 1.5k\n", "A2 K2")) == [("load-missing", "fail", "XU1")]


def test_a_coupler_that_shunts_the_next_led_must_take_its_current() -> None:
    """LED off: all that 2.2 kohm gives at the LED's low voltage, less than the LED may have to be off."""
    kind, message, _ = of(row("GNDB A2", "R3 VB A2 2.2k\n", "A2 GNDB"), "transfer-margin-low", "XU1")
    assert kind == "open"
    assert "LED of XU2 off" in message


def test_dark_current_through_the_next_led_is_asked_of_that_one() -> None:
    report = row("GNDB K2", "R3 VB A2 1.5k\n", "A2 K2")
    assert "asked of the LED" in of(report, "dark-current-high", "XU1")[1]
    kind, message, _ = of(report, "led-not-off", "XU2")
    assert kind == "pass"
    assert "XU1 off" in message


def test_couplers_that_drive_each_other_are_open() -> None:
    cards = "R1 VB A 1k\nXU1 A K1 GNDB K2 DEMO_PT1\nR3 VB A2 1k\nXU2 A2 K2 GNDB K1 DEMO_PT1\n"
    found = [r.message for r in judged(cards).results if r.rule == "led-unlimited"]
    assert "feeds itself (XU1 drives XU2 drives XU1)" in found[0]


# -- time ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("pulse", "kind"), [("1 ms", "pass"), ("0.8 ms", "open"), ("0.1 ms", "fail")])
def test_the_delay_of_a_coupler_counts_in_that_of_the_one_whose_led_it_moves(pulse: str, kind: str) -> None:
    """Without the first one's 90 us the second one's 366 us would do for a pulse of 0.8 ms, and half of it may go."""
    hysteresis = '[inputs."LAST"]\nhysteresis = true\n'
    cards = f"{FIRST.format(first='GNDB M')}R5 VB B 680\n{SECOND.format(second='B M')}"
    settings = THIRD.replace('[inputs."LAST"]\n', hysteresis) + f'[signals.LAST]\npulse = "{pulse}"\n'
    found = next(
        one for one in judged(cards, settings).results if (one.rule, one.subject) == ("switching-too-slow", "XU2")
    )
    told = {item.symbol: item.max or 0.0 for item in found.evidence}
    assert found.kind == kind
    assert told["settle_before"] > 50e-6
    assert told["settle"] == pytest.approx(told["t_off"] + told["settle_before"])
    alone = 0.5 * 0.75e-3 / told["t_off"]
    assert alone >= 1.0 > 0.5 * 0.75e-3 / told["D"]


# -- guards -------------------------------------------------------------------------------------------------------


GUARD = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nXU2 GND A GNDB {} DEMO_PT1\nR2 VB OUT 10k\n"


def test_an_led_that_guards_another_one_is_no_reversed_led_while_nothing_reads_it() -> None:
    """The second coupler of a pair in place of a diode: its output lies alone, which is worth a note."""
    report = judged(GUARD.format("ALONE"))
    told = [(one.rule, one.level, one.subject) for one in report.results if one.kind in ("fail", "open")]
    assert told == [("load-missing", "note", "XU2")]


def test_an_led_that_never_lights_and_is_read_is_reversed() -> None:
    assert said(judged(GUARD.format("OUT2") + "R3 VB OUT2 10k\n")) == [("led-reversed", "fail", "XU2")]
