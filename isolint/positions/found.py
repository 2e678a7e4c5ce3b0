"""The frozen values of this stage."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint.positions.guess import Guess
from isolint.positions.scores import PartPlace
from isolint.positions.united import Tie


class Asked(NamedTuple):
    """A part name that is asked about: the place that speaks most for a barrier, and all instances of the name."""

    name: str
    place: PartPlace
    guess: Guess
    elements: tuple[int, ...]


class DoubtfulPair(NamedTuple):
    """Two references that may be one ground: what joins them, and the parts that lie between them.

    shorts: elements below 10 ohm between them. supplies: nets with capacitors to both.
    """

    one: int
    other: int
    shorts: tuple[int, ...]
    supplies: tuple[int, ...]
    parts: tuple[Asked, ...]


Claim = Literal["", "stated", "ignored"]
"""Whether it is stated that nothing on the board isolates, and whether that counts."""

Sheet = Literal["", "one node", "no reference"]
"""Why position is weak: all returns are one node that sources feed, or no net is named as a reference."""


class Positions(NamedTuple):
    """What the places of unexplained parts tell.

    asked: one a part name. across: unexplained parts of two or three pins between two references, by name. pairs:
    doubtful pairs of references that are asked about; one_ground: those that are taken for one. listed: all other
    unexplained parts of four pins and more by name. strays: those of them that touch a second side. connectors: those
    that carry two sides. stars: shorts between grounds of one family. unexplained, parts: how many parts of four pins
    and more there are. names: theirs. references: names of nets that are taken for references. labels: names of
    domains; grounds: of references as they are, by number. apart: elements that may isolate, so that the references at
    them may be two sides. claim: whether it is stated that nothing isolates.
    """

    asked: tuple[Asked, ...] = ()
    across: tuple[tuple[str, tuple[Tie, ...]], ...] = ()
    pairs: tuple[DoubtfulPair, ...] = ()
    one_ground: tuple[DoubtfulPair, ...] = ()
    listed: tuple[tuple[str, tuple[int, ...]], ...] = ()
    strays: tuple[PartPlace, ...] = ()
    connectors: tuple[tuple[int, tuple[int, ...]], ...] = ()
    stars: tuple[Tie, ...] = ()
    unexplained: int = 0
    parts: int = 0
    names: tuple[str, ...] = ()
    references: tuple[str, ...] = ()
    has_mains: bool = False
    sheet: Sheet = ""
    labels: Mapping[int, str] = MappingProxyType({})
    grounds: tuple[str, ...] = ()
    apart: frozenset[int] = frozenset()
    claim: Claim = ""

    def domain(self, label: int | None) -> str:
        """The name that a domain is shown under, "" for none."""
        return "" if label is None else self.labels.get(label, "")


NO_POSITIONS = Positions()
