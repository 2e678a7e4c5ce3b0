"""Waivers that are bounded, malformed or about to end; and those that are suggested."""

from __future__ import annotations

import tomllib
from datetime import date

import pytest

from isolint import app
from isolint.reports import waiver_lines
from isolint.results import NetlistReport, Report
from tests.reports.sample import OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, of
from tests.support import judge, only

BOARD = """\
* a logic-output coupler that gets too little, invented
R1 DO1 A 2.2k
XU1 A GND GNDF OUT V5F DEMO_LO1
R2 V5F OUT 1k
"""
FACTS = """
[supplies.V5]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies.V5F]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDF"
[outputs.DO1]
supply = "V5"
high = { min = "4.2 V", at = "4 mA" }
low = { max = "0.4 V", at = "4 mA" }
source_max = "8 mA"
sink_max = "8 mA"
"""
WAIVER = """
[[waivers]]
rule = "led-underdriven"
where = "XU1"
reason = "the receiver was selected"
by = "hardware lead"
until = 2027-06-30
"""


def waived(waiver: str, today: str = "2027-01-01") -> NetlistReport:
    return judge(BOARD, FACTS + waiver, app.Options(today=date.fromisoformat(today)))


def margin() -> float:
    found = only(waived(""), "led-underdriven", "fail").margin
    assert found is not None
    return found.value


def test_a_waiver_holds_while_the_margin_keeps_its_bound() -> None:
    report = waived(f'{WAIVER}bound = "margin >= {margin() - 0.01:.3f}"')
    assert only(report, "led-underdriven").suppression is not None
    assert not [result for result in report.results if result.rule == "waiver-stale"]


def test_a_broken_bound_accepts_nothing_and_is_told_with_the_margin() -> None:
    report = waived(f'{WAIVER}bound = "margin >= {margin() + 0.01:.3f}"')
    assert only(report, "led-underdriven").suppression is None
    stale = only(report, "waiver-stale")
    assert (stale.kind, stale.level, stale.where.file) == ("fail", "warning", "isolint.toml")
    assert f"but the margin is {margin():.3g}: it accepts nothing" in stale.message


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('reason = "the receiver was selected"', 'reason = ""'), "reason"),
        (('by = "hardware lead"\n', ""), "by is missing"),
        (("2027-06-30", '"soon"'), '"soon" is not a date'),
        (("led-underdriven", "led-underdrivn"), "did you mean led-underdriven?"),
    ],
)
def test_a_malformed_waiver_accepts_nothing_and_is_a_result(change: tuple[str, str], words: str) -> None:
    report = waived(WAIVER.replace(*change))
    assert only(report, "led-underdriven").suppression is None
    stale = only(report, "waiver-stale")
    assert "the waiver waivers[0] is malformed and accepts nothing" in stale.message
    assert words in f"{stale.message} {stale.remedy}"


def test_the_end_of_a_waiver_is_told_thirty_days_ahead() -> None:
    assert not [note for note in waived(WAIVER, "2027-05-30").notes if "waiver" in note]
    (note,) = [note for note in waived(WAIVER, "2027-05-31").notes if "waiver" in note]
    assert note == "the waiver of led-underdriven at XU1 by hardware lead ends in 30 days, on 2027-06-30 (isolint.toml)"
    assert "ends today" in " ".join(waived(WAIVER, "2027-06-30").notes)
    assert not [note for note in waived(WAIVER, "2027-07-01").notes if "ends" in note]


def test_a_suggested_waiver_works_once_reason_and_role_are_stated() -> None:
    report = Report("0", (waived(""),), ())
    text = waiver_lines.render(report, date(2027, 1, 1))
    (pasted,) = [each for each in tomllib.loads(text)["waivers"] if each["rule"] == "led-underdriven"]
    assert (pasted["rule"], pasted["where"], pasted["until"]) == ("led-underdriven", "XU1", date(2027, 6, 30))
    assert only(waived(text), "led-underdriven").suppression is None, "pasting alone accepts nothing"
    stated = text.replace('reason = ""', 'reason = "r"').replace('by = ""', 'by = "b"')
    assert only(waived(stated), "led-underdriven").suppression is not None


def test_only_failures_that_nobody_accepted_are_suggested() -> None:
    text = waiver_lines.render(of(UNDERDRIVEN, OPEN, PASS, WAIVED), date(2027, 1, 1))
    (found,) = tomllib.loads(text)["waivers"]
    assert found["bound"] == "margin >= 0.82"
    assert text.startswith("\n# for the isolint.toml of board.cir")
    assert waiver_lines.render(of(PASS), date(2027, 1, 1)) == "\n# no failure to waive\n"
    assert waiver_lines.render(REPORT, date(2027, 1, 1)).count("[[waivers]]") == 1
