"""Finding the facts about one name: exact names beat patterns, longer literals beat shorter, a tie is a mistake.

Names are compared without case. `*` and `?` are wild and reach over dots, `[` is a literal. A pattern of elements
without a dot is compared with the local name, one with a dot with the whole path.
"""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Generic, NamedTuple, TypeVar

from isolint.errors import Mistake, SettingsError
from isolint.facts.stated import Stated
from isolint.rows import Rows, watched

R = TypeVar("R", bound=Rows)

Seen = Callable[[str, str], None]
"""Told of the file and the key of each stated value that is asked for."""

_REMEMBERED = 4096
# Names whose record is kept: the same few are asked for over and over.

Row = Mapping[str, Stated[Any]]
"""What is stated under one name: TOML key -> value."""


def is_pattern(name: str) -> bool:
    """Whether a key is a pattern rather than a name."""
    return "*" in name or "?" in name


def compile_pattern(name: str) -> re.Pattern[str]:
    """The pattern as a regular expression over case-folded names; it never backtracks over a `*` once passed."""
    return re.compile(fnmatch.translate(name.casefold().replace("[", "[[]")))


class _Pattern(NamedTuple):
    name: str
    literal: int
    whole_path: bool
    regex: re.Pattern[str]


class Finder(Generic[R]):
    """The rows of one table (name -> row), ready to be asked.

    `record` is the dataclass that a row becomes. With `local` names are element paths. Answers are kept by the set of
    rows that matched, so a million elements share a few records.
    """

    def __init__(
        self,
        rows: Mapping[str, Row],
        record: type[R],
        *,
        local: bool = False,
        attributes: Mapping[str, str] | None = None,
        alternatives: Iterable[tuple[str, ...]] = (),
        seen: Seen | None = None,
    ) -> None:
        self.rows = rows
        self._record = record
        self._local = local
        self._attributes = dict(attributes or {})
        self._alternatives = {key: group for group in alternatives for key in group}
        self._exact = {name.casefold(): name for name in rows if not is_pattern(name)}
        self._patterns = tuple(
            _Pattern(name, len(name) - name.count("*") - name.count("?"), "." in name, compile_pattern(name))
            for name in rows
            if is_pattern(name)
        )
        self._made: dict[tuple[str, ...], R] = {}
        self._asked: dict[str, R | None] = {}
        self._seen = seen

    def watched(self, seen: Seen) -> Finder[R]:
        """The same, calling `seen` with the file and the key of each value that is asked for."""
        groups = dict.fromkeys(self._alternatives.values())
        return Finder(
            self.rows, self._record, local=self._local, attributes=self._attributes, alternatives=groups, seen=seen
        )

    def find(self, name: str) -> R | None:
        """The record of the rows that match `name`, None when none does; `SettingsError` on a tie."""
        if not self.rows:
            return None
        if name in self._asked:
            return self._asked[name]
        if len(self._asked) >= _REMEMBERED:
            self._asked.clear()
        found = self._asked[name] = self._find(name)
        return found

    def _find(self, name: str) -> R | None:
        matched = self.matches(name)
        if not matched:
            return None
        names = tuple(key for _, _, key in matched)
        made = self._made.get(names)
        if made is None:
            made = self._made[names] = self._merge(name, matched)
        return made

    def matches(self, name: str) -> list[tuple[bool, int, str]]:
        """The rows that match, best first, as (exact, literal length, row name)."""
        folded = name.casefold()
        local = folded.rpartition(".")[2] if self._local else folded
        found = [(True, len(key), self._exact[key]) for key in dict.fromkeys((folded, local)) if key in self._exact]
        found += [
            (False, pattern.literal, pattern.name)
            for pattern in self._patterns
            if pattern.regex.match(folded if pattern.whole_path else local)
        ]
        if len(found) > 1:
            found.sort(key=lambda match: (not match[0], -match[1], match[2]))
        return found

    def _merge(self, name: str, matched: list[tuple[bool, int, str]]) -> R:
        taken: dict[str, tuple[tuple[bool, int], Stated[Any]]] = {}
        ties: list[Mistake] = []
        for exact, literal, row in matched:
            rank = (exact, literal)
            for key, stated in self.rows[row].items():
                rival = next((k for k in self._alternatives.get(key, (key,)) if k in taken), None)
                if rival is None:
                    taken[key] = (rank, stated)
                    continue
                other_rank, other = taken[rival]
                if other_rank == rank and other.key != stated.key and (rival != key or other.value != stated.value):
                    rows = f"{other.key} = {other.text} ({other.file})"
                    text = f"{stated.text} ties with {rows}: both match {name} equally well"
                    cure = "write the whole name, or more of it in one of them"
                    ties.append(Mistake(stated.file, stated.key, text, cure))
        if ties:
            raise SettingsError(ties)
        made = self._record(**{self._attributes.get(key, key): stated for key, (_, stated) in taken.items()})
        return made if self._seen is None else watched_facts(made, self._seen)


def watched_facts(rows: R, seen: Seen) -> R:
    """What is stated, telling the file and the key of each value that is asked for."""
    stated = dict(rows.items())
    return watched(rows, lambda name: seen(stated[name].file, stated[name].key))
