"""From text to cards as text: comments dropped, continuation lines joined in linear time, places kept."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from typing import NamedTuple

MAX_CARD = 250_000
"""Longest card in characters; a longer one is given with its text cut and `too_long` set."""

BLOCK = 200_000
"""Characters that are split into lines at a time; less than `MAX_CARD`, so that a longer line shows."""

_DOLLAR = re.compile(r"(?:^|\s)\$(?:\s|$|[\[.]|\w+\s*=)")
_SLASHES = re.compile(r"\s//(?:\s|$)")


class Line(NamedTuple):
    """One card with its continuation lines.

    `pieces` maps offsets in `text` to places: (offset, line, column) of each physical line, or None for a card of one
    line. Lines and columns count from 1.
    """

    text: str
    line: int
    column: int
    pieces: tuple[tuple[int, int, int], ...] | None = None
    too_long: bool = False

    def place(self, offset: int) -> tuple[int, int]:
        """Line and column of the character at `offset`."""
        if self.pieces is None:
            return self.line, self.column + offset
        found = self.pieces[0]
        for piece in self.pieces:
            if piece[0] > offset:
                break
            found = piece
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
    """The lines of a text from line `first` (from 0) on, block by block, so that a large file is not held twice."""
    start, end = 0, len(text)
    while start <= end:
        stop = text.find("\n", min(start + BLOCK, end))
        if stop < 0:
            stop = end
        lines = text[start:stop].split("\n")
        start = stop + 1
        if first:
            first, lines = max(0, first - len(lines)), lines[first:]
        yield lines


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
    pending = ""
    line = column = 0
    joined: list[tuple[str, int, int]] | None = None
    directive = follows = False
    for block in blocks:
        asked = begin if run is not None else begin + len(block)
        source = enumerate(block, begin)
        for number, raw in source:
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
                if joined is None:
                    joined = [(_cleaned(pending), line, column)]
                rest = body[1:].lstrip() if start == "+" else body
                at = len(raw.rstrip()) - len(rest) + 1
                rest = _cleaned(rest)
                follows = rest.endswith("\\")
                joined.append((rest.rstrip("\\").rstrip() if follows else rest, number, at))
                continue
            if joined is not None:
                yield _join(joined)
                joined = None
            elif pending and (take is None or not take(pending, line, column)):
                yield Line(_cleaned(pending), line, column)
            if number >= asked and run is not None and start.isalpha():
                pending = ""
                done, seen = run(block, number - begin, number)
                asked = number + seen
                if done:
                    next(islice(source, done - 1, done - 1), None)
                    continue
            pending, line = body, number
            column = 1 if raw[0] == start else len(raw) - len(raw.lstrip()) + 1
            if body[-1] == "\\":
                pending = body.rstrip("\\").rstrip()
                follows = bool(pending)
        begin += len(block)
    if joined is not None:
        yield _join(joined)
    elif pending and (take is None or not take(pending, line, column)):
        yield Line(_cleaned(pending), line, column)


def _cleaned(text: str) -> str:
    return without_comment(text).rstrip() if ";" in text or "$" in text or "//" in text else text


def _join(parts: list[tuple[str, int, int]]) -> Line:
    """Join a card and its continuation lines with blanks, once."""
    pieces: list[tuple[int, int, int]] = []
    texts: list[str] = []
    offset = 0
    for text, line, column in parts:
        if offset > MAX_CARD:
            break
        pieces.append((offset, line, column))
        texts.append(text)
        offset += len(text) + 1
    return Line(" ".join(texts)[:MAX_CARD], parts[0][1], parts[0][2], tuple(pieces), offset > MAX_CARD)
