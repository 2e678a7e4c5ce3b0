"""The failures that a change brought as SARIF, the active profile, for a forge; nothing that was there before."""

from __future__ import annotations

from isolint.app import rules
from isolint.errors import Place
from isolint.reports.sarif import render_active
from isolint.results import Coverage, Measure, NetlistReport, Related, Report, Result
from isolint.review.review_words import because, headline
from isolint.review.values import COUNTING, Item, Review


def render(review: Review) -> str:
    """Write the failures that the change brought."""
    results = tuple(
        _result(item)
        for item in review.items
        if item.state in COUNTING and item.after.kind == "fail" and not item.after.accepted
    )
    netlists = (NetlistReport("", results, Coverage(0, 0)),) if results else ()
    return render_active(Report(review.version, netlists, rules(), review.fail_on, review.errors))


def _result(item: Item) -> Result:
    cause = because(item.cause)
    told = f"{item.state}: {headline(item)}" + (f" ({cause})" if cause else "")
    return Result(
        netlist=item.netlist,
        rule=item.rule,
        kind="fail",
        level=item.level,
        message=told,
        where=item.after.where or Place(item.where.file, item.where.line),
        subject=item.subject,
        role=item.role,
        related=tuple(Related(link.place, link.text) for link in item.chain),
        remedy=item.cure,
        baseline_state="new" if item.state == "new" else "updated",
        measure=Measure.number_of(1),
    )
