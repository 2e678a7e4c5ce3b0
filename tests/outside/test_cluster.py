"""An audit by a real Dask cluster of two workers, one of which is killed in the middle, as is the audit itself: nothing
is lost or doubled."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from isolint.archive.recording import record
from isolint.errors import IsolintError
from tests.archive.boards import QUICK, Archive, archive
from tests.archive.stores import documents, judged, rows, run
from tests.conftest import REPOSITORY, environment

pytestmark = pytest.mark.outside


class Local:
    """A scheduler and two workers, each a process of its own as a user would start it."""

    def __init__(self, folder: Path) -> None:
        self._log = folder / "scheduler.log"
        self.scheduler = self._start("scheduler", self._log, "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
        found = None
        until = time.monotonic() + 90
        while found is None and time.monotonic() < until:
            time.sleep(0.2)
            found = re.search(r"Scheduler at:\s+(tcp://\S+)", self._log.read_text(encoding="utf-8", errors="replace"))
        assert found is not None, self._log.read_text(encoding="utf-8")
        self.address = found[1]
        self.workers = [
            self._start(
                "worker", folder / f"worker{at}.log", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(folder / f"w{at}"),
            )
            for at in range(2)
        ]  # fmt: skip

    def _start(self, what: str, log: Path, *words: str) -> subprocess.Popen[bytes]:
        with open(log, "wb") as opened:
            return subprocess.Popen(
                [sys.executable, "-m", "distributed.cli.dask_" + what, *words],
                cwd=REPOSITORY,
                env=environment(),
                stdin=subprocess.DEVNULL,
                stdout=opened,
                stderr=subprocess.STDOUT,
            )

    def close(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Local]:
    pytest.importorskip("distributed")
    local = Local(tmp_path)
    yield local
    local.close()


@pytest.fixture
def boards(tmp_path: Path) -> Archive:
    (tmp_path / "boards").mkdir()
    return archive(tmp_path / "boards", 14, QUICK)


def test_a_cluster_of_which_a_worker_is_killed_finds_what_one_process_finds(
    cluster: Local, boards: Archive, tmp_path: Path
) -> None:
    store = tmp_path / "cluster.db"
    process = _started(boards, store, cluster, 3)
    process.send_signal(signal.SIGKILL)
    process.wait(timeout=60)
    first = len(judged(store))
    process = _started(boards, store, cluster, first + 3)
    cluster.workers[0].send_signal(signal.SIGKILL)
    assert process.wait(timeout=300) == 2  # damaged files are there
    run(boards.folder, tmp_path / "here.db")
    assert documents(store) == documents(tmp_path / "here.db")
    assert _recorded(store) == _recorded(tmp_path / "here.db")
    attempts = judged(store)
    assert len(attempts) == len(set(attempts)) == len(boards.boards) - len(boards.doubles) + 1
    assert rows(store, "SELECT count(DISTINCT worker) FROM attempt WHERE worker LIKE 'tcp:%'")[0][0] >= 1


def _started(boards: Archive, store: Path, cluster: Local, done: int) -> subprocess.Popen[bytes]:
    """An audit by the cluster, at the moment when so many netlists are judged."""
    words = ["audit", str(boards.folder), "--root", str(boards.folder), "--today", "2026-01-01", "--quiet"]
    process = subprocess.Popen(
        [sys.executable, "-m", "isolint", *words, "--store", str(store), "--scheduler", cluster.address],
        cwd=REPOSITORY,
        env=environment(),
        stdin=subprocess.DEVNULL,
    )
    until = time.monotonic() + 200
    while time.monotonic() < until and process.poll() is None:
        time.sleep(0.05)
        made = store.exists() and rows(store, "SELECT name FROM sqlite_master WHERE name = 'attempt'")
        if made and len(judged(store)) >= done:
            break
    return process


def _recorded(store: Path) -> dict[str, bytes]:
    folder = store.with_suffix(".record")
    assert record(str(store), str(folder)) == ""
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


def test_a_scheduler_that_is_not_there_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    from isolint.archive import cluster

    monkeypatch.setattr(cluster, "_PATIENCE", 2)
    (tmp_path / "boards").mkdir()
    (tmp_path / "boards/a.cir").write_text("* a\nR1 a 0 1k\n", encoding="utf-8")
    with pytest.raises(IsolintError, match="no scheduler answers there"):
        run(tmp_path / "boards", tmp_path / "store.db", jobs=1, scheduler="tcp://127.0.0.1:9")
    assert os.path.exists(tmp_path / "store.db")
