"""The report as SARIF 2.1.0 (key `sarif-2.1.0`), in two profiles.

`full` is for the record: every kind, waivers as suppressions, baseline states, evidence in `properties`. `active` is
for upload to a forge: failures that nobody accepted and nothing else, since forges show suppressed and passed results
as alerts. Output is deterministic as in appendix F: no time, machine, account or absolute path.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final
from urllib.parse import quote

from isolint.errors import Place
from isolint.reports import summary
from isolint.reports.escape import json_document, terminal
from isolint.reports.identity import identities
from isolint.reports.plain import Json, numbers
from isolint.reports.safety import caution
from isolint.results import Report, Result, RuleRecord

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
PROBLEM_SEVERITY: Final = {"error": "error", "warning": "warning", "note": "recommendation"}
LONGEST_TEXT: Final = 1024
"""Longest description of a rule, and the only length that a forge states; messages have no stated limit."""


def render(report: Report) -> str:
    """Write everything for the record."""
    return json_document(_log(report, full=True))


def render_active(report: Report) -> str:
    """Write the failures that count, each with a place, for upload to a forge."""
    return json_document(_log(report, full=False))


def _log(report: Report, full: bool) -> dict[str, Json]:
    index = {rule.slug: position for position, rule in enumerate(report.rules)}
    chosen = [result for result in report.results if (_has_reason(result) if full else summary.is_active(result))]
    stated = full and any(result.baseline_state is not None for result in chosen)
    prints = identities(chosen)
    results: list[Json] = [
        _result(result, index, identity, full, stated) for result, identity in zip(chosen, prints, strict=True)
    ]
    run: dict[str, Json] = {
        "tool": {"driver": _driver(report)},
        "automationDetails": {"id": "isolint/"},
        "columnKind": "unicodeCodePoints",
        "invocations": [_invocation(report)],
        "results": results,
    }
    if full:
        files = sorted({file for netlist in report.netlists for file in netlist.files})
        run["artifacts"] = [{"location": _uri(file)} for file in files]
    run["properties"] = {
        "profile": "full" if full else "active",
        "summary": summary.total_line(report),
        "caution": caution(report) or None,
    }
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}


def _has_reason(result: Result) -> bool:
    return result.kind != "notApplicable" or bool(result.blocked_by or result.message)


def _driver(report: Report) -> dict[str, Json]:
    return {
        "name": "isolint",
        "version": report.version,
        "semanticVersion": report.version,
        "rules": [_rule(rule) for rule in report.rules],
    }


def _rule(rule: RuleRecord) -> dict[str, Json]:
    short = _shortened(rule.summary or rule.slug)
    return {
        "id": rule.slug,
        "shortDescription": {"text": short},
        "fullDescription": {"text": _shortened(" ".join(rule.page.split()) or short)},
        "help": {"text": rule.page or short, "markdown": rule.page or short},
        "defaultConfiguration": {"level": rule.level},
        "properties": {
            "tags": [rule.group],
            "precision": "high",
            "problem.severity": PROBLEM_SEVERITY.get(rule.level, "recommendation"),
        },
    }


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 4] + " ..."


def _invocation(report: Report) -> dict[str, Json]:
    found: dict[str, Json] = {"executionSuccessful": not report.errors, "exitCode": report.exit_status}
    if report.errors:
        found["toolConfigurationNotifications"] = [
            {"level": "error", "message": {"text": terminal(error)}} for error in report.errors
        ]
    broken = [result for result in report.results if summary.is_crash(result)]
    if broken:
        found["toolExecutionNotifications"] = [
            {"level": "error", "message": {"text": terminal(result.message)}, "associatedRule": {"id": result.rule}}
            for result in broken
        ]
    return found


def _result(result: Result, index: Mapping[str, int], identity: str, full: bool, stated: bool) -> dict[str, Json]:
    found: dict[str, Json] = {"ruleId": result.rule}
    if result.rule in index:
        found["ruleIndex"] = index[result.rule]
    found |= {
        "kind": result.kind,
        "level": result.level,
        "message": {"text": terminal(_message(result, full)) or result.rule},
        "locations": [_location(result.where, result.subject)],
        # A forge takes this name for its own hash of the source line; lines of an export are no identity.
        "partialFingerprints": {
            "isolint/v1": result.fingerprint,
            "isolint/v2": result.group_fingerprint,
            "primaryLocationLineHash": identity,
        },
    }
    if result.related:
        found["relatedLocations"] = [
            {"id": number, **_location(related.place), "message": {"text": terminal(related.text) or "here"}}
            for number, related in enumerate(result.related, 1)
        ]
    if not full:
        return found
    found["suppressions"] = _suppressions(result)
    if stated:
        found["baselineState"] = result.baseline_state or ("new" if result.kind in ("fail", "open") else "unchanged")
    if result.margin is not None or result.evidence or result.assumptions or result.missing or result.remedy:
        found["properties"] = {"netlist": result.netlist, **numbers(result)}
    return found


def _message(result: Result, full: bool) -> str:
    """The message; for upload with the cure behind it, since a forge shows nothing else."""
    if full or not result.remedy:
        return result.message
    return f"{result.message}. Cure: {result.remedy}"


def _location(place: Place, subject: str = "") -> dict[str, Json]:
    line, column = max(1, place.line), max(1, place.column)
    region: dict[str, Json] = {"startLine": line, "startColumn": column, "endLine": line, "endColumn": column + 1}
    found: dict[str, Json] = {"physicalLocation": {"artifactLocation": _uri(place.file), "region": region}}
    if subject:
        found["logicalLocations"] = [{"fullyQualifiedName": terminal(subject)}]
    return found


def _uri(file: str) -> dict[str, Json]:
    """A relative reference: percent-encoded, forward slashes, no scheme that a colon could make."""
    return {"uri": quote(file.encode("utf-8", "surrogatepass"), safe="/") or ".", "uriBaseId": "%SRCROOT%"}


def _suppressions(result: Result) -> list[Json]:
    waiver = result.suppression
    if waiver is None:
        return []
    return [
        {
            "kind": waiver.kind,
            "status": waiver.status,
            "justification": terminal(waiver.justification),
            "properties": {"by": waiver.by, "until": waiver.until},
        }
    ]
