"""How far a long run is: one line that is drawn anew at a terminal, a plain line now and then in a log."""

from __future__ import annotations

import contextlib
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from isolint.cli.screen import is_terminal

if TYPE_CHECKING:
    from isolint.archive.auditing import Progress

_DRAWN_EVERY = 0.3
_LOGGED_EVERY = 10.0
_WINDOW = 60.0
"""Seconds over which the rate is taken."""


@contextlib.contextmanager
def shown(quiet: bool, clock: Callable[[], float] = time.monotonic) -> Iterator[Callable[[Progress], None]]:
    """Tell of progress on standard error: count, rate, time left, failures so far, the netlist in work."""
    stream = sys.stderr
    if quiet or stream is None:
        yield lambda progress: None
        return
    from isolint.reports.escape import terminal

    drawing = is_terminal(stream)
    every = _DRAWN_EVERY if drawing else _LOGGED_EVERY
    history: deque[tuple[float, int]] = deque()
    last = clock()

    def tell(progress: Progress) -> None:
        nonlocal last
        now = clock()
        history.append((now, progress.done))
        while history[0][0] < now - _WINDOW and len(history) > 2:
            history.popleft()
        if now - last < every:
            return
        last = now
        line = terminal(f"isolint: {words(progress, history)}")
        stream.write(f"\r\x1b[K{line[: _columns()]}" if drawing else f"{line}\n")
        stream.flush()

    try:
        yield tell
    finally:
        if drawing:
            stream.write("\r\x1b[K")
            stream.flush()


def words(progress: Progress, history: deque[tuple[float, int]]) -> str:
    """`120 of 2000 (6 %), 14.2/s, 0:02:12 left, 8 with failures, 3 not judged, at a/board.cir`."""
    if not progress.total:
        return progress.at
    parts = [f"{progress.done} of {progress.total} ({100 * progress.done // progress.total} %)"]
    (first, before), (now, done) = history[0], history[-1]
    rate = (done - before) / (now - first) if now > first else 0.0
    if rate > 0.0:
        left = round((progress.total - progress.done) / rate)
        parts += [f"{rate:.1f}/s", f"{left // 3600}:{left // 60 % 60:02}:{left % 60:02} left"]
    parts += [f"{progress.failing} with failures"] if progress.failing else []
    parts += [f"{progress.unjudged} not judged"] if progress.unjudged else []
    if progress.at:
        parts.append(f"at {progress.at}")
    return ", ".join(parts)


def _columns() -> int:
    import shutil

    return shutil.get_terminal_size((80, 24)).columns - 1
