"""What is to be written, decided from the review, the comments that stand and the ledger alone.

An item has one comment as long as it lives, if a line of the request is its own. What somebody else edited, answered,
resolved or deleted is left as it is and never made again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.posting import texts
from isolint.posting.forge import Comment, Form, Fresh, Lines
from isolint.posting.markers import (
    SUMMARY_KEY,
    Known,
    Mark,
    Signer,
    digest,
    keys_of,
    normal,
    read_mark,
    standing_keys,
)
from isolint.review.values import LIVE, Item, Review

MOST_LIVE = 10
"""Comments on lines that stand at once."""


class WantedComments(NamedTuple):
    """The review by keys: what lives, what else is known of a key, and keys under which a comment may stand."""

    live: dict[str, Item]
    ended: dict[str, Item]
    standing: frozenset[str]
    also: dict[str, str]


class Own(NamedTuple):
    """A comment of ours with its mark. touched: whether anybody else edited, answered or resolved it."""

    comment: Comment
    mark: Mark
    touched: bool
    edited: bool


@dataclass(slots=True)
class Plan:
    """What to write. dismissed: keys of live items that somebody silenced; shown: keys with a comment on a line."""

    edits: list[tuple[Comment, str]] = field(default_factory=list)
    creates: list[Fresh] = field(default_factory=list)
    resolves: list[tuple[Comment, bool]] = field(default_factory=list)
    deletes: list[Comment] = field(default_factory=list)
    ledger: dict[str, Known] = field(default_factory=dict)
    dismissed: dict[str, bool] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        """Whether nothing is to be written on lines."""
        return not (self.edits or self.creates or self.resolves or self.deletes)


class PostingOrder(NamedTuple):
    """How a review is posted. form: whose Markdown. account: ours. refused: keys that the forge refused on a line."""

    signer: Signer
    form: Form
    account: str
    head: str
    untrusted: bool = False
    refused: frozenset[str] = frozenset()


def wanted(review: Review) -> WantedComments:
    """The review by keys."""
    live: dict[str, Item] = {}
    ended: dict[str, Item] = {}
    also: dict[str, str] = {}
    for item in review.items:
        key, others = keys_of(item)
        if item.state in LIVE and not item.after.accepted:
            live.setdefault(key, item)
            for other in others:
                also.setdefault(other, key)
        else:
            ended.setdefault(key, item)
            for other in others:
                ended.setdefault(other, item)
    standing = frozenset(key for each in review.netlists for one in each.standing for key in standing_keys(one))
    own = {other: key for other, key in also.items() if other not in live}
    return WantedComments(live, {key: item for key, item in ended.items() if key not in live}, standing, own)


def own_comments(comments: Iterable[Comment], asked: PostingOrder, ledger: Mapping[str, Known]) -> list[Own]:
    """Our comments: of our account, with one mark on the first line."""
    found = []
    known = {(each.id, each.digest) for each in ledger.values() if each.state in ("on", "fixed")}
    silenced = {each.id for each in ledger.values() if each.state == "dismissed"}
    for comment in comments:
        mark = read_mark(comment.body)
        if mark is None or comment.author != asked.account or (mark.kind == "summary") != comment.is_summary:
            continue
        edited = not asked.signer.holds(comment.body) and (comment.id, digest(comment.body)) not in known
        resolved_by_other = comment.resolved and comment.resolved_by not in ("", asked.account)
        # Who resolved it is not always told; what is marked as fixed we resolved ourselves.
        unknown = comment.resolved and not comment.resolved_by and mark.life != "fixed"
        touched = edited or comment.answered or resolved_by_other or unknown or comment.id in silenced
        found.append(Own(comment, mark, touched, edited))
    return found


def decide(
    review: Review,
    files: Mapping[str, Lines],
    comments: Sequence[Comment],
    ledger: Mapping[str, Known],
    asked: PostingOrder,
) -> Plan:
    """What to write on lines, and the ledger after that."""
    by_key = wanted(review)
    plan = Plan()
    standing: dict[str, Own] = {}
    doubles: dict[str, list[Own]] = {}
    for own in own_comments(comments, asked, ledger):
        if own.mark.kind == "item":
            key = by_key.also.get(own.mark.key, own.mark.key)
            doubles.setdefault(key, []).append(own)
    certain = review.complete and not asked.untrusted
    for key, several in doubles.items():
        standing[key] = _kept(several)
        if certain or len(several) > 1:
            _drop(plan, standing[key], several, certain)
    known = {by_key.also.get(key, key): each for key, each in ledger.items()}
    _live(plan, by_key, standing, known, files, asked)
    for key, own in standing.items():
        if key not in by_key.live:
            _ended(plan, key, own, by_key, known, asked, certain)
    for key, each in known.items():
        # What is told nowhere any more is forgotten, but for what a person took away.
        if key not in plan.ledger and each.state in ("dismissed", "refused") and key in by_key.live:
            plan.ledger[key] = each
    return plan


def _kept(several: Sequence[Own]) -> Own:
    """Of doubles one that somebody touched, else the oldest."""
    touched = [own for own in several if own.touched]
    return min(touched or several, key=lambda own: _number(own.comment.id))


def _number(id: str) -> tuple[int, str]:
    return (int(id), id) if id.isdigit() else (0, id)


def _drop(plan: Plan, kept: Own, several: Sequence[Own], certain: bool) -> None:
    for own in several:
        if own is kept or own.touched or not certain:
            continue
        plan.deletes.append(own.comment)


def _live(
    plan: Plan,
    by_key: WantedComments,
    standing: Mapping[str, Own],
    known: Mapping[str, Known],
    files: Mapping[str, Lines],
    asked: PostingOrder,
) -> None:
    used = sum(key in by_key.live for key in standing)
    at_line: dict[tuple[str, int, str], str] = {}
    for key, own in standing.items():
        comment = own.comment
        if key in by_key.live and not own.touched and _is_changed(files.get(comment.path), comment.line, comment.side):
            at_line.setdefault((comment.path, comment.line, comment.side), key)
    guests: dict[str, list[Item]] = {}
    fresh: list[tuple[str, Item, tuple[str, int, str]]] = []
    for key, item in by_key.live.items():
        if key in standing:
            continue
        before = known.get(key)
        if before is not None and before.state in ("on", "dismissed"):
            # There was one and it is gone: a person took it away.
            plan.dismissed[key] = texts.is_worse(item.harm, before.harm)
            plan.ledger[key] = before._replace(state="dismissed")
            continue
        if key in asked.refused or (before is not None and before.state == "refused" and before.digest == asked.head):
            plan.ledger[key] = Known("0", "refused", _finite(item.harm), asked.head)
            continue
        place = _place(item, files)
        if place is None:
            continue
        speaker = at_line.get(place)
        if speaker is not None:
            guests.setdefault(speaker, []).append(item)
        elif used < MOST_LIVE:
            used += 1
            at_line[place] = key
            fresh.append((key, item, place))
    for key, item, (path, line, side) in fresh:
        body = texts.comment(item, guests.get(key, ()), asked.form, asked.untrusted, (path, line))
        plan.creates.append(Fresh(path, line, side, asked.signer.marked("item", key, "live", body), key))
    for key, own in standing.items():
        live = by_key.live.get(key)
        if live is None:
            continue
        if own.touched:
            before = known.get(key)
            harm = _finite(live.harm) if before is None else before.harm
            plan.dismissed[key] = texts.is_worse(live.harm, harm)
            plan.ledger[key] = Known(own.comment.id, "dismissed", harm, digest(own.comment.body))
            continue
        stands = own.comment.path, own.comment.line
        body = texts.comment(live, guests.get(key, ()), asked.form, asked.untrusted, stands)
        text = asked.signer.marked("item", key, "live", body)
        _bring(plan, own, text)
        if own.comment.resolved:
            plan.resolves.append((own.comment, False))
        plan.ledger[key] = Known(own.comment.id, "on", _finite(live.harm), digest(own.comment.body))


def _finite(harm: float) -> float:
    return min(harm, 1e30)


def _bring(plan: Plan, own: Own, text: str) -> None:
    """Edit a comment unless it says that already, in whatever form the forge gave it back."""
    mark = read_mark(text)
    same = normal(own.comment.body) == normal(text) or (mark is not None and mark == own.mark)
    if not same:
        plan.edits.append((own.comment, text))


def _place(item: Item, files: Mapping[str, Lines]) -> tuple[str, int, str] | None:
    """The first line to speak on that the request changes."""
    former = {lines.former: path for path, lines in files.items() if lines.former}
    for anchor in item.anchors:
        path = anchor.file if anchor.file in files else former.get(anchor.file, "")
        if _is_changed(files.get(path), anchor.line, anchor.side):
            return path, anchor.line, anchor.side
    return None


def _is_changed(lines: Lines | None, line: int, side: str) -> bool:
    """Whether the request changes a line."""
    return lines is not None and line in (lines.added if side == "new" else lines.removed)


def _ended(
    plan: Plan,
    key: str,
    own: Own,
    by_key: WantedComments,
    known: Mapping[str, Known],
    asked: PostingOrder,
    certain: bool,
) -> None:
    """Bring a comment on what does not live any more to its state, once."""
    before = known.get(key)
    harm = 0.0 if before is None else before.harm
    if own.touched or own.mark.life == "fixed" or not certain:
        state = "dismissed" if own.touched else "fixed" if own.mark.life == "fixed" else "on"
        plan.ledger[key] = Known(own.comment.id, state, harm, digest(own.comment.body))
        return
    item = by_key.ended.get(key)
    if item is not None and item.state in ("fixed", "better", "settled", "drift"):
        life, body = "fixed", texts.fixed(item, asked.head, asked.untrusted)
    elif item is not None and item.after.accepted:
        life, body = "quiet", texts.quiet(f"accepted by the {item.after.accepted}")
    elif item is not None:
        life, body = "quiet", texts.quiet("; ".join(item.notes) or item.state)
    elif key in by_key.standing:
        life, body = "quiet", texts.quiet("on the target as well")
    else:
        life, body = "fixed", texts.gone(asked.head)
    _bring(plan, own, asked.signer.marked("item", key, life, body))  # type: ignore[arg-type]
    if life == "fixed" and not own.comment.resolved:
        plan.resolves.append((own.comment, True))
    state = "fixed" if life == "fixed" else "on"
    plan.ledger[key] = Known(own.comment.id, state, harm, digest(own.comment.body))


def summaries(comments: Iterable[Comment], asked: PostingOrder) -> list[Own]:
    """Our summaries, the oldest first."""
    found = [own for own in own_comments(comments, asked, {}) if own.mark.key == SUMMARY_KEY]
    return sorted(found, key=lambda own: _number(own.comment.id))
