"""The value that reading isolint.toml gives, and the questions it answers."""

from __future__ import annotations

import posixpath
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from isolint.errors import Mistake
from isolint.facts.matching import Finder, Seen, watched_facts
from isolint.facts.paths import FILE_NAME, RECORDS_NAME, settings_paths
from isolint.facts.stated import (
    TABLES,
    BarrierFacts,
    Bond,
    ElementFacts,
    Environment,
    Fact,
    GroupFacts,
    InputFacts,
    Limits,
    LineFacts,
    LoadFacts,
    OutputFacts,
    PairFacts,
    Reading,
    SideFacts,
    SignalFacts,
    Stated,
    SupplyFacts,
    Waiver,
)
from isolint.rows import Rows
from isolint.tables import written

T = TypeVar("T")

NOTHING = ElementFacts()


class Facts(NamedTuple):
    """Everything stated for one netlist. `files` are the isolint.toml read, nearest first.

    part_files: the part records named by `parts`, resolved. malformed_waivers accept nothing; they stop no check, since
    what they were meant to accept is then reported. placeholders: file and key of each value that is still "?". The
    finders hold the tables whose names are patterns;
    ask through the methods.
    """

    files: tuple[str, ...] = ()
    part_files: tuple[str, ...] = ()
    open: Stated[str] | None = None
    fail_on: Stated[str] | None = None
    parts: Stated[tuple[str, ...]] | None = None
    reading: Reading = Reading()
    environment: Environment = Environment()
    limits: Limits = Limits()
    levels: Mapping[str, Stated[str]] = MappingProxyType({})
    sides: Mapping[str, SideFacts] = MappingProxyType({})
    groups: Mapping[str, GroupFacts] = MappingProxyType({})
    bonds: tuple[Bond, ...] = ()
    pairs: tuple[PairFacts, ...] = ()
    barriers: tuple[BarrierFacts, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    malformed_waivers: tuple[Mistake, ...] = ()
    placeholders: tuple[tuple[str, str], ...] = ()
    elements: Finder[ElementFacts] = Finder({}, ElementFacts)
    supplies: Finder[SupplyFacts] = Finder({}, SupplyFacts)
    outputs: Finder[OutputFacts] = Finder({}, OutputFacts)
    inputs: Finder[InputFacts] = Finder({}, InputFacts)
    lines: Finder[LineFacts] = Finder({}, LineFacts)
    signals: Finder[SignalFacts] = Finder({}, SignalFacts)
    loads: Finder[LoadFacts] = Finder({}, LoadFacts)

    def of(self, fact: Fact[T], name: str = "") -> Stated[T] | None:
        """What is stated of a fact, for the element, net or group of that name."""
        if fact.table in ("environment", "limits", "reading"):
            rows: Rows | None = getattr(self, fact.table)
        elif fact.table == "groups":
            rows = self.group(name)
        else:
            rows = getattr(self, fact.table).find(name)
        found: Stated[T] | None = None if rows is None else getattr(rows, fact.attribute)
        return found

    def number(self, fact: Fact[float], name: str = "") -> float:
        """A fact that is a point: as stated, else the one that counts by default."""
        found = self.of(fact, name)
        return fact.counts.low if found is None else found.value

    def element(self, path: str) -> ElementFacts:
        """Facts about the element with this path ("Xch1.R1"); all None when nothing is stated."""
        return self.elements.find(path) or NOTHING

    def supply(self, net: str) -> SupplyFacts | None:
        """Facts about the supply that holds this net, None when no key matches."""
        return self.supplies.find(net)

    def output(self, net: str) -> OutputFacts | None:
        """Facts about the output that drives this net, None when no key matches."""
        return self.outputs.find(net)

    def input(self, net: str) -> InputFacts | None:
        """Facts about the input that reads this net, None when no key matches."""
        return self.inputs.find(net)

    def line(self, net: str) -> LineFacts | None:
        """Facts about the field line that is this net, None when no key matches."""
        return self.lines.find(net)

    def signal(self, net: str) -> SignalFacts | None:
        """Facts about the signal on this net, None when no key matches."""
        return self.signals.find(net)

    def load(self, net: str) -> LoadFacts | None:
        """Facts about the load on this net, None when no key matches."""
        return self.loads.find(net)

    def group(self, name: str) -> GroupFacts | None:
        """The group of outputs with this name (case does not matter)."""
        return next((group for key, group in self.groups.items() if key.casefold() == name.casefold()), None)

    def side(self, name: str) -> SideFacts | None:
        """The stated side with this name (case does not matter)."""
        return next((side for key, side in self.sides.items() if key.casefold() == name.casefold()), None)

    def barrier(self, one: str, other: str) -> BarrierFacts | None:
        """What is stated of the barrier between two sides, in either order."""
        pair = {one.casefold(), other.casefold()}
        return next((b for b in self.barriers if {side.casefold() for side in b.between} == pair), None)

    def nearest_file(self, netlist: str, root: str = "") -> str:
        """The isolint.toml that new facts belong in: the nearest one read, else one beside the netlist."""
        beside = posixpath.join(posixpath.dirname(netlist), FILE_NAME)
        return next((path for path in settings_paths(netlist, root) if path in self.files), beside)

    def record_file(self, settings: str) -> str:
        """The file that new part records belong in: the first one read, else one beside the settings."""
        return next(iter(self.part_files), posixpath.join(posixpath.dirname(settings), RECORDS_NAME))

    def watched(self, seen: Seen) -> Facts:
        """The same facts, calling `seen` with the file and the key of each value that is asked for."""
        return self._replace(
            reading=watched_facts(self.reading, seen),
            environment=watched_facts(self.environment, seen),
            limits=watched_facts(self.limits, seen),
            sides={name: watched_facts(side, seen) for name, side in self.sides.items()},
            groups={name: watched_facts(group, seen) for name, group in self.groups.items()},
            barriers=tuple(watched_facts(barrier, seen) for barrier in self.barriers),
            elements=self.elements.watched(seen),
            supplies=self.supplies.watched(seen),
            outputs=self.outputs.watched(seen),
            inputs=self.inputs.watched(seen),
            lines=self.lines.watched(seen),
            signals=self.signals.watched(seen),
            loads=self.loads.watched(seen),
        )

    def entries(self) -> Iterator[tuple[Fact[Any], Stated[Any]]]:
        """Everything stated in tables of rows, with its row."""
        for table in TABLES:
            by_key = {row.key: row for row in table.ROWS.values()}
            held = getattr(self, table.TABLE)
            if isinstance(held, Finder):
                stated = [pair for name in sorted(held.rows) for pair in held.rows[name].items()]
            else:
                records = held.values() if isinstance(held, Mapping) else held if isinstance(held, tuple) else (held,)
                stated = [(table.ROWS[name].key, value) for record in records for name, value in record.items()]
            yield from ((by_key[key], value) for key, value in stated if key in by_key)  # type: ignore[misc]

    def named_supplies(self) -> Iterator[str]:
        """The supplies that outputs and inputs name; they need not be nets of the netlist."""
        for finder in (self.outputs, self.inputs):
            for row in finder.rows.values():
                if "supply" in row:
                    yield row["supply"].value

    def statements(self) -> list[tuple[str, str, str]]:
        """All effective facts as (key, value as written, file), in the order of the tables."""
        return [(stated.key, stated.text, stated.file) for stated in self._all()]

    def _all(self) -> Iterator[Stated[Any]]:
        for value in (self.parts, self.open, self.fail_on):
            if value is not None:
                yield value
        for record in (self.reading, self.environment, self.limits, *self.sides.values(), *self.groups.values()):
            yield from stated_values(record)
        for finder in (self.elements, self.supplies, self.outputs, self.inputs, self.lines, self.signals, self.loads):
            for name in sorted(finder.rows):
                yield from finder.rows[name].values()
        for bond in self.bonds:
            yield Stated(bond.between, bond.file, f"{bond.key}.between", written(list(bond.between)))
        for pair in self.pairs:
            yield Stated(pair.channels, pair.file, f"{pair.key}.channels", written(list(pair.channels)))
            yield from stated_values(pair)
        for barrier in self.barriers:
            yield Stated(barrier.between, barrier.file, f"{barrier.key}.between", written(list(barrier.between)))
            yield from stated_values(barrier)
        yield from self.levels.values()
        for waiver in self.waivers:
            bound = "" if waiver.bound is None else f" while margin >= {waiver.bound:g}"
            text = f"{waiver.rule} at {waiver.where}{bound} until {waiver.until}, by {waiver.by}: {waiver.reason}"
            yield Stated(text, waiver.file, waiver.key, text)


def stated_values(record: Rows) -> Iterator[Stated[Any]]:
    """What a table states, in the order of its rows."""
    return (value for _, value in record.items())


def dump(facts: Facts) -> str:
    """All effective facts, one a line, with their files."""
    lines = [f"facts from {', '.join(facts.files) or 'no file'}"]
    lines += [f"({key} = {text} @{file})" for key, text, file in facts.statements()]
    lines += [f"(part records @{path})" for path in facts.part_files]
    return "\n".join(lines)
