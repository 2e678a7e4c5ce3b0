"""From the bytes of a file to text with plain line ends.

Half of the files with non-ASCII bytes are not UTF-8 but the Windows code page of western Europe; some are UTF-16
without a mark. A body that can't be text (encrypted or binary) is cut off behind the readable part in front of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import NamedTuple

_SAMPLE = 8192
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_BLANKS = {0x1A: " ", 0xA0: " ", 0x0C: " ", 0x0B: " ", 0x7F: " ", 0x2007: " ", 0x202F: " ", 0x3000: " ", 0xFEFF: " "}
_LINE_ENDS = {0x85: "\n", 0x2028: "\n", 0x2029: "\n"}
_BLANKS |= dict.fromkeys((0x1680, *range(0x2000, 0x200B), 0x205F, 0x2800), " ")
_NO_WIDTH = (
    "\u00ad \u034f \u061c \u115f-\u1160 \u17b4-\u17b5 \u180b-\u180f \u200b-\u200f \u202a-\u202e \u2060-\u206f \u3164 "
    "\ufe00-\ufe0f \uffa0 \ufff9-\ufffb \U000e0000-\U000e007f"
)
_NOTHING = {code: None for span in _NO_WIDTH.split() for code in range(ord(span[0]), ord(span[-1]) + 1)}
"""Characters without any width: what is seen is what is read."""
_TABLE: dict[int, str | None] = {**_BLANKS, **_LINE_ENDS, **_NOTHING}


def _any_of(characters: Iterable[int]) -> str:
    return "".join(map(re.escape, map(chr, characters)))


@cache
def _odd() -> re.Pattern[str]:
    return re.compile(f"[{_any_of((*_TABLE, *_CONTROLS))}]")


@cache
def _hidden() -> re.Pattern[str]:
    """A character without width, or a blank that is none of ASCII at the beginning of a line."""
    blanks = _any_of(blank for blank in _BLANKS if blank > 0x7F)
    return re.compile(f"[{_any_of((*_NOTHING, *_CONTROLS))}]|^[ \\t]*+[{blanks}]", re.MULTILINE)


_ASCII_ODD = bytes((*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20), 0x7F))
"""The ASCII characters that both of these look for; deleting them is a quick way to see whether there is one."""
_CONTROLS = (*range(0x09), *range(0x0E, 0x1A), *range(0x1B, 0x20))
_NO_TEXT = re.compile("[\x00-\x08\x0e-\x19\x1b-\x1f]")


_JOINT = re.compile(r"^([ \t]*)\*(?=\.(?:connect|equiv)\b)", re.IGNORECASE | re.MULTILINE)
"""What joins two nets from within a comment, as netlists for layout checks have it."""


class Decoded(NamedTuple):
    """Text with `\\n` line ends. `unreadable` is the line (from 1) where it stops to be text, or 0.

    invisible: the first line (from 1) with a card that holds a character without width, or has an odd blank in front
    of it, or 0.
    """

    text: str
    encoding: str
    unreadable: int = 0
    invisible: int = 0


def decode(data: bytes) -> Decoded:
    """Decode a netlist; never fails. Control-Z, no-break spaces and form feeds become blanks, and so does the mark of a
    comment that joins nets."""
    encoding, text = _decoded(data)
    if "\r" in text:
        text = text.replace("\r\r\n", "\n").replace("\r\n", "\n").replace("\r", "\n")
    if "*." in text:
        text = _JOINT.sub(r"\1 ", text)
    if data.isascii() and len(data.translate(None, _ASCII_ODD)) == len(data):
        return Decoded(text, encoding)
    unreadable = 0
    stop = _NO_TEXT.search(text)
    line_start = -1 if stop is None else text.rfind("\n", 0, stop.start()) + 1
    if line_start >= 0 and not _is_text(text[line_start:]):
        unreadable = text.count("\n", 0, line_start) + 1
        text = text[:line_start]
    invisible = 0
    if _odd().search(text) is not None:
        for wrong, right in _LINE_ENDS.items():
            text = text.replace(chr(wrong), right)
        invisible = _first_invisible(text)
        text = text.translate(_TABLE | dict.fromkeys(_CONTROLS))
    return Decoded(text, encoding, unreadable, invisible)


def _is_text(text: str) -> bool:
    """Whether control characters are strays in text, rather than what a binary or encrypted body is made of."""
    strays = len(_NO_TEXT.findall(text))
    foreign = sum(not character.isascii() for character in text)
    return strays <= 1 + text.count("\n") and 10 * foreign <= len(text) and 4 * strays <= len(text)


def _first_invisible(text: str) -> int:
    """The first line with a character that can't be seen and that is no comment, from 1; 0 for none."""
    at = 0
    while (match := _hidden().search(text, at)) is not None:
        start = text.rfind("\n", 0, match.start()) + 1
        end = text.find("\n", match.start())
        end = len(text) if end < 0 else end
        body = text[start:end].translate(_TABLE | dict.fromkeys(_CONTROLS)).strip()
        if body and body[0] not in "*;#":
            return text.count("\n", 0, start) + 1
        at = end
        if at >= len(text):
            break
    return 0


def _decoded(data: bytes) -> tuple[str, str]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding, data[len(mark) :].decode(encoding, errors="replace")
    wide = _wide(data)
    if wide:
        return wide, data.decode(wide, errors="replace")
    try:
        return "utf-8", data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", data.decode("cp1252", errors="replace")


def _wide(data: bytes) -> str:
    """The UTF-16 order of bytes without a mark, told by where the NULs of ASCII stand; "" for other bytes."""
    sample = data[:_SAMPLE]
    pairs = len(sample) // 2
    if pairs < 2 or b"\x00" not in sample:
        return ""
    first, second = sample[0 : 2 * pairs : 2].count(0), sample[1 : 2 * pairs : 2].count(0)
    if second > 0.6 * pairs and first < 0.05 * pairs:
        return "utf-16-le"
    if first > 0.6 * pairs and second < 0.05 * pairs:
        return "utf-16-be"
    return ""
