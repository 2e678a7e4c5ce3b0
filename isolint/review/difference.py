"""The electrical difference of two revisions of a netlist: records over paired names, compared as sets.

Order of cards and files, comments, names, titles and simulations are no difference. Told in the order of what matters:
what crosses, on which side things lie, couplers, other barrier parts, sides, values on the way, facts that were read,
and what is understood less.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from isolint.circuit.anonymous import is_anonymous
from isolint.facts import Facts
from isolint.parts.show import dump
from isolint.review.atoms import Atom
from isolint.review.correspondence import Correspondence
from isolint.review.findings import Names, Revision, calls
from isolint.review.values import ValueChange
from isolint.units import show

MOST_LINES = 50


class Told(NamedTuple):
    """The first differences, and how many more there are."""

    changes: tuple[ValueChange, ...]
    more: int


Record = Mapping[tuple[str, ...], str]


def electrical(old: Revision, new: Revision, found: Correspondence, names: Names, atoms: Sequence[Atom]) -> Told:
    """What differs between two revisions."""
    changes: list[ValueChange] = []
    sides = _paired_sides(old, new, names)
    say = _Said(names, sides)
    for kind, records in (
        ("crossing", (_crossings(old, say.of_old), _crossings(new, say.of_new))),
        ("side of a net", _nets_of_both(old, new, say, names)),
        ("coupler", (_couplers(old, say.of_old), _couplers(new, say.of_new))),
        ("barrier part", (_parts(old, say.of_old), _parts(new, say.of_new))),
        ("side", (_sides(old, say.of_old), _sides(new, say.of_new))),
    ):
        changes.extend(_compared(kind, *records))
    changes.extend(_values(old, new, atoms))
    changes.extend(_facts(old, new, found))
    changes.extend(_coverage(old, new))
    changes = list(dict.fromkeys(changes))
    return Told(tuple(changes[:MOST_LINES]), max(0, len(changes) - MOST_LINES))


class _Said:
    """Names of both revisions in those of the new one."""

    def __init__(self, names: Names, sides: Mapping[str, str]) -> None:
        self._names, self._sides = names, sides

    def of_old(self, text: str) -> str:
        """An old name."""
        side = self._sides.get(text.casefold())
        return side if side is not None else self._names.text(text)

    def of_new(self, text: str) -> str:
        """A new name."""
        return text.casefold()


def _compared(kind: str, old: Record, new: Record) -> Iterator[ValueChange]:
    for key in dict.fromkeys([*old, *new]):
        before, after = old.get(key, ""), new.get(key, "")
        if before != after:
            yield ValueChange(kind, " ".join(key), before, after)


def _paired_sides(old: Revision, new: Revision, names: Names) -> dict[str, str]:
    """Old sides by the names of the new ones: as stated, by their reference, by the most nets in common."""
    one, two = (each.judged.context.interfaces.separation.sides for each in (old, new))
    here, there = old.judged.context, new.judged.context
    nets = {side.name: {there.net(net).casefold() for net in side.nets} for side in two}
    found: dict[str, str] = {}
    left = {side.name for side in two}
    for side in one:
        stated = [each.name for each in two if side.stated and each.stated.casefold() == side.stated.casefold()]
        reference = names.text(here.net(side.reference)) if side.reference >= 0 else ""
        named = [each.name for each in two if each.reference >= 0 and there.net(each.reference).casefold() == reference]
        own = {names.text(here.net(net)) for net in side.nets}
        shared = sorted(two, key=lambda each: (-len(own & nets[each.name]), each.name))
        most = [each.name for each in shared if own & nets[each.name]]
        best = next((name for name in (*stated, *named, *most) if name in left), None)
        if best is not None:
            left.discard(best)
            found[side.name.casefold()] = best.casefold()
    return found


def _crossings(revision: Revision, say: Callable[[str], str]) -> Record:
    context = revision.judged.context
    path, separation = context.circuit.path, context.interfaces.separation
    found: dict[tuple[str, ...], str] = {}
    for bridge in separation.bridges:
        unit = "ohm" if bridge.kind == "resistance" else "F"
        value = "value not known" if bridge.value is None else show(bridge.value, unit)
        found[_crossing(bridge.kind, map(path, bridge.elements), bridge.sides, say)] = value
    for outer in separation.joins:
        for join in outer.each:
            members = [path(element) for element in join.cut] or (
                [context.net(join.shared_net)] if join.shared_net >= 0 else []
            )
            kind = "unexplained part" if join.unknown else "joint"
            found[_crossing(kind, members, join.sides, say)] = show(join.resistance, "ohm")
    return found


def _crossing(kind: str, members: Iterable[str], sides: Iterable[str], say: Callable[[str], str]) -> tuple[str, ...]:
    return (kind, ", ".join(sorted(map(say, members))), "between", " and ".join(sorted(map(say, sides))))


def _nets(revision: Revision, say: Callable[[str], str]) -> Record:
    context = revision.judged.context
    separation = context.interfaces.separation
    found: dict[tuple[str, ...], str] = {}
    for net, side in separation.side_of_net.items():
        if context.circuit.elements_at(net) and not is_anonymous(context.net(net)):
            found[(say(context.net(net)),)] = say(separation.sides[side].name)
    return found


def _nets_of_both(old: Revision, new: Revision, say: _Said, names: Names) -> tuple[Record, Record]:
    """The sides of nets by name, without those that had a made-up name or have one now."""
    circuit = old.judged.context.circuit
    made_up = {names.text(name) for net in circuit.nets() if is_anonymous(name := circuit.net_name(net))}
    before = {key: side for key, side in _nets(old, say.of_old).items() if not is_anonymous(key[0])}
    after = {key: side for key, side in _nets(new, say.of_new).items() if key[0] not in made_up}
    return before, after


def _couplers(revision: Revision, say: Callable[[str], str]) -> Record:
    found: dict[tuple[str, ...], str] = {}
    for coupler in revision.judged.report.couplers:
        channel = (f"channel {coupler.channel}",) if coupler.channel else ()
        sides = " | ".join(say(side) if side else "?" for side in coupler.sides)
        found[(say(coupler.part), *channel)] = f"{coupler.type} {coupler.model} between {sides}"
    return found


def _parts(revision: Revision, say: Callable[[str], str]) -> Record:
    context = revision.judged.context
    separation = context.interfaces.separation
    channels = {channel.part.element for channel in context.channels}
    found: dict[tuple[str, ...], str] = {}
    for element, part in context.interfaces.recognition.parts.items():
        if element in channels:
            continue
        pins = context.circuit.pins(element)
        sides = []
        for group in part.groups:
            met = {separation.side_of_net[pins[pin]] for pin in group if pins[pin] in separation.side_of_net}
            sides.append("+".join(sorted(say(separation.sides[side].name) for side in met)) or "?")
        found[(say(part.path),)] = f"{part.type} {part.model_name} between {' | '.join(sides)}"
    return found


def _sides(revision: Revision, say: Callable[[str], str]) -> Record:
    return {
        (say(side.name),): "; ".join(
            word
            for word in (
                f"reference {say(side.reference)}" if side.reference else "no reference",
                side.kind,
                f"supplies {', '.join(sorted(map(say, side.supplies)))}" if side.supplies else "",
            )
            if word
        )
        for side in revision.judged.report.sides
    }


def _values(old: Revision, new: Revision, atoms: Sequence[Atom]) -> Iterator[ValueChange]:
    """Cards of interfaces that changed: those in the networks of channels, across barriers, and all models."""
    near = [_near(old), _near(new)]
    for atom in atoms:
        now = None if atom.place is None else new.card(atom.place)
        here = now is not None and (now.scope, now.place) in near[1]
        before = atom.former is not None and (atom.scope, atom.old) in near[0]
        if here or before or atom.kind in ("model", "definition", "parameter", "temperature"):
            file, line = ("", 0) if atom.place is None else (atom.place.file, atom.place.line)
            kind = "connection" if atom.kind == "pins" else "value"
            yield ValueChange(kind, atom.name, atom.before, atom.after, file, line)


def _near(revision: Revision) -> set[tuple[int, int]]:
    """The cards of interfaces."""
    context = revision.judged.context
    separation = context.interfaces.separation
    elements = {element for bridge in separation.bridges for element in bridge.elements}
    for outer in separation.joins:
        for join in outer.each:
            elements.update(join.cut)
            elements.update(step.element for step in join.path if step.element >= 0)
    for channel in context.channels:
        elements.update((channel.part.element, *channel.drive.elements, *channel.load.elements))
    elements.update(context.interfaces.recognition.parts)
    found = set()
    for element in elements:
        instance, index = context.circuit.locate(element)
        found.add((context.circuit.block(instance).scope, index))
        for above in calls(context.circuit, element):
            instance, index = context.circuit.locate(above)
            found.add((context.circuit.block(instance).scope, index))
    return found


# -- facts ------------------------------------------------------------------------------------------------------------


def _facts(old: Revision, new: Revision, found: Correspondence) -> Iterator[ValueChange]:
    """Facts and values of records that a judgement read, for each element and net and its partner."""
    asked = {(file, key.casefold()) for file, key in (*old.judged.asked, *new.judged.asked)}
    keys = {key for _, key in asked}
    one, two = old.judged.context.facts, new.judged.context.facts
    if not _same_names(found) or one.statements() != two.statements():
        yield from _general(one, two, keys)
        yield from _by_name(one, two, found, keys)
    yield from _records(old, new, found)


def _same_names(found: Correspondence) -> bool:
    return all(
        pair.old.names[index].casefold() == pair.new.names[there].casefold()
        for pair in found.scopes.values()
        for index, there in pair.pairs.elements.items()
    )


def _general(one: Facts, two: Facts, keys: set[str]) -> Iterator[ValueChange]:
    """What is stated of no element and no net."""
    for table in ("environment", "limits", "reading"):
        before = {name: value.text for name, value in getattr(one, table).items()}
        after = {name: value.text for name, value in getattr(two, table).items()}
        for name in dict.fromkeys([*before, *after]):
            said = before.get(name, ""), after.get(name, "")
            if said[0] != said[1] and (f"{table}.{name}" in keys or table != "environment"):
                yield ValueChange("fact", f"{table}.{name}", *said)
    for table in ("sides", "groups"):
        rows = [getattr(each, table) for each in (one, two)]
        for name in dict.fromkeys([*rows[0], *rows[1]]):
            before, after = ({} if name not in each else _texts(each[name], table) for each in rows)
            for key in dict.fromkeys([*before, *after]):
                if before.get(key, "") != after.get(key, ""):
                    yield ValueChange("fact", f"{table}.{name}.{key}", before.get(key, ""), after.get(key, ""))
    told = [
        {tuple(sorted(map(str.casefold, barrier.between))): _texts(barrier) for barrier in facts.barriers}
        for facts in (one, two)
    ]
    for pair in dict.fromkeys([*told[0], *told[1]]):
        before, after = told[0].get(pair, {}), told[1].get(pair, {})
        for key in dict.fromkeys([*before, *after]):
            if before.get(key, "") != after.get(key, ""):
                what = f"barrier between {' and '.join(pair)}: {key}"
                yield ValueChange("fact", what, before.get(key, ""), after.get(key, ""))


def _texts(rows: object, table: str = "") -> dict[str, str]:
    """The texts of a table's keys; of a named table without those that follow from another one."""
    items = getattr(rows, "items", None)
    if items is None:
        return {}
    return {name: str(value.text or value.value) for name, value in items() if value.key.startswith(table)}


def _by_name(one: Facts, two: Facts, found: Correspondence, keys: set[str]) -> Iterator[ValueChange]:
    """What is stated of each element and net that has a partner, whatever pattern states it."""
    old = found.old.circuit
    if one.elements.rows or two.elements.rows:
        for element in old.elements():
            path = old.path(element)
            there = found.path(path)
            if there is not None:
                yield from _rows(f"{there}", _read(one.elements, path, keys), _read(two.elements, there, keys))
    for table in ("supplies", "outputs", "inputs", "lines", "signals", "loads"):
        mine, theirs = getattr(one, table), getattr(two, table)
        if not mine.rows and not theirs.rows:
            continue
        for net in old.nets():
            name = old.net_name(net)
            other = found.net(name)
            if other is not None:
                yield from _rows(f"{table} {other}", _read(mine, name, keys), _read(theirs, other, keys))


def _read(finder: object, name: str, keys: set[str]) -> dict[str, str]:
    """What a judgement read of a name: value by key, in the texts of the file."""
    rows = finder.find(name)  # type: ignore[attr-defined]
    if rows is None:
        return {}
    return {key: str(value.text) for key, value in rows.items() if value.key.casefold() in keys}


def _rows(what: str, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[ValueChange]:
    for key in dict.fromkeys([*before, *after]):
        if before.get(key, "") != after.get(key, ""):
            yield ValueChange("fact", f"{what}: {key}", before.get(key, ""), after.get(key, ""))


def _records(old: Revision, new: Revision, found: Correspondence) -> Iterator[ValueChange]:
    """Records of parts of the barriers, line by line, each record once."""
    done = set()
    parts = {part.path.casefold(): part for part in new.judged.context.interfaces.recognition.parts.values()}
    for part in old.judged.context.interfaces.recognition.parts.values():
        there = parts.get((found.path(part.path) or "").casefold())
        if there is None or part.record is None or there.record is None or part.record == there.record:
            continue
        name = (part.record.name, there.record.name)
        if name in done or name[0] != name[1]:
            continue
        done.add(name)
        one, two = (dict(_lines(dump(each))) for each in (part.record, there.record))
        for key in dict.fromkeys([*one, *two]):
            if key != "part" and one.get(key, "") != two.get(key, ""):
                yield ValueChange("record", f"{name[1]} {key}", one.get(key, ""), two.get(key, ""))


def _lines(text: str) -> Iterator[tuple[str, str]]:
    for line in text.splitlines():
        table, _, rest = line.strip("()").partition(" ")
        if table in ("pins", "group", "channel", "part", "source"):
            yield table, rest
            continue
        for pair in rest.split():
            key, equals, value = pair.partition("=")
            yield (f"{table}.{key}", value) if equals else (table, rest)


def _coverage(old: Revision, new: Revision) -> Iterator[ValueChange]:
    """What is understood less than before."""
    before, after = old.judged.report.coverage, new.judged.report.coverage
    if before.judged > after.judged:
        yield ValueChange("coverage", "channels judged", str(before.judged), str(after.judged))
    missed = before.cards - before.understood, after.cards - after.understood
    if missed[1] > missed[0]:
        yield ValueChange("coverage", "cards not understood", str(missed[0]), str(missed[1]))
    opens = [Counter(result.kind for result in each.judged.report.results)["open"] for each in (old, new)]
    if opens[1] > opens[0]:
        yield ValueChange("coverage", "open results", str(opens[0]), str(opens[1]))
