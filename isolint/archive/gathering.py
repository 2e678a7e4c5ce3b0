"""A store read for its record: each board with its findings, one after the other, in the order of their paths."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from isolint.archive.codec import read
from isolint.archive.store import Store, Trace, Unit
from isolint.archive.unit import Doc, placed_at
from isolint.checking.waivers import UNMATCHED
from isolint.errors import IsolintError
from isolint.reports import summary
from isolint.results import Margin, Result

GROUPS = ("failing", "open", "unreadable", "sound")
"""The boards in the order in which an index lists them; `unreadable` are those that could not be judged too."""

_SLUG = re.compile(r"[^a-z0-9]+")


class Board(NamedTuple):
    """One netlist of the archive. doc: what was found, None where it was not judged. same_as: the first board with the
    same content and findings, "" for that one itself."""

    unit: Unit
    trace: Trace | None
    doc: Doc | None
    same_as: str

    @property
    def page(self) -> str:
        """The name of its page."""
        return page_of(self.unit.root, self.unit.path)

    @property
    def title(self) -> str:
        """Root and path."""
        return f"{self.unit.root}/{self.unit.path}"


class IndexRow(NamedTuple):
    """What the index says of a board. failing: the rules that fail."""

    root: str
    path: str
    page: str
    group: str
    state: str
    reason: str
    same_as: str
    digest: str
    channels: int = 0
    judged: int = 0
    fails: int = 0
    opens: int = 0
    waived: int = 0
    cards: int = 0
    understood: int = 0
    worst_rule: str = ""
    worst: float | None = None
    failing: tuple[str, ...] = ()

    @property
    def order(self) -> tuple[int, str, str, str]:
        """Where it stands in the index."""
        return GROUPS.index(self.group), self.root, self.path.casefold(), self.path


def page_of(root: str, path: str) -> str:
    """A name that is safe in any file system, and another one for another board."""
    slug = _SLUG.sub("-", path.lower()).strip("-")[-60:].strip("-")
    digest = hashlib.sha256(f"{root}\0{path}".encode("utf-8", "backslashreplace")).hexdigest()[:12]
    return f"{slug or 'board'}-{digest}.html"


def boards(store: Store) -> Iterator[Board]:
    """All netlists, judged or not; raise `IsolintError` where the store does not hold what it says."""
    waivers = _Waivers(store)
    first: dict[str, str] = {}
    kept: tuple[str, Trace, Doc] | None = None
    for unit in store.units():
        if unit.state not in ("done", "failed", "unreadable"):
            continue
        same_as = ""
        if unit.key:
            same_as = first.setdefault(unit.key, f"{unit.root}/{unit.path}")
        trace: Trace | None = None
        doc: Doc | None = None
        if unit.key and kept is not None and kept[0] == unit.key:
            trace, doc = kept[1], kept[2]
        elif unit.key:
            trace = store.trace(unit.key)
            if trace is None:
                raise IsolintError(f"{unit.path}: its judgement is missing in the store", cure="audit it again")
            if trace.doc:
                doc = read(Doc, store.doc(trace.doc))
                kept = (unit.key, trace, doc)
        placed = None if doc is None else waivers.said_once(placed_at(unit.path, doc), unit.root)
        yield Board(unit, trace, placed, "" if same_as == f"{unit.root}/{unit.path}" else same_as)


class _Waivers:
    """What is wrong with waivers that several boards share is said once; one that some board needs is not wrong."""

    def __init__(self, store: Store) -> None:
        self._said: set[tuple[str, str, str, str]] = set()
        counted: Counter[str] = Counter()
        unmatched: Counter[tuple[str, str]] = Counter()
        for unit in store.units():
            trace = store.trace(unit.key) if unit.key else None
            if trace is None or not trace.dated or not trace.doc:
                continue
            report = placed_at(unit.path, read(Doc, store.doc(trace.doc))).report
            counted.update(f"{unit.root}/{file}" for file in dict.fromkeys(report.files))
            held = {(f"{unit.root}/{each.where.file}", each.subject) for each in report.results if _is_unmatched(each)}
            unmatched.update(held)
        self._idle = {key for key, number in unmatched.items() if number >= counted[key[0]]}

    def said_once(self, doc: Doc, root: str) -> Doc:
        """A document without what an earlier one says of a waiver, and without what is no fault of it."""
        kept = []
        for result in doc.report.results:
            if not result.acceptable:
                file = f"{root}/{result.where.file}"
                if _is_unmatched(result) and (file, result.subject) not in self._idle:
                    continue
                message = "" if _is_unmatched(result) else result.message
                key = (file, result.subject, result.role, message)
                if key in self._said:
                    continue
                self._said.add(key)
            kept.append(result)
        return doc._replace(report=doc.report._replace(results=tuple(kept)))


def _is_unmatched(result: Result) -> bool:
    return not result.acceptable and result.role == UNMATCHED


def row_of(board: Board) -> IndexRow:
    """The line of a board."""
    unit, doc = board.unit, board.doc
    about = (unit.root, unit.path, board.page)
    if doc is None:
        return IndexRow(*about, "unreadable", unit.state, unit.reason, board.same_as, unit.digest)
    results = doc.report.results
    count = summary.counts(results)
    worst = worst_of(results)
    coverage = doc.report.coverage
    group = "failing" if count.failures else "open" if count.opens else "sound"
    return IndexRow(
        *about,
        group,
        unit.state,
        unit.reason,
        board.same_as,
        unit.digest,
        coverage.channels,
        coverage.judged,
        count.failures,
        count.opens,
        count.waived,
        coverage.cards,
        coverage.understood,
        "" if worst is None else worst[1].rule,
        None if worst is None else worst[0],
        tuple(dict.fromkeys(result.rule for result in results if summary.is_active(result))),
    )


def worst_of(results: tuple[Result, ...]) -> tuple[float, Result] | None:
    """The smallest margin over what is required, and the result that has it; accepted ones count too."""
    found = [
        (share(result.margin), at)
        for at, result in enumerate(results)
        if result.margin is not None and result.kind in ("pass", "fail", "open")
    ]
    if not found:
        return None
    least, at = min(found)
    return least, results[at]


def share(margin: Margin) -> float:
    """A margin over what is required: 1.00 is just enough."""
    return margin.value / margin.required if margin.required > 0.0 else margin.value
