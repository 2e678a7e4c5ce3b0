"""How a report looks at a terminal: lines as wide as the window, level words in colour, what a long run is at.

In: text that a format wrote. Out: the same text, laid out for a person. Where nobody looks, in a pipe or a file, not a
byte changes; what is to be pasted stays as it stands.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from threading import Event

LEAST_WIDTH = 40
"""Columns; in a narrower window lines are left to the terminal."""

PATIENCE = 2.0
"""Seconds after which a run says what it is at."""

_STEP = "  "
_HEAD = re.compile(r"^(\S[^\n]*?:\d+:\d+: )(error|warning|note|open)(?=: )")
_COLOURS = {"error": "1;31", "warning": "33", "note": "34", "open": "36"}
_PASTED = "write: "


def is_terminal(stream: TextIO | None) -> bool:
    """Whether somebody looks at a stream."""
    with contextlib.suppress(OSError, ValueError):
        return stream is not None and stream.isatty()
    return False


def laid_out(text: str) -> str:
    """Lay out a text for standard output: as it stands unless that is a terminal."""
    if not is_terminal(sys.stdout):
        return text
    import shutil

    columns = shutil.get_terminal_size((80, 24)).columns
    plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
    return "\n".join(_lines(text, columns, colours=not plain))


def _lines(text: str, columns: int, colours: bool) -> Iterator[str]:
    pasted = -1
    for line in text.split("\n"):
        inner = line.lstrip(" ")
        indent = len(line) - len(inner)
        if inner.startswith(_PASTED):
            pasted = indent
        elif indent <= pasted:
            pasted = -1
        rows = [line] if pasted >= 0 or columns < LEAST_WIDTH else wrapped(line, columns)
        if colours:
            rows[0] = _HEAD.sub(lambda found: f"{found[1]}\x1b[{_COLOURS[found[2]]}m{found[2]}\x1b[0m", rows[0])
        yield from rows


def wrapped(line: str, columns: int) -> list[str]:
    """Break a line between words, the rest two columns further in; a word longer than that stays whole."""
    if len(line) < columns:
        return [line]
    import textwrap

    indent = line[: len(line) - len(line.lstrip(" "))]
    rows = textwrap.wrap(
        line,
        columns - 1,
        subsequent_indent=indent + _STEP,
        break_long_words=False,
        break_on_hyphens=False,
        drop_whitespace=True,
        replace_whitespace=False,
    )
    return rows or [line]


@contextlib.contextmanager
def watched() -> Iterator[Callable[[str], None]]:
    """Tell what a run is at, on standard error, once it takes long; only if that is a terminal."""
    if not is_terminal(sys.stderr):
        yield lambda name: None
        return
    from threading import Event, Thread

    at: list[str] = []
    done = Event()
    teller = Thread(target=_tell, args=(at, done), daemon=True)
    teller.start()
    try:
        yield at.append
    finally:
        done.set()
        teller.join()


def _tell(at: list[str], done: Event) -> None:
    """Say every two seconds how many netlists are done and which is in work, on one line that is taken back."""
    from isolint.reports.escape import terminal

    told = False
    while not done.wait(PATIENCE):
        if at:
            text = f"isolint: {terminal(at[-1])}" + (f", {len(at) - 1} done" if len(at) > 1 else "")
            sys.stderr.write(f"\r\x1b[K{text}")
            sys.stderr.flush()
            told = True
    if told:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()
