"""Reading against SPLIT, in one process: `[line.split() for line in text.split("\\n")]` with the result kept.

`python -m tests.benchmarks.reading split plain 1000000` prints one line a round: seconds for reading and seconds for
SPLIT, both of processor time and by turns. `growth plain 1000000 100000` has reading of the larger and of the smaller
text on each line, `memory FILE CARDS` the megabytes by which the process grew at most for 100,000 cards, and 1. The
collector is off, as in the command line's process.
"""

from __future__ import annotations

import gc
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

from isolint.netlist import Cards, read
from isolint.source import MemoryTree
from tests.benchmarks.netlists import TEXTS

ROUNDS = 5
MANY_ROUNDS = 101
"""Of a text that takes milliseconds, the first of which is spent on what the process has not done yet."""

SHORT = 50_000
PATH = "board.cir"


def _seconds(work: Callable[[], object]) -> float:
    """Processor time of the work; what it gives is kept until the clock has stopped."""
    begin = time.process_time()
    kept = work()
    seconds = time.process_time() - begin
    del kept
    return seconds


def _print(subject: float, reference: float) -> None:
    sys.stdout.write(f"{subject} {reference}\n")


def _split(text: str) -> list[list[str]]:
    return [line.split() for line in text.split("\n")]


def _read(data: bytes) -> Cards:
    return read(MemoryTree({PATH: data}), PATH)


def split(kind: str, size: str) -> None:
    """Print the seconds of reading a text and of SPLIT."""
    text = TEXTS[kind](int(size))
    data = text.encode()
    for _ in range(ROUNDS if int(size) > SHORT else MANY_ROUNDS):
        _print(_seconds(lambda: _read(data)), _seconds(lambda: _split(text)))


def growth(kind: str, large: str, small: str) -> None:
    """Print the seconds of reading a large and a small text."""
    one, other = (TEXTS[kind](int(size)).encode() for size in (large, small))
    for _ in range(ROUNDS):
        _print(_seconds(lambda: _read(one)), _seconds(lambda: _read(other)))


def memory(file: str, cards: str) -> None:
    """Print by how many megabytes the process grew at most while it read the file, for 100,000 cards."""
    data = Path(file).read_bytes()
    before = _resident()
    kept = _read(data)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    assert kept.total >= int(cards)
    _print((peak - before) / 1e6 * 100_000 / int(cards), 1)


def _resident() -> int:
    """Bytes of memory that the process holds now."""
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * resource.getpagesize()


COMMANDS: dict[str, Callable[..., None]] = {"split": split, "growth": growth, "memory": memory}

if __name__ == "__main__":
    gc.disable()
    COMMANDS[sys.argv[1]](*sys.argv[2:])
