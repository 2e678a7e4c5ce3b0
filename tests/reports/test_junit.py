from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from isolint.reports import junit
from isolint.results import Report, Result
from tests.reports import sample
from tests.reports.names import hostile
from tests.reports.sample import BLOCKED, OPEN, PASS, REPORT, UNDERDRIVEN, UNREASONED, WAIVED, of

KNOWN = UNDERDRIVEN._replace(subject="XU7", baseline_state="unchanged")


def suites(report: Report) -> ElementTree.Element:
    """The document, after the checks that readers rely on: one outcome a case, counts that are true, no equal names."""
    root = ElementTree.fromstring(junit.render(report).encode())
    assert root.tag == "testsuites"
    for scope in (root, *root):
        cases = scope.findall(".//testcase")
        assert int(scope.attrib["tests"]) == len(cases)
        for outcome in ("failure", "error", "skipped"):
            attribute = outcome if outcome == "skipped" else f"{outcome}s"
            assert int(scope.attrib[attribute]) == sum(case.find(outcome) is not None for case in cases), outcome
        names = [(case.attrib["classname"], case.attrib["name"]) for case in cases]
        assert len(set(names)) == len(names)
        for case in cases:
            assert sum(case.find(outcome) is not None for outcome in ("failure", "error", "skipped")) <= 1
    return root


def outcome(report: Report) -> tuple[str, str, str]:
    """Outcome, type and message of the only case."""
    (case,) = suites(report).iter("testcase")
    for child in case:
        if child.tag != "system-out":
            return child.tag, child.attrib["type"], child.attrib["message"]
    return "passed", "", ""


def test_a_suite_is_a_netlist_and_a_case_a_verdict() -> None:
    root = suites(REPORT)
    (suite,) = root
    assert suite.attrib["name"] == "board.cir"
    assert [case.attrib["name"] for case in suite.iter("testcase")] == [
        "led-unlimited XU1",
        "led-underdriven XU1",
        "led-unlimited XU2",
        "led-underdriven XU2",
        "ground-tie R9",
    ]
    assert {case.attrib["classname"] for case in suite.iter("testcase")} == {"board.cir"}


def test_what_fails_is_a_failure_with_its_numbers() -> None:
    assert outcome(of(UNDERDRIVEN)) == ("failure", "error", UNDERDRIVEN.message)
    (failure,) = suites(of(UNDERDRIVEN)).iter("failure")
    assert "margin: 0.82, required 1" in (failure.text or "")
    assert "cure: R4 (board.cir:12): 1.8 kohm or less" in (failure.text or "")


def test_a_pass_is_a_case_with_its_number() -> None:
    (case,) = suites(of(PASS)).iter("testcase")
    assert "LED current IF: max 1.5 mA; at most 500 mA" in (case.findtext("system-out") or "")


@pytest.mark.parametrize(
    ("result", "expected"),
    [
        (WAIVED, "waived until 2027-06-30 by hardware lead: bench fixture only: GND and GND_FIELD are joined"),
        (KNOWN, f"in the baseline: {UNDERDRIVEN.message}"),
        (OPEN, f"open: {OPEN.message}"),
        (BLOCKED, "not applicable while led-unlimited fails"),
    ],
)
def test_what_does_not_count_is_skipped_and_says_why(result: Result, expected: str) -> None:
    tag, _, message = outcome(of(result))
    assert (tag, message) == ("skipped", expected)


def test_an_open_result_that_decides_the_status_is_a_failure() -> None:
    assert outcome(of(OPEN._replace(counts_as="error")))[:2] == ("failure", "open")
    assert outcome(of(OPEN._replace(counts_as="warning")))[:2] == ("skipped", "open")
    assert outcome(of(OPEN._replace(counts_as="warning"))._replace(fail_on="warning"))[:2] == ("failure", "open")


def test_only_what_broke_is_an_error() -> None:
    assert outcome(of(OPEN._replace(role="internal")))[0] == "error"
    root = suites(of(PASS)._replace(errors=("gone.cir: there is no such file",)))
    (error,) = root.iter("error")
    assert error.attrib["message"] == "gone.cir: there is no such file"
    assert root[1].attrib["name"] == "isolint"


def test_a_result_without_a_reason_is_no_case() -> None:
    assert not list(suites(of(UNREASONED)).iter("testcase"))


def test_equal_names_are_numbered() -> None:
    names = [case.attrib["name"] for case in suites(of(UNDERDRIVEN, UNDERDRIVEN)).iter("testcase")]
    assert names == ["led-underdriven XU1", "led-underdriven XU1 (2)"]


def test_the_document_is_the_same_each_time() -> None:
    assert junit.render(REPORT) == junit.render(REPORT)
    assert "timestamp" not in junit.render(REPORT)


@given(hostile)
@settings(max_examples=40)
def test_any_name_gives_a_sound_document(name: str) -> None:
    assert len(list(suites(sample.hostile(name)).iter("testcase"))) == 6
