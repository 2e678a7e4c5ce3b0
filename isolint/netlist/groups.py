"""Regular cards of one letter read together, column by column, without a step of Python for each card.

The cards are joined with a mark between them and split once; if the marks stand at equal distances, every card has the
same number of words and each column is a slice. What one card needs is then a look-up in a memo, done for a whole
column. The cards that come out are those that `Splitter.read` would give, and it is asked for each that does not fit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from itertools import chain, compress
from operator import itemgetter

from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.fast import CONTROLLED, DEVICE, INSTANCE, PASSIVE, SHAPES, SOURCE, Splitter

MARK = "\0"
"""Stands between cards; the text of a netlist never holds it, see `decode`."""

_ODD = "(){}'\",[]%~:;\\<>!*"
_LONE = (" $ ", " / ", " // ")
_FEW = 8

Values = list[Number] | list[Stimulus] | None
Tails = list[dict[str, Number | str]] | None


@dataclass(frozen=True, slots=True)
class Batch:
    """Cards of one letter in columns; `indices` says which lines they are, ascending. None is a column of nothing."""

    letter: str
    indices: list[int]
    names: list[str]
    nodes: list[tuple[str, ...]]
    models: list[str] | None
    values: Values
    tails: Tails


class Grouper:
    """Reads groups of lines with the memory of a `Splitter`; gives batches and puts what is left into `left`."""

    def __init__(self, splitter: Splitter) -> None:
        self._splitter = splitter
        self._pairs: dict[str, tuple[str, Number] | None] = {}
        self._tails: dict[tuple[str, ...], dict[str, Number | str] | None] = {}

    def read(self, letter: str, indices: list[int], lines: list[str], left: list[int]) -> list[Batch]:
        """Read the cards at these indices; the indices of those that are not regular are appended to `left`."""
        batches: list[Batch] = []
        if len(indices) < _FEW:
            left.extend(indices)
            return batches
        texts = _pick(lines, indices)
        joined = _joined(texts)
        kind = SHAPES[letter][1]
        if "{" in joined:
            braced = ["{" in text for text in texts]
            with_braces = list(compress(indices, braced))
            if kind == PASSIVE:
                batches += self._braced(letter, with_braces, lines, left)
            else:
                left.extend(with_braces)
            indices = [index for index, odd in zip(indices, braced, strict=True) if not odd]
            texts = _pick(lines, indices)
            joined = _joined(texts)
        if not _is_plain(joined):
            plain = [_is_plain(f" {text} ") for text in texts]
            left.extend(index for index, good in zip(indices, plain, strict=True) if not good)
            indices = list(compress(indices, plain))
            texts = _pick(lines, indices)
            joined = _joined(texts)
        if not texts:
            return batches
        if "=" not in joined:
            return batches + self._even(letter, indices, texts, joined, 0, left)
        by_tails: dict[int, list[int]] = {}
        for index, text in zip(indices, texts, strict=True):
            by_tails.setdefault(text.count("="), []).append(index)
        for tails, members in by_tails.items():
            texts = _pick(lines, members)
            batches += self._even(letter, members, texts, _joined(texts), tails, left)
        return batches

    def _even(
        self, letter: str, indices: list[int], texts: list[str], joined: str, tails: int, left: list[int]
    ) -> list[Batch]:
        """Read cards with the same number of `=`."""
        columns = _columns(joined, len(texts))
        if columns is not None:
            return self._table(letter, indices, columns, tails, left)
        by_width: dict[int, list[int]] = {}
        for position, text in enumerate(texts):
            by_width.setdefault(len(text.split()), []).append(position)
        batches: list[Batch] = []
        for members in by_width.values():
            of_width = _pick(indices, members)
            columns = _columns(_joined(_pick(texts, members)), len(members))
            if columns is None or len(members) < _FEW:
                left.extend(of_width)
            else:
                batches += self._table(letter, of_width, columns, tails, left)
        return batches

    def _table(
        self, letter: str, indices: list[int], columns: list[list[str]], tails: int, left: list[int]
    ) -> list[Batch]:
        """Read cards of equal width, the last `tails` words of which should be pairs."""
        _, kind, wanted = SHAPES[letter]
        width = len(columns) - tails
        if width < 3 or (wanted and width != wanted) or (tails and kind in (SOURCE, CONTROLLED)):
            left.extend(indices)
            return []
        pairs = self._tail_column(columns[width:], kind == PASSIVE) if tails else None
        last = columns[width - 1]
        models: list[str] | None = None
        values: Values = None
        share = self._splitter.words.setdefault
        if kind in (DEVICE, INSTANCE):
            last = models = list(map(share, last, last))
            good: list[object] = last if kind == INSTANCE else _look_up(last, {}, self._splitter.model)  # type: ignore[assignment]
        elif kind == PASSIVE:
            good = values = _look_up(last, self._splitter.numbers, self._splitter.number)  # type: ignore[assignment]
        elif kind == SOURCE:
            good = values = _look_up(last, self._splitter.sources, self._splitter.source)  # type: ignore[assignment]
        else:
            left.extend(indices)
            return []
        names = columns[0]
        nodes = list(zip(*(map(share, column, column) for column in columns[1 : width - 1]), strict=True))
        if None in good or (pairs is not None and None in pairs):
            keep = [a is not None and b is not None for a, b in zip(good, pairs or good, strict=True)]
            left.extend(index for index, fits in zip(indices, keep, strict=True) if not fits)
            indices, names, nodes = (list(compress(column, keep)) for column in (indices, names, nodes))  # type: ignore[assignment]
            models = None if models is None else list(compress(models, keep))
            values = None if values is None else list(compress(values, keep))  # type: ignore[assignment]
            pairs = None if pairs is None else list(compress(pairs, keep))
        return [Batch(letter, indices, names, nodes, models, values, pairs)] if indices else []  # type: ignore[arg-type]
