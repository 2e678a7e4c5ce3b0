"""The standard streams, whatever state they are in: closed, full, of a narrow encoding, or read by nobody any more."""

from __future__ import annotations

import errno
import os
import sys
from typing import TextIO

from isolint.errors import IsolintError


def deliver(text: str) -> None:
    """Write a whole answer to standard output; raise `IsolintError`."""
    _write(sys.stdout, text)


def complain(text: str) -> None:
    """Write each line of an error to standard error, after the name of the program."""
    from isolint.reports.escape import terminal_lines

    _write(sys.stderr, "".join(f"isolint: {line}\n" for line in terminal_lines(text)))


def _write(stream: TextIO | None, text: str) -> None:
    # A stream is None where the caller closed it before the start (`>&-`).
    if stream is None:
        return
    try:
        stream.write(text if _carries(stream, text) else _narrowed(stream, text))
        stream.flush()
    except BrokenPipeError:
        _forget(stream)
    except OSError as error:
        if error.errno == errno.EINVAL and os.name == "nt":  # how a closed pipe shows there
            _forget(stream)
            return
        _forget(stream)
        raise _unwritable("standard output", error) from None


def _carries(stream: TextIO, text: str) -> bool:
    try:
        text.encode(stream.encoding or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _narrowed(stream: TextIO, text: str) -> str:
    """Write what the stream's encoding lacks as escapes."""
    encoding = stream.encoding or "utf-8"
    return text.encode(encoding, "backslashreplace").decode(encoding)


def _forget(stream: TextIO) -> None:
    """Let the interpreter's own flush at exit find a stream that takes everything."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _unwritable(name: str, error: OSError | ValueError) -> IsolintError:
    reason = (getattr(error, "strerror", None) or "the name can't be used").lower()
    return IsolintError(f"{name}: the results can't be written: {reason}", cure="name another place with --output")
