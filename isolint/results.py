"""What a check says: results and the report that holds them, as frozen values.

Knows nothing of netlists, rules or formats. Kinds and levels are those of SARIF 2.1.0 (key `sarif-2.1.0`):
`level` is `none` unless `kind` is `fail`. SI numbers everywhere, temperatures in degrees Celsius.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint.amount_held import Held
from isolint.answered import Answers
from isolint.errors import Place

Kind = Literal["pass", "fail", "open", "notApplicable"]
Level = Literal["none", "note", "warning", "error"]
LEVELS: tuple[Level, ...] = ("none", "note", "warning", "error")


UNJUDGED = "unjudged"
"""The role of a result that says what no rule asks of a type yet."""

INTERNAL = "internal"
"""The role of a result that says that isolint itself failed; no acceptance holds it."""


class Limit(NamedTuple):
    """One bound of a quantity."""

    sense: Literal["at_least", "at_most"]
    value: float


class Evidence(NamedTuple):
    """One number that a verdict rests on, with its worst-case interval and how it was got.

    `formula` is `name = formula = numbers = result unit`, ready to be redone by hand. `corners` says at which
    corner each end was found. None means unknown.
    """

    name: str
    symbol: str
    unit: str
    nominal: float | None = None
    min: float | None = None
    max: float | None = None
    limit: Limit | None = None
    corners: Mapping[str, str] = MappingProxyType({})
    formula: str = ""
    source: str = ""


class Assumption(NamedTuple):
    """A value that nobody stated and that the verdict used; `flips_at` is where the verdict would change."""

    name: str
    value: str
    unit: str
    origin: str
    flips_at: float | None = None


class MissingFact(NamedTuple):
    """A fact that would settle an open result: the file and key to write, and an example line."""

    file: str
    key: str
    example: str


class Margin(NamedTuple):
    """Available over required; 1.00 is just enough."""

    value: float
    required: float


class Measure(NamedTuple):
    """A number that tells how bad a failure is, so that a baseline sees it get worse: margin, resistance, excess."""

    value: float
    larger_is_worse: bool

    @classmethod
    def number_of(cls, number: int) -> Measure:
        """How many of what is wrong: pins, LEDs, facts."""
        return cls(float(number), larger_is_worse=True)

    @property
    def harm(self) -> float:
        """What grows with harm, to compare results of one kind."""
        return self.value if self.larger_is_worse else -self.value


class Related(NamedTuple):
    """Another place in the chain and its role there."""

    place: Place
    text: str


class Suppression(NamedTuple):
    """Why a failure does not count: an accepted waiver."""

    kind: Literal["external"]
    status: Literal["accepted"]
    justification: str
    by: str
    until: str


class Result(NamedTuple):
    """One verdict of one rule on one subject.

    subject: what is judged, as a stable logical name (coupler, channel, bridge elements, side names).
    role: which of several judgements on that subject (for example a pin or an output net).
    blocked_by: the rule whose result makes this one notApplicable.
    counts_as: the level at which an open result counts for the exit status. level: `none` unless kind is fail.
    acceptable: whether waivers and baselines may accept it; what is wrong with one of them they may not.
    measure: how bad it is; the margin where there is one.
    members: the elements of a joint, which alone tell it from another one between the same sides.
    group: what makes this fault one, whichever channel carries it; no name that a tool made up.
    more: further lines of the message: where a part lies, what would fail if it were what it perhaps is.
    """

    netlist: str
    rule: str
    kind: Kind
    level: Level
    message: str
    where: Place
    subject: str
    role: str = ""
    instance: str = ""
    part: str = ""
    channel: str = ""
    related: tuple[Related, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    missing: tuple[MissingFact, ...] = ()
    margin: Margin | None = None
    remedy: str = ""
    blocked_by: str = ""
    counts_as: Level = "none"
    suppression: Suppression | None = None
    baseline_state: Literal["new", "unchanged", "updated", "absent"] | None = None
    acceptable: bool = True
    measure: Measure | None = None
    members: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    group: tuple[str, ...] = ()

    @property
    def fingerprint(self) -> str:
        """Identity without path, line numbers, values: `isolint/v1` over rule, subject and role."""
        return _digest("isolint/v1", self.rule, self.subject.casefold(), self.role.casefold())

    @property
    def group_fingerprint(self) -> str:
        """Identity of the fault rather than of who carries it: `isolint/v2` over its group."""
        return _digest("isolint/v2", *(self.group or (self.rule, self.role.casefold(), self.subject.casefold())))

    @property
    def is_crash(self) -> bool:
        """Whether the rule raised instead of judging."""
        return self.kind == "open" and self.role == INTERNAL

    @property
    def sort_key(self) -> tuple[str, int, int, str, str, str, str]:
        """The one order of results: file, line, rule; then column, subject and role so that ties are stable."""
        return (self.where.file, self.where.line, self.where.column, self.rule, self.subject, self.role, self.message)


def _digest(*words: str) -> str:
    import hashlib

    return hashlib.sha256("\x1f".join(words).encode("utf-8", "backslashreplace")).hexdigest()[:32]


class SideRecord(NamedTuple):
    """One galvanic side, as the reports show it. bonded: stated sides that `[[bonds]]` permit to join it."""

    name: str
    reference: str
    supplies: tuple[str, ...]
    kind: str
    nets: int
    elements: int
    bonded: tuple[str, ...] = ()


class BarrierRecord(NamedTuple):
    """Two sides, what is stated of their barrier and what crosses it."""

    sides: tuple[str, str]
    stated: Mapping[str, str]
    parts: tuple[str, ...]
    bridges: tuple[str, ...]
    joined: bool


class Remark(NamedTuple):
    """What a rule says against something that lies across a barrier: `mark` is its level, `open` or `waived`."""

    mark: str
    rule: str
    message: str


CrossingKind = Literal["part", "resistance", "capacitance", "joint", "unknown"]


class Hop(NamedTuple):
    """One net or element of a conducting path. cut: whether it is what must go to separate the sides."""

    kind: Literal["net", "element"]
    text: str
    cut: bool = False


class Crossing(NamedTuple):
    """One thing that lies across a barrier, as the inventory shows it.

    name: its elements. what: type and model, or value. details: ratings, class, path. ends: the nets that it touches on
    each of the two sides. path: what a joint leads over, from net to net; its words are among the details. weakest: its
    amount with the least margin if nothing else across holds less, "" else.
    """

    kind: CrossingKind
    name: str
    what: str
    details: tuple[str, ...]
    ends: tuple[tuple[str, ...], tuple[str, ...]]
    place: Place
    remarks: tuple[Remark, ...] = ()
    path: tuple[Hop, ...] = ()
    weakest: str = ""


class BarrierSheet(NamedTuple):
    """One barrier of the inventory: what is stated of it, what crosses it, and why it can't be judged ("" if it can).

    stated: pairs of key and value. remarks: what rules say of the barrier as a whole. held: weakest first. notes: what
    is assumed, and what its profile does not carry.
    """

    sides: tuple[str, str]
    stated: tuple[tuple[str, str], ...]
    crossings: tuple[Crossing, ...]
    doubt: str = ""
    remarks: tuple[Remark, ...] = ()
    held: tuple[Held, ...] = ()
    notes: tuple[str, ...] = ()


class Inventory(NamedTuple):
    """What separates the sides of one netlist, and what lies across.

    others: joints and parts that no barrier shows. remarks: what rules say that stands at no barrier and no crossing.
    crashed: that isolint itself failed at some rules, so that this is no whole answer; "" if it did not.
    """

    version: str
    netlist: str
    sides: tuple[SideRecord, ...]
    barriers: tuple[BarrierSheet, ...]
    others: tuple[Crossing, ...]
    remarks: tuple[Remark, ...]
    notes: tuple[str, ...]
    crashed: str = ""


class CouplerRecord(NamedTuple):
    """One channel of a coupler, as the reports show it."""

    part: str
    type: str
    channel: str
    model: str
    recognised_by: str
    drive: tuple[str, ...]
    load: tuple[str, ...]
    sides: tuple[str, str]
    place: Place


class PartGroup(NamedTuple):
    """Unexplained parts of one name: the elements, and why they are listed ("" for no more than that they are)."""

    name: str
    elements: tuple[str, ...]
    why: str = ""


class Question(NamedTuple):
    """A kind of fact that open results lack: the type of part or table, its key, and how many results wait for it."""

    about: str
    key: str
    number: int


class Coverage(NamedTuple):
    """How much of a netlist was understood: cards in all, understood, and the rest by reason.

    measured: channels of which some rule says whether they work. held, failed, open: channels by what is said of them
    in all; answers: the same one by one, with unused ones and the parts of which no channel is made. parts, explained:
    those of four pins and more, connectors apart. unexplained: the listed ones by name. unanswered: what is lacking,
    the most wanted first. notes: what else is told of positions.
    silence: why nothing was judged, as far as parts tell.
    """

    cards: int
    understood: int
    reasons: Mapping[str, int] = MappingProxyType({})
    channels: int = 0
    measured: int = 0
    held: int = 0
    failed: int = 0
    open: int = 0
    parts: int = 0
    explained: int = 0
    unexplained: tuple[PartGroup, ...] = ()
    unanswered: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()
    silence: str = ""
    answers: tuple[Answers, ...] = ()

    @property
    def judged(self) -> int:
        """Channels of which it is known whether they hold."""
        return self.held + self.failed

    @property
    def share(self) -> float:
        """Share of cards understood, 1.0 for a netlist without cards."""
        return self.understood / self.cards if self.cards else 1.0


class WorksheetLine(NamedTuple):
    """One line of a calculation sheet: `name = formula = numbers = result unit`, with where it comes from."""

    text: str
    origin: str = ""


class PlotCurve(NamedTuple):
    """A quantity over time: seconds with values in a unit; marks are levels with their words."""

    name: str
    unit: str
    points: tuple[tuple[float, float], ...]
    marks: tuple[tuple[str, float], ...] = ()


class Plot(NamedTuple):
    """What a drawing of a section shows, all over the same time."""

    title: str
    curves: tuple[PlotCurve, ...]


class WorksheetSection(NamedTuple):
    """One titled block of a calculation sheet. crashed: that isolint itself failed at it, "" if it did not."""

    title: str
    lines: tuple[WorksheetLine, ...]
    crashed: str = ""
    plot: Plot | None = None


class NetlistReport(NamedTuple):
    """Everything that was found in one netlist; `fail_on` is its own level where its settings state one."""

    netlist: str
    results: tuple[Result, ...]
    coverage: Coverage
    files: tuple[str, ...] = ()
    sides: tuple[SideRecord, ...] = ()
    barriers: tuple[BarrierRecord, ...] = ()
    couplers: tuple[CouplerRecord, ...] = ()
    notes: tuple[str, ...] = ()
    fail_on: Level | None = None


class RuleRecord(NamedTuple):
    """What a report may say of a rule: slug, group, default level, one-line summary, whole page, types asked, facts."""

    slug: str
    group: str
    level: Level
    summary: str
    page: str
    asked_of: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()


class TypeRecord(NamedTuple):
    """What a report may say of a type of part.

    gaps: questions that no rule answers yet. blind: what nothing ever asks.
    """

    name: str
    traits: tuple[str, ...]
    gaps: tuple[str, ...] = ()
    blind: tuple[str, ...] = ()


class Report(NamedTuple):
    """The whole answer of one run, in its final order. Formats are pure functions of it."""

    version: str
    netlists: tuple[NetlistReport, ...]
    rules: tuple[RuleRecord, ...]
    fail_on: Level = "error"
    errors: tuple[str, ...] = ()

    @property
    def results(self) -> tuple[Result, ...]:
        """All results of all netlists, in order."""
        return tuple(result for report in self.netlists for result in report.results)

    def counted_level(self, result: Result) -> Level:
        """The level at which a result counts for the exit status: its own, or for opens what the settings say."""
        if result.suppression is not None or result.baseline_state in ("unchanged", "absent"):
            return "none"
        if result.kind == "open":
            return result.counts_as
        return result.level

    @property
    def exit_status(self) -> int:
        """0 nothing at or above `fail_on`; 1 failures; 2 something could not be done, or isolint itself failed."""
        if self.errors or any(result.is_crash for result in self.results):
            return 2
        return int(any(self.decides(netlist, result) for netlist in self.netlists for result in netlist.results))

    def decides(self, netlist: NetlistReport, result: Result) -> bool:
        """Whether a result of a netlist makes the exit status 1."""
        at = netlist.fail_on or self.fail_on
        return LEVELS.index(self.counted_level(result)) >= LEVELS.index(at)


def told_of_crashes(results: Iterable[Result]) -> str:
    """The rules that isolint itself failed at, in one line; "" where there are none."""
    crashed = dict.fromkeys(result.rule for result in results if result.is_crash)
    return f"isolint itself failed at {', '.join(crashed)}; please report it" if crashed else ""


def in_order(results: Sequence[Result]) -> tuple[Result, ...]:
    """Sort results once, before any format sees them."""
    return tuple(sorted(results, key=lambda result: result.sort_key))


def renamed(report: NetlistReport, rename: Callable[[str], str]) -> NetlistReport:
    """The same report with every path to a file renamed, for example made relative to where the reader stands."""

    def moved(place: Place) -> Place:
        return place._replace(file=rename(place.file))

    results = tuple(
        result._replace(
            netlist=rename(result.netlist),
            where=moved(result.where),
            related=tuple(item._replace(place=moved(item.place)) for item in result.related),
            missing=tuple(fact._replace(file=rename(fact.file)) for fact in result.missing),
        )
        for result in report.results
    )
    return report._replace(
        netlist=rename(report.netlist),
        results=results,
        files=tuple(map(rename, report.files)),
        couplers=tuple(coupler._replace(place=moved(coupler.place)) for coupler in report.couplers),
    )
