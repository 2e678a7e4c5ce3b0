"""What a change did to each result: its class, from what was said before and what is said now.

Gone is not fixed: a failure is fixed where its rule passes, or where what failed is gone. What can't be judged any more
is a class of its own, and what another failure hides is told with that one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from isolint.checking.judged import judged_channels
from isolint.results import LEVELS
from isolint.review.exchanges import replaced, weighed
from isolint.review.findings import Finding, Names, Revision
from isolint.review.result_pairs import Match, matched
from isolint.review.values import Class

_WORDS = re.compile(r"[\s(),]+")

WORSE = 1.02
"""By which factor harm grows before it counts as worse."""
_DRIFT = 0.90
_NEAR = 2.0
"""A margin below so many times what is required is worth a word when it falls."""


class Classed(NamedTuple):
    """One result with what became of it.

    instead: the rule that failed in its place before. hides: failures from before that are not judged behind it. came:
    members that were not there. notes: what else there is to say.
    """

    state: Class
    before: Finding | None
    after: Finding | None
    instead: str = ""
    hides: tuple[Finding, ...] = ()
    came: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def finding(self) -> Finding:
        """The result that speaks: that of now, else that of before."""
        found = self.after if self.after is not None else self.before
        assert found is not None
        return found


class Classes:
    """All classes of one netlist that both revisions have."""

    def __init__(self, old: Revision, new: Revision, names: Names) -> None:
        self._old, self._new, self._names = old, new, names
        self._rules = {rule.slug: rule for rule in new.judged.context.rulebook.rules}
        self.matches = matched(old.findings, new.findings, names)
        self._now: dict[tuple[str, str], list[Finding]] = {}
        for finding in new.findings:
            self._now.setdefault((finding.result.rule, finding.result.subject.casefold()), []).append(finding)

    def all(self) -> list[Classed]:
        """What the change did, unchanged results left out."""
        found: list[Classed] = []
        hidden: list[Match] = []
        lost: list[Finding] = []
        for match in self.matches:
            state = self._state(match)
            if state == "hidden":
                hidden.append(match)
            elif state == "lost":
                assert match.before is not None
                lost.append(match.before)
            elif state is not None:
                found.append(self._classed(state, match))
        found = self._exchanged(found, hidden)
        found = self._with_hidden(found, hidden)
        found = self._of_joints(found)
        return self._with_unjudged(found, self._unjudged(lost))

    # -- the table --------------------------------------------------------------------------------------------

    def _state(self, match: Match) -> Class | str | None:
        """The class of a match; "hidden" and "lost" are told with others, None where there is nothing to tell."""
        before, after = match
        was = "none" if before is None else _standing(before)
        now = "none" if after is None else _standing(after)
        if now == "fail":
            return self._failing(match, was)
        if now == "open":
            if was != "open":
                return "opened"
            return "opened" if self._lacks_more(match) else None
        if now == "blocked":
            return "hidden" if was in ("fail", "open") else None
        if was == "fail":
            if now == "pass":
                return "fixed"
            return self._vanished(match, "fixed")
        if was == "open":
            if now == "pass":
                return "settled"
            return self._vanished(match, "settled")
        if was == "pass":
            if now == "pass":
                return "drift" if _drifted(match) else None
            return "lost" if before is not None and self._still_there(before) else None
        return None

    def _failing(self, match: Match, was: str) -> Class | None:
        before, after = match
        assert after is not None
        if was == "blocked":
            assert before is not None
            if after.is_joint and any(map(self._names.came, after.members)):
                return "new"  # nothing hid what was not there
            return "uncovered" if self._stood(before.result.blocked_by, before) else "new"
        if was != "fail" or before is None:
            return "new"
        if before.accepted and not after.accepted and after.result.baseline_state != "updated":
            return "new"
        came = after.members - self._names.set_of(before.members) if after.is_joint else frozenset()
        if _is_worse(before, after) or came or self._raised(before, after):
            return "worse"
        return "better" if _is_worse(after, before) else None

    def _raised(self, before: Finding, after: Finding) -> bool:
        """Whether the rule itself took it for more serious, not the settings."""
        rule = after.result.rule
        stated = [each.judged.context.facts.levels.get(rule) for each in (self._old, self._new)]
        same = [None if each is None else each.value for each in stated]
        return same[0] == same[1] and LEVELS.index(after.result.level) > LEVELS.index(before.result.level)

    def _lacks_more(self, match: Match) -> bool:
        before, after = match
        assert before is not None and after is not None
        known = {self._names.key(key) for key in before.keys}
        return any(key.casefold() not in known for key in after.keys)

    def _stood(self, rule: str, before: Finding) -> bool:
        """Whether the rule that hid a result failed or was open before; the engine says so, and of whom."""
        return any(other.result.rule == rule and other.kind in ("fail", "open") for other in self._old.findings)

    def _vanished(self, match: Match, gone: Class) -> Class | str:
        """What becomes of a failure or question that nothing speaks of any more."""
        before = match.before
        assert before is not None
        if before.is_joint:
            return gone if self._apart(before) else "lost"
        rule = self._rules.get(before.result.rule)
        surveyed = rule is not None and rule.judge is None
        if surveyed and not before.result.part:
            return gone
        return "lost" if self._still_there(before) else gone

    def _apart(self, before: Finding) -> bool:
        """Whether what joined the sides is gone, or their separation is judged and passes or fails by others."""
        names = self._names
        if any(names.element(member) is None for member in before.members):
            return True
        judges = {finding.result.rule for finding in self._old.findings if finding.is_joint}
        return any(finding.result.rule in judges and finding.kind in ("pass", "fail") for finding in self._new.findings)

    def _still_there(self, before: Finding) -> bool:
        """Whether the part that a result spoke of is in the netlist."""
        part = before.result.part
        if not part:
            return (
                before.kind == "fail"
                and all(self._names.element(member) is not None for member in before.members)
                and bool(before.members)
            )
        return self._names.element(part) is not None

    # -- what belongs together ------------------------------------------------------------------------------------

    def _classed(self, state: str, match: Match) -> Classed:
        before, after = match
        notes: tuple[str, ...] = ()
        came: tuple[str, ...] = ()
        if state == "new" and before is not None and before.kind == "fail" and before.accepted:
            notes = (f"its {'waiver' if before.accepted == 'waiver' else 'entry in the baseline'} ended",)
        elif state == "new" and before is not None and before.kind == "open":
            notes = ("it was open, and is settled as a failure",)
        elif state == "uncovered" and before is not None:
            notes = (f"was hidden by {before.result.blocked_by} until now",)
        elif state == "worse" and before is not None and after is not None and after.is_joint:
            came = tuple(sorted(after.members - self._names.set_of(before.members)))
        return Classed(state, before, after, came=came, notes=notes)  # type: ignore[arg-type]

    def _exchanged(self, found: Sequence[Classed], hidden: list[Match]) -> list[Classed]:
        """One fault of which another rule speaks now is one item: that rule instead of the other, with both numbers."""
        made: list[Classed] = []
        used: set[int] = set()
        fixed = [Match(item.before, item.after) for item in found if item.state == "fixed"]
        for item in found:
            own = item.before is not None and item.before.kind in ("fail", "open")
            before = None
            if item.state == "new" and item.after is not None and not own:
                before = replaced(self._rules.get, item.after, hidden, fixed, used)
            if before is None or item.after is None:
                made.append(item)
                continue
            hidden[:] = [match for match in hidden if match.before is not before]
            used.add(id(before))
            state = weighed(self._rules.get, before, item.after)
            made.append(Classed(state, before, item.after, instead=before.result.rule))
        return [item for item in made if not (item.state == "fixed" and id(item.before) in used)]

    def _with_hidden(self, found: Sequence[Classed], hidden: Iterable[Match]) -> list[Classed]:
        """Failures that are not judged now stand with the item of what hides them; without one they are told alone."""
        made = list(found)
        for match in hidden:
            before, after = match
            assert before is not None and after is not None
            of_rule = [at for at, item in enumerate(made) if item.finding.result.rule == after.result.blocked_by]
            about = after.result.subject.casefold()
            nearest = [at for at in of_rule if made[at].finding.result.subject.casefold() == about] or of_rule
            if nearest:
                made[nearest[0]] = made[nearest[0]]._replace(hides=(*made[nearest[0]].hides, before))
            else:
                notes = (f"hidden by {after.result.blocked_by}, which stood before",)
                made.append(Classed("hidden", before, after, notes=notes))
        return made

    def _of_joints(self, found: Sequence[Classed]) -> list[Classed]:
        """One more joint between sides that were joined already is that one grown worse; one less, grown better."""
        standing = {
            after.sides: (before, after)
            for before, after in self.matches
            if before is not None and after is not None and after.is_joint and before.kind == after.kind == "fail"
        }
        made: list[Classed] = []
        for item in found:
            after, before = item.after, item.before
            if item.state == "new" and after is not None and before is None and after.sides in standing:
                made.append(Classed("worse", standing[after.sides][0], after, came=tuple(sorted(after.members))))
                continue
            if item.state == "fixed" and before is not None and before.is_joint and after is None:
                other = standing.get(self._names.set_of(before.sides))
                if other is not None:
                    made.append(Classed("better", before, other[1], notes=("another joint of the same sides stands",)))
                    continue
            made.append(item)
        return made

    def _unjudged(self, lost: Sequence[Finding]) -> list[Classed]:
        """One item a part that was judged and is not any more."""
        by_part: dict[str, list[Finding]] = {}
        for finding in lost:
            by_part.setdefault(finding.result.part or finding.result.subject, []).append(finding)
        made = []
        now = self._new.parts
        judged = self._judged_before_only()
        for part, everything in by_part.items():
            there = self._names.element(part) or part
            # A question that is asked no more of a channel which others still answer for is no loss.
            findings = [
                finding
                for finding in everything
                if finding.kind != "pass"
                or there.casefold() not in now
                or (finding.result.part, finding.result.channel) in judged
            ]
            if not findings:
                continue
            worst = max(findings, key=lambda finding: (finding.kind == "fail", finding.harm))
            number = f"{len(findings)} question{'s' if len(findings) > 1 else ''}"
            rules = ", ".join(dict.fromkeys(finding.result.rule for finding in findings))
            if there.casefold() in now:
                text = f"{there}: was judged ({rules}); now nothing is said of it"
            elif worst.result.part:
                text = f"{there} was judged ({number}); now no coupler is recognised there"
            else:
                text = f"{there} was judged ({rules}); now nothing is said of it"
            made.append(Classed("unjudged", worst, None, notes=(text,)))
        return made

    def _with_unjudged(self, found: Sequence[Classed], unjudged: Sequence[Classed]) -> list[Classed]:
        """What is judged no more with the question what it is, where that is asked of the same part now."""
        made = list(found)
        identity = self._new.judged.context.rulebook.judge_of("identity").slug
        for item in unjudged:
            part = item.finding.result.part
            there = (self._names.element(part) or "") if part else ""
            asks = [
                at
                for at, other in enumerate(made)
                if other.state == "opened" and other.finding.result.rule == identity
                if there and there in _WORDS.split(other.finding.result.message)
            ]
            if asks:
                made[asks[0]] = made[asks[0]]._replace(notes=(*made[asks[0]].notes, *item.notes))
            else:
                made.append(item)
        return made

    def _judged_before_only(self) -> set[tuple[str, str]]:
        """The channels that some rule answered for before, and none does now, by their old names."""
        before, now = (
            judged_channels(each.judged.context, each.judged.report.results) for each in (self._old, self._new)
        )
        known = {(part.casefold(), channel.casefold()) for part, channel in now}
        return {
            (part, channel)
            for part, channel in before
            if ((self._names.element(part) or part).casefold(), channel.casefold()) not in known
        }


def _standing(finding: Finding) -> str:
    """pass, fail, open; `blocked` where another result is why it does not apply, else `none`."""
    if finding.kind != "notApplicable":
        return finding.kind
    return "blocked" if finding.result.blocked_by else "none"


def _is_worse(before: Finding, after: Finding) -> bool:
    if math.isinf(before.harm) and math.isinf(after.harm):
        return after.tie > before.tie + abs(before.tie) * (WORSE - 1.0)
    return after.harm > WORSE * before.harm


def _drifted(match: Match) -> bool:
    before, after = match
    assert before is not None and after is not None
    was, now = before.result.margin, after.result.margin
    if was is None or now is None or not (math.isfinite(was.value) and math.isfinite(now.value)):
        return False
    return now.value < _DRIFT * was.value and now.value < _NEAR * now.required
