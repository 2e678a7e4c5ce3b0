"""Items of a netlist that the base does not have, or that can't be compared: all that fails or is open there is new."""

from __future__ import annotations

from isolint.errors import Place
from isolint.reports.wording import details
from isolint.review.findings import Finding, Revision, state
from isolint.review.items import MOST_DETAILS, own_identity
from isolint.review.values import Anchor, Identity, Item, Link, State, counts_at


def all_new(new: Revision, empty: bool = False) -> list[Item]:
    """The items of a netlist that has no other revision; `empty`: one that says that nothing is judged any more."""
    if empty:
        return [_whole(new)]
    return [_item(new, finding) for finding in new.findings if finding.kind in ("fail", "open")]


def _item(new: Revision, finding: Finding) -> Item:
    result = finding.result
    identity = own_identity(new, finding)
    chain = tuple(Link(link.place, link.text) for link in result.related)
    anchors = [Anchor("new", place.file, place.line) for place in (result.where, *(link.place for link in chain))]
    return Item(
        state="new" if finding.kind == "fail" else "opened",
        rule=result.rule,
        role=result.role,
        subject=result.subject,
        netlist=new.path,
        level=finding.counted,
        counts=not finding.accepted and counts_at(finding.counted, new.judged.report.fail_on or "error"),
        identity=identity,
        own=identity,
        before=State("absent"),
        after=state(finding),
        where=result.where,
        chain=chain,
        members=tuple(sorted(finding.members)),
        cure=result.remedy,
        details=tuple(details(result))[:MOST_DETAILS],
        anchors=tuple(dict.fromkeys(anchors)),
        harm=finding.harm,
        of=new.placed(finding.card),
        which=(result.instance,) if result.instance else (),
        on=(new.path,),
    )


def _whole(old: Revision) -> Item:
    rule = old.judged.context.rulebook.judge_of("identity")
    identity = Identity(old.path, "", "", "")
    level = rule.opens_at
    return Item(
        state="unjudged",
        rule=rule.slug,
        role="",
        subject=old.path,
        netlist=old.path,
        level=level,
        counts=counts_at(level, old.judged.report.fail_on or "error"),
        identity=identity,
        own=identity,
        before=State("absent"),
        after=State("open", level),
        where=Place(old.path),
    )
