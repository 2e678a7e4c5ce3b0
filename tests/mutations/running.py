"""Runs tests on copies of the tree, each with one change in it, two at a time."""

from __future__ import annotations

import os
import queue
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Literal, NamedTuple

from tests.copies import copy_of_tree
from tests.mutations.change import Change

AT_ONCE = 2
SECONDS = 300
"""How long the tests of one change may take; a change that makes them endless is noticed."""

CALL = (
    *("-m", "pytest", "-x", "-q", "--no-header", "--tb=line", "-p", "no:cacheprovider"),
    # Instead of what pyproject.toml says: one process, started quickly.
    *("-o", "addopts=--import-mode=importlib -p no:benchmark -p no:xdist --strict-markers"),
    *("-m", "not outside and not benchmark and not long"),
)
FAILED, PASSED = 1, 0

Outcome = Literal["caught", "survived", "not begun", "broken"]


class MutationOutcome(NamedTuple):
    """What became of a change. told: the test that noticed it, or what went wrong. seconds: by the wall clock."""

    change: Change
    outcome: Outcome
    told: str
    seconds: float

    @property
    def test(self) -> str:
        """The test that noticed the change, without its parameters; "" where none did."""
        word, _, rest = self.told.partition(" tests/")
        return rest.partition("[")[0].partition(" ")[0] if word in ("FAILED", "ERROR") else ""


class Copy:
    """A copy of the tree to which one change at a time is made."""

    def __init__(self, folder: Path) -> None:
        self.folder = copy_of_tree(folder)
        self._stamp = 1_000_000_000

    def run(self, tests: Sequence[str]) -> tuple[int, str]:
        """Exit status and output of tests in this copy; a status below 0 if they were stopped."""
        words = (sys.executable, *CALL, *(f"tests/{test}" for test in tests))
        # The copy's package comes first, whatever is installed.
        env = {**os.environ, "PYTHONPATH": str(self.folder), "PYTHONHASHSEED": "0"}
        with subprocess.Popen(
            words,
            cwd=self.folder,
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            start_new_session=True,
        ) as process:
            try:
                said, _ = process.communicate(timeout=SECONDS)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.communicate()
                return -1, f"stopped after {SECONDS} s"
        return process.returncode, said

    def judge(self, change: Change) -> MutationOutcome:
        """Make the change, run its tests, take it back."""
        path = self.folder / "isolint" / change.file
        before, started = path.read_text(encoding="utf-8"), time.monotonic()
        self._write(path, change.applied(before))
        try:
            status, said = self.run(change.tests)
        finally:
            self._write(path, before)
        return MutationOutcome(change, _outcome(status), _told(status, said), time.monotonic() - started)

    def _write(self, path: Path, text: str) -> None:
        """Write with a time of its own: compiled files are known by time in seconds and size."""
        path.write_text(text, encoding="utf-8")
        self._stamp += 10
        os.utime(path, (self._stamp, self._stamp))


def children_seconds() -> float:
    """CPU seconds of all processes that were started here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def unsound(tests: Sequence[str], folder: Path) -> str:
    """What tests say that fail without any change, "" if they pass or there are none."""
    if not tests:
        return ""
    status, said = Copy(folder).run(tests)
    return "" if status == PASSED else said


def judged(changes: Sequence[Change], seconds: float) -> Iterator[MutationOutcome]:
    """What becomes of each change, as it becomes known. seconds: of CPU, after which none is begun any more."""
    started = children_seconds()
    with tempfile.TemporaryDirectory() as folder:
        copies: queue.Queue[Copy] = queue.Queue()
        for number in range(min(AT_ONCE, len(changes))):
            copies.put(Copy(Path(folder) / str(number)))

        def one(change: Change) -> MutationOutcome:
            if children_seconds() - started > seconds:
                return MutationOutcome(change, "not begun", f"{seconds:g} s of CPU were used up", 0.0)
            copy = copies.get()
            try:
                return copy.judge(change)
            finally:
                copies.put(copy)

        with ThreadPoolExecutor(AT_ONCE) as pool:
            yield from pool.map(one, changes)


def _outcome(status: int) -> Outcome:
    if status == PASSED:
        return "survived"
    # Other statuses mean that no test was run: a name that is not there, an error of pytest's own.
    return "caught" if status == FAILED or status < 0 else "broken"


def _told(status: int, said: str) -> str:
    lines = said.splitlines()
    named = [line for line in lines if line.startswith(("FAILED ", "ERROR "))]
    return said[-2000:] if _outcome(status) == "broken" else (named or lines or [""])[-1][:200]
