"""The records that count for a netlist: those of the user's files, then the shipped ones.

In: a `Tree` and the paths of record files. Out: `Parts`, or one `SettingsError` with every mistake. A name may hold `*`
and `?`: exact beats pattern, a longer literal beats a shorter one, a tie is a mistake.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache
from typing import Any, TypeVar

from isolint.errors import Mistake, Refused, SettingsError
from isolint.facts.matching import compile_pattern, is_pattern
from isolint.parts.record_reader import read_records
from isolint.parts.records import PartRecord
from isolint.rows import Rows, watched
from isolint.source import Tree
from isolint.tables import parse

R = TypeVar("R", bound=Rows)

BUILTIN = "isolint:parts/records/"
_RECORDS = os.path.join(os.path.dirname(__file__), "records")


class Parts(Mapping[str, PartRecord]):
    """Part records by name or pattern; case does not matter. placeholders: file and key of each value still "?"."""

    def __init__(self, records: Iterable[PartRecord] = (), placeholders: tuple[tuple[str, str], ...] = ()) -> None:
        self._records = {record.name.casefold(): record for record in records}
        self._patterns = tuple(
            (_literal(record.name), compile_pattern(record.name), record)
            for record in self._records.values()
            if is_pattern(record.name)
        )
        self.placeholders = placeholders

    def watched(self, seen: Callable[[str, str], None]) -> Parts:
        """The same records, calling `seen` with the file and the key of each value that is asked for."""
        return Parts((_watched(record, seen) for record in self._records.values()), self.placeholders)

    def __getitem__(self, name: str) -> PartRecord:
        return self._records[name.casefold()]

    def __iter__(self) -> Iterator[str]:
        return (record.name for record in self._records.values())

    def __len__(self) -> int:
        return len(self._records)

    def find(self, name: str) -> PartRecord | None:
        """The record of that name: the user's, else a shipped one, else the user's nearest pattern, else None.

        Raise `SettingsError` where two patterns match equally well.
        """
        folded = name.casefold()
        return self._records.get(folded) or _shipped(folded) or self._matching(folded)

    def _matching(self, folded: str) -> PartRecord | None:
        if not self._patterns:
            return None
        found = [(literal, record) for literal, regex, record in self._patterns if regex.match(folded)]
        most = max((literal for literal, _ in found), default=0)
        best = [record for literal, record in found if literal == most]
        if len(best) > 1:
            first, second = best[:2]
            text = f"{first.key} ({first.file}) matches {folded} equally well"
            raise SettingsError([Mistake(second.file, second.key, text, "write more of the name in one of them")])
        return best[0] if best else None


def _literal(name: str) -> int:
    return len(name) - name.count("*") - name.count("?")


def _watched(record: PartRecord, seen: Callable[[str, str], None]) -> PartRecord:
    def section(rows: R) -> R:
        return watched(rows, lambda name: seen(record.file, record.path_of(rows.ROWS[name])))

    return record.with_sections(section)


def load(tree: Tree, paths: Sequence[str]) -> Parts:
    """Read the records in these files of the tree; raise `SettingsError` with every mistake of all of them."""
    mistakes: list[Mistake] = []
    records: dict[str, PartRecord] = {}
    placeholders: list[tuple[str, str]] = []
    for path in paths:
        try:
            data = tree.read(path)
        except Refused as error:
            mistakes.append(Mistake(path, "", error.text, error.cure or ""))
            continue
        waiting: list[str] = []
        for record in read_records(data, path, mistakes, waiting, shipped_text):
            earlier = records.setdefault(record.name.casefold(), record)
            if earlier is not record:
                text = f"this part has a record in {earlier.file} too ({earlier.key})"
                mistakes.append(Mistake(path, record.key, text, "keep one of them"))
        placeholders.extend((path, key) for key in waiting)
    if mistakes:
        raise SettingsError(mistakes)
    return Parts(records.values(), tuple(placeholders))


def builtin() -> Parts:
    """The shipped records: invented demonstration parts."""
    return Parts(record for name in _files() if (record := _shipped(name)) is not None)


@cache
def _files() -> dict[str, str]:
    """The names of the files of the shipped records, one a part, by the part's name without case."""
    return {name.removesuffix(".toml").casefold(): name for name in sorted(os.listdir(_RECORDS))}


def _data(name: str) -> bytes:
    with open(os.path.join(_RECORDS, _files()[name]), "rb") as opened:
        return opened.read()


def shipped_text(name: str) -> Mapping[str, Any]:
    """What the shipped record of that name states, as TOML; empty when there is none."""
    folded = name.casefold()
    if folded not in _files():
        return {}
    table: Mapping[str, Any] = next(iter(parse(_data(folded), BUILTIN, [])["parts"].values()))
    return table


@cache
def _shipped(name: str) -> PartRecord | None:
    """A shipped record; read when a name is asked for that no user record gives."""
    file = _files().get(name)
    if file is None:
        return None
    mistakes: list[Mistake] = []
    found = read_records(_data(name), BUILTIN + file, mistakes)
    if mistakes:
        raise SettingsError(mistakes)
    return found[0]
