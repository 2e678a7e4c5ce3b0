"""What a review says, as frozen values that every format and every poster reads. Knows no stage and no git."""

from __future__ import annotations

from typing import Literal, NamedTuple

from isolint.errors import Place
from isolint.results import LEVELS, Level

Class = Literal["new", "worse", "uncovered", "opened", "unjudged", "better", "fixed", "settled", "hidden", "drift"]
CLASSES: tuple[Class, ...] = (
    "new", "uncovered", "worse", "opened", "unjudged", "better", "fixed", "settled", "hidden",
    "drift",
)  # fmt: skip
"""In the order in which they are told."""
COUNTING: frozenset[Class] = frozenset({"new", "worse", "uncovered", "opened", "unjudged"})
"""Classes that count for the exit status, each item at its own level."""
LIVE: frozenset[Class] = COUNTING
"""Classes of what has to be done."""

StateKind = Literal["pass", "fail", "open", "notApplicable", "absent"]


class Number(NamedTuple):
    """One compared number: a worst value with its limit and corner, in SI units of `unit`."""

    name: str
    value: float
    unit: str
    limit: float | None = None
    sense: str = ""
    corner: str = ""


class State(NamedTuple):
    """What one revision says. margin: available over required. number: what the verdict rests on.

    measure, larger_is_worse: how bad it is where there is no margin. accepted: who holds it ("waiver", "baseline", "").
    """

    kind: StateKind
    level: Level = "none"
    message: str = ""
    where: Place | None = None
    margin: float | None = None
    required: float | None = None
    number: Number | None = None
    measure: float | None = None
    larger_is_worse: bool = True
    accepted: str = ""
    blocked_by: str = ""


class Link(NamedTuple):
    """One element of a chain: where it stands and what it is."""

    place: Place
    text: str


class Anchor(NamedTuple):
    """A line to speak on: `side` is "new" or "old", lines counted from 1, `first` where several are meant."""

    side: Literal["new", "old"]
    file: str
    line: int
    first: int = 0


class Suggestion(NamedTuple):
    """One line of a file that was tried to be written otherwise: it makes the result pass and none worse."""

    file: str
    line: int
    before: str
    after: str


CauseKind = Literal["one", "each", "any", "together", "among", "none"]


class Cause(NamedTuple):
    """What made it: changes in words, each with its place.

    kind: one change; `each` of several made it in its own instance; `any` of several undoes it; only all `together` do;
    one `among` them, not narrowed down after so many trials; none known. proven: whether putting it back was tried, or
    it is all that changed.
    """

    kind: CauseKind = "none"
    changes: tuple[str, ...] = ()
    anchors: tuple[Anchor, ...] = ()
    more: int = 0
    trials: int = 0
    proven: bool = False


class Identity(NamedTuple):
    """What an item is, by names of the base where they are paired: what a comment is found again by."""

    file: str
    definition: str
    element: str
    subject: str
    ordinal: int = 0


class Item(NamedTuple):
    """One thing that the change did: results of one class at one card.

    level: at which it counts. counts: whether it makes the exit status 1. instances: how many say it, `of` how many of
    the definition there are on the board, `which` they are; boards: on how many, `on` which. instead: the rule that
    failed in its place before. hides: what is not judged behind it.
    """

    state: Class
    rule: str
    role: str
    subject: str
    netlist: str
    level: Level
    counts: bool
    identity: Identity
    own: Identity
    before: State
    after: State
    where: Place
    chain: tuple[Link, ...] = ()
    members: tuple[str, ...] = ()
    cause: Cause = Cause()
    cure: str = ""
    details: tuple[str, ...] = ()
    anchors: tuple[Anchor, ...] = ()
    suggestion: Suggestion | None = None
    instances: int = 1
    of: int = 1
    boards: int = 1
    which: tuple[str, ...] = ()
    on: tuple[str, ...] = ()
    instead: str = ""
    hides: tuple[str, ...] = ()
    came: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    harm: float = 0.0
    after_merge: str = ""


class ValueChange(NamedTuple):
    """One electrical difference, or one change of policy: what, before, after; "" where there is none."""

    kind: str
    what: str
    before: str
    after: str
    file: str = ""
    line: int = 0

    @property
    def text(self) -> str:
        """The change in words."""
        if self.before and self.after:
            return f"{self.what}: {self.before} -> {self.after}"
        if self.before or self.after:
            return f"{self.what}: {'gone' if self.before else 'came'} ({self.before or self.after})"
        return self.what


class Standing(NamedTuple):
    """A failure or open result of head that is no item: what it is, so that a comment on it is known to be live."""

    identity: Identity
    rule: str
    role: str
    kind: str
    own: Identity


class NetlistReview(NamedTuple):
    """One netlist in both revisions; a path is "" where there is none.

    fate: "", "added", "gone", "moved", "copied". silent: "" or why it could not be judged. differences: the electrical
    ones, `more` of them not listed.
    """

    old: str
    new: str
    fate: str = ""
    notes: tuple[str, ...] = ()
    differences: tuple[ValueChange, ...] = ()
    more: int = 0
    judged: bool = True
    standing: tuple[Standing, ...] = ()

    @property
    def name(self) -> str:
        """The path to show."""
        return self.new or self.old


class Review(NamedTuple):
    """The whole answer. base, head: ids, head "" for a work tree. fail_on: the strictest of the netlists."""

    version: str
    base: str
    head: str
    netlists: tuple[NetlistReview, ...] = ()
    items: tuple[Item, ...] = ()
    policy: tuple[ValueChange, ...] = ()
    notes: tuple[str, ...] = ()
    errors: tuple[str, ...] = ()
    caution: str = ""
    fail_on: Level = "error"

    @property
    def complete(self) -> bool:
        """Whether everything was judged that should be."""
        return not self.errors

    @property
    def exit_status(self) -> int:
        """0 the change brought nothing that counts; 1 it did; 2 something could not be done."""
        return 2 if self.errors else int(any(item.counts for item in self.items))


def counts_at(level: Level, fail_on: Level) -> bool:
    """Whether a level reaches the one that makes the exit status 1."""
    return level != "none" and LEVELS.index(level) >= LEVELS.index(fail_on)
