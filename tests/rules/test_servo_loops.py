"""The servo loop of linear couplers: the eight ways to connect signs, what cuts it, and what is left open."""

from __future__ import annotations

from itertools import product

import pytest

from isolint.results import Result
from tests.support import judge, only

FACTS = """
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[elements."XA*"]
type = "ordinary"
"""
AMPLIFIERS = """XA2 GNDB SUMB VB GNDB READ DEMO_AMP
R3 SUMB READ 100k
.subckt DEMO_AMP in+ in- v+ v- out
.ends
"""
SOUND = {
    "R1": "SIGNAL SUM 100k",
    "XA1": "GND SUM V5 GND OUT DEMO_AMP",
    "R2": "V5 A 220",
    "XU1": "OUT A SUM GND GNDB SUMB DEMO_LIN1",
}
"""The amplifier sinks; the coupler's pins: cathode, anode, servo cathode, servo anode, then the output diode's."""


def board(**changed: str) -> str:
    """The sound stage with some cards changed or added, each by its name."""
    cards = "".join(f"{name} {rest}\n" for name, rest in {**SOUND, **changed}.items())
    return f"* stage\n{cards}{AMPLIFIERS}"


def judged(**changed: str) -> Result:
    """What is said of the servo loop."""
    return only(judge(board(**changed), FACTS), "servo-open")


@pytest.mark.parametrize(("at_anode", "at_plus", "sources"), [*product((False, True), repeat=3)])
def test_the_product_of_three_signs_tells_positive_feedback(at_anode: bool, at_plus: bool, sources: bool) -> None:
    """By hand: light up, the servo diode's current out of its anode up; follow it to the LED."""
    input_rises = at_anode
    output_rises = input_rises == at_plus
    led_brighter = output_rises == sources
    ends = "V5 SUM" if at_anode else "SUM GND"
    led = "GND A" if sources else "OUT A"
    found = judged(
        XA1=f"{'SUM GND' if at_plus else 'GND SUM'} V5 GND OUT DEMO_AMP",
        R2=f"{'OUT' if sources else 'V5'} A 220",
        XU1=f"{led} {ends} GNDB SUMB DEMO_LIN1",
    )
    assert found.kind == ("fail" if led_brighter else "pass"), found.message


@pytest.mark.parametrize(
    ("servo", "words"),
    [
        ("GND GND", "both its ends lie on net gnd"),
        ("GND V5", "both its ends lie on held nets"),
        ("ALONE GND", "leads nowhere"),
    ],
)
def test_a_servo_diode_that_reaches_no_amplifier_fails(servo: str, words: str) -> None:
    found = judged(XU1=f"OUT A {servo} GNDB SUMB DEMO_LIN1")
    assert found.kind == "fail"
    assert words in found.message.casefold().replace("gnd and v5", "")


def test_an_led_across_a_supply_is_not_taken_for_a_spare() -> None:
    assert judged(XU1="GND V5 GND GND GNDB SUMB DEMO_LIN1").kind == "fail"


def test_an_led_that_only_a_resistor_feeds_fails() -> None:
    found = judged(XU1="GND A SUM GND GNDB SUMB DEMO_LIN1")
    assert found.kind == "fail"
    assert "nothing that could amplify is connected to the LED" in found.message


@pytest.mark.parametrize(
    "changed",
    [
        {"R4": "SUM OUT 1meg"},
        {"R4": "SUM MID 1meg", "R5": "MID OUT 1meg"},
        {"XU1": "COLL A SUM GND GNDB SUMB DEMO_LIN1", "Q1": "COLL OUT GND QX"},
        {"XA1": "LEVEL SUM V5 GND OUT DEMO_AMP", "R4": "V5 LEVEL 10k", "R5": "LEVEL GND 10k"},
        {"XU1": "OUT A SUM NEG GNDB SUMB DEMO_LIN1", "R4": "NEG GND 1k"},
        {"XA1": "GND SUM V5 GND OUT DEMO_NAMELESS"},
    ],
    ids=("local feedback", "in two steps", "transistor", "divider", "diode over a resistor", "no names"),
)
def test_what_is_not_followed_is_open_and_never_a_pass(changed: dict[str, str]) -> None:
    assert judged(**changed).kind == "open"


def test_a_capacitor_round_the_loop_changes_nothing() -> None:
    assert judged(C1="SUM OUT 100p").kind == "pass"


def test_a_servo_diode_on_the_other_side_than_the_led_joins_the_sides() -> None:
    report = judge(board(XU1="OUT A SUMB GNDB GND SUM DEMO_LIN1"), FACTS)
    assert {result.rule for result in report.results if result.kind == "fail"} >= {"bridge-conducting"}
    right = judge(board(), FACTS)
    assert [result.rule for result in right.results if result.kind == "fail"] == []


def test_a_linear_coupler_with_the_head_of_a_record_alone_is_never_held() -> None:
    record = '[parts.LINX]\ntype = "linear"\npins = ["cathode", "anode", "pd1-", "pd1+", "pd2+", "pd2-"]\n'
    netlist = board(XU1="OUT A SUM GND GNDB SUMB LINX")
    report = judge(netlist, f'parts = ["parts.toml"]\n{FACTS}', parts__toml=record)
    assert only(report, "servo-open").kind == "pass"
    (told,) = report.coverage.answers
    assert told.state == "open"


def test_a_spare_coupler_is_asked_nothing() -> None:
    assert judged(XU1="GND NC1 NC2 GND GNDB SUMB DEMO_LIN1").kind == "notApplicable"
