"""What a judgement asks of its tree, with the answers; and whether the answers are still the same.

A netlist is judged through a tree in which it and the folders above it have names of their own, so that equal work
gives equal answers wherever it lies. What was asked is kept by paths relative to the netlist's folder.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Literal, NamedTuple

from isolint.errors import Missing, Place, Refused
from isolint.facts.paths import FILE_NAME
from isolint.project import BASELINE
from isolint.source import Tree
from isolint.tables import parse

_TOKEN = "isolint~"
_OWN = f"{_TOKEN}netlist"
_WRITTEN = re.compile(rf"((?:{_TOKEN}(\d+)/)+)({_OWN})?|(?:{_TOKEN}\d+/)*{_TOKEN}(\d+)")
THIS = "this netlist"

MISSING = "missing"


class Ask(NamedTuple):
    """One question and its answer.

    what: `read` (answer: digest, `missing`, or why it is refused), `exists`, `match` (names), `resolve` (why it is
    refused, "" if it is not), `walk` (digest of the names), `settings` and `baselines` (which files of that name stand
    in the folders from the netlist's up, with their digests; `name` says how many folders were looked at, "" for all),
    `path` (the netlist's own, where a baseline is held against it).
    """

    what: Literal["read", "exists", "match", "resolve", "walk", "settings", "baselines", "path"]
    name: str
    answer: tuple[str, ...]


def digest_of(data: bytes) -> str:
    """The digest of a content."""
    return hashlib.sha256(data).hexdigest()


class PlacedPaths:
    """Where a netlist lies: paths of the tree in names of its own, and relative to its folder."""

    def __init__(self, netlist: str) -> None:
        self.netlist = netlist
        self.folder = posixpath.dirname(netlist)
        self._real = self.folder.split("/") if self.folder else []
        depth = len(self._real)
        self._tokens = [f"{_TOKEN}{number}" for number in range(depth, -1, -1)]
        self.root = self._tokens[0]
        self.named = "/".join((*self._tokens, _OWN))

    def real(self, path: str) -> str | None:
        """A path in own names as one of the tree; None where it lies outside."""
        if path == self.named:
            return self.netlist
        parts = path.split("/") if path else []
        if not parts or parts[0] != self.root:
            return None
        rest = parts[1:]
        for at, (own, token) in enumerate(zip(self._real, self._tokens[1:], strict=True)):
            if at >= len(rest) or rest[at] != token:
                break
            rest[at] = own
        return "/".join(rest)

    def own(self, path: str) -> str:
        """A path of the tree in own names."""
        parts = path.split("/") if path else []
        for at, (real, token) in enumerate(zip(self._real, self._tokens[1:], strict=True)):
            if at >= len(parts) or parts[at] != real:
                break
            parts[at] = token
        return "/".join((self.root, *parts))

    def relative(self, path: str) -> str:
        """A path of the tree relative to the netlist's folder."""
        return posixpath.relpath(path or ".", self.folder or ".")

    def absolute(self, name: str) -> str | None:
        """A path relative to the netlist's folder as one of the tree; None where it leads out of it."""
        found = posixpath.normpath(posixpath.join(self.folder, name))
        return None if found == ".." or found.startswith("../") else found

    def folders(self) -> list[str]:
        """The netlist's folder and all above it, up to the root."""
        found = [self.folder]
        while found[-1]:
            found.append(posixpath.dirname(found[-1]))
        return found


def told(text: str) -> str:
    """A text with paths in own names as paths relative to the netlist's folder; the netlist itself is ""."""
    if _TOKEN not in text:
        return text
    if _OWN in text and _WRITTEN.fullmatch(text):
        return ""
    return _WRITTEN.sub(_relative, text).replace(_OWN, THIS)


def _relative(found: re.Match[str]) -> str:
    if found[4] is not None:
        return "/".join([".."] * int(found[4])) or "."
    return THIS if found[3] else "../" * int(found[2])


class AskedTree(Tree):
    """A tree that writes down what is asked of it. own: whether it is asked in the netlist's own names."""

    def __init__(
        self, tree: Tree, placed: PlacedPaths, own: bool = True, asks: dict[tuple[str, str], Ask] | None = None
    ):
        self._tree = tree
        self._placed = placed
        self._own = own
        self._asks: dict[tuple[str, str], Ask] = {} if asks is None else asks
        self._settings: list[str] = []
        self.netlist_digest = ""

    def with_real_names(self) -> AskedTree:
        """The same tree, asked in the names that files have in truth; what is asked is written down together."""
        return AskedTree(self._tree, self._placed, own=False, asks=self._asks)

    def _real(self, path: str) -> str | None:
        return self._placed.real(path) if self._own else path

    def _said(self, path: str) -> str:
        return self._placed.own(path) if self._own else path

    def _note(self, what: str, name: str, *answer: str) -> None:
        self._asks.setdefault((what, name), Ask(what, name, answer))  # type: ignore[arg-type]

    def read(self, path: str) -> bytes:
        real = self._real(path)
        if real is None:
            raise Missing("there is no such file", Place(path))
        if real == self._placed.netlist and (path == self._placed.named or not self._own):
            data = self._tree.read(real)
            self.netlist_digest = digest_of(data)
            return data
        if posixpath.basename(real) == FILE_NAME and posixpath.dirname(real) in self._placed.folders():
            # How far up was looked, and what was found there, is one question.
            self._settings.append(real)
            return self._given(real, path)
        name = self._placed.relative(real)
        try:
            data = self._given(real, path)
        except Missing:
            self._note("read", name, MISSING)
            raise
        except Refused as error:
            self._note("read", name, f"refused: {error.text}")
            raise
        self._note("read", name, digest_of(data))
        return data

    def _given(self, real: str, path: str) -> bytes:
        try:
            return self._tree.read(real)
        except Missing as error:
            raise Missing(error.text, Place(path), error.cure) from None
        except Refused as error:
            raise Refused(error.text, Place(path), error.cure) from None

    def exists(self, path: str) -> bool:
        real = self._real(path)
        if real is None:
            return False
        found = self._tree.exists(real)
        if posixpath.basename(real) != BASELINE or posixpath.dirname(real) not in self._placed.folders():
            self._note("exists", self._placed.relative(real), str(found))
        return found

    def match(self, pattern: str) -> tuple[str, ...]:
        real = self._real(pattern)
        if real is None:
            return ()
        found = self._tree.match(real)
        self._note("match", self._placed.relative(real), *map(self._placed.relative, found))
        return tuple(map(self._said, found))

    def walk(self, folder: str = "") -> tuple[str, ...]:
        real = self._real(folder)
        if real is None:
            return ()
        found = self._tree.walk(real)
        self._note("walk", self._placed.relative(real), names_digest(map(self._placed.relative, found)))
        return tuple(map(self._said, found))

    def resolve(self, folder: str, name: str) -> str:
        real = self._real(folder)
        if real is None:
            raise Refused("the path leads out of the root folder", Place(name))
        where = f"{self._placed.relative(real)}\x1f{name}"
        try:
            found = self._tree.resolve(real, name)
        except Refused as error:
            self._note("resolve", where, error.text)
            raise
        self._note("resolve", where, "")
        return self._said(found)

    def has_baseline(self) -> bool:
        """Whether a baseline counts for the netlist."""
        return any(self._tree.exists(posixpath.join(folder, BASELINE)) for folder in self._placed.folders())

    def asks(self) -> tuple[Ask, ...]:
        """All that was asked, in one order."""

        def digest(path: str) -> str:
            try:
                return digest_of(self._tree.read(path))
            except Missing:
                return MISSING
            except Refused as error:
                return f"refused: {error.text}"

        found = dict(self._asks)
        levels = self._placed.folders()
        looked = len(dict.fromkeys(self._settings))
        last = levels[min(looked, len(levels)) - 1] if looked else ""
        stop = "" if looked >= len(levels) and not _is_top(self._tree, last) else str(looked)
        chains = [
            Ask("settings", stop, _chain(self._placed, levels[:looked], FILE_NAME, digest)),
            Ask("baselines", "", _chain(self._placed, levels, BASELINE, digest)),
        ]
        if chains[1].answer:
            chains.append(Ask("path", "", (self._placed.netlist,)))
        return tuple(sorted((*found.values(), *chains)))


def _is_top(tree: Tree, folder: str) -> bool:
    """Whether the settings in a folder end the search."""
    path = posixpath.join(folder, FILE_NAME)
    try:
        return parse(tree.read(path), path, []).get("top") is True
    except Refused:
        return False


def names_digest(names: Iterable[str]) -> str:
    """The digest of names."""
    return digest_of("\0".join(names).encode("utf-8", "surrogateescape"))


def _chain(placed: PlacedPaths, folders: Sequence[str], name: str, digest: Callable[[str], str]) -> tuple[str, ...]:
    """Files of a name in some folders, each as `path digest`."""
    found = []
    for folder in folders:
        path = posixpath.join(folder, name)
        answer = digest(path)
        if answer != MISSING:
            found.append(f"{placed.relative(path)}\x1f{answer}")
    return tuple(found)


def still(asks: Sequence[Ask], placed: PlacedPaths, tree: Tree, digest: Callable[[str], str]) -> bool:
    """Whether every question is answered as it was. digest: of a path of the tree, or why it can't be read."""
    return all(_same(ask, placed, tree, digest) for ask in asks)


def _same(ask: Ask, placed: PlacedPaths, tree: Tree, digest: Callable[[str], str]) -> bool:
    levels = placed.folders()
    if ask.what == "settings":
        looked = int(ask.name) if ask.name else len(levels)
        return looked <= len(levels) and _chain(placed, levels[:looked], FILE_NAME, digest) == ask.answer
    if ask.what == "baselines":
        return _chain(placed, levels, BASELINE, digest) == ask.answer
    if ask.what == "path":
        return (placed.netlist,) == ask.answer
    if ask.what == "resolve":
        folder, _, name = ask.name.partition("\x1f")
        inside = placed.absolute(folder)
        if inside is None:
            return False
        try:
            tree.resolve("" if inside == "." else inside, name)
        except Refused as error:
            return (error.text,) == ask.answer
        return ask.answer == ("",)
    path = placed.absolute(ask.name)
    if path is None:
        return False
    path = "" if path == "." else path
    if ask.what == "read":
        return (digest(path),) == ask.answer
    if ask.what == "exists":
        return (str(tree.exists(path)),) == ask.answer
    try:
        found = tree.match(path) if ask.what == "match" else tree.walk(path)
    except Refused:
        return False
    names = tuple(map(placed.relative, found))
    return (names if ask.what == "match" else (names_digest(names),)) == ask.answer
