"""A commit as a `Tree`: the same stages judge it as a folder, and nothing is checked out.

Links are followed inside the commit only. What a submodule holds comes from its own repository at the recorded commit,
never from its work tree. A pointer of git LFS stands for the content that this clone keeps, or is refused.
"""

from __future__ import annotations

import fnmatch
import hashlib
import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from isolint.errors import IsolintError, Missing, Place, Refused
from isolint.review.repository import LINK, SUBMODULE, Repository, TreeEntry
from isolint.source import ABSENT, Tree, inner_path, is_hidden

_MOST_LINKS = 40
_MOST_DEPTH = 4
_POINTER_BYTES = 1024
_POINTER = b"version https://git-lfs.github.com/spec/v1\n"
_OID = re.compile(rb"^oid sha256:([0-9a-f]{64})$", re.MULTILINE)
_SIZE = re.compile(rb"^size (\d{1,15})$", re.MULTILINE)


@dataclass(slots=True, eq=False, repr=False)
class CommitTree:
    """The files of one commit."""

    repository: Repository
    commit: str
    depth: int = 0
    _inner: dict[str, CommitTree | None] = field(default_factory=dict)
    _folders: dict[str, list[str]] = field(default_factory=dict)
    _read: dict[str, bytes] = field(default_factory=dict)

    @property
    def files(self) -> Mapping[str, TreeEntry]:
        """All paths of the commit."""
        return self.repository.files(self.commit)

    def read(self, path: str) -> bytes:
        known = self._read.get(path)
        if known is None:
            tree, inside = self._found(path)
            held = tree.files.get(inside)
            if held is None:
                raise self._absent(path)
            known = self._read[path] = tree._resolved(tree.repository.content(held.id, path), path)
        return known

    def exists(self, path: str) -> bool:
        try:
            tree, inside = self._found(path)
        except Refused:
            return False
        return inside in tree.files

    def match(self, pattern: str) -> tuple[str, ...]:
        folder, base = posixpath.split(pattern)
        if any(mark in folder for mark in "*?["):
            raise Refused(
                f"the pattern {pattern!r} has wild cards in a folder name", cure="use them in the file name only"
            )
        try:
            tree, inside = self._found(f"{folder}/.") if folder else (self, "")
        except Refused:
            return ()
        names = [name for name in tree._names(inside) if fnmatch.fnmatchcase(name, base)]
        return tuple(sorted(path for name in names if self.exists(path := posixpath.join(folder, name))))

    def walk(self, folder: str = "") -> tuple[str, ...]:
        within = f"{folder}/" if folder else ""
        return tuple(
            sorted(
                path
                for path, held in self.files.items()
                if held.mode not in (LINK, SUBMODULE)
                and path.startswith(within)
                and not is_hidden(path.removeprefix(within))
            )
        )

    def resolve(self, folder: str, name: str) -> str:
        path = inner_path(folder, name)
        tree, inside = self._found(path)
        if tree is self and is_hidden(inside) and not is_hidden(path):
            raise Refused("a link leads to a hidden file", Place(path), "name the file itself")
        return path

    def through(self) -> Mapping[str, str]:
        """The ids of what is read under names that are no files of the commit: behind links, and in submodules.

        "" where a link leads to nothing; a submodule that is not here is one name with the commit that it should be at.
        """
        found: dict[str, str] = {}
        for path, held in self.files.items():
            if held.mode == SUBMODULE:
                inner = self._submodule(path)
                if inner is None:
                    found[path] = held.id
                    continue
                found |= {f"{path}/{name}": each.id for name, each in inner.files.items()}
                found |= {f"{path}/{name}": id for name, id in inner.through().items()}
            elif held.mode == LINK:
                try:
                    tree, inside = self._found(path)
                except Refused:
                    found[path] = ""
                    continue
                if inside in tree.files:
                    found[path] = tree.files[inside].id
                    continue
                within = f"{inside}/" if inside else ""
                behind = (name for name in tree.files if name.startswith(within))
                found |= {f"{path}/{name[len(within) :]}": tree.files[name].id for name in behind}
        return found

    def close(self) -> None:
        """End the processes that give contents, those of submodules too."""
        self.repository.close()
        for inner in self._inner.values():
            if inner is not None:
                inner.close()

    # -- inner ------------------------------------------------------------------------------------------------

    def _names(self, folder: str) -> list[str]:
        """The names of files and links in a folder."""
        if not self._folders:
            for path in self.files:
                above, name = posixpath.split(path)
                self._folders.setdefault(above, []).append(name)
        return self._folders.get(folder, [])

    def _found(self, path: str) -> tuple[CommitTree, str]:
        """The tree that holds a path, and the path in it with all links followed; raise `Refused`."""
        waiting = path.split("/")[::-1]
        done: list[str] = []
        links = 0
        while waiting:
            part = waiting.pop()
            if part in ("", "."):
                continue
            if part == "..":
                if not done:
                    raise Refused("a link leads out of the root folder", Place(path), "move the file below the root")
                done.pop()
                continue
            done.append(part)
            held = self.files.get("/".join(done))
            if held is None:
                continue
            if held.mode == SUBMODULE:
                if not waiting:
                    break
                inner = self._submodule("/".join(done))
                if inner is None:
                    raise Missing(f"in submodule {'/'.join(done)}, which is not here", Place(path))
                return inner._found("/".join(waiting[::-1]))
            if held.mode == LINK:
                links += 1
                if links > _MOST_LINKS:
                    raise Refused("the path can't be resolved (a loop of links?)", Place(path))
                target = self.repository.content(held.id, path).decode("utf-8", "surrogateescape")
                if target.startswith("/") or "\0" in target:
                    raise Refused("a link leads out of the root folder", Place(path), "move the file below the root")
                done.pop()
                waiting.extend(target.split("/")[::-1])
        return self, "/".join(done)

    def _absent(self, path: str) -> Refused:
        if path in self.files:
            return Refused("a link leads to a file that is not there", Place(path))
        return Missing(ABSENT, Place(path))

    def _submodule(self, path: str) -> CommitTree | None:
        if path not in self._inner:
            self._inner[path] = self._opened(path)
        return self._inner[path]

    def _opened(self, path: str) -> CommitTree | None:
        folder = self.repository.root
        for part in path.split("/"):
            folder = folder / part
            if folder.is_symlink():
                return None
        if self.depth >= _MOST_DEPTH or not (folder / ".git").exists():
            return None
        try:
            inner = Repository.at(folder)
            if inner.root.resolve() != folder.resolve():
                return None
            return CommitTree(inner, inner.commit(self.files[path].id), self.depth + 1)
        except IsolintError:
            return None

    def _resolved(self, data: bytes, path: str) -> bytes:
        """The content that a pointer of git LFS stands for, anything else as it is."""
        if len(data) > _POINTER_BYTES or not data.startswith(_POINTER):
            return data
        oid, size = _OID.search(data), _SIZE.search(data)
        if oid and size:
            name = oid[1].decode()
            file = self.repository.common / "lfs" / "objects" / name[:2] / name[2:4] / name
            try:
                if file.is_file() and not file.is_symlink() and file.stat().st_size == int(size[1]):
                    content = file.read_bytes()
                    if hashlib.sha256(content).hexdigest() == name:
                        return content
            except OSError:
                pass
        raise Missing("its content is not in this clone", Place(path), "git lfs fetch")


@dataclass(slots=True, eq=False, repr=False)
class PolicyTree:
    """The netlists of one tree under the settings, baselines and part records of another.

    moved: folder of the first tree -> folder of the second whose settings count there.
    """

    tree: Tree
    policy: Tree
    moved: Mapping[str, str] = field(default_factory=dict)

    def _stated(self, path: str) -> str:
        """Where the other tree holds what is stated at a path of this one."""
        folder = posixpath.dirname(path)
        while folder not in self.moved:
            if not folder:
                return path
            folder = posixpath.dirname(folder)
        return posixpath.join(self.moved[folder], path[len(folder) :].lstrip("/"))

    def _of(self, path: str) -> tuple[Tree, str]:
        return (self.policy, self._stated(path)) if path.lower().endswith(".toml") else (self.tree, path)

    def read(self, path: str) -> bytes:
        tree, inside = self._of(path)
        return tree.read(inside)

    def exists(self, path: str) -> bool:
        tree, inside = self._of(path)
        return tree.exists(inside)

    def match(self, pattern: str) -> tuple[str, ...]:
        """Only part records are asked for by a pattern."""
        folder = posixpath.dirname(pattern)
        found = self.policy.match(self._stated(pattern))
        return tuple(posixpath.join(folder, posixpath.basename(path)) for path in found)

    def walk(self, folder: str = "") -> tuple[str, ...]:
        return self.tree.walk(folder)

    def resolve(self, folder: str, name: str) -> str:
        return inner_path(folder, name) if name.lower().endswith(".toml") else self.tree.resolve(folder, name)
