"""A store as others see it: read by plain sqlite3, compared as a whole."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from contextlib import nullcontext
from datetime import date
from pathlib import Path
from typing import Any

from isolint.archive.auditing import AuditOrder, Sum, audit, processes
from isolint.archive.unit import Rules, judge
from isolint.archive.workers import Done, JudgeRequest
from isolint.source import FolderTree

TODAY = date(2026, 1, 1)
DIVIDER = "* a divider\nR1 a b 1k\nR2 b 0 1k\nV1 a 0 5\n.end\n"
"""The smallest board there is: nothing isolates."""


def small(folder: Path, number: int = 3) -> Path:
    """A folder of boards that are judged in no time."""
    folder.mkdir(parents=True)
    for at in range(number):
        (folder / f"b{at}.cir").write_text(f"{DIVIDER}* board {at}\n", encoding="utf-8")
    return folder


def rows(store: Path, query: str, *values: object) -> list[tuple[Any, ...]]:
    """What a query of plain sqlite3 gives."""
    connection = sqlite3.connect(store)
    try:
        return connection.execute(query, values).fetchall()
    finally:
        connection.close()


def states(store: Path) -> dict[str, str]:
    """State by path."""
    return dict(rows(store, "SELECT path, state FROM unit"))


def documents(store: Path) -> dict[str, tuple[str, str, str, bytes]]:
    """State, key, reason and document by path: all that a record is made from."""
    query = (
        "SELECT unit.path, unit.state, unit.key, unit.reason, coalesce(doc.json, '') FROM unit "
        "LEFT JOIN trace USING (key) LEFT JOIN doc ON doc.digest = trace.doc"
    )
    return {row[0]: (row[1], row[2], row[3], bytes(row[4] or b"")) for row in rows(store, query)}


def document(store: Path, path: str) -> dict[str, Any]:
    """One document as plain JSON."""
    found: dict[str, Any] = json.loads(zlib.decompress(documents(store)[path][3]))
    return found


class Here:
    """Judges netlists in this process, one after the other: for what is not about processes."""

    free = 1
    at = ""

    def __init__(self, rules: Rules) -> None:
        self._rules = rules
        self._waiting: list[JudgeRequest] = []

    @property
    def busy(self) -> int:
        return len(self._waiting)

    def submit(self, request: JudgeRequest) -> None:
        self._waiting.append(request)

    def wait(self, seconds: float) -> Iterator[Done]:
        for request in self._waiting[:]:
            self._waiting.remove(request)
            yield Done(request, judge(FolderTree(request.top), request.path, self._rules), 0.0, 0.0, "here")


def run(folder: Path, store: Path, jobs: int = 0, **more: Any) -> Sum:
    """Audit a folder, in silence; in this process, unless so many jobs are asked for."""
    asked = AuditOrder((str(folder),), str(store), jobs, root=str(folder), today=TODAY, **more)
    pools = processes if jobs else lambda _, rules: nullcontext(Here(rules))
    return audit(asked, lambda progress: None, pools)


def judged(store: Path, since: int = 0) -> Sequence[str]:
    """The netlists that were judged, in their order."""
    return [row[0] for row in rows(store, "SELECT path FROM attempt WHERE id > ? ORDER BY id", since)]
