"""The lines of a settings or record file as people keep them: which keys stand under which table, also as comments.

In: the text of a file. Out: what is there already, so that a question is asked once. Nothing that stands is changed:
new lines go to the end, under a table that is there as a comment that says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

_HEAD = re.compile(r"(# )?(\[\[?[^\[\]]+\]?\])")
BELOW = "# below "
"""How a line begins that says that its keys belong to a table further up."""

_KEY = re.compile(r"(# )?([A-Za-z_]+) = (.*)")


def written(text: str) -> dict[str, set[str]]:
    """The keys by table, the top of the file under ""; a comment counts. Of a list of tables its first line tells."""
    found: dict[str, set[str]] = {"": set()}
    head, pending = "", False
    for line in text.split("\n"):
        start = _HEAD.match(line)
        key = _KEY.match(line)
        if start is not None:
            head = _plain(start[2])
            pending = head.startswith("[[")
        elif key is not None and pending:
            head, pending = f"{head} {_plain(f'{key[2]} = {key[3]}')}", False
        elif key is not None:
            found.setdefault(head, set()).add(key[2])
        if start is not None or key is not None:
            found.setdefault(head, set())
    return found


def stands(text: str) -> set[str]:
    """The tables that stand there as more than a comment."""
    return {_plain(found[2]) for line in text.split("\n") if (found := _HEAD.match(line)) is not None and not found[1]}


def tables(lines: str) -> Iterator[tuple[str, list[str]]]:
    """The tables of some lines, each with its head and its lines."""
    head = ""
    body: list[str] = []
    for line in lines.split("\n"):
        if line.startswith("["):
            if head:
                yield head, body
            head, body = line, []
        else:
            body.append(line)
    yield head, body


def name_of(head: str, body: Sequence[str]) -> str:
    """What tells a table from others: its head, of a list of tables with the line that says which."""
    return f"{_plain(head)} {_plain(body[0])}" if head.startswith("[[") and body else _plain(head)


def key_of(line: str) -> str:
    """The key of a line."""
    return line.partition("=")[0].strip()


def _plain(text: str) -> str:
    """Without a comment behind, and without the quotes that TOML does not need."""
    bare = re.sub(r"\]\s+#.*$", "]", text.strip())
    return re.sub(r'"([A-Za-z0-9_-]+)"', r"\1", bare)


def fresh(block: Sequence[str], text: str) -> list[str]:
    """What of a block of commented lines does not stand in a file yet; nothing where that is no key.

    Under a table that stands there already the lines say so: a second one of its name would be no TOML.
    """
    known, there = written(text), stands(text)
    found: list[str] = []
    told: list[str] = []
    head, start, keys = "", list[str](), 0
    for line in block:
        begin, key = _HEAD.match(line), _KEY.match(line)
        if begin is not None:
            head, start = _plain(begin[2]), [line]
        elif key is None:
            told.append(line)
        elif head.startswith("[[") and len(start) == 1:
            head, start = f"{head} {_plain(f'{key[2]} = {key[3]}')}", [*start, line]
        elif key[2] not in known.get(head, ()):
            if start:
                below = head.split("] ")[0].rstrip("]") + ("]]" if head.startswith("[[") else "]")
                found += [f"{BELOW}{below}, which stands above:"] if head in there else start
                start = []
            found.append(line)
            keys += 1
    return [*told, *found] if keys else []
