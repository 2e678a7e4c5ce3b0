"""Reports of which only what is shown is kept, so that a run over many boards stays small.

In: a report. Out: the same, in which what passes and what does not apply has no more than rule and kind.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Final

from isolint.errors import Place
from isolint.results import Kind, NetlistReport, Result, renamed

_BRIEF: Final = ("pass", "notApplicable")


def shortened(report: NetlistReport) -> NetlistReport:
    """The same report in which passes and what does not apply only count: of them rule and kind are left.

    What says no more than that is one value for all reports, so that a run over many boards stays small.
    """
    return report._replace(results=tuple(map(_shortened, report.results)))


def _shortened(result: Result) -> Result:
    accepted = result.suppression is not None or result.baseline_state is not None
    return (
        result if result.kind not in _BRIEF or accepted or not result.acceptable else _brief(result.rule, result.kind)
    )


@cache
def _brief(rule: str, kind: Kind) -> Result:
    return Result("", rule, kind, "none", "", Place(""), "")


def renamed_too(report: NetlistReport, rename: Callable[[str], str]) -> NetlistReport:
    """`renamed` for a report that may be shortened: what only counts stays one value, behind all others."""
    counted = tuple(result for result in report.results if not result.netlist)
    told = renamed(report._replace(results=tuple(result for result in report.results if result.netlist)), rename)
    return told._replace(results=(*told.results, *counted))
