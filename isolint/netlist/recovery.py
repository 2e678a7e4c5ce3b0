"""Reads an irregular card through the grammar, and mends what is often wrong with one before giving up."""

from __future__ import annotations

import re

from isolint.netlist.element import BadCard, CardRemark, Element

_TRAILING = re.compile(r"\s\*(?:\s|$)")


def recovered(text: str) -> Element:
    """Read a card; raise the first `BadCard` if neither it nor a mended form of it can be read."""
    from isolint.netlist.shapes import element

    try:
        found = element(text)
    except BadCard as first:
        for mended, remark in _mended(text):
            try:
                found = element(mended)
            except BadCard:
                continue
            return found._replace(remarks=(*found.remarks, remark))
        raise first from None
    if text.count("{") > text.count("}"):
        remark = CardRemark("note", "has a brace that is never closed", "write `}`")
        return found._replace(remarks=(*found.remarks, remark))
    return found


def without_strays(text: str) -> str:
    """The text with a blank for each closing parenthesis that none opens."""
    depth = 0
    characters = list(text)
    for at, character in enumerate(characters):
        if character == "(":
            depth += 1
        elif character == ")":
            if depth:
                depth -= 1
            else:
                characters[at] = " "
    return "".join(characters)


STRAY = CardRemark("note", "has a parenthesis that is never opened", "remove `)`")


def _mended(text: str) -> list[tuple[str, CardRemark]]:
    tries: list[tuple[str, CardRemark]] = []
    lacking = text.count("(") - text.count(")")
    if 0 < lacking < 10:
        tries.append((text + ")" * lacking, CardRemark("note", "has a parenthesis that is never closed", "write `)`")))
    if ")" in text and (mended := without_strays(text)) != text:
        tries.append((mended, STRAY))
    comment = _TRAILING.search(text)
    if comment is not None:
        remark = CardRemark("note", "has words behind `*`, which are taken for a comment", "write `;` before a comment")
        tries.append((text[: comment.start()], remark))
    return tries
