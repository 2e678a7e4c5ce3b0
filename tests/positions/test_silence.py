"""A netlist of which nothing was judged leaves with 0 only where the parts say that it may."""

from __future__ import annotations

import re

import pytest

from isolint.reports import text
from tests.positions.finding import checked
from tests.positions.test_positions import BOARD, COUPLER, FIELD, LOGIC

LED = "* t\nV1 a 0 5\nXU1 a 0 c 0 ABC871\nR1 c a 10k\n"
NAMED = f"* t\n{LOGIC}"
NAMELESS = "* t\nXU1 n1 n2 n3 n4 n5 n6 n7 n8 IC1\nR1 n1 n4 1k\nR2 n1 n5 1k\nR3 n2 n4 1k\nR4 n2 n5 1k\nC1 n3 n4 1u\n"
NONE = '[reading]\nisolation = "none"\n'

CASES = {
    "every part is explained": (
        "* t\nV1 A GND 5\nR1 A GND 1k\n",
        0,
        0,
        "nothing to judge: every part is explained, none",
    ),
    "smaller parts": (
        "* t\nV1 A GND 5\nXD1 A GND LEDX\nXQ1 C GNDB PTX\nXJ1 C GNDB CONN2\n",
        0,
        0,
        "not explained are 2 smaller parts: LEDX (XD1), PTX (XQ1)",
    ),
    "a named ground": (NAMED, 0, 1, "1 part of 1 name is not explained; none lies between two sides by its place"),
    "no ground": (NAMELESS, 1, 1, "and no net is named as a ground: position is weak here (13 of 100 missed)"),
    "node 0": (LED, 1, 1, "1 part of 1 name is not explained, and all returns are one node: position can't tell"),
    "asked": (BOARD, 1, 1, "NOTHING WAS JUDGED: 1 part name or pair of grounds may isolate (see open)"),
}


@pytest.mark.parametrize("stated", ["", 'open = "none"\n', 'open = "note"\n', 'open = "error"\n'])
@pytest.mark.parametrize("case", CASES)
def test_the_exit_status_follows_from_the_parts_whatever_open_says(case: str, stated: str) -> None:
    board, plain, strict, first = CASES[case]
    report = checked(board, f"top = true\n{stated}")
    assert report.exit_status == plain
    assert first in text.render(report).splitlines()[0]
    assert checked(board, f"top = true\n{stated}", strict=True).exit_status == strict


def test_an_led_straight_across_a_supply_is_one_question_about_the_sheet() -> None:
    (found,) = checked(LED).results
    assert (found.kind, found.subject, found.where.line) == ("open", "sheet", 3)
    assert "ABC871 (XU1), 4 pins" in found.message
    assert '[reading] isolation = "none"' in found.remedy


def test_a_claim_that_nothing_isolates_silences_the_questions_and_is_listed() -> None:
    for board in (LED, NAMED, NAMELESS, BOARD):
        report = checked(board, NONE, strict=True)
        assert report.exit_status == 0
        assert 'stated: nothing on this board isolates ([reading] isolation = "none", isolint.toml)' in text.render(
            report
        )


def test_the_claim_is_not_inherited_from_a_folder_above() -> None:
    report = checked(LED, folder="deep/", above=NONE)
    assert report.exit_status == 1
    assert "counts for netlists in its own folder only" in text.render(report)


@pytest.mark.parametrize(
    ("board", "settings"),
    [
        ("* t\nV1 A GND 5\nR1 A X 1k\nXU1 X GND GNDB Y DEMO_PT1\nV2 B GNDB 5\nR2 B Y 10k\n", ""),
        (NAMED, '[sides.a]\nnets = ["GND"]\n[sides.b]\nnets = ["V5"]\n'),
    ],
)
def test_beside_a_barrier_part_or_two_stated_sides_the_claim_is_ignored(board: str, settings: str) -> None:
    report = checked(board, f'top = true\nopen = "none"\n{NONE}{settings}')
    (found,) = [result for result in report.results if result.subject == "isolation"]
    assert (found.kind, found.counts_as, report.exit_status) == ("open", "error", 1)


def test_a_part_name_is_one_result_with_its_instances_and_pins_in_words() -> None:
    two = f"{BOARD}XU5 B GND GND_FIELD T3 PART9\nR6 S4 B 680\n"
    (found,) = [result for result in checked(two).results if result.kind == "open"]
    assert found.subject == "part:PART9"
    assert found.message == "PART9 (XU3, XU5) lies between GND and GND_FIELD and nothing says what it is"
    assert found.more[0] == (
        "XU3: pins 1 2 on GND (A, GND) | pins 3 4 on GND_FIELD (GND_FIELD, T1); by its place perhaps a phototransistor"
    )
    assert [related.text.partition(" ")[0] for related in found.related] == ["XU3", "XU5"]
    assert found.remedy.index("it isolates") < found.remedy.index("ordinary = true")
    one = [result for result in checked(BOARD).results if result.kind == "open"]
    assert [result.fingerprint for result in one] == [found.fingerprint]


def test_a_doubtful_pair_is_one_result_with_its_parts_inside() -> None:
    (found,) = [result for result in checked(f"{BOARD}L7 GND GND_FIELD 1u\n").results if result.kind == "open"]
    assert found.subject == "grounds:GND | GND_FIELD"
    assert "GND and GND_FIELD are joined by L7, and PART9 (XU3) lies between them: one ground, or" in found.message
    assert 'with nets = ["GND", "GND_FIELD"]' in found.remedy


def test_either_answer_to_a_pair_takes_its_question_away() -> None:
    joined = f"{BOARD}L7 GND GND_FIELD 1u\n"
    one = checked(joined, '[sides.a]\nnets = ["GND", "GND_FIELD"]\n')
    assert "grounds:GND | GND_FIELD" not in {result.subject for result in one.results}
    two = checked(joined, '[sides.a]\nnets = ["GND"]\n[sides.b]\nnets = ["GND_FIELD"]\n')
    assert {result.subject for result in two.results if result.rule == "part-unknown"} == {"part:PART9"}


def test_no_line_calls_a_part_ordinary_or_gives_it_a_type() -> None:
    for board in (LED, BOARD, NAMED, f"* t\n{FIELD}{COUPLER}"):
        shown = text.render(checked(board, strict=True))
        assert not re.search(r"(?m)^ +(?:write: )?(?:ordinary|type) = (?!\"\?\")", shown)
        assert "open: " in shown


def test_the_summary_counts_channels_and_parts_and_says_what_is_unanswered() -> None:
    lines = text.render(checked(BOARD)).splitlines()
    assert any(line.endswith("0 channels; 0 of 3 parts explained; 100 % of cards read") for line in lines)
    assert "board.cir: listed, not asked about: 2 parts: IC1, IC2" in lines
    assert "board.cir: unanswered: parts" in lines


SHEET = ".subckt TOP IN OUT VCC GND GNDF\nR1 IN A 2.2k\nXU1 A GNDF GND OUT {part}\nR2 VCC OUT 10k\n.ends\n"
OUTER = ".subckt MAIN IN OUT VCC GND GNDF\nXA IN OUT VCC GND GNDF TOP\n.ends\n"
MODEL = (
    ".subckt PT1 1 2 3 4\nD1 1 5 DL\nV1 5 2 0\nF1 4 B V1 3m\nQ1 4 B 3 QN\n.model DL D(IS=1e-15 N=2)\n"
    ".model QN NPN(BF=300)\n.ends\n"
)


@pytest.mark.parametrize(
    ("board", "name"),
    [
        (SHEET.format(part="PART77"), "TOP"),
        (SHEET.format(part="PT1") + MODEL, "TOP"),
        (SHEET.format(part="PART77") + OUTER, "MAIN"),
    ],
)
def test_a_board_that_nothing_places_is_no_clean_run(board: str, name: str) -> None:
    for stated in ("", 'open = "none"\n'):
        report = checked(board, f"top = true\n{stated}")
        (found,) = [result for result in report.results if result.kind == "open"]
        assert (report.exit_status, found.subject) == (1, f"subcircuit:{name}")
        assert f"GNDF {name}`" in found.remedy
    placed = checked(f"{board}X1 IN OUT VCC GND GNDF {name}\n", "top = true\n")
    assert not [result for result in placed.results if result.subject.startswith("subcircuit:")]
    assert checked(board, f"top = true\n{NONE}").exit_status == 0


def test_a_library_of_models_is_no_board() -> None:
    nested = MODEL + ".subckt DUAL 1 2 3 4 5 6\nR1 1 7 10\nXA 7 2 AMP\n.ends\n.subckt AMP 1 2\nR1 1 2 1k\n.ends\n"
    for library in (MODEL, nested):
        report = checked(library, "top = true\n")
        assert (report.exit_status, list(report.results)) == (0, [])


DUMMIES = ".subckt ZZ4 1 2 3 4\nR1 1 0 1G\nR2 2 0 1G\nR3 3 0 1G\nR4 4 0 1G\n.ends\n"


def test_a_subcircuit_that_only_makes_a_simulator_start_explains_nothing() -> None:
    board = f"* t\nV1 VCC 0 5\nV2 VDD GND2 5\nR1 VCC A 270\nR2 VDD C 4k7\nXU1 A 0 GND2 C ZZ4\n{DUMMIES}"
    (found,) = checked(board).results
    assert found.message.startswith("ZZ4 (XU1) lies between 0 and GND2 and nothing says what it is")
