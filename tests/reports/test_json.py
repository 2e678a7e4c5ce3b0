from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest

from isolint.reports import json as format_json
from isolint.results import Report
from tests.reports.sample import BLOCKED, BOARD, OPEN, PASS, REPORT, UNDERDRIVEN, WAIVED, of

SCHEMA: dict[str, Any] = json.loads(format_json.schema())


def closed(schema: Any) -> Any:
    """The schema with every object closed: each key that is written must be described."""
    if isinstance(schema, list):
        return [closed(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    copy = {key: closed(value) for key, value in schema.items()}
    # `allOf` and `not` see the same object from two angles, so neither may close it.
    if "properties" in schema and "required" in schema:
        copy.setdefault("unevaluatedProperties", False)
    return copy


def document(report: Report) -> Any:
    return json.loads(format_json.render(report))


def test_the_schema_is_itself_valid() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize(
    "report",
    [
        REPORT,
        of(),
        of(PASS, UNDERDRIVEN, OPEN, BLOCKED, WAIVED),
        of(
            UNDERDRIVEN._replace(baseline_state="new"),
            UNDERDRIVEN._replace(baseline_state="updated"),
            BLOCKED._replace(message="no longer found", blocked_by="", baseline_state="absent"),
        ),
        Report(version="0.1.0", netlists=(), rules=(), errors=("x.cir: there is no such file",)),
    ],
    ids=["board", "empty", "kinds", "baseline", "errors"],
)
def test_documents_are_valid_and_every_key_is_described(report: Report) -> None:
    jsonschema.Draft202012Validator(SCHEMA).validate(document(report))
    loose = {key: value for key, value in closed(SCHEMA).items() if key != "$id"}
    related = loose["$defs"]["result"]["properties"]["related"]["items"]
    related["allOf"] = [
        {key: v for key, v in each.items() if key != "unevaluatedProperties"} for each in related["allOf"]
    ]
    loose["$defs"]["place"].pop("unevaluatedProperties")
    jsonschema.Draft202012Validator(loose).validate(document(report))


def test_an_undescribed_key_would_be_noticed() -> None:
    grown = document(REPORT)
    grown["results"][0]["colour"] = "red"
    jsonschema.Draft202012Validator(SCHEMA).validate(grown)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(closed(SCHEMA)).validate(grown)


def test_a_level_without_failure_is_invalid() -> None:
    wrong = document(of(PASS))
    wrong["results"][0]["level"] = "error"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(SCHEMA).validate(wrong)


def test_one_result_in_full() -> None:
    assert document(of(UNDERDRIVEN))["results"] == [
        {
            "netlist": "board.cir",
            "rule": "led-underdriven",
            "kind": "fail",
            "level": "error",
            "counted_level": "error",
            "message": "XU1: the LED gets 0.82 mA at worst (V3V3 -5 %, -20 degC) and needs 1 mA",
            "subject": "XU1",
            "role": None,
            "instance": "XU1",
            "part": "DEMO_PT1",
            "channel": "1",
            "where": {"file": "board.cir", "line": 12, "column": 1},
            "related": [{"file": "board.cir", "line": 3, "column": 1, "text": "XU1, the coupler"}],
            "evidence": [
                {
                    "name": "LED current",
                    "symbol": "IF",
                    "unit": "A",
                    "min": 0.00082,
                    "nominal": 0.0011,
                    "max": 0.0015,
                    "limit": {"at_least": 0.001},
                    "corners": {"min": "V3V3 -5 %, -20 degC", "max": "V3V3 +5 %, 60 degC"},
                    "formula": "IF = (V3V3 - VF) / R4 = (3.135 V - 1.3 V) / 2.23 kohm = 0.82 mA",
                    "source": "DEMO_PT1",
                }
            ],
            "margin": {"value": 0.82, "required": 1.0},
            "measure": {"value": 0.82, "larger_is_worse": False},
            "assumptions": [
                {
                    "name": "tolerance of V3V3",
                    "value": "5",
                    "unit": "%",
                    "origin": "class default",
                    "flips_at": 0.02,
                }
            ],
            "missing": [],
            "remedy": "R4 (board.cir:12): 1.8 kohm or less",
            "blocked_by": None,
            "fingerprint": UNDERDRIVEN.fingerprint,
            "suppression": None,
            "baselineState": None,
        }
    ]


def test_what_does_not_apply_is_written_only_with_its_reason() -> None:
    kinds = [(each["kind"], each["blocked_by"]) for each in document(REPORT)["results"]]
    assert kinds.count(("notApplicable", "led-unlimited")) == 1
    assert ("notApplicable", None) not in kinds
    assert ("pass", None) in kinds


def test_numbers_that_json_lacks_become_null() -> None:
    evidence = UNDERDRIVEN.evidence[0]._replace(min=float("nan"), max=float("inf"))
    written = document(of(UNDERDRIVEN._replace(evidence=(evidence,))))["results"][0]["evidence"][0]
    assert (written["min"], written["max"]) == (None, None)


def test_counts_and_coverage_stand_beside_the_results() -> None:
    written = document(REPORT)
    assert written["summary"] == {
        "netlists": 1,
        "failures": 1,
        "errors": 1,
        "warnings": 0,
        "notes": 0,
        "open": 1,
        "waived": 1,
        "known": 0,
        "stale": 0,
        "passes": 1,
        "fail_on": "error",
        "exit_status": 1,
    }
    assert written["coverage"][0]["share"] == 0.97
    assert written["files"] == ["board.cir", "isolint.toml"]
    assert [each["part"] for each in written["couplers"]] == ["XU1", "XU2"]
    assert written["caution"].startswith("isolint supports a review")


def test_the_same_report_gives_the_same_bytes_whatever_order_mappings_were_filled_in() -> None:
    turned = BOARD.barriers[0]._replace(stated={"working_voltage": "230 V", "insulation": "basic"})
    straight = BOARD.barriers[0]._replace(stated={"insulation": "basic", "working_voltage": "230 V"})
    written = [
        format_json.render(REPORT._replace(netlists=(BOARD._replace(barriers=(each,)),))) for each in (turned, straight)
    ]
    assert written[0] == written[1]
