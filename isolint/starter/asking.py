"""The questions of `init`, asked one by one: what to ask, and the line that an answer becomes.

In: the text of a file with its questions, as `init` writes it. Out: `Blank`s, and the text with an answer in it. An
answer that would spoil the file is refused by whoever loads it; "?" or nothing leaves the question.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from isolint.facts.stated import TABLES, LineFacts, OutputFacts
from isolint.parts.records import SECTIONS
from isolint.starter.lines import BELOW
from isolint.tables import UNSTATED, basic_string

_QUESTION = re.compile(r'(# )?([A-Za-z_]+) = "\?"(?:  # (.*))?$')
_HEAD = re.compile(r"(# )?(\[\[?[^\[\]]+\]?\])")
_PLAIN = re.compile(r"true|false|[0-9]+(?:\.[0-9]+)?")
_EXAMPLE = re.compile(r"for example (.*)")
_BETWEEN = re.compile(r"\s*(?:,|\.\.|\bto\b)\s*")


class Blank(NamedTuple):
    """One key without a value: the number of its line, its table, and what is told of it."""

    line: int
    table: str
    key: str
    told: str

    @property
    def names(self) -> tuple[str, ...]:
        """The names in the key of its table."""
        found = tomllib.loads(self.table.replace("[[", "[").replace("]]", "]"))
        names: list[str] = []
        while found:
            name, found = next(iter(found.items()))
            names.append(name)
        return tuple(names)

    @property
    def path(self) -> str:
        """The whole key, as results ask for it."""
        return f"{self.table.strip('[]')}.{self.key}"

    @property
    def is_of_insulation(self) -> bool:
        """Whether it is about the insulation of a part."""
        return self.names[:1] == ("parts",) and self.names[2:] == ("insulation",)

    @property
    def name(self) -> str:
        """What it is asked of: the part, element or net in the key of its table, "" for none."""
        return self.names[1] if len(self.names) > 1 else ""

    @property
    def example(self) -> Any:
        """The example that is told of it, as TOML means it; None where there is none."""
        found = _EXAMPLE.search(self.told)
        if found is None:
            return None
        for end in range(len(found[1]), 0, -1):
            try:
                return tomllib.loads(f"x = {found[1][:end]}")["x"]
            except tomllib.TOMLDecodeError:
                continue
        return None


def questions(text: str) -> Iterator[Blank]:
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
            yield Blank(number, table, found[2], found[3] or "")


def as_toml(answer: str, example: Any = None) -> str:
    """An answer as a TOML value: lists, tables, numbers and quoted texts as they are, anything else in quotes.

    Where the example is a list, words with commas, `..` or "to" between them are one.
    """
    text = answer.strip()
    if text[:1] in '["{' or _PLAIN.fullmatch(text):
        return text
    if isinstance(example, list):
        words = [word for word in _BETWEEN.split(text) if word]
        if len(words) > 1 or (example and len(example) != 2):
            return f"[{', '.join(map(basic_string, words))}]"
    return basic_string(text)


def together(values: Mapping[str, str]) -> str:
    """Answers to the keys of one table within a line; "" where none has an answer."""
    known = {key: value for key, value in values.items() if value.strip() not in ("", UNSTATED)}
    if not known:
        return ""
    return f"{{ {', '.join(f'{key} = {as_toml(value)}' for key, value in known.items())} }}"


def answered(text: str, asked: Blank, answer: str) -> str:
    """The file with one answer in it, its table no comment any more; unchanged where the answer is none."""
    if answer.strip() in ("", UNSTATED):
        return text
    lines = text.split("\n")
    lines[asked.line] = f"{asked.key} = {as_toml(answer, asked.example)}"
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


def title_of(asked: Blank) -> str:
    """What a key means: as data sheets call it or as messages do; "" for what no row says."""
    names = asked.names
    table = ".".join((names[0], *names[2:])) if len(names) > 1 else ".".join(names)
    for rows in (*SECTIONS, *TABLES):
        row = next((row for row in rows.ROWS.values() if table == rows.TABLE and row.key == asked.key), None)
        if row is not None:
            return row.sheet or row.title.format(asked.name).removesuffix(" of ")
    return ""


def is_of_a_line(asked: Blank) -> bool:
    """Whether it is the first question about a net that leads off the board, which a logic output may drive."""
    return asked.names[:1] == ("lines",) and asked.key == LineFacts.on.key


def as_output(text: str, asked: Blank) -> str:
    """The file with the questions about a logic output in place of those about a line off the board."""
    lines = text.split("\n")
    start = asked.line
    while not _HEAD.match(lines[start]):
        start -= 1
    end = start + 1
    while end < len(lines) and _QUESTION.match(lines[end]):
        end += 1
    rows = (OutputFacts.supply, OutputFacts.high, OutputFacts.low)
    lines[start:end] = [f"# [{OutputFacts.supply.head(asked.name)}]", *(f"# {row.entry()}" for row in rows)]
    return "\n".join(lines)


def with_tables(text: str, asked: Blank, lines_by_head: Mapping[str, str]) -> str:
    """The file with more tables of one line each behind the table of a question."""
    lines = text.split("\n")
    end = asked.line + 1
    while end < len(lines) and lines[end].strip() and not lines[end].startswith(("[", "#")):
        end += 1
    lines[end:end] = [part for head, line in lines_by_head.items() for part in ("", head, line)]
    return "\n".join(lines)


def type_in(text: str, table: str) -> str:
    """The type that a table of a file states, "" for none."""
    inside = False
    for line in text.split("\n"):
        head = _HEAD.match(line)
        if head is not None:
            inside = head[2] == table and not head[1]
        found = re.match(r'type = "([a-z-]+)"', line)
        if inside and found is not None:
            return found[1]
    return ""
