"""What each file of an archive is: looked at once, remembered as long as it has not changed."""

from __future__ import annotations

import json
import os
import posixpath
import time
from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from isolint.archive.asks import MISSING, digest_of
from isolint.archive.codec import canonical, plain, read
from isolint.archive.sniffing import Sniffed, sniff
from isolint.archive.store import Remembered
from isolint.archive.walking import Root
from isolint.errors import Missing, Refused
from isolint.source import FolderTree, inner_path, is_hidden

_SETTLED = 2_000_000_000
"""Nanoseconds by which a file must be older than the look at it: one that was just written may change unseen."""


class File(NamedTuple):
    """One file of an archive. path: below its root, as it is; said: as the store calls it."""

    root: Root
    path: str
    said: str
    digest: str
    size: int
    sniffed: Sniffed


class Looker:
    """Looks at files; what is known of one from earlier counts while size, times and inode are the same.

    rehash: whether nothing from earlier counts. tool: the digest of the tool, since what a file is depends on it.
    """

    def __init__(self, known: Mapping[tuple[str, str], Remembered], tool: str, rehash: bool = False) -> None:
        self._known = {} if rehash else known
        self._tool = tool
        self.fresh: list[tuple[str, str, Remembered]] = []
        self._digests: dict[str, dict[str, str]] = {}

    def look(self, root: Root, path: str) -> File:
        """Say what a file is."""
        said = shown(path)
        tree = FolderTree(root.top)
        full = os.path.join(root.top, root.path(path))
        try:
            now = os.stat(full)
        except OSError as error:
            return File(root, path, said, "", 0, Sniffed("unreadable", _reason(error)))
        known = self._known.get((root.name, said))
        if known is not None and _counts(known, now):
            sniffed = json.loads(known.sniffed)
            if sniffed[0] == self._tool:
                self._remember(root, path, known.digest)
                return File(root, path, said, known.digest, known.size, read(Sniffed, sniffed[1]))
        looked = time.time_ns()
        try:
            data = tree.read(root.path(path))
        except Refused as error:
            return File(root, path, said, "", now.st_size, Sniffed("unreadable", error.text))
        digest, sniffed = digest_of(data), sniff(posixpath.basename(path), data)
        self._remember(root, path, digest)
        kept = canonical([self._tool, plain(sniffed)]).decode()
        row = Remembered(now.st_size, now.st_mtime_ns, now.st_ctime_ns, now.st_ino, looked, digest, kept)
        self.fresh.append((root.name, said, row))
        return File(root, path, said, digest, len(data), sniffed)

    def _remember(self, root: Root, path: str, digest: str) -> None:
        self._digests.setdefault(root.top, {})[root.path(path)] = digest

    def digests(self, top: str) -> Callable[[str], str]:
        """The digest of each path of a tree, each read once a run at most; why it can't be read where it can't."""
        known = self._digests.setdefault(top, {})
        tree = FolderTree(top)

        def digest(path: str) -> str:
            if path not in known:
                try:
                    known[path] = digest_of(tree.read(path))
                except Missing:
                    known[path] = MISSING
                except Refused as error:
                    known[path] = f"refused: {error.text}"
            return known[path]

        return digest


def _counts(known: Remembered, now: os.stat_result) -> bool:
    same = (known.size, known.mtime_ns, known.ctime_ns, known.inode) == (
        now.st_size,
        now.st_mtime_ns,
        now.st_ctime_ns,
        now.st_ino,
    )
    return same and known.mtime_ns + _SETTLED < known.looked_ns


def _reason(error: OSError) -> str:
    return f"the file can't be read: {(error.strerror or str(error)).lower()}"


def shown(path: str) -> str:
    """A path as text: bytes that are no UTF-8 are shown as escapes."""
    return path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


class Role(NamedTuple):
    """What is to be done with a file: to be judged, or the state that it has and why."""

    judged: bool
    state: str = ""
    reason: str = ""


def roles(files: list[File]) -> list[Role]:
    """What each file of an archive is, told from all of them: who runs whom, who reads whom."""
    places = {(file.root.top, file.root.path(file.path)): file for file in files}
    runs: dict[tuple[str, str], str] = {}
    reads: dict[tuple[str, str], str] = {}
    for file in files:
        if file.sniffed.kind in ("netlist", "library"):
            for names, found in ((file.sniffed.runs, runs), (file.sniffed.reads, reads)):
                for inside in _placed(file, names):
                    if (file.root.top, inside) in places and inside != file.root.path(file.path):
                        found.setdefault((file.root.top, inside), file.said)
    return [_role(file, runs, reads) for file in files]


def _role(file: File, runs: Mapping[tuple[str, str], str], reads: Mapping[tuple[str, str], str]) -> Role:
    key = (file.root.top, file.root.path(file.path))
    kind, reason = file.sniffed.kind, file.sniffed.reason
    if kind == "netlist":
        if key in runs and not file.sniffed.deck:
            return Role(False, "sheet", f"judged within {runs[key]}")
        return Role(True)
    if kind == "library":
        return Role(False, "library", reason + (f", read by {reads[key]}" if key in reads else ", read by no netlist"))
    if kind == "other" and key in reads:
        return Role(False, "include", f"read by {reads[key]}")
    return Role(False, kind, reason)


def _placed(file: File, names: tuple[str, ...]) -> Iterator[str]:
    folder = posixpath.dirname(file.root.path(file.path))
    for name in names:
        try:
            inside = inner_path(folder, name)
        except Refused:
            continue
        if not is_hidden(inside):
            yield inside
