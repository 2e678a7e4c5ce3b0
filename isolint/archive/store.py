"""The store of an audit: one SQLite file, one writer, one transaction a netlist.

What is asked of it is asked by keys; paths are those of the archive. A run that is killed leaves it as it was before a
netlist or as it is after it. A store of another kind or of a newer version is refused.
"""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from isolint.archive.asks import Ask
from isolint.archive.codec import canonical, plain, read, unpacked
from isolint.errors import IsolintError, Place

APPLICATION = 0x69736F6C
VERSION = 1

_TABLES = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE doc (digest TEXT PRIMARY KEY, json BLOB NOT NULL) WITHOUT ROWID;
CREATE TABLE trace (key TEXT PRIMARY KEY, netlist TEXT NOT NULL, asks BLOB NOT NULL, dated INTEGER NOT NULL,
  outcome TEXT NOT NULL, reason TEXT NOT NULL, status INTEGER NOT NULL, opens INTEGER NOT NULL, doc TEXT NOT NULL)
  WITHOUT ROWID;
CREATE INDEX trace_of_netlist ON trace (netlist);
CREATE TABLE unit (root TEXT NOT NULL, path TEXT NOT NULL, digest TEXT NOT NULL, state TEXT NOT NULL, key TEXT NOT NULL,
  reason TEXT NOT NULL, size INTEGER NOT NULL, PRIMARY KEY (root, path)) WITHOUT ROWID;
CREATE TABLE attempt (id INTEGER PRIMARY KEY, root TEXT NOT NULL, path TEXT NOT NULL, started TEXT NOT NULL,
  seconds REAL NOT NULL, worker TEXT NOT NULL, outcome TEXT NOT NULL);
CREATE TABLE file (root TEXT NOT NULL, path TEXT NOT NULL, size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
  ctime_ns INTEGER NOT NULL, inode INTEGER NOT NULL, looked_ns INTEGER NOT NULL, digest TEXT NOT NULL,
  sniffed TEXT NOT NULL, PRIMARY KEY (root, path)) WITHOUT ROWID;
"""

STATES = ("done", "failed", "unreadable", "library", "include", "sheet", "other")
"""What a file is, in the order in which the sum tells it."""


class Unit(NamedTuple):
    """One file of the archive with its state. key: of its judgement, "" where there is none."""

    root: str
    path: str
    digest: str
    state: str
    key: str
    reason: str
    size: int


class Trace(NamedTuple):
    """One judgement: what was asked, and what came of it. doc: the digest of its document, "" for none."""

    key: str
    netlist: str
    asks: tuple[Ask, ...]
    dated: bool
    outcome: str
    reason: str
    status: int
    opens: int
    doc: str


class Remembered(NamedTuple):
    """What is known of a file, and of which state of it. sniffed: JSON of what it is."""

    size: int
    mtime_ns: int
    ctime_ns: int
    inode: int
    looked_ns: int
    digest: str
    sniffed: str


class Store:
    """An open store. `writing` as the one that writes."""

    def __init__(self, path: str, connection: sqlite3.Connection) -> None:
        self.path = path
        self._db = connection

    # -- what it says -----------------------------------------------------------------------------------------------

    def meta(self) -> dict[str, str]:
        """What is stated of the whole."""
        return dict(self._db.execute("SELECT name, value FROM meta ORDER BY name"))

    def units(self) -> Iterator[Unit]:
        """All files with their states, in order."""
        for row in self._db.execute(
            "SELECT root, path, digest, state, key, reason, size FROM unit ORDER BY root, path"
        ):
            yield Unit(*row)

    def states(self) -> dict[str, int]:
        """How many files there are in each state."""
        return dict(self._db.execute("SELECT state, count(*) FROM unit GROUP BY state"))

    def verdicts(self) -> tuple[int, int, int]:
        """Judged netlists: how many fail, how many do not and are open somewhere, how many hold."""
        fails, opens, holds = self._db.execute(
            "SELECT total(status != 0), total(status = 0 AND opens), total(status = 0 AND NOT opens) FROM unit "
            "JOIN trace USING (key) WHERE state = 'done'"
        ).fetchone()
        return int(fails), int(opens), int(holds)

    def traces_of(self, netlist: str) -> list[Trace]:
        """All judgements of a netlist's content."""
        rows = self._db.execute(f"SELECT {_TRACE} FROM trace WHERE netlist = ? ORDER BY key", (netlist,))
        return [_trace(row) for row in rows]

    def trace(self, key: str) -> Trace | None:
        """One judgement."""
        row = self._db.execute(f"SELECT {_TRACE} FROM trace WHERE key = ?", (key,)).fetchone()
        return None if row is None else _trace(row)

    def doc(self, digest: str) -> object:
        """A document as plain JSON values; raise `IsolintError` where it can't be read."""
        row = self._db.execute("SELECT json FROM doc WHERE digest = ?", (digest,)).fetchone()
        if row is None:
            raise IsolintError("a document is missing in the store", Place(self.path), "audit again with a new --store")
        return unpacked(row[0])

    def files(self) -> dict[tuple[str, str], Remembered]:
        """What is remembered of files, by root and path."""
        columns = "root, path, size, mtime_ns, ctime_ns, inode, looked_ns, digest, sniffed"
        rows = self._db.execute(f"SELECT {columns} FROM file")
        return {(row[0], row[1]): Remembered(*row[2:]) for row in rows}

    # -- what is written ----------------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is written inside, or nothing."""
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    def state(self, values: Mapping[str, str]) -> None:
        """State something of the whole."""
        self._db.executemany("INSERT OR REPLACE INTO meta VALUES (?, ?)", sorted(values.items()))

    def remember(self, files: Iterable[tuple[str, str, Remembered]]) -> None:
        """Remember what files are."""
        rows = ((root, path, *found) for root, path, found in files)
        self._db.executemany("INSERT OR REPLACE INTO file VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)

    def put(self, units: Iterable[Unit]) -> None:
        """Give files their states."""
        self._db.executemany("INSERT OR REPLACE INTO unit VALUES (?, ?, ?, ?, ?, ?, ?)", units)

    def drop(self, keys: Iterable[tuple[str, str]]) -> None:
        """Forget files that are gone."""
        found = list(keys)
        for table in ("unit", "file"):
            self._db.executemany(f"DELETE FROM {table} WHERE root = ? AND path = ?", found)

    def keep(self, trace: Trace, doc: bytes) -> None:
        """Keep a judgement with its document."""
        if trace.doc:
            self._db.execute("INSERT OR IGNORE INTO doc VALUES (?, ?)", (trace.doc, doc))
        asks = canonical(plain(trace.asks))
        row = (trace.key, trace.netlist, asks, int(trace.dated), *trace[4:])
        self._db.execute("INSERT OR REPLACE INTO trace VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", row)

    def attempt(self, root: str, path: str, started: str, seconds: float, worker: str, outcome: str) -> None:
        """Note that a netlist was judged, or that it was tried; never part of a record."""
        row = (root, path, started, seconds, worker, outcome)
        self._db.execute(
            "INSERT INTO attempt (root, path, started, seconds, worker, outcome) VALUES (?, ?, ?, ?, ?, ?)", row
        )

    def tidy(self) -> None:
        """Forget judgements and documents that no netlist of the archive has any more."""
        self._db.execute("DELETE FROM trace WHERE key NOT IN (SELECT key FROM unit)")
        self._db.execute("DELETE FROM doc WHERE digest NOT IN (SELECT doc FROM trace)")

    def raw_docs(self) -> Iterator[tuple[Trace, bytes]]:
        """All judgements, each with its document as it is kept."""
        for row in self._db.execute(
            f"SELECT {', '.join(f'trace.{name}' for name in _TRACE.split(', '))}, doc.json FROM trace "
            "LEFT JOIN doc ON doc.digest = trace.doc ORDER BY trace.key"
        ):
            yield _trace(row[:9]), row[9] or b""


_TRACE = "key, netlist, asks, dated, outcome, reason, status, opens, doc"


def _trace(row: tuple[Any, ...]) -> Trace:
    asks = read(tuple[Ask, ...], json.loads(row[2]))
    return Trace(row[0], row[1], asks, bool(row[3]), *row[4:9])


@contextlib.contextmanager
def writing(path: str) -> Iterator[Store]:
    """Open a store, made where there is none, as its one writer; raise `IsolintError`."""
    if os.path.islink(path) or (os.path.exists(path) and not os.path.isfile(path)):
        raise IsolintError("this is no regular file, and no store is made there", Place(path))
    with _locked(path), _opened(path, "rwc") as db:
        with _as_store(path):
            db.execute("PRAGMA busy_timeout = 10000")
            if _check(path, db):
                db.execute("PRAGMA journal_mode = WAL")
                db.execute("PRAGMA synchronous = NORMAL")
                db.executescript(
                    f"BEGIN IMMEDIATE; {_TABLES} PRAGMA application_id = {APPLICATION}; "
                    f"PRAGMA user_version = {VERSION}; COMMIT;"
                )
            db.execute("PRAGMA synchronous = NORMAL")
        with _as_store(path):
            yield Store(path, db)
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@contextlib.contextmanager
def reading(path: str) -> Iterator[Store]:
    """Open a store that exists, to read; raise `IsolintError`."""
    if not os.path.isfile(path):
        raise IsolintError("there is no such store", Place(path), "isolint audit DIR --store FILE makes one")
    with _opened(path, "ro") as db, _as_store(path):
        if _check(path, db):
            raise IsolintError("this is an empty file, no store", Place(path))
        db.execute("BEGIN")  # one state of it, whoever writes meanwhile
        yield Store(path, db)


@contextlib.contextmanager
def _opened(path: str, mode: str) -> Iterator[sqlite3.Connection]:
    from pathlib import Path

    with _as_store(path):
        db = sqlite3.connect(f"{Path(path).absolute().as_uri()}?mode={mode}", uri=True, isolation_level=None)
    try:
        yield db
    finally:
        db.close()


@contextlib.contextmanager
def _as_store(path: str) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        text = f"the store can't be used: {error}"
        raise IsolintError(text, Place(path), "name another --store, or put a copy of it in its place") from None


def _check(path: str, db: sqlite3.Connection) -> bool:
    """Whether a file is still empty; raise `IsolintError` where it is no store of this version."""
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (version,) = db.execute("PRAGMA user_version").fetchone()
    if application == version == 0:
        (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
        if not tables:
            return True
    if application != APPLICATION:
        raise IsolintError("this is a data base, but no store of isolint", Place(path), "name another --store")
    if version != VERSION:
        raise IsolintError(
            f"this store is of version {version}, {VERSION} is known here", Place(path), "use its isolint"
        )
    return False


@contextlib.contextmanager
def _locked(path: str) -> Iterator[None]:
    """Be the one that writes to a store; the system lets go of the lock when the process ends, however it ends."""
    name = f"{path}.lock"
    try:
        handle = os.open(name, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise IsolintError(f"the store can't be written there: {reason}", Place(path), "name another --store") from None
    try:
        if not _lock(handle):
            raise IsolintError(
                "another audit writes to this store", Place(path), "wait for it, or name another --store"
            )
        yield
    finally:
        os.close(handle)


def _lock(handle: int) -> bool:
    try:
        import fcntl
    except ImportError:
        return _lock_byte(handle)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _lock_byte(handle: int) -> bool:
    """The lock of systems without `flock`."""
    import importlib

    system: Any = importlib.import_module("msvcrt")
    try:
        system.locking(handle, system.LK_NBLCK, 1)
    except OSError:
        return False
    return True
