from __future__ import annotations

import json
from typing import Any

from hypothesis import given, settings

from isolint.errors import Place
from isolint.reports import codequality
from isolint.results import Report
from tests.reports import sample
from tests.reports.names import hostile
from tests.reports.sample import BLOCKED, OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, of


def artifact(report: Report) -> list[Any]:
    """The array, after the checks of what the service demands of each object: one bad object stops the widget."""
    text = codequality.render(report)
    assert not text.startswith("\ufeff")
    found = json.loads(text)
    assert isinstance(found, list)
    for issue in found:
        assert set(issue) == {"description", "check_name", "fingerprint", "severity", "location"}
        assert issue["description"] and issue["check_name"] and issue["fingerprint"]
        assert issue["severity"] in ("info", "minor", "major", "critical", "blocker")
        assert not issue["location"]["path"].startswith(("./", "/"))
        assert issue["location"]["lines"]["begin"] >= 1
    prints = [issue["fingerprint"] for issue in found]
    assert len(set(prints)) == len(prints)
    return found


def test_failures_and_opens_that_count_are_listed_and_nothing_accepted() -> None:
    found = artifact(REPORT)
    assert [(issue["check_name"], issue["severity"]) for issue in found] == [
        ("led-underdriven", "critical"),
        ("led-unlimited", "info"),
    ]
    assert found[0]["location"] == {"path": "board.cir", "lines": {"begin": 12}}
    assert found[1]["description"].startswith("open: XU2: the supply")


def test_a_clean_run_is_an_empty_array() -> None:
    known = UNDERDRIVEN._replace(baseline_state="unchanged")
    assert codequality.render(of(PASS, BLOCKED, WAIVED, known)) == "[]\n"


def test_the_same_fault_twice_is_shown_twice_and_lines_are_no_identity() -> None:
    moved = UNDERDRIVEN._replace(where=Place("board.cir", 99, 1))
    first, second = artifact(of(UNDERDRIVEN, moved))
    assert first["fingerprint"] == artifact(of(moved))[0]["fingerprint"]
    assert second["fingerprint"] != first["fingerprint"]


def test_a_warning_is_minor() -> None:
    assert artifact(of(UNDERDRIVEN._replace(level="warning")))[0]["severity"] == "minor"
    assert artifact(of(OPEN._replace(counts_as="error")))[0]["severity"] == "critical"


@given(hostile)
@settings(max_examples=40)
def test_any_name_gives_a_sound_artifact(name: str) -> None:
    assert len(artifact(sample.hostile(f"a{name}"))) == 2
