"""An audit: every file of some folders gets a state, every netlist is judged, what was judged before is not again."""

from __future__ import annotations

import contextlib
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime
from typing import NamedTuple, Protocol

from isolint import __version__
from isolint.archive.asks import PlacedPaths, still
from isolint.archive.looking import File, Looker, roles
from isolint.archive.store import STATES, Store, Trace, Unit, writing
from isolint.archive.unit import FORMAT, Rules, key_of, tool_digest
from isolint.archive.walking import Root, roots_of, walk
from isolint.archive.workers import Done, JudgeRequest, Workers
from isolint.errors import Interrupted, IsolintError, Place
from isolint.source import FolderTree


class Shard(NamedTuple):
    """Which part of an archive a run is about: one of `of` parts, counted from 1."""

    one: int = 1
    of: int = 1

    def holds(self, file: File) -> bool:
        """Whether a file belongs to this part; equal contents belong together."""
        digest = file.digest or f"{sum(file.said.encode('utf-8', 'replace')):08x}"
        return int(digest[:8], 16) % self.of == self.one - 1

    def __str__(self) -> str:
        return f"{self.one}/{self.of}"


class AuditOrder(NamedTuple):
    """What an audit is asked to do."""

    folders: tuple[str, ...]
    store: str
    jobs: int = 1
    strict: bool = False
    today: date | None = None
    root: str | None = None
    shard: Shard = Shard()
    rehash: bool = False
    scheduler: str | None = None


class Progress(NamedTuple):
    """How far a run is. at: a netlist in work. judged: of `done`, those that had to be judged now.

    failing: of `done`, those with failures; unjudged: those that could not be judged.
    """

    done: int
    total: int
    judged: int
    failing: int
    unjudged: int
    at: str


class Sum(NamedTuple):
    """What an audit came to: files by state, and how many netlists had to be judged for it.

    verdicts: how many netlists fail, are open, hold. left_out: entries of the folders that are no files of the archive,
    by why.
    """

    states: tuple[tuple[str, int], ...]
    verdicts: tuple[int, int, int]
    judged: int
    left_out: tuple[tuple[str, int], ...]

    @property
    def files(self) -> int:
        """How many files there are."""
        return sum(number for _, number in self.states)

    @property
    def exit_status(self) -> int:
        """0 every netlist was judged and none fails; 1 one fails; 2 one could not be judged."""
        states = dict(self.states)
        if states.get("failed") or states.get("unreadable"):
            return 2
        return int(self.verdicts[0] > 0)


class Pool(Protocol):
    """Whatever judges netlists."""

    @property
    def free(self) -> int:
        """How many requests can be taken now."""
        ...

    @property
    def busy(self) -> int:
        """How many netlists are in work."""
        ...

    @property
    def at(self) -> str:
        """A netlist in work, "" for none."""
        ...

    def submit(self, request: JudgeRequest) -> None:
        """Judge a netlist."""
        ...

    def wait(self, seconds: float) -> Iterator[Done]:
        """What is done within some seconds."""
        ...


Tell = Callable[[Progress], None]

_TICK = 0.5
"""Seconds between two looks at the clock while nothing is done."""


@contextlib.contextmanager
def processes(asked: AuditOrder, rules: Rules) -> Iterator[Pool]:
    """Processes of this machine, or the workers of a cluster that is asked for."""
    if asked.scheduler is not None:
        from isolint.archive.cluster import Cluster

        with Cluster(asked.scheduler, rules) as cluster:
            yield cluster
        return
    with Workers(asked.jobs, rules) as workers:
        yield workers


Pools = Callable[[AuditOrder, Rules], contextlib.AbstractContextManager[Pool]]


def audit(asked: AuditOrder, tell: Tell, pools: Pools = processes) -> Sum:
    """Audit folders into a store; raise `IsolintError` where that can't be done.

    pools: where netlists are judged; asked for once there is one.
    """
    roots = roots_of(asked.folders, asked.root)
    rules = Rules(asked.strict, (asked.today or date.today()).isoformat(), tool_digest())
    with writing(asked.store) as store:
        run = _Audit(store, roots, rules, asked, tell)
        waiting = run.looked()
        with contextlib.ExitStack() as held:
            pool: Pool | None = None
            try:
                while waiting or (pool is not None and pool.busy):
                    while waiting and (pool is None or pool.free):
                        file = waiting.popleft()
                        if run.is_known(file):
                            run.tell(pool)
                        else:
                            if pool is None:
                                pool = held.enter_context(pools(asked, rules))
                            run.start(file, pool)
                    run.tell(pool)
                    if pool is not None and pool.busy:
                        for done in pool.wait(_TICK):
                            waiting.extend(run.take(done))
            except (Interrupted, KeyboardInterrupt):
                # What is nearly done is kept.
                _finish(run, pool)
                raise
        return run.finish()


def _finish(run: _Audit, pool: Pool | None) -> None:
    until = time.monotonic() + _LAST_SECONDS
    while pool is not None and pool.busy and time.monotonic() < until:
        for done in pool.wait(_TICK):
            run.take(done)


_LAST_SECONDS = 5.0
"""For netlists in work when a run is interrupted."""


class _Audit:
    def __init__(self, store: Store, roots: Sequence[Root], rules: Rules, asked: AuditOrder, tell: Tell) -> None:
        self._store, self._roots, self._rules, self._asked, self._tell = store, roots, rules, asked, tell
        self._looker = Looker(store.files(), rules.tool, asked.rehash)
        self._trees = {root.top: FolderTree(root.top) for root in roots}
        self._held: dict[str, list[File]] = {}
        self._at: dict[JudgeRequest, File] = {}
        self._known: list[Unit] = []
        self._left: tuple[tuple[str, int], ...] = ()
        self._done = self._total = self._judged = self._failing = self._unjudged = 0
        self._before = {(unit.root, unit.path): unit for unit in store.units()}

    # -- looking ----------------------------------------------------------------------------------------------------

    def looked(self) -> deque[File]:
        """Give every file that is no netlist its state; the netlists are left."""
        self._refuse_other()
        found = [(root, walk(root)) for root in self._roots]
        left: dict[str, int] = {}
        for _, each in found:
            for why, number in each.left_out:
                left[why] = left.get(why, 0) + number
        self._left = tuple(sorted(left.items()))
        files = []
        for root, each in found:
            for path in each.files:
                if not _is_own(self._asked.store, root, path):
                    files.append(self._looker.look(root, path))
                    self._told_of_looking(len(files))
        states: list[Unit] = []
        waiting: deque[File] = deque()
        for file, role in zip(files, roles(files), strict=True):
            if not self._asked.shard.holds(file):
                continue
            if role.judged:
                waiting.append(file)
            else:
                states.append(Unit(file.root.name, file.said, file.digest, role.state, "", role.reason, file.size))
        here = {(file.root.name, file.said) for file in waiting} | {(unit.root, unit.path) for unit in states}
        with self._store.transaction():
            self._store.state(self._meta(len(here)))
            self._store.drop(sorted(set(self._before) - here))
            self._store.put(unit for unit in states if self._before.get((unit.root, unit.path)) != unit)
            self._store.remember(self._looker.fresh)
        self._total = len(waiting)
        return waiting

    def _refuse_other(self) -> None:
        meta = self._store.meta()
        same = {"roots": _names(self._roots), "shard": str(self._asked.shard)}
        for name, value in same.items():
            if meta.get(name, value) != value:
                here = ", ".join(meta[name].split("\n"))
                raise IsolintError(
                    f"this store holds the audit of other {'folders' if name == 'roots' else 'shards'}: {here}",
                    Place(self._asked.store),
                    "ask for the same again, or name another --store",
                )

    def _meta(self, number: int) -> dict[str, str]:
        return {
            "format": FORMAT,
            "version": __version__,
            "tool": self._rules.tool,
            "strict": str(self._rules.strict),
            "day": self._rules.day,
            "roots": _names(self._roots),
            "shard": str(self._asked.shard),
            "left_out": "\n".join(f"{number} {why}" for why, number in self._left),
            "files": str(number),
            "command": command(self._asked, self._roots),
        }

    def _told_of_looking(self, number: int) -> None:
        if number % 200 == 0:
            self._tell(Progress(0, 0, 0, 0, 0, f"{number} files looked at"))

    # -- judging ----------------------------------------------------------------------------------------------------

    def is_known(self, file: File) -> bool:
        """Whether a netlist need not be judged: it was, and nothing that it asked for is different. Its state is set.

        A netlist whose content is in work elsewhere waits for what comes of it.
        """
        if file.digest in self._held:
            self._held[file.digest].append(file)
            return True
        placed = PlacedPaths(file.root.path(file.path))
        tree, digest = self._trees[file.root.top], self._looker.digests(file.root.top)
        for trace in self._store.traces_of(file.digest):
            if trace.key == key_of(self._rules, trace.netlist, trace.asks, trace.dated) and still(
                trace.asks, placed, tree, digest
            ):
                self._set(file, trace)
                return True
        return False

    def _set(self, file: File, trace: Trace) -> None:
        unit = Unit(file.root.name, file.said, file.digest, trace.outcome, trace.key, trace.reason, file.size)
        if self._before.get((unit.root, unit.path)) != unit:
            self._known.append(unit)
        self._count(trace.outcome, trace.status)
        if len(self._known) >= 500:
            self._flush()

    def _flush(self) -> None:
        with self._store.transaction():
            self._store.put(self._known)
        self._known.clear()

    def start(self, file: File, pool: Pool) -> None:
        """Have a netlist judged."""
        request = JudgeRequest(file.root.top, file.root.path(file.path))
        self._at[request] = file
        self._held[file.digest] = []
        pool.submit(request)

    def take(self, done: Done) -> list[File]:
        """Keep what came of a netlist, in one transaction; give those that waited for it."""
        file = self._at.pop(done.request)
        waiting = self._held.pop(file.digest)
        answer = done.answer
        digest = answer.digest or file.digest
        unit = Unit(file.root.name, file.said, digest, answer.outcome, answer.key, answer.reason, file.size)
        started = datetime.fromtimestamp(done.started, UTC).isoformat(timespec="seconds")
        with self._store.transaction():
            if answer.key:
                about = (answer.outcome, answer.reason, answer.status, answer.opens, answer.doc_digest)
                trace = Trace(answer.key, digest, answer.asks, answer.dated, *about)
                self._store.keep(trace, answer.doc)
            self._store.put([unit])
            self._store.attempt(unit.root, unit.path, started, done.seconds, done.worker, answer.outcome)
        self._judged += 1
        self._count(answer.outcome, answer.status)
        return waiting

    def _count(self, outcome: str, status: int) -> None:
        self._done += 1
        self._unjudged += outcome != "done"
        self._failing += outcome == "done" and status != 0

    def tell(self, pool: Pool | None) -> None:
        """Say how far the run is."""
        at = "" if pool is None else pool.at
        self._tell(Progress(self._done, self._total, self._judged, self._failing, self._unjudged, at))

    def finish(self) -> Sum:
        """Forget what nobody needs any more, and say what it came to."""
        self._flush()
        with self._store.transaction():
            self._store.tidy()
        states = self._store.states()
        told = tuple((state, states[state]) for state in STATES if state in states)
        return Sum(told, self._store.verdicts(), self._judged, self._left)


def _names(roots: Sequence[Root]) -> str:
    return "\n".join(root.name for root in roots)


def _is_own(store: str, root: Root, path: str) -> bool:
    """Whether a file is the store itself or lies beside it as part of it."""
    import os

    full = os.path.realpath(os.path.join(root.top, root.path(path)))
    own = os.path.realpath(store)
    return full in (own, f"{own}-wal", f"{own}-shm", f"{own}-journal", f"{own}.lock")


def command(asked: AuditOrder, roots: Sequence[Root]) -> str:
    """The command that gives the same findings, without what does not matter for them."""
    words = ["isolint", "audit", *(root.name for root in roots)]
    words += ["--strict"] if asked.strict else []
    words += ["--today", asked.today.isoformat()] if asked.today is not None else []
    return " ".join(words)


def broken_off(meta: dict[str, str], states: dict[str, int]) -> int:
    """How many files of a store have no state yet."""
    return int(meta.get("files", "0")) - sum(states.values())
