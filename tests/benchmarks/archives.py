"""Audits of archives of sound boards of 200 elements, measured by the wall clock; all boards are invented.

Each command prints one line a round: the number of the subject, and of its reference.

`jobs 2000`: an audit of so many boards by two processes, and by one.
`long 200`: a board in an audit of so many by one process, and a check of one board in a process of its own.
`warm 2000`: an audit where nothing has changed, and the first one.
`memory 10000 1000`: the most memory that a process of an audit of so many boards needs, in MB, and of fewer.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.rows import repository
from tests.conftest import REPOSITORY, environment

CHECK = (sys.executable, "-m", "isolint", "check")


def _audit(folder: Path, store: Path, jobs: int) -> float:
    """Audit boards in a process of its own, and give its wall time in seconds."""
    words = ["audit", str(folder), "--store", str(store), "--jobs", str(jobs), "--today", "2026-01-01", "--quiet"]
    return _seconds([sys.executable, "-m", "isolint", *words])


def _seconds(command: list[str]) -> float:
    begin = time.perf_counter()
    subprocess.run(
        command, cwd=REPOSITORY, env=environment(), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, check=True
    )
    return time.perf_counter() - begin


def _made(where: str, number: int) -> Path:
    folder = Path(where) / f"boards{number}"
    folder.mkdir()
    repository(folder, number)
    return folder


def jobs(where: str, number: int) -> tuple[float, float]:
    folder = _made(where, number)
    return _audit(folder, Path(where) / "two.db", 2), _audit(folder, Path(where) / "one.db", 1)


def long(where: str, number: int) -> tuple[float, float]:
    folder = _made(where, number)
    checks = [_seconds([*CHECK, str(folder / f"board{at:03}/main.cir")]) for at in range(5)]
    return _audit(folder, Path(where) / "store.db", 1) / number, sorted(checks)[2]


def warm(where: str, number: int) -> tuple[float, float]:
    folder, store = _made(where, number), Path(where) / "store.db"
    time.sleep(2.5)  # what was just written is read again
    cold = _audit(folder, store, 2)
    return _audit(folder, store, 2), cold


def memory(where: str, number: int, fewer: int) -> tuple[float, float]:
    return _peak(where, number), _peak(where, fewer)


def _peak(where: str, number: int) -> float:
    """Megabytes of the largest process of an audit."""
    folder = _made(where, number)
    code = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL); "
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"
    )
    words = ["audit", str(folder), "--store", str(Path(where) / f"{number}.db"), "--jobs", "2", "--quiet"]
    done = subprocess.run(
        [sys.executable, "-c", code, sys.executable, "-m", "isolint", *words],
        cwd=REPOSITORY,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
    )
    shutil.rmtree(folder)
    return float(done.stdout)


COMMANDS: dict[str, Callable[..., tuple[float, float]]] = {"jobs": jobs, "long": long, "warm": warm, "memory": memory}


def main(arguments: list[str]) -> None:
    name, *numbers = arguments
    with TemporaryDirectory() as where:
        subject, reference = COMMANDS[name](where, *map(int, numbers))
    sys.stdout.write(f"{subject} {reference}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
