"""The files of an archive's folders, in one order; what is left out of the walk is counted."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from isolint.errors import IsolintError, Place
from isolint.preparing import repository


class Root(NamedTuple):
    """One folder of an archive.

    name: by which the store and the record call it. top: the folder that includes and settings may not leave. inner:
    the folder's path below it.
    """

    name: str
    top: str
    inner: str

    def path(self, inside: str) -> str:
        """A path below the folder as a path below `top`."""
        return f"{self.inner}/{inside}" if self.inner else inside

    def below(self, path: str) -> str:
        """A path below `top` as one below the folder."""
        return os.path.relpath(path, self.inner or ".").replace(os.sep, "/")


class FoundFiles(NamedTuple):
    """All files below a folder, sorted, as paths below it; and how many entries were left out, by why."""

    files: tuple[str, ...]
    left_out: tuple[tuple[str, int], ...]


def roots_of(folders: Sequence[str], root: str | None) -> tuple[Root, ...]:
    """The folders of an archive; raise `IsolintError` for what is none, or lies in another one."""
    found: list[Root] = []
    full: list[Path] = []
    for folder in folders:
        path = Path(os.path.realpath(folder))
        if not path.is_dir():
            raise IsolintError("there is no such folder", Place(folder), "name the folder that holds the netlists")
        top = Path(os.path.realpath(root)) if root is not None else repository(path)
        if top != path and top not in path.parents:
            raise IsolintError(f"the folder lies outside the root folder {root}", Place(folder), "give a wider --root")
        for other in full:
            if path == other or other in path.parents or path in other.parents:
                raise IsolintError(f"the folder lies in {other}, or holds it", Place(folder), "name one of them")
        full.append(path)
        inner = path.relative_to(top).as_posix()
        found.append(Root(path.name or "root", str(top), "" if inner == "." else inner))
    taken = Counter(each.name for each in found)
    if any(number > 1 for number in taken.values()):
        number = Counter[str]()
        for at, each in enumerate(found):
            if taken[each.name] > 1:
                number[each.name] += 1
                found[at] = each._replace(name=f"{each.name}-{number[each.name]}")
    return tuple(found)


def walk(root: Root) -> FoundFiles:
    """All regular files below a folder; hidden entries, links and what is no regular file are left out and counted."""
    start = os.path.join(root.top, root.inner)
    found: list[str] = []
    left: Counter[str] = Counter()
    waiting = [""]
    while waiting:
        inner = waiting.pop()
        try:
            with os.scandir(os.path.join(start, inner)) as entries:
                for entry in entries:
                    path = f"{inner}/{entry.name}" if inner else entry.name
                    if entry.name.startswith("."):
                        left["hidden"] += 1
                    elif entry.is_symlink():
                        left["links"] += 1
                    elif entry.is_dir(follow_symlinks=False):
                        waiting.append(path)
                    elif entry.is_file(follow_symlinks=False):
                        found.append(path)
                    else:
                        left["no regular files"] += 1
        except OSError:
            left["folders that can't be read"] += 1
    return FoundFiles(tuple(sorted(found)), tuple(sorted(left.items())))
