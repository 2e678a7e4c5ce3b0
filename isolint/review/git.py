"""git as a child process that runs nothing of what a repository says: no hook, driver, filter, protocol, replacement.

In: argument lists. Out: bytes, or `IsolintError` with git's own first line. The owner check of git stays: a repository
is found by `-C` from a folder, never named by `--git-dir`.
"""

from __future__ import annotations

import os
import subprocess
import tempfile
from pathlib import Path
from typing import IO

from isolint.errors import IsolintError

MOST_BYTES = 512 * 1024 * 1024
"""What one answer may take."""

_KEPT = ("PATH", "HOME", "XDG_CONFIG_HOME", "SYSTEMROOT")
_QUARANTINE = ("GIT_QUARANTINE_PATH", "GIT_OBJECT_DIRECTORY", "GIT_ALTERNATE_OBJECT_DIRECTORIES")
_FIXED = {
    "LC_ALL": "C",
    "GIT_ALLOW_PROTOCOL": "none",
    "GIT_NO_LAZY_FETCH": "1",
    "GIT_NO_REPLACE_OBJECTS": "1",
    "GIT_GRAFT_FILE": os.devnull,
    "GIT_OPTIONAL_LOCKS": "0",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_ATTR_NOSYSTEM": "1",
}
_QUIET = ("-c", "core.fsmonitor=false", "-c", f"core.hooksPath={os.devnull}", "-c", "core.commitGraph=false")


def start(folder: Path, *arguments: str, errors: IO[bytes] | int) -> subprocess.Popen[bytes]:
    """Start git in a folder with pipes to and from it; raise `IsolintError` where there is no git."""
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    if "GIT_QUARANTINE_PATH" in os.environ:  # a hook that looks at what is not accepted yet
        kept |= {name: os.environ[name] for name in _QUARANTINE if name in os.environ}
    try:
        return subprocess.Popen(
            ["git", "-C", str(folder), *_QUIET, *arguments],
            env={**kept, **_FIXED},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
        )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name of the folder can't be used"
        raise IsolintError(f"git can't be run: {reason.lower()}", cure="install git 2.30 or newer") from None


def answer(folder: Path, *arguments: str, given: bytes = b"", most: int = MOST_BYTES) -> bytes:
    """What git prints; raise `IsolintError` with its first line where it fails or prints more than `most` bytes."""
    # Errors go to a file, so that a git that has much to complain of never waits for a reader.
    with tempfile.TemporaryFile() as errors:
        git = start(folder, *arguments, errors=errors)
        assert git.stdin is not None and git.stdout is not None
        try:
            if given:
                printed, _ = git.communicate(given)
            else:
                git.stdin.close()
                printed = git.stdout.read(most + 1)
                if len(printed) <= most:
                    git.wait()
        finally:
            if git.poll() is None:
                git.kill()
                git.wait()
            git.stdout.close()
        if len(printed) > most:
            raise IsolintError(f"git {arguments[0]} prints more than {most // (1024 * 1024)} MiB")
        if git.returncode:
            errors.seek(0)
            raise IsolintError(f"git {arguments[0]} failed: {first_line(errors.read(4096))}")
    return printed


def first_line(printed: bytes) -> str:
    """The first line that git complained with, without its `fatal:`; "it gives no reason" where there is none."""
    lines = printed.decode("utf-8", "backslashreplace").strip().splitlines()
    return lines[0].removeprefix("fatal: ").removeprefix("error: ") if lines else "it gives no reason"
