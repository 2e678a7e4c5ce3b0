"""The only door to files: a `Tree` gives bytes or refuses.

In: a folder, or files in memory. Out: bytes. Confinement and size caps live here and nowhere else, so that the
same stages check a work tree, a commit or text in memory. Paths inside a tree are strings relative to its root
with `/` between folders.
"""

from __future__ import annotations

import fnmatch
import os
import posixpath
import re
import stat
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from isolint.errors import Missing, Place, Refused

__all__ = ["MAX_FILE_BYTES", "FolderTree", "MemoryTree", "Place", "Tree"]

MAX_FILE_BYTES = 256 * 1024 * 1024

_DRIVE = re.compile(r"^[A-Za-z]:")
_SCHEME = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]+://")


ABSENT = "there is no such file"
"""What a tree says of a file that is simply not in it."""


class Tree(Protocol):
    """Files below one root."""

    def read(self, path: str) -> bytes:
        """Give the bytes of `path`; raise `Missing` where there is no file, `Refused` where it may not be read."""
        ...

    def exists(self, path: str) -> bool:
        """Whether `read` would find a regular file (nothing is opened)."""
        ...

    def match(self, pattern: str) -> tuple[str, ...]:
        """All files whose path matches the shell pattern (`*` stays inside one folder), sorted."""
        ...

    def walk(self, folder: str = "") -> tuple[str, ...]:
        """All files below a folder, sorted; nothing hidden, no link followed."""
        ...

    def resolve(self, folder: str, name: str) -> str:
        """The path inside the tree that `name`, written in a file in `folder`, means; `Refused` when it leaves it."""
        ...


def is_hidden(path: str) -> bool:
    """Whether a part of a path begins with a dot."""
    return any(part[:1] == "." and part not in (".", "..") for part in path.split("/"))


def inner_path(folder: str, name: str) -> str:
    """Join `name` to `folder` and reject all that can leave the tree: absolute, drive, share, address, `..`, `$VAR`."""
    if "\x00" in name or not name.strip():
        raise Refused("the path is empty or holds a NUL", cure="write a path relative to the file")
    if "$" in name or re.search(r"%[A-Za-z_]\w*%", name) or name.startswith("~"):
        raise Refused("the path holds an environment variable or `~`", cure="write a relative path")
    if _SCHEME.match(name):
        raise Refused("the path is a network address", cure="copy the file beside the netlist")
    if name.startswith(("\\\\", "//")):
        raise Refused("the path is a network share", cure="copy the file beside the netlist")
    if _DRIVE.match(name):
        raise Refused("the path is absolute (it names a drive)", cure="write a relative path")
    plain = name.replace("\\", "/")
    if plain.startswith("/"):
        raise Refused("the path is absolute", cure="write a relative path")
    joined = posixpath.normpath(posixpath.join(folder, plain))
    if joined == ".." or joined.startswith("../"):
        raise Refused(
            "the path leads out of the root folder", cure="move the file below the root, or give a wider --root"
        )
    return joined


class MemoryTree:
    """Files held in memory, for tests, rule pages and commits."""

    def __init__(self, files: Mapping[str, str | bytes]) -> None:
        self._files = {name: data.encode() if isinstance(data, str) else data for name, data in files.items()}

    def read(self, path: str) -> bytes:
        try:
            return self._files[path]
        except KeyError:
            raise Missing(ABSENT, Place(path)) from None

    def exists(self, path: str) -> bool:
        return path in self._files

    def match(self, pattern: str) -> tuple[str, ...]:
        return tuple(sorted(name for name in self._files if _matches(name, pattern)))

    def resolve(self, folder: str, name: str) -> str:
        return inner_path(folder, name)

    def walk(self, folder: str = "") -> tuple[str, ...]:
        """All files below a folder, sorted; nothing hidden (a name that begins with a dot)."""
        within = f"{folder}/" if folder else ""
        names = (name for name in self._files if name.startswith(within))
        return tuple(sorted(name for name in names if "/." not in f"/{name.removeprefix(within)}"))


class Overlay:
    """A tree in which some files hold something else, or are not there (None)."""

    def __init__(self, tree: Tree, other: Mapping[str, bytes | None]) -> None:
        self._tree = tree
        self._other = MemoryTree({name: data for name, data in other.items() if data is not None})
        self._hidden = frozenset(other)

    def _of(self, path: str) -> Tree:
        return self._other if path in self._hidden else self._tree

    def read(self, path: str) -> bytes:
        return self._of(path).read(path)

    def exists(self, path: str) -> bool:
        return self._of(path).exists(path)

    def match(self, pattern: str) -> tuple[str, ...]:
        left = (path for path in self._tree.match(pattern) if path not in self._hidden)
        return tuple(sorted((*left, *self._other.match(pattern))))

    def resolve(self, folder: str, name: str) -> str:
        return self._tree.resolve(folder, name)

    def walk(self, folder: str = "") -> tuple[str, ...]:
        left = (path for path in self._tree.walk(folder) if path not in self._hidden)
        return tuple(sorted((*left, *self._other.walk(folder))))


class FolderTree:
    """Files below a folder on disk: links and `..` resolved first, regular files only, sizes capped."""

    def __init__(self, root: str | os.PathLike[str], max_bytes: int = MAX_FILE_BYTES) -> None:
        self.root = Path(root).resolve()
        self.max_bytes = max_bytes

    def _confined(self, path: str) -> Path:
        try:
            full = (self.root / path).resolve()
        except (OSError, RuntimeError, ValueError):
            raise Refused("the path can't be resolved (a loop of links?)", Place(path)) from None
        if full != self.root and self.root not in full.parents:
            raise Refused("a link leads out of the root folder", Place(path), "move the file below the root")
        return full

    def read(self, path: str) -> bytes:
        full = self._confined(path)
        try:
            # O_NONBLOCK: opening a FIFO must not wait for a writer.
            handle = os.open(full, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        except FileNotFoundError:
            raise Missing(ABSENT, Place(path)) from None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "the name can't be used"
            raise Refused(f"the file can't be read: {reason.lower()}", Place(path)) from None
        try:
            status = os.fstat(handle)
            if stat.S_ISDIR(status.st_mode):
                raise Refused("this is a folder, not a file", Place(path), "name a netlist in it")
            if not stat.S_ISREG(status.st_mode):
                raise Refused("this is no regular file", Place(path))
            if status.st_size > self.max_bytes:
                raise Refused(f"the file is larger than {self.max_bytes // (1024 * 1024)} MiB", Place(path))
            with open(handle, "rb", closefd=False) as file:
                return file.read(self.max_bytes)
        finally:
            os.close(handle)

    def exists(self, path: str) -> bool:
        try:
            return self._confined(path).is_file()
        except (OSError, Refused):
            return False

    def match(self, pattern: str) -> tuple[str, ...]:
        folder = posixpath.dirname(pattern)
        if any(mark in folder for mark in "*?["):
            raise Refused(
                f"the pattern {pattern!r} has wild cards in a folder name", cure="use them in the file name only"
            )
        try:
            base = self._confined(folder)
            names = sorted(os.listdir(base))
        except (OSError, Refused):
            return ()
        paths = (posixpath.join(folder, name) for name in names)
        return tuple(path for path in paths if _matches(path, pattern) and self.exists(path))

    def resolve(self, folder: str, name: str) -> str:
        path = inner_path(folder, name)
        full = self._confined(path)
        if is_hidden(full.relative_to(self.root).as_posix()) and not is_hidden(path):
            raise Refused("a link leads to a hidden file", Place(path), "name the file itself")
        return path

    def walk(self, folder: str = "") -> tuple[str, ...]:
        """All regular files below a folder, sorted; nothing hidden, no link followed, no repository inside this one."""
        return self._walked(folder)[0]

    def links(self) -> dict[str, str]:
        """The links below the root, with what each leads to below it; it need not be there."""
        found: dict[str, str] = {}
        for path in self._walked("")[1]:
            with suppress(OSError, Refused):
                found[path] = self._confined(path).relative_to(self.root).as_posix()
        return found

    def _walked(self, folder: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The regular files and the links below a folder, sorted."""
        found: list[str] = []
        links: list[str] = []
        waiting = [folder]
        while waiting:
            inner = waiting.pop()
            try:
                entries = list(os.scandir(self._confined(inner) if inner == folder else self.root / inner))
            except (OSError, Refused):
                continue
            if inner != folder and any(entry.name == ".git" for entry in entries):
                continue
            for entry in entries:
                if entry.name.startswith("."):
                    continue
                path = f"{inner}/{entry.name}" if inner else entry.name
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(path)
                elif entry.is_file(follow_symlinks=False):
                    found.append(path)
                elif entry.is_symlink():
                    links.append(path)
        return tuple(sorted(found)), tuple(sorted(links))


def _matches(path: str, pattern: str) -> bool:
    """Whether the shell pattern matches with `*` confined to the last part of the path."""
    return posixpath.dirname(path) == posixpath.dirname(pattern) and fnmatch.fnmatchcase(
        posixpath.basename(path), posixpath.basename(pattern)
    )
