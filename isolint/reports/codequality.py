"""The report as a GitLab code quality artifact: a JSON array of what counts, `[]` when that is nothing.

The widget compares arrays by fingerprint, which therefore holds no line number, and shows equal fingerprints once, so
that they are unique. Accepted failures are left out: the widget can't show that they are.
"""

from __future__ import annotations

from typing import Final

from isolint.reports import summary
from isolint.reports.escape import json_document, terminal
from isolint.reports.identity import identities
from isolint.reports.plain import Json
from isolint.results import Level, Report, Result

SEVERITY: Final[dict[Level, str]] = {"error": "critical", "warning": "minor", "note": "info"}


def render(report: Report) -> str:
    """Write the artifact."""
    chosen = [result for result in report.results if _counts(report, result)]
    document: list[Json] = [
        {
            "description": _description(result),
            "check_name": result.rule,
            "fingerprint": identity,
            "severity": SEVERITY[report.counted_level(result)],
            "location": {"path": result.where.file, "lines": {"begin": max(1, result.where.line)}},
        }
        for result, identity in zip(chosen, identities(chosen), strict=True)
    ]
    return json_document(document)


def _counts(report: Report, result: Result) -> bool:
    return summary.is_active(result) or (result.kind == "open" and report.counted_level(result) != "none")


def _description(result: Result) -> str:
    cure = f" (cure: {result.remedy})" if result.remedy else ""
    return terminal(f"{'open: ' if result.kind == 'open' else ''}{result.message}{cure}") or result.rule
