"""Two states of an archive compared: what is new, worse, better, fixed, open or judged no more on which board.

In: stores of audits, or results that `check --format json` wrote, in any mix. Results are paired as a review pairs
them, by their names alone: neither holds the netlists. What nobody judged is never taken for better.
"""

from __future__ import annotations

import math
import posixpath
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, Literal, NamedTuple

from isolint.archive.compared_sources import ComparedState, JudgedBoard
from isolint.results import Result
from isolint.review.classing import WORSE
from isolint.review.exchanges import replaced, weighed
from isolint.review.findings import Card, Finding, Names, harm_of
from isolint.review.moves import moves
from isolint.review.result_pairs import Match, matched
from isolint.rules import RULES

Class = Literal[
    "new", "uncovered", "worse", "opened", "unjudged", "hidden", "better", "fixed", "settled", "drift", "added", "gone"
]
CLASSES: Final[tuple[Class, ...]] = (
    "new", "uncovered", "worse", "opened", "unjudged", "hidden", "better", "fixed", "settled", "drift", "added", "gone",
)  # fmt: skip
"""What may become of a result or a board, what hurts first. added, gone: whole boards."""
_DRIFT = 0.90
_NEAR = 2.0
_RENAMED = 0.2
"""From this share of new subjects on names have changed so much that new and fixed may be one."""


class StateChange(NamedTuple):
    """What became of one result, or of a whole board. before, now: as a reader would say it.

    instead: the rule that failed before in the place of this one.
    """

    what: Class
    board: str
    rule: str
    subject: str
    before: str
    now: str
    accepted: bool = False
    instead: str = ""


class Comparison(NamedTuple):
    """Everything that is different. pairs: how many boards are in both; notes: what else there is to say."""

    changes: tuple[StateChange, ...]
    pairs: int
    tool_changed: bool
    notes: tuple[str, ...]

    @property
    def counts(self) -> dict[Class, int]:
        """How many changes there are of each class; accepted ones do not count."""
        found = dict.fromkeys(CLASSES, 0)
        for change in self.changes:
            found[change.what] += not change.accepted
        return found


class SameNames(Names):
    """Names that are the same in both."""

    def __init__(self) -> None:
        pass

    def text(self, text: str) -> str:
        return text.casefold()

    def element(self, path: str) -> str | None:
        return path

    def key(self, key: str) -> str:
        return key.casefold()

    def set_of(self, names: frozenset[str]) -> frozenset[str]:
        return frozenset(map(str.casefold, names))


def compare(old: ComparedState, new: ComparedState) -> Comparison:
    """Say what is different."""
    plain = old.plain or new.plain
    pairs, gone, added, notes = _paired(old, new)
    changes: list[StateChange] = []
    for before, now in pairs:
        changes += _board(before, now, plain)
    for board in gone:
        number = sum(result.kind == "fail" for result in board.results)
        changes.append(StateChange("gone", board.title, "", "", f"{number} failures went with it", ""))
    for board in added:
        changes.append(StateChange("added", board.title, "", "", "", _said_of(board)))
        changes += [_new(board, each) for each in board.results if each.kind in ("fail", "open") and _counts(each)]
    subjects = {(one.title, each.subject) for one, _ in pairs for each in one.results}
    fresh = {(one.title, each.subject) for one, two in pairs for each in two.results} - subjects
    if subjects and len(fresh) > _RENAMED * len(subjects):
        notes.append("more than a fifth of the names are new: what is new and what is fixed may be the same")
    order = {name: at for at, name in enumerate(CLASSES)}
    changes.sort(key=lambda each: (order[each.what], each.board.casefold(), *each[1:6]))
    return Comparison(tuple(changes), len(pairs), old.tool != new.tool, (*old.notes, *new.notes, *notes))


def _new(board: JudgedBoard, result: Result) -> StateChange:
    what: Class = "new" if result.kind == "fail" else "opened"
    return StateChange(what, board.title, result.rule, result.subject, "", _said(result), bool(_accepted(result)))


def _paired(
    old: ComparedState, new: ComparedState
) -> tuple[list[tuple[JudgedBoard, JudgedBoard]], list[JudgedBoard], list[JudgedBoard], list[str]]:
    """Boards of both by path, then by content where they were moved; the rest of either."""
    both = [path for path in old.boards if path in new.boards]
    left = {path: board for path, board in old.boards.items() if path not in new.boards}
    come = {path: board for path, board in new.boards.items() if path not in old.boards}
    ids = [{path: board.digest for path, board in each.boards.items() if board.digest} for each in (old, new)]
    found = moves(left, come, ids[0], ids[1], lambda one, other: 0.0)
    notes = [f"{one} is {other} now" for one, other in found.moved]
    notes += [f"{path} is a copy of {source}" for path, source in sorted(found.copied.items())]
    pairs = [(old.boards[path], new.boards[path]) for path in both]
    pairs += [(left.pop(one), come.pop(other)) for one, other in found.moved]
    if old.plain != new.plain:
        # A store says where a netlist lies in its folder, a result file where it lay for who checked it.
        for path in list(left):
            ends = [other for other in come if f"/{other}".endswith(f"/{path}") or f"/{path}".endswith(f"/{other}")]
            if len(ends) == 1:
                pairs.append((left.pop(path), come.pop(ends[0])))
    return pairs, list(left.values()), list(come.values()), notes


def _board(old: JudgedBoard, new: JudgedBoard, plain: bool) -> Iterator[StateChange]:
    if old.done and not new.done:
        yield StateChange("unjudged", new.title, "", "", _said_of(old), new.reason or "it is judged no more")
        return
    if new.done and not old.done:
        yield StateChange("settled", new.title, "", "", old.reason or "was not judged", _said_of(new))
    before, now = ([finding(each, plain) for each in board.results if _counts(each)] for board in (old, new))
    parts = {part.casefold() for part in new.parts}
    answered = {_channel(each.result) for each in now if each.kind in ("pass", "fail")}
    lost: set[tuple[str, str]] = set()
    classed: list[tuple[Class, Match]] = []
    for match in matched(before, now, SameNames()):
        what = class_of(match, parts)
        if what is None:
            continue
        if what == "unjudged" and match.before is not None and match.before.kind == "pass":
            # A question that is asked no more of a channel which others still answer for is no loss.
            channel = _channel(match.before.result)
            if channel in answered or channel in lost:
                continue
            lost.add(channel)
        classed.append((what, match))
    for what, match, instead in _exchanged(classed):
        shown = match.after or match.before
        assert shown is not None
        accepted = match.after is not None and bool(_accepted(match.after.result))
        said = ["" if each is None else _said(each.result) for each in match]
        if instead:
            said[0] = f"{instead}: {said[0]}"
        gone = "" if match.after is not None else "nothing is said of it" if what == "unjudged" else "it is gone"
        about = (new.title, shown.result.rule, shown.result.subject)
        yield StateChange(what, *about, said[0], said[1] or gone, accepted, instead)


def _exchanged(classed: Sequence[tuple[Class, Match]]) -> Iterator[tuple[Class, Match, str]]:
    """One fault of which another rule speaks now told once: as that rule instead of the other, named third."""
    by_slug = {rule.slug: rule for rule in RULES}
    hidden = [match for what, match in classed if what == "hidden"]
    fixed = [match for what, match in classed if what == "fixed"]
    used: set[int] = set()
    told: list[tuple[Class, Match, str]] = []
    for what, match in classed:
        was, after = match
        old = None
        if what == "new" and after is not None and (was is None or was.kind not in ("fail", "open")):
            old = replaced(by_slug.get, after, hidden, fixed, used)
        if old is None or after is None:
            told.append((what, match, ""))
            continue
        used.add(id(old))
        told.append((weighed(by_slug.get, old, after), Match(old, after), old.result.rule))
    for what, match, instead in told:
        if instead or id(match.before) not in used:
            yield what, match, instead


def _channel(result: Result) -> tuple[str, str]:
    return result.part.casefold(), result.channel.casefold()


def _counts(result: Result) -> bool:
    follows = result.kind == "notApplicable" and result.blocked_by == result.rule
    return result.baseline_state != "absent" and not follows


def finding(result: Result, plain: bool) -> Finding:
    """A result as the matching wants it. plain: whether only what every result file says may count."""
    members = frozenset(map(str.casefold, () if plain else result.members))
    members = members or frozenset(word for word in result.subject.casefold().split() if word not in ("|", "channel"))
    between = frozenset(result.subject.casefold().split(" | ")) if " | " in result.subject else frozenset[str]()
    joint = between if (plain or result.members) and result.kind in ("fail", "open") else frozenset[str]()
    carrier = result.subject
    if not plain and result.kind == "fail" and len(result.group) == 3:
        carrier = result.group[2]
    counted = result.level if result.kind == "fail" else result.counts_as
    keys = frozenset(fact.key for fact in result.missing) if result.kind == "open" else frozenset[str]()
    return Finding(result, carrier, members, joint, keys, *harm_of(result), Card(result.where.file), counted)


def class_of(match: Match, parts: set[str]) -> Class | None:
    """What became of a result, None for nothing to tell. parts: those that are there now, in lower case."""
    was, now = _standing(match.before), _standing(match.after)
    before, after = match
    if now == "fail":
        if was == "blocked":
            return "uncovered"
        if was != "fail" or before is None or after is None:
            return "new"
        if before.accepted and not after.accepted:
            return "new"
        if _is_worse(before, after):
            return "worse"
        return "better" if _is_worse(after, before) else None
    if now == "open":
        assert after is not None
        known = set() if before is None else {key.casefold() for key in before.keys}
        more = any(key.casefold() not in known for key in after.keys)
        return "opened" if was != "open" or more else None
    if now == "blocked":
        return "hidden" if was in ("fail", "open") else None
    if before is None or was not in ("fail", "open", "pass"):
        return None
    if now == "pass":
        return "fixed" if was == "fail" else "settled" if was == "open" else "drift" if _drifted(match) else None
    part = before.result.part.casefold()
    if part in parts and part:
        return "unjudged"
    return None if was == "pass" else "fixed" if was == "fail" else "settled"


def _standing(finding: Finding | None) -> str:
    if finding is None:
        return "none"
    if finding.kind == "notApplicable":
        return "blocked" if finding.result.blocked_by else "none"
    return finding.kind


def _is_worse(before: Finding, after: Finding) -> bool:
    if math.isinf(before.harm) and math.isinf(after.harm):
        return after.tie > before.tie + abs(before.tie) * (WORSE - 1.0)
    return after.harm > WORSE * before.harm


def _drifted(match: Match) -> bool:
    was = None if match.before is None else match.before.result.margin
    now = None if match.after is None else match.after.result.margin
    if was is None or now is None or not (math.isfinite(was.value) and math.isfinite(now.value)):
        return False
    return now.value < _DRIFT * was.value and now.value < _NEAR * now.required


def _accepted(result: Result) -> str:
    return "waived" if result.suppression else "in the baseline" if result.baseline_state == "unchanged" else ""


def _said(result: Result) -> str:
    word = result.level if result.kind == "fail" else result.kind
    margin = "" if result.margin is None else f", margin {result.margin.value:.3g} of {result.margin.required:.3g}"
    accepted = _accepted(result)
    return f"{word}{margin}{f', {accepted}' if accepted else ''}"


def _said_of(board: JudgedBoard) -> str:
    fails, opens = (sum(each.kind == kind for each in board.results) for kind in ("fail", "open"))
    return f"{fails} failures, {opens} open" if board.done else board.reason


# -- several states -----------------------------------------------------------------------------------------------


class StateStep(NamedTuple):
    """One state of a row of them. changes: against the one before; worst: smallest margin over what is required."""

    name: str
    judged: int
    fails: int
    opens: int
    worst: float | None
    changes: Mapping[Class, int]
    incomplete: str


def trend(states: Sequence[tuple[str, ComparedState]]) -> tuple[StateStep, ...]:
    """States in their order; one that lacks boards of the first is incomplete, never better."""
    found: list[StateStep] = []
    first = states[0][1]
    for at, (name, state) in enumerate(states):
        changes = compare(states[at - 1][1], state).counts if at else dict.fromkeys(CLASSES, 0)
        pairs, gone, _, _ = _paired(first, state)
        missing = [old for old in gone if old.done] + [old for old, now in pairs if old.done and not now.done]
        shares = [
            each.margin.value / each.margin.required
            for board in state.boards.values()
            for each in board.results
            if each.margin is not None and each.margin.required > 0.0 and each.kind in ("pass", "fail", "open")
        ]
        everything = [
            each for board in state.boards.values() for each in board.results if not _accepted(each) and _counts(each)
        ]
        told = [f"{len(missing)} boards of the first are not judged"] if missing else []
        found.append(
            StateStep(
                name,
                sum(board.done for board in state.boards.values()),
                sum(each.kind == "fail" for each in everything),
                sum(each.kind == "open" for each in everything),
                min(shares, default=None),
                changes,
                "; ".join([*told, *state.notes]),
            )
        )
    return tuple(found)


def short(path: str) -> str:
    """The name of a state: that of its file."""
    return posixpath.basename(path.replace("\\", "/"))
