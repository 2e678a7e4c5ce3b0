"""A spark gap, varistor or suppressor across a barrier is no joint once its voltage is stated, and is told."""

from __future__ import annotations

from isolint.results import NetlistReport
from tests.support import judge

BOARD = "gap\nV1 A GND 5\nR1 A GND 1k\nV2 B GNDB 5\nR2 B GNDB 1k\nXGAP GND GNDB DEMO_GAP\n"
SIDES = '[sides.a]\nnets = ["GND"]\n[sides.b]\nnets = ["GNDB"]\n'


def said(facts: str) -> NetlistReport:
    return judge(BOARD, SIDES + facts)


def test_without_a_word_it_is_asked_about_and_the_cure_names_the_voltage() -> None:
    (result,) = [one for one in said("").results if one.kind == "open"]
    assert result.rule == "part-unknown"
    assert "its clamp_voltage in the table named here" in result.remedy
    assert '[elements."XGAP"]' in result.remedy


def test_its_stated_voltage_settles_the_question_and_the_report_tells_that_it_is_not_judged() -> None:
    report = said('[elements."XGAP"]\nclamp_voltage = "775 V"\n')
    assert [one.rule for one in report.results if one.kind in ("open", "fail")] == []
    assert any("XGAP lies across a and b and conducts in surges only" in note for note in report.coverage.notes)


def test_called_ordinary_it_joins_the_sides() -> None:
    report = said('[elements."XGAP"]\nordinary = true\n')
    assert [one.kind for one in report.results if one.rule in ("bridge-conducting", "ground-tie")] == ["fail"]
