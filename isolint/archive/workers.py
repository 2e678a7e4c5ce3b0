"""Netlists judged in processes of their own: one request a process at a time, a process that dies takes one with it.

A process is renewed after so many netlists or so much memory, so that a long run needs no more than a short one. What
a process was at when it died is tried once more, alone; what takes longer than any board may is given up.
"""

from __future__ import annotations

import contextlib
import gc
import json
import multiprocessing
import os
import signal
import time
from collections.abc import Iterator
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import NamedTuple

from isolint.archive.codec import canonical, plain, read
from isolint.archive.unit import Rules, UnitAnswer, answered, judge, tool_digest, written
from isolint.errors import IsolintError
from isolint.source import FolderTree

RENEWED_AFTER = 200
"""Netlists."""
MOST_MEMORY = 500 * 1024 * 1024
"""Bytes that a process may have needed when it takes the next netlist."""
MOST_SECONDS = 900.0
"""Of wall time that one netlist may take. Work is counted where it is done; this is for what no count foresaw."""
_OTHER_TOOL = b"another isolint"
_DIED = "the process that judged it died twice"


class JudgeRequest(NamedTuple):
    """One netlist to be judged: the folder of its tree, its path there."""

    top: str
    path: str


class Done(NamedTuple):
    """What came of a request. worker: which process answered; started: in seconds since 1970."""

    request: JudgeRequest
    answer: UnitAnswer
    started: float
    seconds: float
    worker: str


class _Worker:
    """One process and what it is at."""

    def __init__(self, rules: Rules) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, other = context.Pipe()
        self.process: SpawnProcess = context.Process(target=_serve, args=(other, rules), daemon=True)
        self.process.start()
        other.close()
        self.request: JudgeRequest | None = None
        self.started = self.begun = 0.0
        self.number = 0
        self.memory = 0

    def give(self, request: JudgeRequest) -> None:
        self.request, self.started, self.begun = request, time.time(), time.monotonic()
        self.number += 1
        with contextlib.suppress(OSError):  # it died while it waited: told by its pipe
            self.pipe.send_bytes(canonical(plain(request)))

    @property
    def is_worn(self) -> bool:
        return self.number >= RENEWED_AFTER or self.memory > MOST_MEMORY

    def end(self) -> None:
        """End it at once: it holds nothing that is not asked for again."""
        self.pipe.close()
        self.process.kill()
        self.process.join()


class Workers:
    """Some processes. `submit` while one is free, then `wait` for what is done."""

    def __init__(self, jobs: int, rules: Rules) -> None:
        self.jobs = jobs
        self._rules = rules
        self._workers: list[_Worker] = []
        self._tried: set[JudgeRequest] = set()

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers:
            worker.end()

    @property
    def free(self) -> int:
        """How many requests can be taken now."""
        return self.jobs - self.busy

    @property
    def busy(self) -> int:
        """How many netlists are in work."""
        return sum(worker.request is not None for worker in self._workers)

    @property
    def at(self) -> str:
        """The netlist that has been in work longest."""
        busy = [worker for worker in self._workers if worker.request is not None]
        oldest = min(busy, key=lambda worker: worker.begun, default=None)
        return "" if oldest is None or oldest.request is None else oldest.request.path

    def submit(self, request: JudgeRequest) -> None:
        """Judge a netlist in a process that is free."""
        worker = next((each for each in self._workers if each.request is None), None)
        if worker is not None and (worker.is_worn or not worker.process.is_alive()):
            worker.end()
            self._workers.remove(worker)
            worker = None
        if worker is None:
            worker = _Worker(self._rules)
            self._workers.append(worker)
        worker.give(request)

    def wait(self, seconds: float) -> Iterator[Done]:
        """What is done within some seconds; nothing where nothing is."""
        busy = {worker.pipe: worker for worker in self._workers if worker.request is not None}
        for pipe in wait(list(busy), seconds):
            assert isinstance(pipe, Connection)
            done = self._received(busy[pipe])
            if done is not None:
                yield done
        for worker in list(self._workers):
            if worker.request is not None and time.monotonic() - worker.begun > MOST_SECONDS:
                yield self._given_up(worker, f"it takes longer than {MOST_SECONDS:.0f} s (check its parts one by one)")

    def _received(self, worker: _Worker) -> Done | None:
        request = worker.request
        assert request is not None
        try:
            data = worker.pipe.recv_bytes()
        except (EOFError, OSError):
            return self._died(worker)
        if data == _OTHER_TOOL:
            text = (
                "isolint itself was changed while it audited: what it finds now can't be told from what it found before"
            )
            raise IsolintError(text, cure="run the audit again, what is judged is kept")
        answer = answered(data)
        worker.request = None
        worker.memory = answer.memory
        seconds = time.monotonic() - worker.begun
        return Done(request, answer, worker.started, seconds, str(worker.process.pid))

    def _died(self, worker: _Worker) -> Done | None:
        """Try what a process was at once more in a new one."""
        request = worker.request
        assert request is not None
        if request in self._tried:
            return self._given_up(worker, _DIED)
        self._tried.add(request)
        worker.end()
        self._workers.remove(worker)
        fresh = _Worker(self._rules)
        self._workers.append(fresh)
        fresh.give(request)
        return None

    def _given_up(self, worker: _Worker, reason: str) -> Done:
        request = worker.request
        assert request is not None
        self._workers.remove(worker)
        seconds = time.monotonic() - worker.begun
        name = str(worker.process.pid)
        worker.end()
        return Done(
            request, UnitAnswer("failed", reason, "", "", (), b"", "", False, 2, 0, 0), worker.started, seconds, name
        )


def _serve(pipe: Connection, rules: Rules) -> None:
    """Answer requests until nobody asks any more. Whoever asked is gone when the pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()
    number = 0
    trees: dict[str, FolderTree] = {}
    if tool_digest() != rules.tool:
        with contextlib.suppress(EOFError, OSError):
            pipe.recv_bytes()
            pipe.send_bytes(_OTHER_TOOL)
        os._exit(0)
    with contextlib.suppress(EOFError, OSError):
        while True:
            request = read(JudgeRequest, json.loads(pipe.recv_bytes()))
            tree = trees.setdefault(request.top, FolderTree(request.top))
            pipe.send_bytes(written(judge(tree, request.path, rules)))
            number += 1
            # What a netlist was judged by holds itself in cycles; what was loaded to judge stays for good.
            if number == 1:
                gc.collect()
                gc.freeze()
            else:
                gc.collect(0)
            if number % 20 == 0:
                gc.collect()
    os._exit(0)
