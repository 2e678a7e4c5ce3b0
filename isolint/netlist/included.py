"""Whether an included file is a netlist at all: what is none may be anybody's secret, and must not be quoted."""

from __future__ import annotations

import re
from itertools import chain

from isolint.netlist.element import BadCard, Element
from isolint.netlist.ends import has_number
from isolint.netlist.fast import fast
from isolint.netlist.prose import is_encrypted
from isolint.netlist.recovery import recovered
from isolint.netlist.text_lines import Line, cards
from isolint.netlist.words import ALIASES, KNOWN

_SURE = re.compile(r"[A-Za-z]{1,8}[._-]?\d")
_TRIED = 500
"""So many lines of a file that may hold no card at all go through the grammar."""


def is_no_netlist(text: str) -> bool:
    """Whether an included file has lines and none of them is surely a card: then nothing of it is read or shown.

    An encrypted body is no such file: it says so itself.
    """
    lines = cards(text)
    first = next((line for line in lines if line.text), None)
    if first is None or is_encrypted(first.text):
        return False
    tried = 0
    for line in chain((first,), lines):
        text = line.text
        if text[:1] == ".":
            word = text[1:40].split(None, 1)[:1]
            if word and ALIASES.get(word[0].lower(), word[0].lower()) in KNOWN:
                return False
            continue
        if not (text[:1].isalpha() and text[0].isascii()):
            continue
        found = fast(text)
        if found is None and tried < _TRIED and _SURE.match(text):
            tried += 1
            found = _recovered(line)
        if found is not None and _is_sure(found):
            return False
    return True


def _recovered(line: Line) -> Element | None:
    try:
        return recovered(line.text)
    except BadCard:
        return None


def _is_sure(found: Element) -> bool:
    """Whether a line that reads as an element can be nothing else."""
    if found.letter in "RCLVI" and has_number(found.value):
        return True
    alone = len(found.name) == 1 and found.letter in "DQJMEGFHBSWXK"
    return alone or _SURE.match(found.name) is not None or (found.letter == "X" and len(found.nodes) > 1)
