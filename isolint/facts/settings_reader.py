"""Reading all isolint.toml of a netlist into one `Facts`.

The nearest file wins per key, lists replace, waivers and barriers add; `top = true` stops the search. All mistakes
of all files are reported at once.
"""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from isolint.errors import Missing, Mistake, Refused, SettingsError
from isolint.facts import cross_references, settings_schema
from isolint.facts.effective import Facts
from isolint.facts.matching import Finder, is_pattern
from isolint.facts.paths import RECORDS_NAME, settings_paths
from isolint.facts.stated import (
    BarrierFacts,
    Bond,
    ElementFacts,
    Environment,
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
from isolint.source import Tree
from isolint.tables import Entry, Site, is_near, nearest, parse, read_table, shortened, unstated, written


@dataclass(slots=True, eq=False, repr=False)
class _Merged:
    """What the files say together while they are read, nearest first."""

    top: dict[str, Stated[Any]] = field(default_factory=dict)
    single: dict[str, dict[str, Stated[Any]]] = field(default_factory=dict)
    named: dict[str, dict[str, dict[str, Stated[Any]]]] = field(default_factory=dict)
    names: dict[tuple[str, str], str] = field(default_factory=dict)
    levels: dict[str, Stated[Any]] = field(default_factory=dict)
    bonds: tuple[Bond, ...] | None = None
    pairs: tuple[PairFacts, ...] | None = None
    barriers: list[dict[str, Stated[Any]]] = field(default_factory=list)
    waivers: list[Waiver] = field(default_factory=list)
    malformed_waivers: list[Mistake] = field(default_factory=list)
    roots: list[Stated[str]] = field(default_factory=list)
    placeholders: list[tuple[str, str]] = field(default_factory=list)


def load(tree: Tree, netlist: str, root: str = "", rules: Collection[str] = ()) -> Facts:
    """Read the settings that count for `netlist`; raise `SettingsError` with every mistake.

    root: the folder in the tree above which nothing is read. rules: the slugs that `[levels]` and waivers may name;
    not checked when empty.
    """
    mistakes: list[Mistake] = []
    merged = _Merged()
    files: list[str] = []
    for path in settings_paths(netlist, root):
        try:
            data = tree.read(path)
        except Missing:
            continue
        except Refused as error:
            mistakes.append(Mistake(path, "", error.text, error.cure or ""))
            continue
        files.append(path)
        document = parse(data, path, mistakes)
        _read_document(document, path, rules, merged, mistakes)
        if document.get("top") is True:
            break
    beside = posixpath.join(posixpath.dirname(files[0] if files else netlist), RECORDS_NAME)
    part_files = cross_references.part_files(tree, merged.top.get("parts"), beside, mistakes)
    include_root = cross_references.include_root(tree, merged.roots, mistakes)
    _add_inferred_sides(merged)
    pairs = [(bond.file, f"{bond.key}.between", bond.between) for bond in merged.bonds or ()]
    pairs += [(row["between"].file, row["between"].key, row["between"].value) for row in merged.barriers]
    members = [row["group"] for row in merged.named.get("outputs", {}).values() if "group" in row]
    cross_references.check_references(
        merged.named.get("sides", ()), merged.named.get("groups", ()), pairs, members, mistakes
    )
    if mistakes:
        raise SettingsError(mistakes)
    return _facts(merged, tuple(files), part_files, include_root)


def _add_inferred_sides(merged: _Merged) -> None:
    """Sides that barriers and bonds name as reports do: one that nobody stated bears the name of its reference or first
    net.

    What is written almost like a stated side, and not like a ground, is none of them; nor is a pattern.
    """
    sides = merged.named.setdefault("sides", {})
    stated = tuple(sides)
    named = [row["between"] for row in merged.barriers]
    named += [Stated(bond.between, bond.file, f"{bond.key}.between", "") for bond in merged.bonds or ()]
    for between in named:
        for name in between.value:
            folded = name.casefold()
            mistaken = is_pattern(name) or (is_near(name, stated) and "gnd" not in folded)
            if folded not in {side.casefold() for side in sides} and not mistaken:
                sides[name] = {"nets": Stated((name,), between.file, between.key, between.text)}


def _read_document(
    document: Mapping[str, Any], path: str, rules: Collection[str], merged: _Merged, mistakes: list[Mistake]
) -> None:
    waiting: list[str] = []
    top = Site(path, "", mistakes, waiting)
    for name, raw in document.items():
        site = top.inner(name)
        if name in settings_schema.KEYS and unstated(raw):
            site.waits()
        elif name in settings_schema.TOP:
            value = settings_schema.TOP[name].read(raw, site)
            if value is not None:
                merged.top.setdefault(name, Stated(value, path, site.key, written(raw)))
        elif name in settings_schema.SINGLE:
            entries = read_table(raw, settings_schema.SINGLE[name], site)
            if name == "reading" and "include_root" in entries:
                merged.roots.append(_stated(entries["include_root"], path))
            _add(merged.single.setdefault(name, {}), entries, path)
        elif name in settings_schema.NAMED:
            _read_named(name, raw, site, merged)
        elif name in settings_schema.LISTS:
            _read_list(name, raw, site, rules, merged)
        elif name == "levels":
            _read_levels(raw, site, rules, merged)
        else:
            site.wrong("unknown key", nearest(name, settings_schema.KEYS))
    merged.placeholders.extend((path, key) for key in waiting)


def _stated(entry: Entry, path: str) -> Stated[Any]:
    return Stated(entry.value, path, entry.key, entry.text)


def _add(
    row: dict[str, Stated[Any]], entries: Mapping[str, Entry], path: str, groups: tuple[tuple[str, ...], ...] = ()
) -> None:
    """Add what a farther file says under a name: only keys that no nearer one has, nor an alternative of it."""
    taken = {key for group in groups if any(key in row for key in group) for key in group}
    for key, entry in entries.items():
        if key not in row and key not in taken:
            row[key] = _stated(entry, path)


def _read_named(table: str, raw: object, site: Site, merged: _Merged) -> None:
    if not isinstance(raw, dict):
        site.wrong(f"{shortened(raw)} is not a table", f'write [{table}."NAME"] and keys below it')
        return
    kind = settings_schema.NAMED[table]
    rows = merged.named.setdefault(table, {})
    here: dict[str, str] = {}
    for name, item in raw.items():
        inner = site.inner(name) if table == "sides" else site.named(name)
        folded = name.casefold()
        if not name.strip():
            inner.wrong("the name is empty", "write the name of an element or net")
            continue
        if folded in here:
            inner.wrong(f"this is the same name as {here[folded]}, case does not count", "join the two tables")
            continue
        here[folded] = inner.key
        entries = read_table(item, kind, inner)
        if not entries and item and table not in ("sides", "groups"):
            # Placeholders only: that there is such a table says nothing either. Names that others use stay.
            continue
        shown = merged.names.setdefault((table, folded), name)
        _add(rows.setdefault(shown, {}), entries, site.file, kind.alternatives)


def _read_list(table: str, raw: object, site: Site, rules: Collection[str], merged: _Merged) -> None:
    if not isinstance(raw, list):
        site.wrong(f"{shortened(raw)} is not a list of tables", f"write [[{table}]] with double brackets")
        return
    if table == "waivers":
        _read_waivers(raw, site._replace(mistakes=merged.malformed_waivers), rules, merged)
        return
    kind = settings_schema.LISTS[table]
    rows: list[tuple[Site, dict[str, Entry]]] = []
    for index, item in enumerate(raw):
        inner = site.inner(index)
        entries = read_table(item, kind, inner)
        if all(key in entries for key in kind.required):
            rows.append((inner, entries))
    if table == "bonds" and merged.bonds is None:
        merged.bonds = tuple(Bond(entries["between"].value, site.file, inner.key) for inner, entries in rows)
    elif table == "barriers":
        _add_barriers(rows, merged)
    elif table == "pairs" and merged.pairs is None:
        merged.pairs = tuple(_pair(inner, entries) for inner, entries in rows)


def _pair(site: Site, entries: dict[str, Entry]) -> PairFacts:
    dead = {key: _stated(entry, site.file) for key, entry in entries.items() if key != "channels"}
    return PairFacts(entries["channels"].value, site.file, site.key, **dead)


def _read_waivers(raw: list[object], site: Site, rules: Collection[str], merged: _Merged) -> None:
    """Waivers add. A malformed one accepts nothing and is reported as a result; the others stand.

    One with a placeholder in it accepts nothing either: whatever is not known of it might have narrowed it.
    """
    for index, item in enumerate(raw):
        inner = site.inner(index)
        before = len(site.mistakes)
        entries = read_table(item, settings_schema.LISTS["waivers"], inner)
        if rules and "rule" in entries and entries["rule"].value not in rules:
            rule = entries["rule"]
            inner.inner("rule").wrong(f"there is no rule {rule.text}", nearest_rule(rule.value, rules))
        waiting = isinstance(item, dict) and any(unstated(value) for value in item.values())
        if len(site.mistakes) == before and not waiting:
            plain = {key: entry.value for key, entry in entries.items()}
            merged.waivers.append(Waiver(**plain, file=site.file, key=inner.key))


def nearest_rule(slug: str, rules: Collection[str]) -> str:
    """A cure for an unknown rule: the nearest slug, else the command that lists them."""
    from difflib import get_close_matches

    near = get_close_matches(slug, sorted(rules), 1, 0.5)
    return f"did you mean {near[0]}?" if near else "isolint rules lists them"


def _add_barriers(rows: list[tuple[Site, dict[str, Entry]]], merged: _Merged) -> None:
    """Barriers add; of the same two sides the nearest file wins per key. Tables of one file complete each other."""
    here: dict[tuple[frozenset[str], str], str] = {}
    known = {frozenset(side.casefold() for side in row["between"].value): row for row in merged.barriers}
    for inner, entries in rows:
        pair = frozenset(side.casefold() for side in entries["between"].value)
        for key in entries.keys() - {"between"}:
            twice = here.setdefault((pair, key), inner.key)
            if twice != inner.key:
                inner.inner(key).wrong(f"{twice}, between the same two sides, states it too", "keep one of them")
        row = known.get(pair)
        if row is None:
            row = known[pair] = {}
            merged.barriers.append(row)
        _add(row, entries, inner.file)


def _read_levels(raw: object, site: Site, rules: Collection[str], merged: _Merged) -> None:
    if not isinstance(raw, dict):
        example = next(iter(rules), "rule")
        site.wrong(f"{shortened(raw)} is not a table", f'write [levels] and lines such as {example} = "note"')
        return
    for slug, item in raw.items():
        inner = site.inner(slug)
        if rules and slug not in rules:
            inner.wrong("there is no such rule", nearest_rule(slug, rules))
            continue
        if unstated(item):
            inner.waits()
            continue
        value = settings_schema.LEVEL.read(item, inner)
        if value is not None:
            merged.levels.setdefault(slug, Stated(value, site.file, inner.key, written(item)))


def _facts(
    merged: _Merged, files: tuple[str, ...], part_files: tuple[str, ...], include_root: Stated[str] | None
) -> Facts:
    named = merged.named
    single = merged.single
    reading = dict(single.get("reading", {}))
    if include_root is not None:
        reading["include_root"] = include_root
    barriers = []
    for row in merged.barriers:
        rest = {key: stated for key, stated in row.items() if key != "between"}
        between = row["between"]
        barriers.append(BarrierFacts(between.value, between.file, between.key.removesuffix(".between"), **rest))
    return Facts(
        files=files,
        part_files=part_files,
        open=merged.top.get("open"),
        fail_on=merged.top.get("fail_on"),
        parts=merged.top.get("parts"),
        reading=Reading(**reading),
        environment=Environment(**single.get("environment", {})),
        limits=Limits(**single.get("limits", {})),
        levels=merged.levels,
        sides={name: SideFacts(name, **row) for name, row in named.get("sides", {}).items()},
        groups={name: GroupFacts(name, **row) for name, row in named.get("groups", {}).items()},
        bonds=merged.bonds or (),
        pairs=merged.pairs or (),
        barriers=tuple(barriers),
        waivers=tuple(merged.waivers),
        malformed_waivers=tuple(merged.malformed_waivers),
        placeholders=tuple(merged.placeholders),
        elements=Finder(
            named.get("elements", {}),
            ElementFacts,
            local=True,
            attributes=settings_schema.ATTRIBUTES,
            alternatives=settings_schema.NAMED["elements"].alternatives,
        ),
        supplies=Finder(named.get("supplies", {}), SupplyFacts),
        outputs=Finder(named.get("outputs", {}), OutputFacts),
        inputs=Finder(named.get("inputs", {}), InputFacts),
        lines=Finder(named.get("lines", {}), LineFacts),
        signals=Finder(
            named.get("signals", {}), SignalFacts, alternatives=settings_schema.NAMED["signals"].alternatives
        ),
        loads=Finder(named.get("loads", {}), LoadFacts, attributes=settings_schema.ATTRIBUTES),
    )
