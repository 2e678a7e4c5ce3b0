"""Text from a netlist made harmless for where it goes: one function a context.

Names, messages and remedies may carry whatever a stranger wrote into a netlist. Every format passes such text
through the function of its context here, and nowhere else decides what is dangerous. A new context (Markdown, XML,
HTML, CSV, CI command lines) is one more function beside these.
"""

from __future__ import annotations

import json
import unicodedata
from typing import Final

_NAMED: Final = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}
_SEPARATORS: Final = frozenset("\u2028\u2029")
_BIDI: Final = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def is_harmful(character: str) -> bool:
    """Whether a character can move a cursor, break a line, reorder or hide text: controls, bidi, format, surrogates."""
    if " " <= character <= "~":
        return False
    if character in _BIDI or character in _SEPARATORS:
        return True
    return unicodedata.category(character) in ("Cc", "Cf", "Cs")


def terminal(text: str) -> str:
    """Give `text` as one line that a terminal shows as it stands; what could do harm is shown as an escape."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_code(character) if is_harmful(character) else character for character in text)


def terminal_lines(text: str) -> list[str]:
    """Split at line feeds only, each line as by `terminal`; for texts that may have several lines by design."""
    return [terminal(line) for line in text.split("\n")]


def json_document(value: object) -> str:
    """Write a JSON document in ASCII, two blanks an indent, closing line feed; refuse NaN and infinities.

    ASCII keeps bidi and control characters from reaching a terminal or an editor raw; `<` is left alone, since a
    document embedded in HTML has a context of its own.
    """
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, indent=2)
    return text.replace("\x7f", "\\u007f") + "\n"


def _code(character: str) -> str:
    named = _NAMED.get(character)
    if named is not None:
        return named
    number = ord(character)
    if number < 0x100:
        return f"\\x{number:02x}"
    if number < 0x10000:
        return f"\\u{number:04x}"
    return f"\\U{number:08x}"
