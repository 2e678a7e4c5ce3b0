"""The caution that every output carries which speaks of insulation."""

from __future__ import annotations

from typing import Final

from isolint.results import Report

CAUTION: Final = (
    "isolint supports a review, it certifies nothing: values from tables here are for screening; the applicable "
    "standard's current text, local codes and a qualified engineer decide; work on mains-connected circuits only with "
    "the training it needs."
)


def caution(report: Report) -> str:
    """Give the caution if the report holds a barrier or a verdict of the barrier group, else an empty string."""
    barrier_rules = {rule.slug for rule in report.rules if rule.group == "barrier"}
    speaks = any(netlist.barriers for netlist in report.netlists) or any(
        result.rule in barrier_rules and result.kind != "notApplicable" for result in report.results
    )
    return CAUTION if speaks else ""
