"""What a rule is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Literal, NamedTuple

from isolint.results import Level, Result, RuleRecord

if TYPE_CHECKING:
    from isolint.checking.context import Context
    from isolint.interfaces.entities import Channel

Group = Literal["barrier", "drive", "load", "time, heat", "reading"]
Aspect = Literal["drive", "led-current", "transfer", "load", "level", "carrying", "port", "off", "off-state", "heat"]


class Rule(NamedTuple):
    """One rule: its slug names the bad pattern.

    judge: called for each channel. survey: called once for the netlist. A rule has one of them, or none when its
    results come from the reader. needs: aspects of a channel that must be sound for it to apply. blocks: aspects that
    its failure makes unsound. facts: keys of isolint.toml or of part records that it may need. page: the module
    docstring.
    """

    slug: str
    group: Group
    level: Level
    page: str
    facts: tuple[str, ...] = ()
    judge: Callable[[Context, Channel], Iterable[Result]] | None = None
    survey: Callable[[Context], Iterable[Result]] | None = None
    needs: tuple[Aspect, ...] = ()
    blocks: tuple[Aspect, ...] = ()

    @property
    def summary(self) -> str:
        """The first sentence of the page."""
        return self.page.strip().split("\n\n", 1)[0].replace("\n", " ").strip()

    @property
    def record(self) -> RuleRecord:
        """What reports may know of it."""
        return RuleRecord(self.slug, self.group, self.level, self.summary, self.page.strip())
