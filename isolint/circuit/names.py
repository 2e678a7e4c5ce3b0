"""Finding the few among very many names that a pattern or a word may mean."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate


class ScopeNames:
    """The names of one scope, searched as one text in folded case; answers are positions, ascending."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = names
        self._text = ""
        self._starts: list[int] = []

    def holding(self, words: Iterable[str], any_of: re.Pattern[str] | None = None) -> list[int]:
        """The names that hold one of some words, given in folded case. any_of: finds one of them, quicker than all."""
        text = self._folded()
        if any_of is not None and any_of.search(text) is None:
            return []
        return sorted({self._at(place) for word in words for place in self._places(text, word)})

    def like(self, pattern: str, regex: re.Pattern[str]) -> list[int]:
        """The names that match a pattern with `*` and `?`, given in folded case with its regular expression."""
        text = self._folded()
        head, *rest = re.split(r"[*?]", pattern)
        word = max((f"\n{head}" if head else "", *rest), key=len)
        if not word:
            return [place for place, name in enumerate(self._names) if regex.match(name.casefold())]
        offset = 1 if word.startswith("\n") else 0
        found = {self._at(place + offset) for place in self._places(text, word)}
        return sorted(place for place in found if regex.match(self._names[place].casefold()))

    def folded(self) -> Iterable[str]:
        """All names in folded case."""
        return map(str.casefold, self._names)

    def _places(self, text: str, word: str) -> Iterator[int]:
        place = text.find(word)
        while place >= 0:
            yield place
            place = text.find(word, place + 1)

    def _at(self, place: int) -> int:
        if not self._starts:
            lines = self._text[1:].split("\n")
            self._starts = list(accumulate((len(line) + 1 for line in lines[:-1]), initial=1))
        return bisect_right(self._starts, place) - 1

    def _folded(self) -> str:
        if not self._text and self._names:
            self._text = "\n" + "\n".join(self._names).casefold()
        return self._text


def may_lead(prefix: str, pattern: str) -> bool:
    """Whether a name that begins with `prefix` may match a pattern, both in folded case."""
    head = re.split(r"[*?]", pattern, maxsplit=1)[0]
    if len(head) == len(pattern):
        return pattern.startswith(prefix)
    return prefix.startswith(head) or head.startswith(prefix)
