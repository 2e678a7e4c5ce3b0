"""Whether a TOML text is small enough to be read: the parser takes memory with the square of a key's length.

In: text. Out: what is too much, in words with a cure. Everything is counted in one pass before anything is parsed.
"""

from __future__ import annotations

import re

DEPTH = 16
"""Parts of a dotted key, and tables and lists inside each other; ours need four."""
BYTES_FOR_AN_ENTRY = 10
"""A file may hold an entry, which is a key, value, table or list, for each of so many bytes that it may have."""

# Strings and comments are passed over; an unclosed one takes the rest, and the parser says what is wrong with it.
_TOKEN = re.compile(
    r'"""(?:[^"\\]|\\(?:.|\Z)|"(?!""))*(?:"{3,5}|\Z)'
    r"|'''(?:[^']|'(?!''))*(?:'{3,5}|\Z)"
    r'|"(?:[^"\\\n]|\\.)*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*"
    r"|[][{}=,.\n]",
    re.DOTALL,
)


def too_much(text: str, most_bytes: int) -> tuple[str, str] | None:
    """What a text has too much of, as what is wrong with its line and the cure; None where it can be read."""
    entries = depth = dots = 0
    line = 1
    for token in _TOKEN.findall(text):
        if token == ".":
            dots += 1
            if dots >= DEPTH:
                return f"line {line}: a key has more than {DEPTH} parts", "write keys of a few parts"
            continue
        if token == "\n" or token[0] in "\"'#":
            line += token.count("\n")
            if token == "\n":
                dots = 0
            continue
        dots = 0
        if token in "[{":
            depth += 1
            if depth > DEPTH:
                return f"line {line}: tables and lists stand more than {DEPTH} deep in each other", "write them flat"
        elif token in "]}":
            depth = max(0, depth - 1)
            continue
        entries += 1
        if entries > most_bytes // BYTES_FOR_AN_ENTRY:
            return f"line {line}: the file holds more than {most_bytes // BYTES_FOR_AN_ENTRY:,} entries", "split it"
    return None
