"""Whether the first line of a netlist is its title, and why it is taken so."""

from __future__ import annotations

from typing import NamedTuple

from isolint.netlist.element import BadCard
from isolint.netlist.fast import fast
from isolint.netlist.malformed import shown
from isolint.netlist.prose import is_english, looks_like_name
from isolint.netlist.text_lines import without_comment

_LONGEST = 1_000


class Title(NamedTuple):
    """The title or None, why, the physical line (from 0) with which the cards begin, and what there is to remark."""

    text: str | None
    reason: str
    first: int
    remark: str | None


def title_of(text: str) -> Title:
    """Judge the first line of the file that was named: in SPICE it is the title, unless it is plainly a library's."""
    line = text[: text.find("\n")] if "\n" in text else text
    body = line.strip()
    if not body:
        return Title(None, "the first line is blank", 1, None)
    if body[0] == "*":
        return Title(None, "the first line is a comment", 0, None)
    if body[0] == ".":
        word, _, rest = body.partition(" ")
        if word.lower() == ".title":
            return Title(rest.strip(), "the first line is a .title card", 1, None)
        return Title(None, "the first line is a dot card, so the file is read like a library", 0, None)
    remark = None
    if _is_element(body):
        remark = (
            f"the first line `{shown(body, 40)}` is taken for the title, as in any deck, and reads as an element too"
        )
    return Title(body, "the first line of a deck is its title", 1, remark)


def _is_element(body: str) -> bool:
    """Whether a title line reads completely as an element card."""
    if len(body) > _LONGEST or not body[0].isalpha():
        return False
    body = without_comment(body)
    name = body.split(None, 1)[0]
    if not looks_like_name(name) or is_english(body):
        return False
    if fast(body) is not None:
        return True
    from isolint.netlist.shapes import element

    try:
        found = element(body)
    except BadCard:
        return False
    return found.letter not in "TUAYPNZO" or len(name) > 1
