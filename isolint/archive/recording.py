"""The record of a store: a folder of pages and tables, written beside and put in place when it is whole.

From documents and states only: the same findings give the same bytes, whoever judged them, where and when.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator, Mapping
from typing import TextIO

from isolint.archive import board_page, index_page
from isolint.archive.audit_tables import HEADS, board_line, cause_line, file_line, lines_of
from isolint.archive.auditing import broken_off
from isolint.archive.gathering import IndexRow, boards, row_of
from isolint.archive.root_causes import SharedCauses
from isolint.archive.store import STATES, Store, reading
from isolint.errors import IsolintError, Place
from isolint.reports.escape import json_document

MARK = "run.json"
FORMAT = "isolint-record/1"
STATES_IN_WORDS: Mapping[str, str] = {
    "done": "netlists that were judged",
    "failed": "netlists that could not be judged",
    "unreadable": "unreadable: damaged, encrypted, empty, packed",
    "library": "libraries: definitions only",
    "include": "read by netlists",
    "sheet": "sheets: judged within the netlists that include them",
    "other": "no netlists",
}


def record(store: str, output: str) -> str:
    """Write the record of a store into a folder; what is lacking for a whole one, "" for nothing.

    Raise `IsolintError`, also for a folder that holds something else than a record.
    """
    target = os.path.abspath(output)
    _refuse_foreign(output, target)
    fresh = f"{target}.isolint-new"
    with reading(store) as opened:
        try:
            shutil.rmtree(fresh, ignore_errors=True)
            for folder in ("", "boards", "csv"):
                os.makedirs(os.path.join(fresh, folder))
            incomplete = _written(opened, fresh)
            _put_in_place(fresh, target)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise IsolintError(f"the record can't be written: {reason}", Place(output), "name another folder") from None
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    return incomplete


def _refuse_foreign(output: str, target: str) -> None:
    if os.path.islink(target):
        raise IsolintError("this is a link, and nothing is written through one", Place(output), "name a folder")
    if os.path.exists(target) and not os.path.isdir(target):
        raise IsolintError("this is a file", Place(output), "name a folder")
    if os.path.isdir(target) and os.listdir(target) and not _is_record(target):
        raise IsolintError("the folder holds something else than a record", Place(output), "name a new folder")


def _is_record(folder: str) -> bool:
    try:
        with open(os.path.join(folder, MARK), encoding="utf-8") as file:
            return FORMAT in file.read(200)
    except (OSError, ValueError):
        return False


def _put_in_place(fresh: str, target: str) -> None:
    old = f"{target}.isolint-old"
    shutil.rmtree(old, ignore_errors=True)
    if os.path.isdir(target):
        os.rename(target, old)
    os.rename(fresh, target)
    shutil.rmtree(old, ignore_errors=True)


def lacking(meta: Mapping[str, str], states: Mapping[str, int]) -> str:
    """What a store lacks of a whole audit, "" for nothing."""
    found = []
    which, _, of = meta["shard"].partition("/")
    here = set(map(int, which.split("+")))
    missing = [number for number in range(1, int(of) + 1) if number not in here]
    if missing:
        found.append(f"shards {', '.join(map(str, missing))} of {of} are missing")
    left = broken_off(dict(meta), dict(states))
    if left:
        found.append(f"the audit was broken off, {left} of {meta['files']} files have no state yet")
    return "; ".join(found)


def _written(store: Store, folder: str) -> str:
    meta, states = store.meta(), store.states()
    incomplete = lacking(meta, states)
    run = {name: meta[name] for name in ("version", "tool", "command", "day", "strict", "roots", "left_out")}
    causes = SharedCauses()
    rows: list[IndexRow] = []
    with _tables(folder) as tables:
        for unit in store.units():
            tables["files"].write(file_line(unit))
        for board in boards(store):
            row = row_of(board)
            rows.append(row)
            causes.add(board)
            tables["boards"].write(board_line(row))
            for name, text in lines_of(board).items():
                tables[name].write(text)
            _write(folder, f"boards/{board.page}", board_page.render(board, run))
        found = causes.found()
        for cause in found:
            tables["causes"].write(cause_line(cause))
    in_words = [(STATES_IN_WORDS[state], states[state]) for state in STATES if state in states]
    whole = index_page.Whole(run, incomplete, in_words, rows, found, causes.wanted())
    for name, text in index_page.render(whole):
        _write(folder, name, text)
    about = {"format": FORMAT, **run, "incomplete": incomplete or None, "states": states}
    _write(folder, MARK, json_document(about))
    return incomplete


@contextlib.contextmanager
def _tables(folder: str) -> Iterator[dict[str, TextIO]]:
    with contextlib.ExitStack() as held:
        found: dict[str, TextIO] = {}
        for name, heads in HEADS.items():
            path = os.path.join(folder, "csv", f"{name}.csv")
            found[name] = held.enter_context(open(path, "x", encoding="utf-8", newline=""))
            found[name].write(heads + "\r\n")
        yield found


def _write(folder: str, name: str, text: str) -> None:
    with open(os.path.join(folder, name), "x", encoding="utf-8", newline="\n") as file:
        file.write(text)
