"""What a rule is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from isolint import types
from isolint.checking.demonstration import whole
from isolint.results import Level, Result, RuleRecord
from isolint.types import PartType

if TYPE_CHECKING:
    from isolint.checking.context import Context
    from isolint.interfaces.entities import Channel, JointKind
    from isolint.netlist.cards import NoteKind
    from isolint.worstcase.uncertain import Aspect

    Matter = Literal[Aspect, JointKind, NoteKind, "identity", "pins", "waivers", "insulation", "feed"]
    """What a rule may judge: an aspect of a channel, a joint of sides, a note of the reader, or what a part is, its
    order of pins, the waivers, what feeds a side."""

Group = Literal["barrier", "drive", "load", "mains switching", "time, heat", "reading"]


class Rule(NamedTuple):
    """One rule: its slug names the bad pattern.

    judge: called for each channel. survey: called once for the netlist. A rule has one of them, or none when its
    results come from the engine. beside: what a rule with `judge` asks, once for the netlist, of parts of which no
    channels are made, and asked_beside the traits or types that these have.
    judges: the matters of which it is the judge; each has one rule. needs: aspects of a
    channel that must be sound for it to apply. blocks: aspects that its failure makes unsound. facts: keys of
    isolint.toml or of part records that it may need. page: the module docstring,
    in which shared settings may be named.
    asked_of: traits of types, or types, of whose parts and channels it is asked; none for what is asked of a netlist.
    concerns: of which channels of these it is asked, where what they are connected to decides; of others it says
    nothing at all.
    structural: it looks at what is connected to what, so that a channel counts as judged if it fails. measures: it
    holds a number that answers for the channel against its limit, so that a channel counts as judged whether it fails
    or passes. open_level: at which level its open results count where the settings say nothing; where
    it is None error in the group of the barrier, else note. acceptable: whether waivers and baselines may accept its
    failures. room: what makes room for another value of a resistor that this rule's limit closes the window for.
    """

    slug: str
    group: Group
    level: Level
    page: str
    asked_of: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    judge: Callable[[Context, Channel], Iterable[Result]] | None = None
    survey: Callable[[Context], Iterable[Result]] | None = None
    beside: Callable[[Context], Iterable[Result]] | None = None
    asked_beside: tuple[str, ...] = ()
    needs: tuple[Aspect, ...] = ()
    blocks: tuple[Aspect, ...] = ()
    judges: tuple[Matter, ...] = ()
    structural: bool = False
    measures: bool = False
    open_level: Level | None = None
    acceptable: bool = True
    concerns: Callable[[Context, Channel], bool] | None = None
    room: str = ""

    def asks(self, kind: PartType) -> bool:
        """Whether it is asked of parts of a type, or of their channels where channels are made of them."""
        if kind.name in self.asked_beside or not kind.traits.isdisjoint(self.asked_beside):
            return True
        return self.asks_channels(kind) and (self.judge is None or "channel" in kind.traits)

    def asks_channels(self, kind: PartType) -> bool:
        """Whether it is asked of each channel of a type, where it has a `judge`."""
        return kind.name in self.asked_of or not kind.traits.isdisjoint(self.asked_of)

    @property
    def opens_at(self) -> Level:
        """The level at which its open results count where the settings say nothing."""
        return self.open_level or ("error" if self.group == "barrier" else "note")

    @property
    def summary(self) -> str:
        """The first sentence of the page."""
        return self.page.strip().split("\n\n", 1)[0].replace("\n", " ").strip()

    @property
    def asked_types(self) -> tuple[str, ...]:
        """The names of the types that it is asked of."""
        return tuple(kind.name for kind in types.BY_NAME.values() if self.asks(kind))

    @property
    def record(self) -> RuleRecord:
        """What reports may know of it."""
        page, types_ = whole(self.page).strip(), self.asked_types
        return RuleRecord(self.slug, self.group, self.level, self.summary, page, types_, self.facts)


class Rulebook:
    """All rules of this version, found by what they judge and by their slugs."""

    def __init__(self, rules: Sequence[Rule]) -> None:
        self.rules = tuple(rules)
        self._by_matter = {matter: rule for rule in rules for matter in rule.judges}
        self._by_slug = {rule.slug: rule for rule in rules}

    def judge_of(self, matter: Matter) -> Rule:
        """The rule that judges a matter."""
        return self._by_matter[matter]

    def named(self, slug: str) -> Rule | None:
        """The rule of a slug, None where this version has none."""
        return self._by_slug.get(slug)
