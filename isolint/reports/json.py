"""The report as JSON, `isolint-results/1`, described by `results.schema.json` beside this module.

SI numbers, temperatures in degrees Celsius, null for what is unknown. Passes are included; a result that does not
apply only if it says why. The format grows by adding keys: readers must ignore those they do not know.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from isolint.errors import Place
from isolint.reports import summary
from isolint.reports.escape import json_document
from isolint.reports.plain import Json, number, numbers
from isolint.reports.safety import caution
from isolint.results import (
    BarrierRecord,
    CouplerRecord,
    NetlistReport,
    Report,
    Result,
    SideRecord,
)

FORMAT: Final = "isolint-results/1"


def render(report: Report) -> str:
    """Write the whole report as one JSON document; same report, same bytes."""
    return json_document(document(report))


def schema() -> str:
    """Give the JSON Schema (draft 2020-12) of the documents that `render` writes."""
    from importlib import resources

    return resources.files("isolint.reports").joinpath("results.schema.json").read_text(encoding="utf-8")


def document(report: Report) -> dict[str, Json]:
    """Build the document as plain lists, objects, strings and finite numbers."""
    return {
        "format": FORMAT,
        "tool": {"name": "isolint", "version": report.version},
        "caution": caution(report) or None,
        "files": _strings(sorted({file for netlist in report.netlists for file in netlist.files})),
        "summary": _summary(report),
        "errors": _strings(report.errors),
        "coverage": [_coverage(netlist) for netlist in report.netlists],
        "notes": [{"netlist": each.netlist, "text": note} for each in report.netlists for note in each.notes],
        "sides": [_side(each.netlist, side) for each in report.netlists for side in each.sides],
        "barriers": [_barrier(each.netlist, barrier) for each in report.netlists for barrier in each.barriers],
        "couplers": [_coupler(each.netlist, coupler) for each in report.netlists for coupler in each.couplers],
        "results": [_result(report, result) for result in report.results if _has_reason(result)],
    }


def _has_reason(result: Result) -> bool:
    return result.kind != "notApplicable" or bool(result.blocked_by or result.message)


def _strings(values: Iterable[str]) -> list[Json]:
    return list(values)


def _mapping(values: Mapping[str, str]) -> dict[str, Json]:
    return {key: values[key] for key in sorted(values)}


def _place(place: Place) -> dict[str, Json]:
    return {"file": place.file, "line": place.line, "column": place.column}


def _summary(report: Report) -> dict[str, Json]:
    count = summary.counts(report.results)
    return {
        "netlists": len(report.netlists),
        "failures": count.failures,
        "errors": count.errors,
        "warnings": count.warnings,
        "notes": count.notes,
        "open": count.opens,
        "waived": count.waived,
        "known": count.known,
        "stale": count.stale,
        "passes": count.passes,
        "fail_on": report.fail_on,
        "exit_status": report.exit_status,
    }


def _coverage(netlist: NetlistReport) -> dict[str, Json]:
    coverage = netlist.coverage
    return {
        "netlist": netlist.netlist,
        "cards": coverage.cards,
        "understood": coverage.understood,
        "share": number(coverage.share),
        "reasons": {reason: coverage.reasons[reason] for reason in sorted(coverage.reasons)},
        "couplers": summary.coupler_count(netlist),
        "channels": coverage.channels,
        "judged": coverage.judged,
        "held": coverage.held,
        "failed": coverage.failed,
        "open": coverage.open,
        "parts": coverage.parts,
        "explained": coverage.explained,
        "unexplained": [
            {"name": group.name, "elements": _strings(group.elements), "why": group.why or None}
            for group in coverage.unexplained
        ],
        "unanswered": [
            {"about": question.about or None, "key": question.key, "count": question.number}
            for question in coverage.unanswered
        ],
        "answers": [
            {
                "subject": each.subject,
                "part": each.part,
                "channel": each.channel or None,
                "type": each.type,
                "state": each.state,
                "answered": _strings(each.answered),
                "unanswered": _strings(each.unanswered),
                "without_rule": _strings(each.lacking),
                "not_asked": _strings(each.not_asked),
            }
            for each in coverage.answers
        ],
        "notes": _strings(coverage.notes),
        "not_judged": summary.not_judged(netlist) or None,
    }


def _side(netlist: str, side: SideRecord) -> dict[str, Json]:
    return {
        "netlist": netlist,
        "name": side.name,
        "reference": side.reference or None,
        "supplies": _strings(side.supplies),
        "kind": side.kind or None,
        "nets": side.nets,
        "elements": side.elements,
    }


def _barrier(netlist: str, barrier: BarrierRecord) -> dict[str, Json]:
    return {
        "netlist": netlist,
        "sides": _strings(barrier.sides),
        "stated": _mapping(barrier.stated),
        "parts": _strings(barrier.parts),
        "bridges": _strings(barrier.bridges),
        "joined": barrier.joined,
    }


def _coupler(netlist: str, coupler: CouplerRecord) -> dict[str, Json]:
    return {
        "netlist": netlist,
        "part": coupler.part,
        "type": coupler.type,
        "channel": coupler.channel or None,
        "model": coupler.model or None,
        "recognised_by": coupler.recognised_by,
        "drive": _strings(coupler.drive),
        "load": _strings(coupler.load),
        "sides": _strings(coupler.sides),
        "where": _place(coupler.place),
    }


def _result(report: Report, result: Result) -> dict[str, Json]:
    return {
        "netlist": result.netlist,
        "rule": result.rule,
        "kind": result.kind,
        "level": result.level,
        "counted_level": report.counted_level(result),
        "message": result.message,
        **({"more": _strings(result.more)} if result.more else {}),
        "subject": result.subject,
        "role": result.role or None,
        "instance": result.instance or None,
        "part": result.part or None,
        "channel": result.channel or None,
        "where": _place(result.where),
        "related": [{**_place(related.place), "text": related.text} for related in result.related],
        **numbers(result),
        "blocked_by": result.blocked_by or None,
        "fingerprint": result.fingerprint,
        "suppression": _suppression(result),
        "baselineState": result.baseline_state,
    }


def _suppression(result: Result) -> dict[str, Json] | None:
    waiver = result.suppression
    if waiver is None:
        return None
    return {
        "kind": waiver.kind,
        "status": waiver.status,
        "justification": waiver.justification,
        "by": waiver.by,
        "until": waiver.until or None,
    }
