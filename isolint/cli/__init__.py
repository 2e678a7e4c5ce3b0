"""The command line: options, streams, exit status, nothing else.

In: arguments. Out: text on the standard streams and an exit status: 0 nothing at or above `fail_on`, 1 failures,
2 the job could not be done, 130 interrupted. One module a command. What a command needs is imported inside it: a hook
starts a new process each time and must not wait for what it does not use. Knows no stage, only the use cases of `app`
and the formats of `reports`.

This module is loaded before any other, so that an interrupt is answered from the first moment on.
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
from collections.abc import Sequence
from typing import NoReturn

from isolint.errors import Interrupted

INTERRUPTED = 130
NOT_DONE = 2


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give its exit status; no error of the input leaves as an exception."""
    from isolint.cli import commands

    return commands.run(arguments)


def main() -> None:
    """Console script: one command, then the process ends. The collector would only slow it down."""
    gc.disable()
    try:
        try:
            signal.signal(signal.SIGINT, _interrupt)
            _end(run(sys.argv[1:]))
        except MemoryError:
            _last_word("the machine has no memory left for this (check fewer netlists at once)", NOT_DONE)
    except (Interrupted, KeyboardInterrupt):
        _last_word("interrupted", INTERRUPTED)


def _interrupt(signum: int, frame: object) -> NoReturn:
    """Interrupt once: what is being written is taken back then, and that must not be interrupted."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise Interrupted


def _end(status: int) -> NoReturn:
    """End the process at once. To free everything that it holds, piece by piece, takes longer than to read a board."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            with contextlib.suppress(OSError, ValueError):
                stream.flush()
    os._exit(status)


def _last_word(text: str, status: int) -> NoReturn:
    """End the process with one line on standard error: no stream is flushed, since its reader may be gone or stuck."""
    if sys.stderr is not None:
        with contextlib.suppress(OSError):
            os.write(2, f"isolint: {text}\n".encode())
    os._exit(status)
