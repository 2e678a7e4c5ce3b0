"""The barrier of a car park: everything that depends on time, sound and with one mistake in each part."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.results import NetlistReport, Result
from tests.expectations import expectations
from tests.support import complaints, differences, judge_file

BOARD = Path(__file__).parents[2] / "fixtures" / "boards" / "barrier-gate"


def judged(version: str) -> NetlistReport:
    """The report of one version of the board."""
    return judge_file(BOARD / version, BOARD / version / "board.cir")


def of(report: NetlistReport, rule: str, subject: str) -> Result:
    """The result of a rule about a channel."""
    (found,) = [result for result in report.results if (result.rule, result.subject) == (rule, subject)]
    return found


def test_the_sound_board_is_judged_wherever_time_decides() -> None:
    report = judged("sound")
    assert complaints(report) == []
    assert [coupler.part for coupler in report.couplers] == ["XU2", "XU3", "XU4", "XU5", "XU6", "XU7"]
    passed = {(result.rule, result.subject) for result in report.results if result.kind == "pass"}
    assert passed >= {
        ("transfer-margin-low", "XU2"),
        ("output-chopped", "XU2"),
        ("led-not-off", "XU2"),
        ("switching-too-slow", "XU3"),
        ("output-chopped", "XU3"),
        ("switching-too-slow", "XU4"),
        ("output-voltage-exceeded", "XU5"),
        ("led-reverse-exceeded", "XU6"),
        ("transfer-margin-low", "XU7"),
        ("output-chopped", "XU7"),
    }


@pytest.mark.parametrize(
    ("rule", "subject", "capacitor"), [("transfer-margin-low", "XU2", "C21"), ("output-chopped", "XU7", "C72")]
)
def test_storage_capacitors_are_named(rule: str, subject: str, capacitor: str) -> None:
    assert capacitor in of(judged("sound"), rule, subject).message


def test_the_broken_board_fails_exactly_where_its_comments_say() -> None:
    text = (BOARD / "broken" / "board.cir").read_text(encoding="utf-8")
    assert differences(judged("broken"), text) == []
    assert len(expectations(text)) == 6
