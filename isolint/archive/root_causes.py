"""What many boards have in common: one line for the part, record, block or habit behind the failures of forty of them.

Each failure and each question goes to the first key that covers two boards; what is left stands alone.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator
from typing import NamedTuple

from isolint.archive.gathering import Board
from isolint.archive.unit import InstanceBlock
from isolint.reports import summary
from isolint.results import UNJUDGED, Result

MOST_FACTS = 20
UNASKED = "part that nothing judges"
"""The kind of what no rule of this version judges of a type of part."""
_QUOTED = re.compile(r'"[^"]*"')
_ELEMENT = re.compile(r"\S*\d\S*")


class SharedCause(NamedTuple):
    """What several boards share. kind: of what it is; boards: their pages, in order; kinds: fails and opens."""

    kind: str
    what: str
    rule: str
    boards: tuple[str, ...]
    fails: int
    opens: int


class WantedFact(NamedTuple):
    """A fact that is lacking. boards, results: how many wait for it that nothing before it in the list settles."""

    key: str
    example: str
    boards: int
    results: int


class SharedCauses:
    """Gathers results board by board, and says in the end what they share."""

    def __init__(self) -> None:
        self._results: list[tuple[str, str, tuple[tuple[str, str], ...]]] = []
        self._covered: dict[tuple[str, str, str], set[str]] = {}
        self._said: dict[tuple[str, str], str] = {}
        self._lacking: list[tuple[str, tuple[str, ...]]] = []
        self._examples: dict[str, str] = {}

    def add(self, board: Board) -> None:
        """Take the failures and questions of a board; accepted ones are nobody's problem."""
        if board.doc is None:
            return
        models = {coupler.part: coupler.model for coupler in board.doc.report.couplers}
        blocks = {block.instance: block for block in board.doc.blocks}
        for result in board.doc.report.results:
            asked = result.kind == "open" and not summary.is_waived(result) and not summary.is_known(result)
            if not (asked or summary.is_active(result)):
                continue
            keys = []
            for kind, what, said in _keys(board, result, models, blocks.get(result.instance)):
                keys.append((kind, what))
                self._said.setdefault((kind, what), said)
                self._covered.setdefault((kind, what, result.rule), set()).add(board.title)
            self._results.append((board.title, f"{result.kind} {result.rule}", tuple(keys)))
            if asked and result.missing:
                self._lacking.append((board.title, tuple(fact.key for fact in result.missing)))
                for fact in result.missing:
                    self._examples.setdefault(fact.key, fact.example)

    def found(self) -> tuple[SharedCause, ...]:
        """What two boards and more share, the most boards first; what nothing judges of a part comes last."""
        taken: dict[tuple[str, str, str], tuple[dict[str, None], list[int]]] = {}
        for title, said, keys in self._results:
            kind, _, rule = said.partition(" ")
            for key in keys:
                if len(self._covered[*key, rule]) >= 2:
                    boards, count = taken.setdefault((*key, rule), ({}, [0, 0]))
                    boards[title] = None
                    count[kind == "open"] += 1
                    break
        made = [
            SharedCause(kind, self._said[kind, what], rule, tuple(boards), *count)
            for (kind, what, rule), (boards, count) in taken.items()
            if len(boards) >= 2
        ]
        return tuple(
            sorted(
                made,
                key=lambda each: (each.kind == UNASKED, -len(each.boards), -each.fails, -each.opens, each[:3]),
            )
        )

    def wanted(self) -> tuple[WantedFact, ...]:
        """The facts for which most questions wait, each counted without what those before it settle."""
        left = {at: set(keys) for at, (_, keys) in enumerate(self._lacking)}
        found: list[WantedFact] = []
        while left and len(found) < MOST_FACTS:
            by_key: dict[str, list[int]] = {}
            for at, keys in left.items():
                for key in keys:
                    by_key.setdefault(key, []).append(at)
            key, waiting = min(
                by_key.items(),
                key=lambda each: (-len({self._lacking[at][0] for at in each[1]}), -len(each[1]), each[0]),
            )
            titles = {self._lacking[at][0] for at in waiting}
            found.append(WantedFact(key, self._examples[key], len(titles), len(waiting)))
            for at in waiting:
                del left[at]
        return tuple(found)


def _keys(
    board: Board, result: Result, models: dict[str, str], block: InstanceBlock | None
) -> Iterator[tuple[str, str, str]]:
    """What a result may have in common with others, the nearest first: of which kind, by what it is known, its name."""
    if result.role == UNJUDGED:
        # No fault of a board: all that hold such a part have it.
        yield UNASKED, result.subject, result.subject.replace("-", " ")
        return
    own = board.unit.path
    if result.where.file != own and not result.where.file.startswith("isolint:"):
        path = f"{board.unit.root}/{posixpath.normpath(result.where.file)}:{result.where.line}"
        yield "shared file", path, path
    if block is not None:
        role = result.role.casefold().replace(f"{block.instance.casefold()}.", "")
        yield "block", f"{block.digest} {role}", f"{block.name}{f', {role}' if role else ''}"
    model = models.get(result.part, "")
    if model:
        yield "part", model, model
    for fact in result.missing:
        key = _QUOTED.sub('"*"', fact.key)
        yield "missing fact", key, key
    for assumption in result.assumptions[:1]:
        name = _ELEMENT.sub("*", assumption.name)
        yield "assumption", name, name.replace("*", "a part")
    yield "rule", result.rule, result.rule
