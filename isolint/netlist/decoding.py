"""From the bytes of a file to text with plain line ends.

Half of the files with non-ASCII bytes are not UTF-8 but the Windows code page of western Europe; some are UTF-16
without a mark. A body that can't be text (encrypted or binary) is cut off behind the readable part in front of it.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_SAMPLE = 8192
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_BLANKS = {0x1A: " ", 0xA0: " ", 0x0C: " ", 0x0B: " ", 0x7F: " ", 0x2007: " ", 0x202F: " ", 0x3000: " ", 0xFEFF: " "}
_LINE_ENDS = {0x85: "\n", 0x2028: "\n", 0x2029: "\n"}
_TABLE = {**_BLANKS, **_LINE_ENDS}
_ODD = re.compile("[\x0b\x0c\x1a\x7f\x85\xa0\u2007\u2028\u2029\u202f\u3000\ufeff]")
_ASCII_ODD = bytes((*range(0x09), 0x0B, 0x0C, *range(0x0E, 0x20), 0x7F))
"""The ASCII characters that both of these look for; deleting them is a quick way to see whether there is one."""
_NO_TEXT = re.compile("[\x00-\x08\x0e-\x19\x1b-\x1f]")


class Decoded(NamedTuple):
    """Text with `\\n` line ends. `unreadable` is the line (from 1) where it stops to be text, or 0."""

    text: str
    encoding: str
    unreadable: int = 0


def decode(data: bytes) -> Decoded:
    """Decode a netlist; never fails. Control-Z, no-break spaces and form feeds become blanks."""
    encoding, text = _decoded(data)
    if "\r" in text:
        text = text.replace("\r\r\n", "\n").replace("\r\n", "\n").replace("\r", "\n")
    if data.isascii() and len(data.translate(None, _ASCII_ODD)) == len(data):
        return Decoded(text, encoding)
    if _ODD.search(text) is not None:
        text = text.translate(_TABLE)
    stop = _NO_TEXT.search(text)
    if stop is None:
        return Decoded(text, encoding)
    line_start = text.rfind("\n", 0, stop.start()) + 1
    return Decoded(text[:line_start], encoding, text.count("\n", 0, line_start) + 1)


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
