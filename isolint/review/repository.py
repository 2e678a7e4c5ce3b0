"""A repository asked for commits, files, contents and changed lines; after a revision is read, by ids only.

Names of files go to git behind `--literal-pathspecs` and `--` alone; contents are asked for by id, since a name may
hold a line feed.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from isolint.errors import IsolintError, Missing, Place, Refused
from isolint.review.git import answer, first_line, start
from isolint.source import MAX_FILE_BYTES

_HUNK = re.compile(rb"@@ -(\d+)(?:,(\d+))? \+(\d+)(?:,(\d+))? @@")
_ID = re.compile(r"[0-9a-f]{40}([0-9a-f]{24})?")
_MOST_BASES = 8
"""Merge bases of which the nearest is sought."""

LINK, SUBMODULE = "120000", "160000"


class TreeEntry(NamedTuple):
    """One path of a commit: its mode and the id of what it holds."""

    mode: str
    id: str


class Hunk(NamedTuple):
    """Changed lines of one file, each range as (first, number); a number of 0 means behind line `first`."""

    old: tuple[int, int]
    new: tuple[int, int]


class Base(NamedTuple):
    """The commit that a change is compared with, and what there is to say of how it was chosen."""

    id: str
    note: str = ""


@dataclass(slots=True, eq=False, repr=False)
class Repository:
    """One repository. root: its highest folder. common: where its objects are. algorithm: of its ids."""

    root: Path
    common: Path
    algorithm: str
    shallow: bool
    _batch: subprocess.Popen[bytes] | None = None
    _check: subprocess.Popen[bytes] | None = None
    _files: dict[str, dict[str, TreeEntry]] = field(default_factory=dict)

    @classmethod
    def at(cls, folder: Path) -> Repository:
        """The repository that a folder belongs to; raise `IsolintError` where git does not give it."""
        if not folder.is_dir():
            raise IsolintError("there is no such folder", Place(str(folder)))
        told = answer(folder, "rev-parse", "--show-object-format", "--is-shallow-repository", "--git-common-dir")
        algorithm, shallow, common = os.fsdecode(told).rstrip("\n").split("\n", 2)
        with suppress(IsolintError):
            folder = Path(os.fsdecode(answer(folder, "rev-parse", "--show-toplevel")).rstrip("\n"))
        return cls(folder, (folder / common).resolve(), algorithm, shallow == "true")

    def close(self) -> None:
        """End the processes that give contents."""
        for git in (self._batch, self._check):
            _end(git)
        self._batch = self._check = None

    # -- commits ----------------------------------------------------------------------------------------------

    def commit(self, revision: str) -> str:
        """The id of the commit that a revision names; raise `IsolintError` where there is none here."""
        try:
            told = answer(
                self.root, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{revision}^{{commit}}", most=4096
            )
        except IsolintError:
            told = b""
        found = told.decode("ascii", "replace").strip()
        if not _ID.fullmatch(found):
            raise IsolintError(f"{revision}: no commit here", cure="fetch it, or name another revision")
        return found

    def base(self, base: str, head: str, exact: bool = False) -> Base:
        """The commit to compare `head` with: the merge base of both ids, or `base` itself where that is wanted.

        Of several merge bases the one from which the fewest paths changed. A history that is cut where it matters gives
        a wrong merge base: then raise `IsolintError`.
        """
        if exact:
            return Base(base)
        if self.shallow:
            self._refuse_cut(base, head)
        try:
            found = answer(self.root, "merge-base", "--all", base, head).decode("ascii", "replace").split()
        except IsolintError:
            found = []
        if not found:
            raise IsolintError(
                f"{base[:12]} and {head[:12]} have no commit in common",
                cure="name a base that the change started from, or compare with --exact",
            )
        if len(found) == 1:
            return Base(found[0])
        nearest = min(sorted(found)[:_MOST_BASES], key=lambda each: (len(self.changed(each, head)), each))
        return Base(
            nearest, f"{len(found)} merge bases; compared with {nearest[:12]}, from which the fewest files changed"
        )

    def _refuse_cut(self, base: str, head: str) -> None:
        try:
            cut = set((self.common / "shallow").read_text(encoding="ascii", errors="replace").split())
        except OSError:
            cut = set()
        listed = answer(self.root, "rev-list", f"{base}...{head}").decode("ascii", "replace").split()
        if cut.intersection(listed):
            raise IsolintError(
                "the history is cut before the commit that both revisions have in common",
                cure="clone the whole history (fetch-depth: 0, or git fetch --unshallow), or compare with --exact",
            )

    # -- files ------------------------------------------------------------------------------------------------

    def files(self, commit: str) -> Mapping[str, TreeEntry]:
        """All paths of a commit, submodules as themselves."""
        known = self._files.get(commit)
        if known is None:
            known = self._files[commit] = {}
            for line in answer(self.root, "ls-tree", "-r", "-z", "--full-tree", commit).split(b"\0"):
                about, tab, name = line.partition(b"\t")
                words = about.decode("ascii", "replace").split()
                if tab and len(words) == 3:
                    known[os.fsdecode(name)] = TreeEntry(words[0], words[2])
        return known

    def changed(self, old: str, new: str) -> list[str]:
        """The paths whose mode or content differs between two commits, those of one only too; sorted."""
        one, other = self.files(old), self.files(new)
        return sorted(path for path in one.keys() | other.keys() if one.get(path) != other.get(path))

    def digest(self, data: bytes) -> str:
        """The id that git gives to these bytes."""
        return hashlib.new(self.algorithm, b"blob %d\0" % len(data) + data).hexdigest()

    def content(self, id: str, path: str) -> bytes:
        """What an object holds; raise `Missing` where it is not in this clone, `Refused` where it is too large."""
        self._check, told = self._asked(self._check, "--batch-check", id)
        words = told.split()
        if len(words) != 3 or words[1] != b"blob" or not words[2].isdigit():
            raise Missing("its content is not in this clone", Place(path), "fetch it (a clone without --filter)")
        if int(words[2]) > MAX_FILE_BYTES:
            raise Refused(f"the file is larger than {MAX_FILE_BYTES // (1024 * 1024)} MiB", Place(path))
        self._batch, told = self._asked(self._batch, "--batch", id)
        words = told.split()
        if self._batch is None or len(words) != 3 or words[1] != b"blob":
            raise Missing("its content is not in this clone", Place(path), "fetch it (a clone without --filter)")
        assert self._batch.stdout is not None
        data = self._batch.stdout.read(int(words[2]))
        self._batch.stdout.read(1)
        return data

    def _asked(
        self, git: subprocess.Popen[bytes] | None, how: str, id: str
    ) -> tuple[subprocess.Popen[bytes] | None, bytes]:
        """The line with which git answers about an object, and the process for the next one, None where it died."""
        if git is None or git.poll() is not None:
            git = start(self.root, "cat-file", how, errors=subprocess.DEVNULL)
        assert git.stdin is not None and git.stdout is not None
        try:
            git.stdin.write(f"{id}\n".encode())
            git.stdin.flush()
            line = git.stdout.readline()
        except OSError:
            line = b""
        if not line:
            # In a clone without all objects git dies of one that it may not fetch.
            _end(git)
            return None, b""
        return git, line

    # -- lines ------------------------------------------------------------------------------------------------

    def hunks(self, old: str, new: str, paths: Iterable[str]) -> dict[str, tuple[Hunk, ...]]:
        """The changed lines of some files between two commits, by path; none of a file that both have alike."""
        before, after = self.files(old), self.files(new)
        found: dict[str, tuple[Hunk, ...]] = {}
        wanted = [path for path in dict.fromkeys(paths) if before.get(path) != after.get(path)]
        quiet = ("--no-ext-diff", "--no-textconv", "--no-renames", "--no-color", "--no-prefix")
        for path in wanted:
            told = answer(
                self.root,
                *("--literal-pathspecs", "diff-tree", "-r", "-p", "-U0", "--text", *quiet, old, new, "--", path),
            )
            found[path] = tuple(_hunks(told))
        return found


def _hunks(patch: bytes) -> Iterator[Hunk]:
    for line in patch.split(b"\n"):
        match = _HUNK.match(line)
        if match:
            first, count, at, number = match.groups()
            yield Hunk(
                (int(first), 1 if count is None else int(count)), (int(at), 1 if number is None else int(number))
            )


def _end(git: subprocess.Popen[bytes] | None) -> None:
    if git is None:
        return
    for stream in (git.stdin, git.stdout):
        if stream is not None:
            with suppress(OSError):
                stream.close()
    with suppress(OSError):
        git.kill()
    git.wait()


__all__ = ["LINK", "SUBMODULE", "Base", "Hunk", "Repository", "TreeEntry", "first_line"]
