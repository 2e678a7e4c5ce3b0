"""Results of two revisions of a netlist paired: in passes, from what is certainly the same to what most probably is.

Each result is used once, but for one that says of all parts between two sides that its rule does not apply. Joints of
sides and bridges are the same only where they have an element in common. Of several that are alike the smallest harm
meets the smallest.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from typing import NamedTuple

from isolint.review.findings import Finding, Names


class Match(NamedTuple):
    """A result before and now; one of them may be missing."""

    before: Finding | None
    after: Finding | None


class _Left:
    """What is not matched yet."""

    def __init__(self, old: Sequence[Finding], new: Sequence[Finding], names: Names) -> None:
        self._old = {id(finding): finding for finding in old}
        self._new = {id(finding): finding for finding in new}
        self.names = names
        self.matches: list[Match] = []
        self._members = {id(finding): names.set_of(finding.members) for finding in old}

    @property
    def old(self) -> list[Finding]:
        """The results before that have no match yet."""
        return list(self._old.values())

    @property
    def new(self) -> list[Finding]:
        """The results of now that have no match yet."""
        return list(self._new.values())

    def members(self, finding: Finding) -> frozenset[str]:
        """The members of an old result by their names of now."""
        return self._members[id(finding)]

    def alike(self, before: Callable[[Finding], Hashable], after: Callable[[Finding], Hashable]) -> None:
        """Match what has an equal key; no key (None) is none."""
        by_key: dict[Hashable, list[Finding]] = {}
        for finding in self.new:
            key = after(finding)
            if key is not None:
                by_key.setdefault(key, []).append(finding)
        mine: dict[Hashable, list[Finding]] = {}
        for finding in self.old:
            key = before(finding)
            if key is not None and key in by_key:
                mine.setdefault(key, []).append(finding)
        for key, olds in mine.items():
            self._together(olds, by_key[key])

    def _together(self, olds: list[Finding], news: list[Finding]) -> None:
        if len(olds) == len(news) == 1:
            if self.may(olds[0], news[0]):
                self.take(olds[0], news[0])
            return
        pairs = [
            (self.rank(before, after), at, there, before, after)
            for at, before in enumerate(sorted(olds, key=_by_harm))
            for there, after in enumerate(sorted(news, key=_by_harm))
            if self.may(before, after)
        ]
        done: set[int] = set()
        for _, _, _, before, after in sorted(pairs, key=lambda pair: pair[:3]):
            if id(before) not in done and id(after) not in done:
                done |= {id(before), id(after)}
                self.take(before, after)

    def rank(self, before: Finding, after: Finding) -> tuple[float, float]:
        """How well two fit: shared members first, then how little harm changed."""
        shared = len(self.members(before) & after.members)
        return (-float(shared), _apart(before, after))

    def may(self, before: Finding, after: Finding) -> bool:
        """Whether two can be one: joints need an element in common.

        What does not apply to all that lies between two sides says so of each part there, and names none.
        """
        for one, other in ((before, after), (after, before)):
            if one.kind == "notApplicable" and not one.members and other.result.role:
                return True
        joints = before.is_joint or after.is_joint
        return not (joints and before.kind != "pass" and after.kind != "pass") or bool(
            self.members(before) & after.members
        )

    def take(self, before: Finding, after: Finding) -> None:
        """Match two; one of them may have met others before, where it speaks for several."""
        self.matches.append(Match(before, after))
        self._old.pop(id(before), None)
        self._new.pop(id(after), None)


def matched(old: Sequence[Finding], new: Sequence[Finding], names: Names) -> list[Match]:
    """Match the results of two revisions; passes and what does not apply take part."""
    left = _Left(old, new, names)
    say = names.text
    left.alike(
        lambda f: None if f.kind == "open" and f.keys else (f.result.rule, say(f.result.role), say(f.carrier)),
        lambda f: None if f.kind == "open" and f.keys else _key(f.result.rule, f.result.role, f.carrier),
    )
    left.alike(
        lambda f: (f.result.rule, say(f.result.subject), say(f.result.role)),
        lambda f: _key(f.result.rule, f.result.subject, f.result.role),
    )
    # A joint that is spoken of by another rule now, or is an open question, is the same joint.
    left.alike(
        lambda f: names.set_of(f.sides) if f.is_joint and _speaks(f) else None,
        lambda f: f.sides if f.is_joint and _speaks(f) else None,
    )
    # Where nothing is wrong any more its own rule says so: others pass between the same sides for other reasons.
    left.alike(
        lambda f: None if not _between(f) else (f.result.rule, names.set_of(_between(f))),
        lambda f: None if not _between(f) else (f.result.rule, _between(f)),
    )
    _opens(left)
    _single(left)
    _blocked(left, old, new)
    return [
        *left.matches,
        *(Match(finding, None) for finding in left.old),
        *(Match(None, finding) for finding in left.new),
    ]


def _key(*words: str) -> tuple[str, ...]:
    return (words[0], *(word.casefold() for word in words[1:]))


def _speaks(finding: Finding) -> bool:
    return finding.kind in ("fail", "open")


def _between(finding: Finding) -> frozenset[str]:
    """The sides that a result is about; none where it is about something else."""
    sides = finding.result.subject.casefold().split(" | ")
    return finding.sides or (frozenset(sides) if len(sides) == 2 else frozenset())


def _opens(left: _Left) -> None:
    """Open results that lack the same, by half or more; those of one rule first."""
    news = {id(finding): frozenset(key.casefold() for key in finding.keys) for finding in left.new}
    for same_rule in (True, False):
        for before in [finding for finding in left.old if finding.kind == "open" and finding.keys]:
            lacked = frozenset(left.names.key(key) for key in before.keys)
            best: tuple[float, Finding] | None = None
            for after in left.new:
                lacking = news[id(after)]
                if not lacking or (same_rule and after.result.rule != before.result.rule):
                    continue
                share = len(lacked & lacking) / min(len(lacked), len(lacking))
                if share >= 0.5 and (best is None or share > best[0]):
                    best = (share, after)
            if best is not None:
                left.take(before, best[1])


def _single(left: _Left) -> None:
    """Where one rule has one failure left on each side and they share a member."""
    for rule in dict.fromkeys(finding.result.rule for finding in left.old):
        olds = [finding for finding in left.old if finding.result.rule == rule and finding.kind in ("fail", "open")]
        news = [finding for finding in left.new if finding.result.rule == rule and finding.kind in ("fail", "open")]
        if len(olds) == len(news) == 1 and left.members(olds[0]) & news[0].members:
            left.take(olds[0], news[0])


def _blocked(left: _Left, old: Sequence[Finding], new: Sequence[Finding]) -> None:
    """What does not apply to anything between two sides is said once, and stands for each part type that lies there."""
    say = left.names.set_of
    before = {(f.result.rule, say(_between(f))): f for f in old if _is_of_all(f)}
    after = {(f.result.rule, _between(f)): f for f in new if _is_of_all(f)}
    for finding in left.old:
        other = after.get((finding.result.rule, say(_between(finding))))
        if other is not None and finding.result.role:
            left.take(finding, other)
    for finding in left.new:
        other = before.get((finding.result.rule, _between(finding)))
        if other is not None and finding.result.role:
            left.take(other, finding)


def _is_of_all(finding: Finding) -> bool:
    return finding.kind == "notApplicable" and not finding.result.role and bool(_between(finding))


def _by_harm(finding: Finding) -> tuple[float, float]:
    return (finding.harm, finding.tie)


def _apart(before: Finding, after: Finding) -> float:
    if before.harm == after.harm:
        return 0.0
    if before.harm <= 0.0 or after.harm <= 0.0 or math.isinf(before.harm) or math.isinf(after.harm):
        return math.inf
    return abs(math.log(after.harm / before.harm))
