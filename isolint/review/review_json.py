"""A review as JSON, `isolint-review/1`, for programs and for `isolint post`; read back strictly, for it may be hostile.

Holds no Markdown and no address: who posts it makes all texts anew from the fields.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from isolint.reports.escape import json_document
from isolint.review.document import Unreadable, plain, read, schema
from isolint.review.values import Review

FORMAT: Final = "isolint-review/1"
MOST_BYTES: Final = 8 * 1024 * 1024
MOST_DEPTH: Final = 20
_PATHS = ("file", "netlist", "old", "new")
"""Keys of the document that hold a path."""


class _Document(NamedTuple):
    """A review with the name of its format; `complete` and `exit_status` follow from the review."""

    format: str
    complete: bool
    exit_status: int
    review: Review


def render(review: Review) -> str:
    """Write the whole review as one JSON document; same review, same bytes."""
    return json_document(plain(_Document(FORMAT, review.complete, review.exit_status, review)))


def json_schema() -> dict[str, object]:
    """The JSON Schema (draft 2020-12) of what `render` writes."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": FORMAT,
        **schema(_Document),
    }


def load(data: bytes) -> Review:
    """Read a document that may come from anybody; raise `Unreadable` where it is not exactly what `render` writes."""
    if len(data) > MOST_BYTES:
        raise Unreadable(f"the file is larger than {MOST_BYTES // (1024 * 1024)} MiB")
    if _depth(data) > MOST_DEPTH:
        raise Unreadable(f"the file is nested deeper than {MOST_DEPTH}")
    try:
        raw: Any = json.loads(data.decode("utf-8"), parse_constant=_refused)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"the file is no JSON: {error}") from None
    found = read(_Document, raw)
    if found.format != FORMAT:
        raise Unreadable(f"the format is {found.format!r}, {FORMAT} is read here")
    for path in _paths(raw):
        if path.startswith("/") or ".." in path.split("/"):
            raise Unreadable(f"the path {path!r} leads out of the repository")
    return found.review


def _paths(raw: Any) -> Iterator[str]:
    """The paths of files in a document."""
    waiting = [raw]
    while waiting:
        each = waiting.pop()
        if isinstance(each, list):
            waiting += each
        elif isinstance(each, dict):
            waiting += each.values()
            yield from (each[key] for key in _PATHS if isinstance(each.get(key), str))
            yield from each.get("on", ())


def _refused(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _depth(data: bytes) -> int:
    """How deep lists and objects are nested; brackets in texts do not count."""
    depth = most = 0
    inside = escaped = False
    for byte in data:
        if escaped:
            escaped = False
        elif inside:
            if byte == 0x5C:
                escaped = True
            elif byte == 0x22:
                inside = False
        elif byte == 0x22:
            inside = True
        elif byte in b"[{":
            depth += 1
            most = max(most, depth)
        elif byte in b"]}":
            depth -= 1
    return most
