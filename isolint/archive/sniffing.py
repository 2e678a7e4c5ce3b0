"""What a file is, told from its content: a netlist, a library of models, damaged, encrypted, or something else.

Only the beginning of a large file is looked at, each line once; nothing is parsed. A name counts where the content
leaves it open: what is called a netlist and can't be read as one is an entry of its own, and never skipped.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

from isolint.netlist.decoding import decode
from isolint.netlist.dependencies import included
from isolint.netlist.outline import executed, has_cards
from isolint.netlist.prose import is_encrypted, looks_like_name
from isolint.netlist.words import KNOWN
from isolint.project import AMBIGUOUS, is_netlist

Kind = Literal["netlist", "library", "unreadable", "other"]

LOOKED_AT = 1024 * 1024
"""Bytes from the start by which a file is told."""
_MOST_LINES = 4_000
_SHARE = 0.6
"""Of the lines that are no comments so many must be cards."""
_LEAST_CARDS = 2

_PACKED = ((b"PK\x03\x04", "zip"), (b"\x1f\x8b", "gzip"), (b"BZh", "bzip2"), (b"7z\xbc\xaf", "7z"), (b"\xfd7zXZ", "xz"),
           (b"Rar!", "rar"))  # fmt: skip
_ENDING = re.compile(r"\.(?:zip|gz|bz2|7z|xz|rar|z)$", re.IGNORECASE)
_POINTER = b"version https://git-lfs.github.com/spec/"
_VALUE = r"(?:[{'\"(]|[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?[a-zµ]*(?:\s|$)|[-+]?\d+[a-z]\d*(?:\s|$))"
_SURE = {
    **dict.fromkeys("RCL", re.compile(rf"\S+\s+\S+\s+\S+\s+(?:[rcl]\s*=\s*|value\s*=\s*)?{_VALUE}", re.IGNORECASE)),
    **dict.fromkeys("VI", re.compile(r"\S+\s+\S+\s+\S+\s+(?:dc|ac|pulse|sin|pwl|exp|[-+.\d{'])", re.IGNORECASE)),
    "D": re.compile(r"\S+(?:\s+\S+){2}\s+[A-Za-z_]\S*"),
    **dict.fromkeys("QMJ", re.compile(r"\S+(?:\s+\S+){3,4}\s+[A-Za-z_]\S*")),
    "X": re.compile(r"\S+(?:\s+\S+){2,}"),
}
_LOOSE = {
    **dict.fromkeys("BEFGHKSWTUAZOY", re.compile(r"\S+(?:\s+\S+){2,}")),
    **dict.fromkeys("RCLVIDQMJ", re.compile(r"\S+(?:\s+\S+){2,}")),
}
_RUN = re.compile(r"^[ \t]*\.(?:end|tran|ac|dc|op)\b", re.IGNORECASE | re.MULTILINE)


class Sniffed(NamedTuple):
    """What a file is. reason: why, for what is no netlist. deck: whether it is a netlist to be run by itself.

    runs, reads: the names of other files that it runs as part of itself, and that it reads at all.
    """

    kind: Kind
    reason: str = ""
    deck: bool = False
    runs: tuple[str, ...] = ()
    reads: tuple[str, ...] = ()


def sniff(name: str, data: bytes) -> Sniffed:
    """Say what a file is by its content and, where that leaves it open, by its name."""
    # A packed netlist is one that nobody judged: board.cir.gz.
    plain = _ENDING.sub("", name)
    certain = is_netlist(plain) and not plain.lower().endswith(AMBIGUOUS)

    def lacking(reason: str) -> Sniffed:
        return Sniffed("unreadable" if certain else "other", reason)

    if not data.strip(b"\x00\xff\xfe\xef\xbb\xbf \t\r\n\x1a"):
        return lacking("the file is empty")
    for magic, packing in _PACKED:
        if data.startswith(magic):
            return lacking(f"packed ({packing}): nothing in it is looked at")
    if data.startswith(_POINTER):
        return lacking("a Git LFS pointer: the file itself was not fetched")
    head = data[:LOOKED_AT]
    found = decode(head)
    if found.unreadable and found.unreadable <= 2:
        return lacking("the file is damaged or holds no text")
    count = _count(found.text)
    if count.encrypted > count.lines // 2:
        return Sniffed("unreadable" if certain or count.dots else "other", "the file is encrypted")
    cards = count.sure + count.loose
    enough = cards + count.dots >= _SHARE * count.lines and cards + count.dots >= _LEAST_CARDS
    enough |= 0 < count.definitions == count.lines
    if not (enough and (count.sure or count.dots)) and not (certain and cards + count.dots):
        return lacking("there is no card of a netlist in it" if certain else "no netlist")
    if count.definitions and not has_cards(data):
        return Sniffed("library", "definitions only", reads=included(data))
    if not cards:
        return lacking("no card of an element stands in it")
    return Sniffed("netlist", "", _RUN.search(found.text) is not None, executed(data), included(data))


class _Count(NamedTuple):
    lines: int
    sure: int
    loose: int
    dots: int
    definitions: int
    encrypted: int


def _count(text: str) -> _Count:
    lines = sure = loose = dots = definitions = encrypted = 0
    for line in _significant(text):
        lines += 1
        if line[0] == ".":
            word = line[1:40].split(None, 1)[0].lower() if line[1:40].strip() else ""
            dots += word in KNOWN
            definitions += word in ("subckt", "model")
            continue
        if is_encrypted(line):
            encrypted += 1
            continue
        letter = line[0].upper()
        short = line[:400]
        words = short.split(None, 2)
        if not looks_like_name(words[0]) or words[1:2] == ["="]:
            continue
        if letter in _SURE and _SURE[letter].match(short):
            sure += 1
        elif letter in _LOOSE and _LOOSE[letter].match(short):
            loose += 1
    return _Count(lines, sure, loose, dots, definitions, encrypted)


def _significant(text: str) -> Iterator[str]:
    """Lines that are neither blank, comments, continuations nor the title."""
    number = 0
    for at, line in enumerate(text.split("\n", _MOST_LINES + 1)[: _MOST_LINES + 1]):
        stripped = line.strip()
        if not stripped or stripped[0] in "*;$#+":
            continue
        if (
            at == 0
            and stripped[0] != "."
            and not (stripped[0].upper() in _SURE and looks_like_name(stripped.split()[0]))
        ):
            continue  # the title
        number += 1
        yield stripped
