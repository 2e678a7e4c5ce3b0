"""From text to cards as text: comments dropped, continuation lines joined in linear time, places kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from itertools import compress, count
from operator import itemgetter
from typing import NamedTuple

MAX_CARD = 250_000
"""Longest card in characters; a longer one is given with its text cut and `too_long` set."""

BLOCK = 200_000
"""Characters that are split into lines at a time; less than `MAX_CARD`, so that a longer line shows."""

_FIRST = itemgetter(slice(0, 1))
_DOLLAR = re.compile(r"(?:^|\s)\$(?:\s|$|[\[.]|\w+\s*=)")
_SLASHES = re.compile(r"\s//(?:\s|$)")


class Line(NamedTuple):
    """One card with its continuation lines. Lines and columns count from 1.

    numbers, raws: of a card of several physical lines the number of each and the line as it stands, else None.
    """

    text: str
    line: int
    column: int
    numbers: list[int] | None = None
    raws: list[str] | None = None
    too_long: bool = False

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of the character at `offset`."""
        if self.numbers is None or self.raws is None:
            return self.line, self.column + offset
        begin = 0
        found = (0, self.line, self.column)
        for at, raw in enumerate(self.raws):
            if begin > offset or begin > MAX_CARD:
                break
            text, column = _piece(raw, at == 0)
            found = (begin, self.numbers[at], column)
            begin += len(text) + 1
        return found[1], found[2] + offset - found[0]


def without_comment(text: str) -> str:
    """Drop what follows `;`, a lone `$`, `$[`, `$key=` or a lone `//`, unless the `;` stands in quotes."""
    if ";" in text:
        text = _cut_semicolon(text)
    if "$" in text:
        match = _DOLLAR.search(text)
        if match is not None:
            text = text[: match.start()]
    if "//" in text:
        match = _SLASHES.search(text)
        if match is not None:
            text = text[: match.start()]
    return text


def _cut_semicolon(text: str) -> str:
    at = text.index(";")
    quote = min((i for i in (text.find("'"), text.find('"')) if i >= 0), default=-1)
    if quote < 0 or quote > at:
        return text[:at]
    position = 0
    while position < len(text):
        character = text[position]
        if character == ";":
            return text[:position]
        if character in "'\"":
            close = text.find(character, position + 1)
            if close >= 0:
                position = close
        position += 1
    return text


def is_comment(stripped: str) -> bool:
    """Whether a line, without its leading blanks, is a comment as a whole."""
    first = stripped[0]
    if first in "*;#":
        return True
    if first == "$":
        return True
    return first == "/" and stripped.startswith("//")


def _blocks(text: str, first: int) -> Iterator[list[str]]:
    """The lines of a text, block by block, so that a large file is not held twice; `first` lines are left out."""
    start, end = 0, len(text)
    while start <= end:
        stop = text.find("\n", min(start + BLOCK, end))
        if stop < 0:
            stop = end
        yield text[start:stop].split("\n")[first:]
        start, first = stop + 1, 0


Take = Callable[[str, int, int], bool]
"""Is offered the text, line and column of each card of one line; True if it has read it."""

TakeRun = Callable[[list[str], int, int], tuple[int, int]]
"""Is offered the lines of a block from an index on, where a card begins, and the number of that line.

Gives how many lines it has read, none of which continues on a line that it has not, and how many lines from that
index on it has looked at: it wants to be asked again behind them.
"""


def cards(text: str, first: int = 0, take: Take | None = None, run: TakeRun | None = None) -> Iterator[Line]:
    """Give the cards of a text in order, from physical line `first` (from 0) on, but those that `take` or `run` took.

    A `+` continues the card before it, over blank and comment lines; after a comment directive (`*.GLOBAL a`) it
    belongs to the comment. A trailing `\\` continues on the next line. A `+` with no card before it is given as a card
    of its own.
    """
    return _cards(_blocks(text, first), first + 1, take, run)


def one_card(lines: list[str], number: int) -> Line:
    """The card that begins in the first of the lines, whose number is given, and continues on the others."""
    return next(_cards((lines,), number, None, None))


def _cards(blocks: Iterable[list[str]], begin: int, take: Take | None, run: TakeRun | None) -> Iterator[Line]:
    pending = head = ""
    line = column = 0
    numbers: list[int] = []
    raws: list[str] = []
    directive = follows = False
    for block in blocks:
        asked = begin if run is not None else begin + len(block)
        index, length = 0, len(block)
        while index < length:
            raw = block[index]
            index += 1
            body = raw.strip()
            if not body:
                continue
            start = body[0]
            if start in "+*;#$/":
                if start == "+" and directive:
                    continue
                if is_comment(body):
                    directive = start == "*" and body[1:2] == "."
                    continue
            directive = False
            goes_on = start == "+" and pending != ""
            if goes_on or follows:
                if not raws:
                    numbers, raws = [line], [head]
                end = _end_of_joint(block, index) if start == "+" else index
                numbers.extend(range(begin + index - 1, begin + end))
                raws.append(raw)
                raws += block[index:end]
                index = end
                follows = "\\" in raws[-1] and _is_open(raws[-1])
                continue
            if raws:
                yield _join(column, numbers, raws)
                raws = []
            elif pending and (take is None or not take(pending, line, column)):
                yield Line(_cleaned(pending), line, column)
            line = begin + index - 1
            if line >= asked and run is not None and start.isalpha():
                pending = ""
                done, seen = run(block, index - 1, line)
                asked = line + seen
                if done:
                    index += done - 1
                    continue
            pending, head = body, raw
            column = 1 if raw[0] == start else len(raw) - len(raw.lstrip()) + 1
            if body[-1] == "\\":
                pending = body.rstrip("\\").rstrip()
                follows = bool(pending)
        begin += length
    yield from _last(take, pending, line, column, numbers, raws)


def _last(
    take: Take | None, pending: str, line: int, column: int, numbers: list[int], raws: list[str]
) -> Iterator[Line]:
    """The card that is still open at the end of a text, unless `take` takes it."""
    if raws:
        yield _join(column, numbers, raws)
    elif pending and (take is None or not take(pending, line, column)):
        yield Line(_cleaned(pending), line, column)


def _end_of_joint(block: list[str], index: int) -> int:
    """The index behind the lines from `index` on that are surely continuations, as the line in front of them is."""
    if index == len(block) or block[index][:1] != "+" or "\\" in block[index - 1]:
        return index
    end, size = index, 16
    while end < len(block):
        piece = block[end : end + size]
        other = next(compress(count(), map("+".__ne__, map(_FIRST, piece))), len(piece))
        end += other
        if other < len(piece):
            break
        size *= 2
    return end if "\\" not in "".join(block[index:end]) else index


def _cleaned(text: str) -> str:
    return without_comment(text).rstrip() if ";" in text or "$" in text or "//" in text else text


def _is_open(raw: str) -> bool:
    """Whether a continuation line says that the next one continues as well."""
    body = raw.strip()
    return _cleaned(body[1:].lstrip() if body[0] == "+" else body).endswith("\\")


def _piece(raw: str, first: bool) -> tuple[str, int]:
    """What a physical line gives to its card, and the column in which that begins."""
    body = raw.strip()
    if first:
        text = _cleaned(body.rstrip("\\").rstrip() if body[-1] == "\\" else body)
        return text, len(raw) - len(raw.lstrip()) + 1
    rest = body[1:].lstrip() if body[0] == "+" else body
    column = len(raw.rstrip()) - len(rest) + 1
    rest = _cleaned(rest)
    return rest.rstrip("\\").rstrip() if rest.endswith("\\") else rest, column


def _join(column: int, numbers: list[int], raws: list[str]) -> Line:
    """Join a card and its continuation lines with blanks, once."""
    text = joined_text(raws)
    return Line(text[:MAX_CARD], numbers[0], column, numbers, raws, len(text) >= MAX_CARD)


def joined_text(raws: list[str]) -> str:
    """The text of a card from its physical lines, none of which is a comment or blank."""
    text = "\n".join(raws).replace("\n+ ", " ")
    odd = any(mark in text for mark in ("\n", "\t", "\\", ";", "$", "/", "  "))
    if odd or not text.isascii() or text[0] == " " or text[-1] == " ":
        text = " ".join([_piece(raw, at == 0)[0] for at, raw in enumerate(raws)])
    return text
