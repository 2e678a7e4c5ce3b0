"""Files that a command writes: all of them or none, never through a link, never over what it read.

Each text goes to a new file with a random name beside the old one, and all are exchanged at the end. What a run that
was killed left behind is removed by the next one that writes there.
"""

from __future__ import annotations

import contextlib
import os
import stat
import time
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from isolint.errors import IsolintError

PREFIX = ".isolint-"
FRESH = ".new"
OLD = ".old"
LOCK = ".isolint-lock"
PATIENCE = 60.0
"""Seconds for which a writer waits for another one."""

NOWHERE: Mapping[str, str] = MappingProxyType({})

_DEVICES = ("/dev/", "/proc/")


class _Target(NamedTuple):
    """One file to write. fresh: its new content; backup: its old content while it is exchanged, "" without any."""

    name: str
    path: str
    fresh: str
    backup: str


def store(
    texts: Mapping[str, str], inputs: Iterable[str] = (), roots: Mapping[str, str] = NOWHERE, new: bool = False
) -> None:
    """Write each text to its file (UTF-8, line feeds), all or none of them; raise `IsolintError`.

    inputs: files that the run read. roots: by name the folder that nothing below it may lead out of; default: the
    repository of the working folder. new: whether a file that exists is refused.
    """
    known = {_identity(name) for name in inputs} - {None}
    devices: dict[str, str] = {}
    files: dict[str, str] = {}
    for name, text in texts.items():
        if is_device(name):
            devices[name] = text
            continue
        _refuse_unsafe(name, roots.get(name))
        if _identity(name) in known:
            raise _refused(name, "this is an input of the same run, and would be overwritten")
        files[name] = text
    # Closed at the end: the lock on a file tells other writers that it is no leftover.
    with contextlib.ExitStack() as held:
        written: list[_Target] = []
        try:
            for name, text in files.items():
                written.append(_prepare(name, text, held, new))
            for name, text in devices.items():
                with _told(name), open(name, "w", encoding="utf-8", newline="\n") as device:
                    device.write(text)
            _exchange(written, held, new)
        finally:
            for target in written:
                for rest in (target.fresh, target.backup):
                    with contextlib.suppress(OSError):
                        os.unlink(rest)


def is_device(name: str) -> bool:
    """Whether a name means a device, pipe or stream: it has nothing to lose, and there is nothing to exchange."""
    with _told(name):
        try:
            mode = os.stat(name).st_mode
        except FileNotFoundError:
            return False
        return os.path.abspath(name).startswith(_DEVICES) or not (stat.S_ISREG(mode) or stat.S_ISDIR(mode))


def _identity(name: str) -> tuple[int, int] | str | None:
    """What tells whether two names are one file."""
    try:
        found = os.stat(name)
    except (OSError, ValueError):
        return None
    return (found.st_dev, found.st_ino) if found.st_ino else os.path.realpath(name)


def _refuse_unsafe(name: str, root: str | None) -> None:
    """Refuse links, folders, what git keeps for itself, and what lies below the root by its name and elsewhere in
    truth."""
    with _told(name):
        path = os.path.abspath(name)
        top = os.path.abspath(root) if root is not None else _repository(os.getcwd())
        folder = os.path.dirname(path)
        if os.path.islink(path):
            raise _refused(name, "this is a link, and nothing is written through one")
        if os.path.isdir(path):
            raise _refused(name, "is a directory")
        if ".git" in os.path.join(os.path.realpath(folder), os.path.basename(path)).casefold().split(os.sep):
            raise _refused(name, "this is a file of git itself")
        if (folder == top or folder.startswith(top.rstrip(os.sep) + os.sep)) and not _lies_in(folder, top):
            raise _refused(name, f"a link leads out of {top}")


def _lies_in(folder: str, top: str) -> bool:
    true, root = os.path.realpath(folder), os.path.realpath(top)
    return true == root or true.startswith(root.rstrip(os.sep) + os.sep)


def _repository(folder: str) -> str:
    """The nearest folder upwards that holds `.git`, else the folder itself."""
    at = folder
    while not os.path.exists(os.path.join(at, ".git")):
        if os.path.dirname(at) == at:
            return folder
        at = os.path.dirname(at)
    return at


def _prepare(name: str, text: str, held: contextlib.ExitStack, new: bool) -> _Target:
    """Write the new content beside a file, on the disk."""
    with _told(name):
        path = os.path.abspath(name)
        if new and os.path.lexists(path):
            raise _refused(name, "there is such a file already, and it is not overwritten")
        folder = os.path.dirname(path)
        _remove_leftovers(folder)
        fresh, handle = _created(folder, FRESH, held)
        try:
            with open(handle, "w", encoding="utf-8", newline="\n", closefd=False) as file:
                file.write(text)
                file.flush()
                os.fsync(handle)
            if os.path.exists(path):
                os.chmod(fresh, os.stat(path).st_mode & 0o777)
        except BaseException:
            os.unlink(fresh)
            raise
        return _Target(name, path, fresh, os.path.join(folder, f"{PREFIX}{os.urandom(8).hex()}{OLD}"))


def _created(folder: str, ending: str, held: contextlib.ExitStack) -> tuple[str, int]:
    """A new, locked file; tried again where somebody took it for a leftover before it was locked."""
    while True:
        path = os.path.join(folder, f"{PREFIX}{os.urandom(8).hex()}{ending}")
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        held.callback(os.close, handle)
        if try_lock(handle) and os.path.exists(path):
            return path, handle


def _exchange(written: list[_Target], held: contextlib.ExitStack, new: bool) -> None:
    """Put all new files in the place of the old ones; if one can't be, those that were are put back."""
    done: list[tuple[_Target, bool]] = []
    try:
        for target in written:
            with _told(target.name):
                if len(written) > 1:
                    done.append((target, _keep(target, held)))
                if new:
                    # Fails where somebody made the file since it was looked for.
                    os.link(target.fresh, target.path)
                else:
                    os.replace(target.fresh, target.path)
    except BaseException:
        for target, existed in reversed(done):
            _put_back(target, existed)
        raise


def _keep(target: _Target, held: contextlib.ExitStack) -> bool:
    """Give the old content a second name; False where there is none."""
    try:
        handle = os.open(target.path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
    except FileNotFoundError:
        return False
    held.callback(os.close, handle)
    try_lock(handle)
    try:
        os.link(target.path, target.backup)
    except OSError:  # a file system without links
        with open(handle, "rb", closefd=False) as old, open(target.backup, "xb") as copy:
            copy.write(old.read())
    return True


def _put_back(target: _Target, existed: bool) -> None:
    if os.path.exists(target.fresh):
        return  # It was not exchanged yet.
    with contextlib.suppress(OSError):
        if existed:
            os.replace(target.backup, target.path)
        else:
            os.unlink(target.path)


def _remove_leftovers(folder: str) -> None:
    """Remove what a run that was killed left here: files of ours that nobody holds."""
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith(PREFIX) and entry.name.endswith((FRESH, OLD)):
                with contextlib.suppress(OSError):
                    _remove_if_free(entry.path)


def _remove_if_free(path: str) -> None:
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    try:
        if stat.S_ISREG(os.fstat(handle).st_mode) and try_lock(handle):
            os.unlink(path)
    finally:
        os.close(handle)


# -- one writer at a time -----------------------------------------------------------------------------------------


def try_lock(handle: int) -> bool:
    """Lock an open file or folder until it is closed; False where another process holds it.

    Where the system has no such locks an open file can't be removed either, and a folder is never locked this way.
    """
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


@contextlib.contextmanager
def only_writer(folders: Iterable[str]) -> Iterator[None]:
    """Be the only one that changes files in some folders, for a change that starts from what stands there.

    All writers lock in one order, so that none waits for another in a circle.
    """
    with contextlib.ExitStack() as held:
        for folder in sorted({os.path.realpath(folder) for folder in folders}):
            until = time.monotonic() + PATIENCE
            while not _lock_folder(folder, held):
                if time.monotonic() > until:
                    raise IsolintError(
                        f"{folder}: another isolint has been writing here for {PATIENCE:.0f} s",
                        cure=f"end it and try again; if there is none, remove {LOCK} there",
                    )
                time.sleep(0.02)
        yield


def _lock_folder(folder: str, held: contextlib.ExitStack) -> bool:
    with contextlib.suppress(OSError, ImportError):
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            return False
        except OSError:
            os.close(handle)
            raise
        held.callback(os.close, handle)
        return True
    # No locks on folders here: a file stands for the lock.
    path = os.path.join(folder, LOCK)
    with _told(path):
        try:
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
        except FileExistsError:
            return False
    held.callback(os.unlink, path)
    return True


# -- errors -------------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _told(name: str) -> Iterator[None]:
    """Let errors of the system leave with the file's name and a cure."""
    try:
        yield
    except (OSError, ValueError) as error:
        raise _refused(name, (getattr(error, "strerror", None) or "the name can't be used").lower()) from None


def _refused(name: str, reason: str) -> IsolintError:
    return IsolintError(f"{name}: the results can't be written: {reason}", cure="name another place with --output")
