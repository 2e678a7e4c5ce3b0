"""What somebody writes who answers a printed question with the example or the guess that stands beside it."""

from __future__ import annotations

import re
from collections.abc import Mapping

_ASKED = re.compile(r'(?m)^(# )?(\w+) = "\?"  # (.*)$')
NOTHING: Mapping[str, str] = {}


def answered(lines: str, values: Mapping[str, str] = NOTHING) -> str:
    """The lines with each placeholder answered: by `values` (TOML, by key), else by what is told beside it."""
    return _ASKED.sub(lambda found: f"{found[1] or ''}{found[2]} = {values.get(found[2]) or _told(found[3])}", lines)


def _told(text: str) -> str:
    for word in ("for example ", "perhaps "):
        if word in text:
            told = text.partition(word)[2].partition(";")[0]
            return told if told[0] in '"[{' or told[0].isdigit() else f'"{re.split("[ ,]", told)[0]}"'
    if text == "true or false":
        return "true"
    return f'"{text.removeprefix("one of ").partition(",")[0]}"'
