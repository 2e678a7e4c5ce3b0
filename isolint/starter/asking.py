"""The questions of `init`, asked one by one: what to ask, and the line that an answer becomes.

In: the text of a file with its questions, as `init` writes it. Out: `Asked`s, and the text with an answer in it. An
answer that would spoil the file is refused by whoever loads it; "?" or nothing leaves the question.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import NamedTuple

from isolint.starter.lines import BELOW
from isolint.tables import UNSTATED, basic_string

_QUESTION = re.compile(r'(# )?([A-Za-z_]+) = "\?"(?:  # (.*))?$')
_HEAD = re.compile(r"(# )?(\[\[?[^\[\]]+\]?\])")
_PLAIN = re.compile(r"true|false|[0-9]+(?:\.[0-9]+)?")


class Asked(NamedTuple):
    """One key without a value: the number of its line, its table, what is told of it, what is suggested for it."""

    line: int
    table: str
    key: str
    told: str
    suggested: str

    @property
    def name(self) -> str:
        """The last name in the key of its table."""
        found = tomllib.loads(self.table.replace("[[", "[").replace("]]", "]"))
        name = ""
        while found:
            name, found = next(iter(found.items()))
        return name


def questions(text: str) -> Iterator[Asked]:
    """What is still open in a file, in its order."""
    table = ""
    for number, line in enumerate(text.split("\n")):
        head = _HEAD.match(line)
        if head is not None:
            table = head[2]
        elif line.startswith(BELOW):
            # Its table stands elsewhere: an answer here would go into another one.
            table = ""
        found = _QUESTION.match(line)
        if found is not None and table:
            told = found[3] or ""
            _, sure, guess = told.partition("perhaps ")
            yield Asked(number, table, found[2], told, guess.partition(";")[0].strip() if sure else "")


def as_toml(answer: str) -> str:
    """An answer as a TOML value: lists, tables, numbers and quoted texts as they are, anything else in quotes."""
    text = answer.strip()
    if text[:1] in '["{' or _PLAIN.fullmatch(text):
        return text
    return basic_string(text)


def answered(text: str, asked: Asked, answer: str) -> str:
    """The file with one answer in it, its table no comment any more; unchanged where the answer is none."""
    if answer.strip() in ("", UNSTATED):
        return text
    lines = text.split("\n")
    lines[asked.line] = f"{asked.key} = {as_toml(answer)}"
    for number in range(asked.line - 1, -1, -1):
        head = _HEAD.match(lines[number])
        if head is None:
            continue
        if head[1]:
            lines[number] = lines[number].removeprefix("# ")
            if head[2].startswith("[["):
                lines[number + 1] = lines[number + 1].removeprefix("# ")
        break
    return "\n".join(lines)
