"""Messages say what is there: no numbers that nobody meets, no cure of a fault that is another one."""

from __future__ import annotations

import re

import pytest

from isolint.results import NetlistReport, Result
from tests.rules.test_dead_boards import judged

DRIVE = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\n"
BEHIND = "R1 DRIVE A 470\nXU1 A GND GNDB BX DEMO_PT1\nR2 VB BX 10k\n"


def failed(report: NetlistReport, rule: str) -> Result:
    (found,) = [result for result in report.results if result.rule == rule and result.kind == "fail"]
    return found


def told(report: NetlistReport) -> str:
    found = [result for result in report.results if result.kind in ("fail", "open")]
    return "\n".join(f"{result.rule}: {result.message} ({result.remedy})" for result in found)


BOARDS = {
    "inductor for a load": DRIVE + "L1 VB OUT 10u\nD1 OUT VB DX\n",
    "inductor of a milliohm": DRIVE + "L1 VB OUT 10u Rser=1m\nD1 OUT VB DX\n",
    "ohm": DRIVE + "R2 VB OUT 1\n",
    "ten ohms": DRIVE + "R2 VB OUT 10\n",
    "milliohm for megohm": DRIVE + "R2 VB OUT 10M\n",
    "gigohm": DRIVE + "R2 VB OUT 1G\n",
    "LED behind a gigohm": DRIVE.replace("470", "1G") + "R2 VB OUT 10k\n",
    "coil without resistance behind a transistor": BEHIND + "Q1 CQ BX GNDB QN\nL1 V24B CQ 1m\nD1 CQ V24B DX\n",
    "supply shorted by a transistor": BEHIND + "Q1 V24B BX GNDB QN\n",
    "base held by a divider": BEHIND + "R3 BX GNDB 1k\nQ1 OUT BX GNDB QN\nR5 VB OUT 10k\n",
    "collector and emitter exchanged": "R1 DRIVE A 470\nXU1 A GND OUT GNDB DEMO_PT1\nR2 VB OUT 1k\n",
    "source of millivolts for a load": DRIVE + "V2 VB OUT 1m\n",
}

ABSURD = re.compile(r"\d (kA|MA|GA|MV|GV|kW|MW)\b|\de[-+]?\d|-[\d.]+ V are left|\bnan\b|\binf\b")


@pytest.mark.parametrize("name", BOARDS)
def test_no_message_holds_a_number_that_nobody_meets(name: str) -> None:
    text = told(judged(BOARDS[name]))
    assert text
    assert not ABSURD.search(text), text


def test_an_inductor_that_shorts_is_named_in_place_of_kiloamperes() -> None:
    found = failed(judged(BOARDS["inductor of a milliohm"]), "transfer-margin-low")
    assert "nothing limits what it must carry through L1 for input OUT low" in found.message
    assert found.remedy.startswith("L1 (board.cir:8): give it the resistance that it has (Rser)")


def test_a_link_for_a_load_is_one_fault_and_no_matter_of_watts() -> None:
    rules = {result.rule for result in judged(BOARDS["milliohm for megohm"]).results if result.kind == "fail"}
    assert rules == {"load-missing", "netlist-malformed"}


def test_a_coil_of_which_nobody_states_the_resistance_starves_no_transistor() -> None:
    report = judged(BOARDS["coil without resistance behind a transistor"])
    assert "fail" not in {result.kind for result in report.results}
    assert "nothing limits the current that Q1 switches (a coil without Rser)" in told(report)


@pytest.mark.parametrize(
    ("load", "words", "cure"),
    [
        ("R2 VB OUT 100k\nR3 OUT GNDB 10k\n", "R2 and R3 hold it there", "R3 (board.cir:9): 390 kohm or more"),
        ("R2 VB OUT 10k\nR3 OUT GNDB 1k\n", "R2 and R3 hold it there", "R3 (board.cir:9): 30 kohm or more"),
        ("R2 VB OUT 100meg\n", "R2 holds it there", "R2 (board.cir:8): 390 kohm or less"),
    ],
)
def test_a_network_that_holds_the_input_by_itself_is_blamed_for_it(load: str, words: str, cure: str) -> None:
    found = failed(judged(DRIVE + load), "dark-current-high")
    assert "even with no current at all through its output input OUT high is missed: " in found.message
    assert found.message.endswith(words)
    assert cure in found.remedy
    assert "less dark current" not in found.remedy
    levels = {evidence.symbol: evidence for evidence in found.evidence if evidence.limit is not None}
    assert levels["off level"].min is not None
    assert levels["idle level"].min is not None
    # What passes the output can only lower it further.
    assert levels["off level"].min <= levels["idle level"].min


def test_the_dark_current_is_blamed_where_it_decides() -> None:
    found = failed(judged(DRIVE + "R2 VB OUT 1meg\n"), "dark-current-high")
    assert "without LED current its output still passes 2.07 uA" in found.message
    assert found.remedy.endswith("or a part with less dark current")


def test_what_is_there_without_the_output_is_not_asked_of_it_too() -> None:
    held = DRIVE + "R2 VB OC 10k\nR3 OC OUT 10k\nR4 OUT GNDB 1k\n"
    assert {result.rule for result in judged(held).results if result.kind == "fail"} == {"dark-current-high"}
    by_base = judged(BOARDS["base held by a divider"])
    assert [result.rule for result in by_base.results if result.kind in ("fail", "open")] == ["dark-current-high"]


def test_a_resistor_that_no_board_bears_is_offered_a_value() -> None:
    found = failed(judged(BOARDS["ten ohms"]), "resistor-overloaded")
    assert found.remedy == "R2 (board.cir:8): 30 ohm or more, or a resistor of 5.6 W"
    assert "3.6 kohm or more" in failed(judged(BOARDS["ohm"]), "transfer-margin-low").remedy


def test_a_value_is_found_however_far_away_it_is() -> None:
    found = failed(judged(BOARDS["LED behind a gigohm"]), "transfer-margin-low")
    assert found.remedy.startswith("R1 (board.cir:6): 1.1 kohm or less")


@pytest.mark.parametrize("load", ["R2 VB OUT -10k\n", "R2 VB OUT 10k\nR3 OUT GNDB -1meg\n"])
def test_a_negative_resistor_is_an_error_and_no_question(load: str) -> None:
    found = failed(judged(DRIVE + load), "netlist-malformed")
    assert found.level == "error"
    assert "no resistor has -1" in found.message
    assert found.remedy.endswith("write its value without the sign")


@pytest.mark.parametrize("card", ["*.CONNECT GND GNDB", "*.EQUIV GND=GNDB", " *.equiv GND GNDB", "*.connect\tGNDB GND"])
def test_a_comment_that_joins_nets_for_a_layout_check_is_a_joint(card: str) -> None:
    assert failed(judged(f"{DRIVE}R2 VB OUT 10k\n{card}\n"), "ground-tie").level == "error"


@pytest.mark.parametrize("card", ["* .connect GND GNDB", "*connect GND GNDB", "**.CONNECT GND GNDB", "*.PININFO GND:I"])
def test_other_comments_join_nothing(card: str) -> None:
    assert "fail" not in {result.kind for result in judged(f"{DRIVE}R2 VB OUT 10k\n{card}\n").results}
