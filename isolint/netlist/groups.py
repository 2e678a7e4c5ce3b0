"""Regular cards of one letter read together, column by column, without a step of Python for each card.

The cards are joined with a mark between them and split once; if the marks stand at equal distances, every card has the
same number of words and each column is a slice. What one card needs is then a look-up in a memo, done for a whole
column. The cards that come out are those that `Splitter.read` would give, and it is asked for each that does not fit.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from itertools import compress
from operator import and_, itemgetter
from typing import Any, NamedTuple, TypeVar

from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.fast import (
    CONTROLLED,
    DEVICE,
    INSTANCE,
    PASSIVE,
    SHAPES,
    SOURCE,
    Splitter,
    are_plain,
    device_model,
    has_value,
)
from isolint.netlist.prose import is_doubtful

MARK = "\0"
"""Stands between cards; no text of a netlist holds it, see `decode`."""

_FEW = 8
_MOST_TAILS = 20_000
_MOST_WORDS = 20_000

T = TypeVar("T")
K = TypeVar("K", bound=Hashable)
TailSet = dict[str, Number | str]


class Batch(NamedTuple):
    """Cards of one letter in columns; `indices` says which lines they are, ascending."""

    letter: str
    indices: Sequence[int]
    names: list[str]
    nodes: list[tuple[str, ...]]
    models: Sequence[str | None]
    values: Sequence[Number | Stimulus | None]
    tails: Sequence[TailSet | None] | None

    def picked(self, keep: Sequence[bool]) -> Batch:
        """The cards for which `keep` is true."""
        tails = None if self.tails is None else _kept(self.tails, keep)
        return Batch(
            self.letter,
            _kept(self.indices, keep),
            _kept(self.names, keep),
            _kept(self.nodes, keep),
            _kept(self.models, keep),
            _kept(self.values, keep),
            tails,
        )


class Grouper:
    """Reads groups of lines with the memory of a `Splitter`; what is not regular is put into `left`."""

    def __init__(self, splitter: Splitter) -> None:
        self._splitter = splitter
        self._words: dict[str, str] = {}
        self._models: dict[str, str] = {}
        self._tails: dict[tuple[str, ...], TailSet] = {}
        self._passive_tails: dict[tuple[str, ...], TailSet] = {}

    def read(self, letter: str, indices: Sequence[int], lines: list[str], left: list[int]) -> list[Batch]:
        """Read the cards at these indices; the indices of those that are not regular are appended to `left`."""
        kind = SHAPES[letter][1]
        if len(indices) < _FEW or kind == CONTROLLED:
            left.extend(indices)
            return []
        batches: list[Batch] = []
        texts = _pick(lines, indices)
        joined = _joined(texts)
        if "{" in joined:
            braced = ["{" in text for text in texts]
            if kind == PASSIVE:
                batches += self._braced(letter, _kept(indices, braced), _kept(texts, braced), left)
            else:
                left.extend(compress(indices, braced))
            plain = [not each for each in braced]
            indices, texts = _kept(indices, plain), _kept(texts, plain)
            joined = _joined(texts)
        if not are_plain(joined):
            plain = [are_plain(_joined((text,))) for text in texts]
            left.extend(index for index, good in zip(indices, plain, strict=True) if not good)
            indices, texts = _kept(indices, plain), _kept(texts, plain)
            joined = _joined(texts)
        if "=" not in joined:
            return batches + self._even(letter, indices, texts, joined, 0, left)
        by_tails: dict[int, list[int]] = {}
        for position, text in enumerate(texts):
            by_tails.setdefault(text.count("="), []).append(position)
        if len(by_tails) == 1:
            return batches + self._even(letter, indices, texts, joined, texts[0].count("="), left)
        for tails, members in by_tails.items():
            some = _pick(texts, members)
            batches += self._even(letter, _pick(indices, members), some, _joined(some), tails, left)
        return batches

    def _even(
        self, letter: str, indices: Sequence[int], texts: Sequence[str], joined: str, tails: int, left: list[int]
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
            columns = _columns(_joined(_pick(texts, members)), len(members))
            if columns is None:
                left.extend(_pick(indices, members))
            else:
                batches += self._table(letter, _pick(indices, members), columns, tails, left)
        return batches

    def _table(
        self, letter: str, indices: Sequence[int], columns: list[list[str]], tails: int, left: list[int]
    ) -> list[Batch]:
        """Read cards of equal width, the last `tails` words of which should be pairs."""
        _, kind, wanted = SHAPES[letter]
        width = len(columns) - tails
        if len(indices) < _FEW or width < max(3, wanted) or (wanted and width > wanted) or (tails and kind == SOURCE):
            left.extend(indices)
            return []
        nothing = [None] * len(indices)
        last = columns[width - 1]
        models: Sequence[str | None] = nothing
        values: Sequence[Number | Stimulus | None] = nothing
        found: Sequence[TailSet | None] | None = None
        gaps = more = False
        if kind == PASSIVE:
            values, gaps = _look_up(last, self._splitter.numbers, self._splitter.number)
        elif kind == SOURCE:
            values, gaps = _look_up(last, self._splitter.sources, self._splitter.source)
        elif kind == DEVICE:
            models, gaps = _look_up(last, self._models, device_model)
        else:
            models = self._shared(last)
        if tails:
            found, more = self._tail_column(columns[width:], kind)
        nodes = list(zip(*map(self._shared, columns[1 : width - 1]), strict=True))
        batch = Batch(letter, indices, columns[0], nodes, models, values, found)
        return _checked(batch, kind if gaps or more else None, left)

    def _shared(self, words: list[str]) -> list[str]:
        """The words, the same ones always the same object as long as they come near each other: that saves memory.

        A memo of all words of a large netlist would not fit into the processor's cache.
        """
        if len(self._words) > _MOST_WORDS:
            self._words.clear()
        return list(map(self._words.setdefault, words, words))

    def _tail_column(self, columns: list[list[str]], kind: int) -> tuple[Sequence[TailSet | None], bool]:
        """The pairs of each card; cards with the same share them. True if some are missing."""
        memo = self._passive_tails if kind == PASSIVE else self._tails
        if len(memo) > _MOST_TAILS:
            memo.clear()

        def judge(words: tuple[str, ...]) -> TailSet | None:
            read = self._splitter.tails(words)
            return None if read is None or (kind == PASSIVE and has_value(read)) else read

        return _look_up(list(zip(*columns, strict=True)), memo, judge)

    def _braced(self, letter: str, indices: list[int], texts: list[str], left: list[int]) -> list[Batch]:
        """Read passive parts whose value is one expression in braces, which may hold blanks."""
        cut = [text.partition("{") for text in texts]
        fits = [tail.rstrip()[-1:] == "}" and tail.count("}") == 1 and "{" not in tail for _, _, tail in cut]
        if not _are_bare(head for head, _, _ in cut) or not _are_whole(tail for _, _, tail in cut):
            alone = [_are_bare((head,)) and _are_whole((tail,)) for head, _, tail in cut]
            fits = list(map(and_, fits, alone))
        left.extend(index for index, good in zip(indices, fits, strict=True) if not good)
        indices, cut = _kept(indices, fits), _kept(cut, fits)
        columns = _columns(_joined([head for head, _, _ in cut]), len(cut)) if len(cut) >= _FEW else None
        if columns is None or len(columns) != 3:
            left.extend(indices)
            return []
        expressions = ["{" + tail.rstrip() for _, _, tail in cut]
        numbers, gaps = _look_up(expressions, self._splitter.numbers, self._splitter.expression)
        nodes = list(zip(*map(self._shared, columns[1:]), strict=True))
        nothing = [None] * len(nodes)
        batch = Batch(letter, indices, columns[0], nodes, nothing, numbers, None)
        return _checked(batch, PASSIVE if gaps else None, left)


def _checked(batch: Batch, gaps: int | None, left: list[int]) -> list[Batch]:
    """Give those cards back that may be prose, and, in cards of the form `gaps`, those not understood."""
    alphabetic = any(map(str.isalpha, batch.names))
    if gaps is None and not alphabetic:
        return [batch]
    keep = [True] * len(batch.indices)
    if alphabetic:
        keep = [not is_doubtful((None, *words)) for words in zip(batch.names, batch.nodes, batch.models, strict=True)]
    if gaps is not None:
        found: Sequence[object] = batch.models if gaps in (DEVICE, INSTANCE) else batch.values
        keep = [fits and word is not None for fits, word in zip(keep, found, strict=True)]
        if batch.tails is not None:
            keep = [fits and pairs is not None for fits, pairs in zip(keep, batch.tails, strict=True)]
    if all(keep):
        return [batch]
    left.extend(index for index, fits in zip(batch.indices, keep, strict=True) if not fits)
    return [batch.picked(keep)]


def _columns(joined: str, cards: int) -> list[list[str]] | None:
    """The words of cards of equal width as columns; None if they are not of equal width. The last one is not given."""
    words = joined.split()
    width, rest = divmod(len(words), cards) if cards else (0, 1)
    if rest or width < 2 or words[width - 1 :: width].count(MARK) != cards:
        return None
    return [words[column::width] for column in range(width - 1)]


def _joined(texts: Sequence[str]) -> str:
    """The cards, each with a mark behind it and a blank around each word."""
    joined = f" {f' {MARK} '.join(texts)} {MARK} "
    return joined.replace("\t", " ") if "\t" in joined else joined


def _are_bare(heads: Iterable[str]) -> bool:
    """Whether what stands in front of the values is plain names."""
    joined = _joined(list(heads))
    return "=" not in joined and are_plain(joined)


def _are_whole(values: Iterable[str]) -> bool:
    """Whether nothing in the values may be the beginning of a comment."""
    joined = "".join(values)
    return ";" not in joined and "$" not in joined and "//" not in joined


def _look_up(words: Sequence[K], memo: dict[K, Any], judge: Callable[[K], object]) -> tuple[Sequence[Any], bool]:
    """What each word means, with those that are new judged once; True if there are some that mean nothing."""
    try:
        return _pick(memo, words), False
    except KeyError:
        pass
    gaps = False
    for word in set(words).difference(memo):
        value = judge(word)
        if value is None:
            gaps = True
        else:
            memo[word] = value
    return list(map(memo.get, words)), gaps


def _pick(column: Any, keys: Sequence[Any]) -> Sequence[Any]:
    """The values of a column or memo at the keys."""
    found: Sequence[Any] = itemgetter(*keys)(column) if len(keys) > 1 else [column[key] for key in keys]
    return found


def _kept(column: Sequence[T], keep: Sequence[bool]) -> list[T]:
    return list(compress(column, keep))
