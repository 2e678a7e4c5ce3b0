"""The standard streams, whatever state they are in: closed, full, of a narrow encoding, or read by nobody any more."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TextIO

from isolint.errors import IsolintError


def deliver(text: str) -> None:
    """Write a whole answer to standard output; raise `IsolintError`."""
    _write(sys.stdout, text)


def store(texts: Mapping[str, str]) -> None:
    """Write each text to its file (UTF-8, line feeds), all or none of them; raise `IsolintError`.

    Each goes to a new file beside the old one, which is replaced only when all are written and on the disk.
    """
    written: list[tuple[str, str]] = []
    name = ""
    try:
        for name, text in texts.items():
            target = os.path.realpath(name)
            if os.path.exists(target) and not os.path.isfile(target):
                # A device or pipe has nothing to lose, and a folder says so itself.
                Path(target).write_text(text, encoding="utf-8", newline="\n")
                continue
            fresh = f"{target}.{os.getpid()}.new"
            written.append((fresh, target))
            with open(fresh, "x", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            if os.path.exists(target):
                os.chmod(fresh, os.stat(target).st_mode & 0o777)
        while written:
            os.replace(*written[0])
            written.pop(0)
    except (OSError, ValueError) as error:
        raise _unwritable(name, error) from None
    finally:
        for fresh, _ in written:
            with contextlib.suppress(OSError):
                os.unlink(fresh)


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
