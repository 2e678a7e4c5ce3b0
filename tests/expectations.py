"""Reads the `* expect:` comments in which fixtures and examples state what a check must find.

`* expect: RULE` and `* expect: RULE margin=0.71` stand above the card they are about, `* expect-open: RULE` for what
must stay open; several may be stacked. `* expect: none` says that nothing may be found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from isolint.errors import IsolintError, Place

_COMMENT = re.compile(r"\s*\*\s*expect(-open)?\s*:\s*(.*?)\s*\Z", re.IGNORECASE)
_SLUG = re.compile(r"[a-z][a-z0-9-]*\Z")


@dataclass(frozen=True, slots=True)
class Expectation:
    """One expected result with its `key=value` pairs; `line` of the comment, `card_line` of the next card or 0."""

    kind: Literal["fail", "open"]
    slug: str
    bounds: Mapping[str, float | str] = field(default_factory=dict)
    line: int = 1
    card_line: int = 0


def expectations(text: str) -> list[Expectation]:
    """Give the expectations of one file in order; `[]` for `* expect: none` and for a file that states nothing.

    Raise `IsolintError` for a comment that states no rule, and for `none` beside others.
    """
    lines = text.splitlines()
    found: list[Expectation] = []
    none_at = 0
    for number, line in enumerate(lines, 1):
        match = _COMMENT.match(line)
        if match is None:
            continue
        slug, *pairs = match[2].split() or [""]
        if slug == "none" and not pairs:
            none_at = number
            continue
        if not _SLUG.match(slug) or not all("=" in pair for pair in pairs):
            cure = "write `* expect: slug key=value`"
            raise IsolintError(f"the expectation `{match[2]}` can't be read", Place("", number), cure)
        bounds = {key: _bound(value) for key, _, value in (pair.partition("=") for pair in pairs)}
        found.append(Expectation("open" if match[1] else "fail", slug, bounds, number, _next_card(lines, number)))
    if found and none_at:
        raise IsolintError("the file expects none and something", Place("", none_at), "remove one of them")
    return found


def states_none(text: str) -> bool:
    """Whether a file says that nothing may be found."""
    matches = (_COMMENT.match(line) for line in text.splitlines())
    return any(match is not None and match[2] == "none" for match in matches)


def _bound(value: str) -> float | str:
    try:
        return float(value)
    except ValueError:
        return value


def _next_card(lines: list[str], number: int) -> int:
    """The line of the card below the comment in line `number`, 0 for none; other comments stand between."""
    for later in range(number, len(lines)):
        body = lines[later].strip()
        if body and body[0] not in "*;#$+":
            return later + 1
    return 0
