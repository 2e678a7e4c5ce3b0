from __future__ import annotations

import json
from typing import Any
from urllib.parse import unquote

import pytest
from hypothesis import given, settings

from isolint.errors import Place
from isolint.reports import sarif
from isolint.results import Report
from tests.reports import sample
from tests.reports.names import hostile
from tests.reports.sample import BLOCKED, OPEN, PASS, REPORT, RULES, UNDERDRIVEN, UNREASONED, WAIVED, of

KNOWN = UNDERDRIVEN._replace(subject="XU7", baseline_state="unchanged")
WORSE = UNDERDRIVEN._replace(subject="XU8", baseline_state="updated")
GONE = BLOCKED._replace(subject="XU9", blocked_by="", message="no longer found", baseline_state="absent")
EVERYTHING = of(PASS, UNDERDRIVEN, OPEN, BLOCKED, UNREASONED, WAIVED, KNOWN, WORSE, GONE)


def full(report: Report) -> Any:
    return only_run(sarif.render(report))


def active(report: Report) -> Any:
    return only_run(sarif.render_active(report))


def only_run(text: str) -> Any:
    """The run of a log, after the checks that no schema makes."""
    log = json.loads(text)
    assert (log["version"], len(log["runs"])) == ("2.1.0", 1)
    (run,) = log["runs"]
    slugs = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    assert len(set(slugs)) == len(slugs)
    for result in run["results"]:
        assert (result["level"] == "none") == (result["kind"] != "fail")
        assert result["message"]["text"]
        (location,) = result["locations"]
        place = location["physicalLocation"]
        uri = place["artifactLocation"]["uri"]
        assert uri and ":" not in uri and "\\" not in uri and not uri.startswith("/")
        assert all(number >= 1 for number in place["region"].values())
        assert set(place["region"]) == {"startLine", "startColumn", "endLine", "endColumn"}
        if "ruleIndex" in result:
            assert slugs[result["ruleIndex"]] == result["ruleId"]
    prints = [result["partialFingerprints"]["primaryLocationLineHash"] for result in run["results"]]
    assert len(set(prints)) == len(prints)
    return run


def test_the_record_holds_every_kind_and_a_state_on_each_result() -> None:
    results = full(EVERYTHING)["results"]
    assert [each["kind"] for each in results] == [
        "pass", "fail", "open", "notApplicable", "fail", "fail", "fail", "notApplicable",
    ]  # fmt: skip
    assert [each["baselineState"] for each in results] == [
        "unchanged", "new", "new", "unchanged", "new", "unchanged", "updated", "absent",
    ]  # fmt: skip


def test_without_a_baseline_no_result_has_a_state() -> None:
    assert not [each for each in full(of(PASS, UNDERDRIVEN))["results"] if "baselineState" in each]


def test_a_waived_failure_stays_with_its_justification_and_its_numbers() -> None:
    (result,) = full(of(WAIVED._replace(evidence=UNDERDRIVEN.evidence)))["results"]
    assert result["suppressions"] == [
        {
            "kind": "external",
            "status": "accepted",
            "justification": "bench fixture only",
            "properties": {"by": "hardware lead", "until": "2027-06-30"},
        }
    ]
    assert result["properties"]["evidence"][0]["min"] == 0.00082
    assert full(of(UNDERDRIVEN))["results"][0]["suppressions"] == []


def test_for_upload_only_failures_that_nobody_accepted_remain() -> None:
    results = active(EVERYTHING)["results"]
    assert [(each["kind"], each["locations"][0]["logicalLocations"][0]["fullyQualifiedName"]) for each in results] == [
        ("fail", "XU1"),
        ("fail", "XU8"),
    ]
    assert not [each for each in results if {"suppressions", "baselineState", "properties"} & set(each)]
    assert "Cure: R4 (board.cir:12): 1.8 kohm or less" in results[0]["message"]["text"]


def test_every_rule_is_described_whether_it_fired_or_not() -> None:
    described = active(of(PASS))["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in described] == [rule.slug for rule in RULES]
    long = RULES[0]._replace(summary="x" * 3000, page="y " * 3000)
    (rule,) = full(of()._replace(rules=(long,)))["tool"]["driver"]["rules"]
    assert len(rule["shortDescription"]["text"]) <= 1024
    assert len(rule["fullDescription"]["text"]) <= 1024
    assert rule["help"]["text"] == long.page


def test_the_same_fault_twice_in_a_netlist_has_two_identities_and_one_fingerprint() -> None:
    first, second = full(of(UNDERDRIVEN, UNDERDRIVEN._replace(where=Place("board.cir", 99, 1))))["results"]
    assert first["partialFingerprints"]["isolint/v1"] == second["partialFingerprints"]["isolint/v1"]


def test_identity_does_not_depend_on_line_or_numbers() -> None:
    moved = UNDERDRIVEN._replace(where=Place("board.cir", 99, 5), message="other numbers", margin=None)
    assert [each["partialFingerprints"] for each in full(of(moved))["results"]] == [
        each["partialFingerprints"] for each in full(of(UNDERDRIVEN))["results"]
    ]


def test_a_job_that_was_not_done_and_a_rule_that_broke_are_notifications() -> None:
    broken = OPEN._replace(role="internal", message="isolint itself failed")
    (told,) = full(of(broken)._replace(errors=("gone.cir: there is no such file",)))["invocations"]
    assert (told["executionSuccessful"], told["exitCode"]) == (False, 2)
    assert told["toolConfigurationNotifications"][0]["message"]["text"] == "gone.cir: there is no such file"
    assert told["toolExecutionNotifications"][0]["associatedRule"] == {"id": OPEN.rule}
    (told,) = full(of(PASS))["invocations"]
    assert told == {"executionSuccessful": True, "exitCode": 0}


def test_addresses_are_relative_and_encoded() -> None:
    result = UNDERDRIVEN._replace(where=Place("my boards/a:b µ.cir", 3, 1))
    (written,) = active(of(result))["results"]
    place = written["locations"][0]["physicalLocation"]["artifactLocation"]
    assert place == {"uri": "my%20boards/a%3Ab%20%C2%B5.cir", "uriBaseId": "%SRCROOT%"}


@pytest.mark.parametrize("write", [sarif.render, sarif.render_active])
def test_the_caution_and_the_summary_go_with_it(write: Any) -> None:
    properties = only_run(write(REPORT))["properties"]
    assert properties["caution"].startswith("isolint supports a review")
    assert properties["summary"].startswith("1 failure, 1 open, 1 waived")


@given(hostile.filter(lambda name: name.strip("/")))
@settings(max_examples=40)
def test_any_name_gives_a_sound_log(name: str) -> None:
    report = sample.hostile(name.lstrip("/"))
    for text in (sarif.render(report), sarif.render_active(report)):
        run = only_run(text)
        assert text.isascii()
        uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        if name.isprintable():
            assert unquote(uri) == name.lstrip("/")
