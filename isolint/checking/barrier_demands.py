"""What is stated of the barrier between two sides, and the lines that would state what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import copy
from typing import Any, Final, NamedTuple, TypeVar, cast

from isolint.checking.context import Context
from isolint.checking.joint_results import barrier_subject
from isolint.facts import BarrierFacts, Fact, SideFacts, Stated
from isolint.interfaces.entities import Barrier, Side
from isolint.interfaces.facing_sides import bonded
from isolint.interfaces.references import nets_named
from isolint.results import MissingFact
from isolint.standards.bridging import GRADES
from isolint.tables import basic_string, dotted, quoted

T = TypeVar("T")

SAFE = frozenset(("selv", "earth", "chassis"))
"""Kinds of sides between which nothing but functional insulation is asked for (from memory, high confidence)."""


_RANK: Final[dict[str, int]] = {
    word: rank
    for words in (
        # By layers first: two means of operator protection are more than basic insulation.
        ("functional", "basic", "supplementary", "1 MOOP", "1 MOPP", "double", "reinforced", "2 MOOP", "2 MOPP"),
        ("iec-61010-1", "iec-60664-1", "iec-62368-1", "iec-60601-1"),
        ("I", "II", "IIIa", "IIIb"),
    )
    for rank, word in enumerate(words)
}
"""Of words that several tables state about two sides, the last one counts."""
_SMALLER_IS_STRICTER: Final = frozenset(
    ("touch_current", "touch_current_fault", "edge_time", "board_creepage", "board_clearance", "printed")
)

_SHARED = ("mains", "overvoltage_category", "working_voltage", "working_peak", "impulse")
"""What each of two layers with a floating middle must bear as well."""


class WantedInsulation(NamedTuple):
    """What the insulation between two sides must be.

    grade: "basic" or "reinforced", "" where none is wanted or where nobody stated it. why: in words. missing: what
    would settle it.
    """

    grade: str
    why: str
    missing: tuple[MissingFact, ...] = ()


class SidePair:
    """Two sides with the facts about their barrier; those of stated sides that are joined to them count as well."""

    def __init__(self, context: Context, sides: tuple[str, str]) -> None:
        self.context = context
        one, other = sorted(sides, key=str.casefold)
        self.sides = (one, other)
        shown = context.kept(shown_names)

        def stands(name: str) -> str:
            return shown.get(name.casefold(), name).casefold()

        own = {stands(side) for side in self.sides}
        self.facts: tuple[BarrierFacts, ...] = tuple(
            fact for fact in context.facts.barriers if {stands(side) for side in fact.between} == own
        )
        self.beyond: tuple[BarrierFacts, ...] = ()
        known = {side.name.casefold(): side for side in context.interfaces.separation.sides}
        self.known: tuple[Side | None, ...] = tuple(known.get(side.casefold()) for side in self.sides)

    @property
    def name(self) -> str:
        """Both names, for messages."""
        return " and ".join(self.sides)

    def exactly(self, nets: Iterable[int]) -> SidePair:
        """The same with the tables of those two stated sides alone on whose own nets something lies, if there are any.

        A capacitor to protective earth is no capacitor to the circuit that is joined to earth elsewhere.
        """
        context, own = self.context, self.context.kept(stated_nets)
        side_of, sides = context.interfaces.separation.side_of_net, context.interfaces.separation.sides
        ends: dict[str, set[str]] = {name: set() for name in self.sides}
        for net in nets:
            index = side_of.get(net)
            if index is not None and sides[index].name in ends:
                ends[sides[index].name].add(own.get(net, ""))
        names = {next(iter(found)) for found in ends.values() if len(found) == 1}
        exact = tuple(fact for fact in self.facts if {side.casefold() for side in fact.between} == names)
        if not exact or len(exact) == len(self.facts):
            return self
        narrowed = copy(self)
        narrowed.facts = exact
        return narrowed

    @property
    def kinds(self) -> tuple[str, ...]:
        """The stated kind of each side, "" where nobody stated it."""
        return tuple("" if side is None else side.kind for side in self.known)

    @property
    def barrier(self) -> Barrier | None:
        """The barrier between them, None where nothing but a bridge lies there."""
        barriers = self.context.interfaces.separation.barriers
        return next((found for found in barriers if set(found.sides) == set(self.sides)), None)

    @property
    def subject(self) -> str:
        """Stable identity for results."""
        barrier = self.barrier
        return " | ".join(self.sides) if barrier is None else barrier_subject(self.context, barrier)

    def stated(self, row: Fact[T]) -> Stated[T] | None:
        """What is stated of the barrier in a row: of several tables about these two sides the strictest counts."""
        facts = (*self.facts, *self.beyond) if row.key in _SHARED else self.facts
        found: Iterator[Stated[T] | None] = (getattr(fact, row.attribute) for fact in facts)
        stated = [value for value in found if value is not None]
        if len(stated) < 2:
            return stated[0] if stated else None
        if isinstance(stated[0].value, str):
            return max(stated, key=lambda one: _RANK[str(one.value)])
        least = row.key in _SMALLER_IS_STRICTER
        return (min if least else max)(stated, key=lambda one: cast("float", one.value))

    def written(self) -> list[tuple[str, str]]:
        """What is stated of the barrier, as written: of several tables what counts."""
        rows: dict[str, Fact[Any]] = {row.attribute: cast("Fact[Any]", row) for row in BarrierFacts.ROWS.values()}
        own = {attribute for fact in self.facts for attribute, _ in fact.items()}
        return [
            (row.key, stated.text or str(stated.value))
            for attribute, row in rows.items()
            if attribute in own and (stated := self.stated(row)) is not None
        ]

    @property
    def _bonded(self) -> bool:
        """Whether a bond permits to join its two sides, neither of which hurts."""
        alias = bonded(self.context.facts)
        one, other = (alias.get(side.casefold(), side) for side in self.sides)
        return one == other and not {"mains", "hazardous"}.intersection(self.kinds)

    @property
    def without_peak(self) -> float:
        """The largest working voltage of a table that does not state its peak."""
        each = (fact.working_voltage for fact in (*self.facts, *self.beyond) if fact.working_peak is None)
        return max((stated.value for stated in each if stated is not None), default=0.0)

    def number(self, row: Fact[float]) -> float | None:
        """A stated quantity in SI units."""
        found = self.stated(row)
        return None if found is None else found.value

    def key(self, key: str) -> str:
        """The dotted key that states something of the barrier."""
        return f"{self.facts[0].key}.{key}" if self.facts else f"barriers.{quoted(' | '.join(self.sides))}.{key}"

    def lines(self, line: str) -> str:
        """What to write to state something of the barrier; a side that nobody named yet is named as well."""
        if self.facts:
            return f"[[barriers]]\nbetween = [{', '.join(map(basic_string, self.facts[0].between))}]\n{line}"
        written: list[str] = []
        for name, side in zip(self.sides, self.known, strict=True):
            if side is None or not side.stated:
                net = name if side is None or side.reference < 0 else self.context.net(side.reference)
                written += [f"[{dotted('sides', name)}]", SideFacts.nets.entry(f"[{quoted(net)}]")]
        between = ", ".join(map(quoted, self.sides))
        return "\n".join((*written, "[[barriers]]", f"between = [{between}]", line))

    def missing(self, fact: Fact[Any], example: str = "", *more: Fact[Any]) -> MissingFact:
        """The fact to write about the barrier, with its lines. Names are quoted already."""
        lines = "\n".join((fact.entry(example=example), *(row.entry() for row in more)))
        return MissingFact(self.context.settings_file, self.key(fact.key), self.lines(lines))

    def kind_missing(self, name: str) -> MissingFact:
        """The lines that state the kind of one of its sides; a side that nobody named yet is named as well."""
        side = self.known[self.sides.index(name)]
        if side is not None and side.stated:
            return self.context.lookup.missing(SideFacts.kind, side.stated)
        net = name if side is None or side.reference < 0 else self.context.net(side.reference)
        lines = (f"[{dotted('sides', name)}]", SideFacts.nets.entry(f"[{quoted(net)}]"), SideFacts.kind.entry())
        return self.context.lookup.missing_lines(SideFacts.kind, name, *lines)

    def wanted(self) -> WantedInsulation:
        """The insulation that the barrier needs, by what is stated of it and of its sides."""
        insulation = self.stated(BarrierFacts.insulation)
        if insulation is not None and insulation.value == "functional":
            return WantedInsulation("", "the insulation is stated functional")
        if insulation is None and all(kind in SAFE for kind in self.kinds) and self.stated(BarrierFacts.mains) is None:
            return WantedInsulation("", f"between {' and '.join(self.kinds)} functional insulation is enough")
        if insulation is None and self._bonded:
            return WantedInsulation("", f"sides {self.name} may be joined: they are bonded")
        if insulation is None:
            fact = self.missing(BarrierFacts.insulation)
            return WantedInsulation("", f"nobody stated the insulation between sides {self.name}", (fact,))
        return WantedInsulation(GRADES[insulation.value], f"{insulation.value} insulation")


def stated_nets(context: Context) -> dict[int, str]:
    """The stated side, in lower case, of each net that a `[sides]` table names."""
    return {
        net: name.casefold()
        for name, fact in context.facts.sides.items()
        for written in (fact.nets.value if fact.nets else ())
        for net in nets_named(context.circuit, written)
    }


def shown_names(context: Context) -> dict[str, str]:
    """The name under which each stated side is shown, by its own in lower case: of joined sides the first names all."""
    separation = context.interfaces.separation
    found: dict[str, str] = {}
    for name, fact in context.facts.sides.items():
        for written in fact.nets.value if fact.nets else ():
            indices = (separation.side_of_net.get(net) for net in nets_named(context.circuit, written))
            index = next((index for index in indices if index is not None), None)
            if index is not None:
                found.setdefault(name.casefold(), separation.sides[index].name)
    return found


def pairs(context: Context, more: Iterable[tuple[str, str]] = ()) -> list[SidePair]:
    """Every two sides with a barrier between them, then those of `more`."""
    barriers = context.interfaces.separation.barriers
    each = (tuple(sorted(sides, key=str.casefold)) for sides in (*(barrier.sides for barrier in barriers), *more))
    return [SidePair(context, (one, other)) for one, other in dict.fromkeys(each)]
