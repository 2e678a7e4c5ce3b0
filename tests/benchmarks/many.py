"""One run over many boards: `python -m tests.benchmarks.many memory FOLDER 500 50`, or `time FOLDER 50`.

The folder is a repository of so many boards at least. `memory` prints the peaks of a check of the first number of
boards and of the second in megabytes, `time` the processor time of a board in a run over so many and that of a check of
one, cold, in seconds.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

ROUNDS = 3


class Taken(NamedTuple):
    """What a command took: seconds of the processor, and megabytes at its peak."""

    seconds: float
    megabytes: float


def taken(command: Sequence[str], folder: Path) -> Taken:
    """Run a command in a folder; it must not fail otherwise than by what it judges."""
    with subprocess.Popen(
        command, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as process:
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in (0, 1)
    return Taken(usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def check(folder: Path, number: int) -> Taken:
    """A check of the first boards of a folder."""
    boards = sorted(str(path.relative_to(folder)) for path in folder.glob("board*/main.cir"))[:number]
    assert len(boards) == number
    return taken([sys.executable, "-m", "isolint", "check", "--root", ".", *boards], folder)


def main(what: str, folder: Path, numbers: Sequence[int]) -> None:
    """Print what was asked for."""
    if what == "memory":
        many, few = (check(folder, number).megabytes for number in numbers)
        sys.stdout.write(f"{many} {few}\n")
        return
    (number,) = numbers
    for _ in range(ROUNDS):
        sys.stdout.write(f"{check(folder, number).seconds / number} {check(folder, 1).seconds}\n")


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), [int(number) for number in sys.argv[3:]])
