"""What is compared: the store of an audit, or a result file, read into the same plain form."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from isolint.archive.gathering import boards
from isolint.archive.recording import lacking
from isolint.archive.store import reading
from isolint.errors import IsolintError, Place
from isolint.results import Margin, Measure, MissingFact, Result, Suppression

MOST_BYTES = 256 * 1024 * 1024
_FORMAT = "isolint-results/1"
_STORE = b"SQLite format 3\0"


class JudgedBoard(NamedTuple):
    """One board of a state. digest: of its content, "" where nobody says; reason: why it is not done; parts: its
    couplers."""

    title: str
    digest: str
    done: bool
    reason: str
    results: tuple[Result, ...]
    parts: tuple[str, ...]


class ComparedState(NamedTuple):
    """One state: its boards by path. tool: by which states made by one tool are known. plain: whether it says no more
    than a result file does. notes: what is lacking."""

    boards: Mapping[str, JudgedBoard]
    tool: str
    plain: bool
    notes: tuple[str, ...]


def load(path: str) -> ComparedState:
    """Read a store or a result file; raise `IsolintError`."""
    try:
        with open(path, "rb") as file:
            head = file.read(len(_STORE))
            if head != _STORE:
                if os.fstat(file.fileno()).st_size > MOST_BYTES:
                    raise IsolintError(f"the file is larger than {MOST_BYTES // 2**20} MiB", Place(path))
                return _results(path, head + file.read())
    except OSError as error:
        raise IsolintError(f"it can't be read: {(error.strerror or str(error)).lower()}", Place(path)) from None
    return _store(path)


def _store(path: str) -> ComparedState:
    with reading(path) as store:
        meta, states = store.meta(), store.states()
        found = {}
        for board in boards(store):
            doc = board.doc
            results = () if doc is None else doc.report.results
            parts = () if doc is None else tuple(coupler.part for coupler in doc.report.couplers)
            unit = board.unit
            found[board.title] = JudgedBoard(board.title, unit.digest, doc is not None, unit.reason, results, parts)
        incomplete = lacking(meta, states)
        notes = (f"{os.path.basename(path)} is incomplete: {incomplete}",) if incomplete else ()
        return ComparedState(found, f"{meta['version']} {meta['tool']}", False, notes)


def _results(path: str, data: bytes) -> ComparedState:
    wrong = IsolintError(f"this is no store and no result file ({_FORMAT})", Place(path), "check --format json")
    try:
        raw = json.loads(data)
        if not isinstance(raw, dict) or raw.get("format") != _FORMAT:
            raise wrong
        results: dict[str, list[Result]] = {each["netlist"]: [] for each in raw["coverage"]}
        parts: dict[str, list[str]] = {}
        for each in raw["couplers"]:
            parts.setdefault(_text(each["netlist"]), []).append(_text(each["part"]))
        for each in raw["results"]:
            results.setdefault(_text(each["netlist"]), []).append(_result(each))
        found = {
            netlist: JudgedBoard(netlist, "", True, "", tuple(own), tuple(parts.get(netlist, ())))
            for netlist, own in sorted(results.items())
        }
        notes = tuple(_notes(path, raw["errors"]))
        return ComparedState(found, str(raw["tool"]["version"]), True, notes)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise wrong from None


def _notes(path: str, errors: list[Any]) -> Iterator[str]:
    if errors:
        yield f"{os.path.basename(path)} is incomplete: {len(errors)} netlists could not be judged"


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value


def _number(value: object) -> float:
    """A number; null stands for one that JSON can't hold."""
    if value is None:
        return math.inf
    if not isinstance(value, int | float):
        raise TypeError
    return float(value)


def _result(raw: Mapping[str, Any]) -> Result:
    margin, measure, waiver = raw["margin"], raw["measure"], raw["suppression"]
    where = raw["where"]
    if raw["kind"] not in ("pass", "fail", "open", "notApplicable"):
        raise ValueError
    return Result(
        netlist=_text(raw["netlist"]),
        rule=_text(raw["rule"]),
        kind=raw["kind"],
        level=raw["level"],
        message=_text(raw["message"]),
        where=Place(_text(where["file"]), int(where["line"]), int(where["column"])),
        subject=_text(raw["subject"]),
        role=raw["role"] or "",
        part=raw["part"] or "",
        channel=raw["channel"] or "",
        missing=tuple(MissingFact(_text(each["file"]), _text(each["key"]), "") for each in raw["missing"]),
        margin=None if margin is None else Margin(_number(margin["value"]), _number(margin["required"])),
        blocked_by=raw["blocked_by"] or "",
        counts_as=raw["counted_level"],
        suppression=None if waiver is None else Suppression("external", "accepted", "", _text(waiver["by"]), ""),
        baseline_state=raw["baselineState"],
        measure=None if measure is None else Measure(_number(measure["value"]), bool(measure["larger_is_worse"])),
    )
