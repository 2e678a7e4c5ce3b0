"""Settings, records and baselines of a netlist key by key: what two revisions state differently, and one key put back.

Files are read as the checks read them; a file that can't be read states nothing here, the check itself tells why.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from isolint.errors import Refused
from isolint.project import BASELINE
from isolint.source import MemoryTree, Tree
from isolint.tables import basic_string, dotted, parse

_HEAD = re.compile(r"\s*(\[\[?)([^\[\]].*?)\]{1,2}\s*(?:#.*)?$")
_PART = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)+)"|'([^']+)'|([\w-]+))\s*\.?""")
_MOST_LINES = 50
"""Changed keys of which the lines are sought."""
_MOST_BYTES = 8 * 1024 * 1024


class KeyChange(NamedTuple):
    """One key of a file in both revisions; "" where it is not stated. line: in head, in the base where it is gone."""

    file: str
    key: tuple[str, ...]
    before: str
    after: str
    line: int = 1

    @property
    def name(self) -> str:
        """The dotted key."""
        return dotted(*self.key)


def document(tree: Tree, path: str) -> dict[str, Any]:
    """What a TOML file holds; {} where it can't be read."""
    try:
        data = tree.read(path)
        return parse(data, path, [], _MOST_BYTES) if data else {}
    except Refused:
        return {}


def flat(value: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Each value of a document with its key; tables in lists are known by what tells them apart, else by number."""
    waiting: list[tuple[tuple[str, ...], Any]] = [((), value)]
    while waiting:
        key, each = waiting.pop()
        if isinstance(each, dict) and each:
            waiting.extend(((*key, name), inner) for name, inner in reversed(each.items()))
        elif isinstance(each, list) and each and all(isinstance(one, dict) for one in each):
            named = [_label(one, place) for place, one in enumerate(each)]
            waiting.extend(((*key, name), one) for name, one in reversed(list(zip(named, each, strict=True))))
        elif key and each != {}:
            yield key, each


def _label(table: Mapping[str, Any], place: int) -> str:
    """What tells a table of a list from the others."""
    for names in (("fingerprint", "netlist"), ("rule", "where"), ("between",), ("name",)):
        if all(name in table for name in names):
            return " ".join(_plain(table[name]) for name in names)
    return str(place)


def _plain(value: Any) -> str:
    """A name, or names, without quotes."""
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def line_of(tree: Tree, path: str, key: tuple[str, ...]) -> int:
    """The line of a file that states a key, or of the table that holds it; 1 where it can't be told."""
    known = document(tree, path)
    try:
        lines = tree.read(path).decode("utf-8", "replace").splitlines() if known else []
    except Refused:
        return 1
    table: tuple[str, ...] = ()
    number: dict[tuple[str, ...], int] = {}
    best = 1
    for at, line in enumerate(lines, 1):
        head = _HEAD.match(line)
        if head:
            table = _parts(head[2])
            if head[1] == "[[":
                place = number[table] = number.get(table, -1) + 1
                listed = _get(known, table)
                if isinstance(listed, list) and place < len(listed):
                    table = (*table, _label(listed[place], place))
            if table == key[: len(table)]:
                best = at
            continue
        name, equals, _ = line.partition("=")
        if equals and (*table, *_parts(name)) == key[: len(table) + len(_parts(name))]:
            return at
    return best


def _parts(written: str) -> tuple[str, ...]:
    """The parts of a dotted key as it is written; () where it is none."""
    return tuple(one or other or bare for one, other, bare in _PART.findall(written))


def key_changes(old: Tree, new: Tree, files: Iterable[tuple[str, str]]) -> tuple[KeyChange, ...]:
    """What files state differently, each given by its path before and now ("" for none)."""
    found: list[KeyChange] = []
    for before, after in files:
        one = dict(flat(document(old, before))) if before else {}
        two = dict(flat(document(new, after))) if after else {}
        for key in dict.fromkeys([*one, *two]):
            said = [inline(each[key]) if key in each else "" for each in (one, two)]
            if said[0] != said[1]:
                tree, file = (new, after) if said[1] else (old, before)
                line = line_of(tree, file, key) if len(found) < _MOST_LINES else 1
                found.append(KeyChange(after or before, key, said[0], said[1], line))
    return tuple(found)


def is_policy(change: KeyChange) -> bool:
    """Whether a key says how results are judged or accepted, and states nothing of the circuit."""
    base = posixpath.basename(change.file)
    return base == BASELINE or (
        change.key[0] in ("waivers", "levels", "fail_on", "open", "limits", "reading", "bonds", "top", "parts")
    )


_ORDER = ("waivers", "results", "bonds", "ordinary", "limits", "levels", "fail_on", "open", "reading")


def order(change: KeyChange) -> tuple[int, str, str]:
    """What matters most to who accepts a change comes first."""
    told = next((name for name in _ORDER if name in change.key), "")
    return (_ORDER.index(told) if told else len(_ORDER), change.file, change.name)


@dataclass(slots=True, eq=False, repr=False)
class Overlaid:
    """A tree in which some files hold something else."""

    tree: Tree
    over: MemoryTree

    def read(self, path: str) -> bytes:
        return (self.over if self.over.exists(path) else self.tree).read(path)

    def exists(self, path: str) -> bool:
        return self.over.exists(path) or self.tree.exists(path)

    def match(self, pattern: str) -> tuple[str, ...]:
        return tuple(sorted({*self.tree.match(pattern), *self.over.match(pattern)}))

    def walk(self, folder: str = "") -> tuple[str, ...]:
        return self.tree.walk(folder)

    def resolve(self, folder: str, name: str) -> str:
        return self.tree.resolve(folder, name)


def put_back(old: Tree, new: Tree, changes: Iterable[tuple[KeyChange, str]]) -> Tree:
    """The new tree with some keys as they were; each change with the path that its file had before."""
    files: dict[str, dict[str, Any]] = {}
    for change, former in changes:
        made = files.setdefault(change.file, document(new, change.file))
        before = document(old, former)
        _set(made, change.key, _get(before, change.key))
    return Overlaid(new, MemoryTree({path: toml(made) for path, made in files.items()})) if files else new


_GONE = object()


def _get(value: Any, key: tuple[str, ...]) -> Any:
    for name in key:
        if isinstance(value, list):
            value = next((one for place, one in enumerate(value) if _label(one, place) == name), _GONE)
        else:
            value = value.get(name, _GONE) if isinstance(value, dict) else _GONE
        if value is _GONE:
            return _GONE
    return value


def _set(made: dict[str, Any], key: tuple[str, ...], value: Any) -> None:
    at: Any = made
    for name in key[:-1]:
        if isinstance(at, list):
            found = next((one for place, one in enumerate(at) if _label(one, place) == name), None)
            if found is None:
                return  # a table of a list that is gone: its keys come back with its first one only as a whole
            at = found
        else:
            at = at.setdefault(name, {})
    if isinstance(at, dict):
        if value is _GONE:
            at.pop(key[-1], None)
        else:
            at[key[-1]] = value


def toml(value: Mapping[str, Any]) -> str:
    """A document as TOML that reads back the same: inline, one key of the top a line."""
    return "".join(f"{dotted(name)} = {inline(each)}\n" for name, each in value.items())


def inline(value: Any) -> str:
    """A value as TOML on one line."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{dotted(name)} = {inline(each)}" for name, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(inline, value)) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return basic_string(value)
    return str(value)


__all__ = ["KeyChange", "Overlaid", "is_policy", "key_changes", "order", "put_back", "toml"]
