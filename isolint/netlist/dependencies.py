"""What a file includes, seen from its text alone, fast: for asking which netlists a change concerns.

It finds at least what the reader would follow; cards in a block that is skipped are taken too, which costs one check
too many and never one too few.
"""

from __future__ import annotations

import re

from isolint.netlist.decoding import decode
from isolint.netlist.includes import library_arguments, path_argument
from isolint.netlist.text_lines import without_comment
from isolint.netlist.words import ALIASES, KNOWN, STRUCTURE

_CANDIDATE = re.compile(rb"\n[ \t]*\.[ \t]*[iIlL]")
_CARD = re.compile(r"\n[ \t]*\.[ \t]*([A-Za-z_]+)([^\n]*(?:\n[ \t]*\+[^\n]*)*)")


def included(data: bytes) -> tuple[str, ...]:
    """The names in `.include` and `.lib` cards as they are written, each once, in order."""
    if b"\x00" not in data[:4096] and b"\r" not in data and not _CANDIDATE.search(b"\n" + data):
        return ()
    found: dict[str, None] = {}
    for word, rest in _CARD.findall("\n" + decode(data).text):
        meant = meaning(word.lower())
        if meant in ("include", "lib"):
            joined = " ".join(part.strip().removeprefix("+").strip() for part in without_comment(rest).split("\n"))
            name = path_argument(joined) if meant == "include" else library_arguments(joined)[0]
            if name:
                found[name] = None
    return tuple(found)


def meaning(word: str) -> str:
    """The dot word that the reader takes this one for."""
    word = ALIASES.get(word, word)
    if word in KNOWN or len(word) > 20:
        return word
    from difflib import get_close_matches

    near = get_close_matches(word, STRUCTURE, n=1, cutoff=0.7)
    return near[0] if near else word
