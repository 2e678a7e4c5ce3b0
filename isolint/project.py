"""Which netlists a tree holds and what each depends on: the map from a changed file to what must be checked again.

In: a tree that can be walked. Out: paths of it. A netlist is top-level, so that it is judged by itself, unless another
one judges the same cards on the same nets, or it has none and is included. It depends on what
it includes, on the settings and baselines from its folder up to the root, and on the part records that those name. Only
texts are looked at; nothing is parsed, so that a hook on a repository of many boards stays fast.
"""

from __future__ import annotations

import fnmatch
import posixpath
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint.errors import Refused
from isolint.facts.paths import FILE_NAME, RECORDS_NAME, settings_paths
from isolint.netlist.dependencies import included
from isolint.netlist.outline import executed, has_cards
from isolint.source import Overlay, Tree, inner_path, is_hidden
from isolint.tables import parse

NETLISTS = (".cir", ".ckt", ".net", ".netlist", ".sp", ".spi", ".spice", ".cdl", ".hsp")
"""Endings of netlists, in lower case; names may have them in either case."""
AMBIGUOUS = (".net", ".netlist")
"""Endings that board tools use for files which are no SPICE netlists."""
BASELINE = "isolint-baseline.toml"

NOTHING: Mapping[str, bytes] = MappingProxyType({})

Kind = Literal["include", "settings", "parts", "baseline"]


class Dependency(NamedTuple):
    """One file that a netlist depends on; `trouble` says why it can't be read, "" where it can."""

    path: str
    kind: Kind
    trouble: str = ""


@dataclass(slots=True, repr=False)
class _Settings:
    """What of one isolint.toml decides on which files others depend."""

    exists: bool = False
    top: bool = False
    parts: list[str] | None = None
    reading: bool = False


@dataclass(slots=True, eq=False, repr=False)
class Project:
    """A tree with what was found in it so far; each file is read once."""

    tree: Tree
    root: str = ""
    _includes: dict[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    _settings: dict[str, _Settings] = field(default_factory=dict)
    _there: dict[str, bool] = field(default_factory=dict)
    _executed: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def netlists(self, folder: str = "") -> tuple[str, ...]:
        """All top-level netlists below a folder, sorted."""
        return self._top_level([path for path in self.tree.walk(folder) if is_netlist(path)])

    def _top_level(self, candidates: Iterable[str]) -> tuple[str, ...]:
        """Candidates that are judged by themselves; of files that execute each other the first."""
        known = sorted(candidates)
        closures = {path: self.closure(path).keys() - {path} for path in known}
        inner = set[str]().union(*closures.values())
        judged = {path: self._judged_by(path, closures[path] & set(known)) for path in known}
        within = set[str]().union(*judged.values())

        def runs(path: str) -> bool:
            return path not in inner or self._has_cards(path)

        tops = [path for path in known if path not in within and runs(path)]
        reached = {*tops, *(each for path in tops for each in judged[path])}
        read = set(tops).union(*(closures[path] for path in tops))
        for path in known:
            if path not in reached and (runs(path) or path not in read):
                tops.append(path)
                reached |= {path, *judged[path]}
                read |= {path, *closures[path]}
        return tuple(sorted(tops))

    def _judged_by(self, netlist: str, others: Iterable[str]) -> set[str]:
        """Which other netlists a check of one judges too: their cards run in it, on the same nets, and as stated.

        One that may turn out to be no netlist judges none. Nor is one judged with it that has settings of its own, or
        where the settings of the other alone say what is to be read.
        """
        wanted = set(others)
        if not wanted or is_doubtful(netlist):
            return set()
        chain = self._chain(netlist)
        found: set[str] = set()
        for path in self._executed_by(netlist) & wanted - {netlist}:
            own = self._chain(path)
            more = [each for each in chain if each not in own]
            if set(own) <= set(chain) and not any(self._read_settings(each).reading for each in more):
                found.add(path)
        return found

    def _executed_by(self, netlist: str) -> set[str]:
        found: set[str] = set()
        waiting = [netlist]
        while waiting:
            path = waiting.pop()
            if path not in self._executed:
                names = executed(self.tree.read(path)) if self._included(path) else ()
                placed = self._placed(path, names)
                # The reader refuses hidden files.
                self._executed[path] = tuple(inside for inside, no in placed if not no and not is_hidden(inside))
            for inside in self._executed[path]:
                if inside not in found:
                    found.add(inside)
                    waiting.append(inside)
        return found

    def _has_cards(self, path: str) -> bool:
        try:
            return has_cards(self.tree.read(path))
        except Refused:
            return True

    def closure(self, netlist: str) -> dict[str, str]:
        """Every file that a netlist includes, directly or not, with why it can't be read ("" where it can)."""
        found: dict[str, str] = {}
        waiting = [netlist]
        while waiting:
            for path, trouble in self._included(waiting.pop()):
                if path not in found:
                    found[path] = trouble
                    if not trouble:
                        waiting.append(path)
        return found

    def _included(self, path: str) -> tuple[tuple[str, str], ...]:
        known = self._includes.get(path)
        if known is not None:
            return known
        try:
            names = included(self.tree.read(path))
        except Refused:
            names = ()
        self._includes[path] = self._placed(path, names)
        return self._includes[path]

    def _placed(self, path: str, names: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """Names written in a file as paths of the tree, each with why it can't be read ("" where it can)."""
        found = []
        for name in names:
            try:
                inside = inner_path(posixpath.dirname(path), name)
            except Refused as error:
                found.append((name, error.text))
                continue
            found.append((inside, "" if self._exists(inside) else "there is no such file"))
        return tuple(found)

    def _exists(self, path: str) -> bool:
        """Whether there is such a file; many netlists ask about the same library."""
        if path not in self._there:
            self._there[path] = self.tree.exists(path)
        return self._there[path]

    def dependencies(self, netlist: str) -> tuple[Dependency, ...]:
        """Everything that a check of a netlist reads, but for the netlist itself."""
        found = [Dependency(path, "include", trouble) for path, trouble in sorted(self.closure(netlist).items())]
        chain = self._chain(netlist)
        found += [Dependency(path, "settings") for path in chain]
        found += [Dependency(path, "parts") for path in self._part_files(netlist, chain)]
        found += [Dependency(path, "baseline") for path in self._baselines(netlist) if self.tree.exists(path)]
        return tuple(found)

    def concerned(self, changed: Iterable[str], former: Mapping[str, bytes] = NOTHING) -> dict[str, tuple[str, ...]]:
        """The top-level netlists that depend on each changed file; the files need not exist any more.

        A changed file that nothing includes and that may be a netlist is one itself. former: what files that are gone
        held: what they included is judged by itself now.
        """
        names = dict.fromkeys(changed)
        files = set(self.tree.walk())
        candidates = {path for path in files if is_netlist(path)}
        candidates |= {name for name in names if self.tree.exists(name) and (is_netlist(name) or not _has_role(name))}
        tops = self._top_level(candidates)
        found: dict[str, list[str]] = {name: [] for name in names}
        left = {name: self._left_by(name, former[name]) for name in names if name in former}
        for top in tops:
            touched = set(self._touched(top, names))
            for name in names:
                if name in touched or top in left.get(name, ()):
                    found[name].append(top)
        return {name: tuple(netlists) for name, netlists in found.items()}

    def orphaned(self, earlier: Mapping[str, bytes | None]) -> tuple[str, ...]:
        """The netlists that are judged by themselves and were not before some files changed: another one judged them.

        earlier: what these files held, None for what was not there.
        """
        if not any(self._matters(name, data) for name, data in earlier.items()):
            return ()
        before = Project(Overlay(self.tree, earlier), self.root)
        return tuple(sorted(set(self.netlists()) - set(before.netlists())))

    def _matters(self, name: str, before: bytes | None) -> bool:
        """Whether what a file held decides otherwise than what it holds now which netlists judge which others."""
        now = self.text_of(name)
        if now is None or before is None:
            return now is not before
        if posixpath.basename(name) != FILE_NAME:
            return executed(now) != executed(before)
        other = Project(Overlay(self.tree, {name: before}), self.root)._read_settings(name)
        return self._read_settings(name) != other

    def deciding(self, names: Iterable[str]) -> list[str]:
        """The files, which need not exist any more, that have a say in which netlists judge which others."""
        read = {path for top in self.tree.walk() if is_netlist(top) for path in self.closure(top)}
        return [
            name
            for name in names
            if is_netlist(name)
            or posixpath.basename(name) == FILE_NAME
            or name.lower().endswith(_INCLUDED)
            or name in read
        ]

    def text_of(self, name: str) -> bytes | None:
        """What a file holds, None where it can't be read or is not there."""
        try:
            return self.tree.read(name) if self.tree.exists(name) else None
        except Refused:
            return None

    def _left_by(self, name: str, data: bytes) -> set[str]:
        """The files that a file which is gone included, directly or not."""
        found = {path for path, trouble in self._placed(name, included(data)) if not trouble}
        return found.union(*(self.closure(path) for path in found))

    def _touched(self, netlist: str, names: Iterable[str]) -> Iterator[str]:
        closure = self.closure(netlist)
        for name in names:
            base = posixpath.basename(name)
            if name == netlist or name in closure:
                yield name
            elif base == BASELINE:
                if name in self._baselines(netlist):
                    yield name
            elif base == FILE_NAME:
                if name in settings_paths(netlist, self.root) and name in self._chain(netlist, name):
                    yield name
            elif base.lower().endswith(".toml") and self._names_part(netlist, name):
                yield name

    def _baselines(self, netlist: str) -> list[str]:
        return [posixpath.join(posixpath.dirname(path), BASELINE) for path in settings_paths(netlist, self.root)]

    def _chain(self, netlist: str, gone: str = "") -> list[str]:
        """The settings files that count for a netlist, nearest first; `gone` is taken as if it were still there."""
        chain = []
        for path in settings_paths(netlist, self.root):
            settings = self._read_settings(path)
            if settings.exists or path == gone:
                chain.append(path)
            if settings.top:
                break
        return chain

    def _read_settings(self, path: str) -> _Settings:
        """A file that can't be read counts with nothing in it: the check itself will say what is wrong."""
        known = self._settings.get(path)
        if known is not None:
            return known
        found = self._settings[path] = _Settings(self.tree.exists(path))
        if found.exists:
            try:
                document = parse(self.tree.read(path), path, [])
            except Refused:
                return found
            parts = document.get("parts")
            found.top = document.get("top") is True
            found.reading = "reading" in document
            found.parts = [part for part in parts if isinstance(part, str)] if isinstance(parts, list) else None
        return found

    def _patterns(self, netlist: str, chain: Sequence[str]) -> Iterator[str]:
        """The patterns of part records, as paths of the tree, from the nearest file that states any, else the usual."""
        for path in chain:
            parts = self._read_settings(path).parts
            if parts is not None:
                for part in parts:
                    try:
                        yield inner_path(posixpath.dirname(path), part)
                    except Refused:
                        continue
                return
        yield posixpath.join(posixpath.dirname(chain[0] if chain else netlist), RECORDS_NAME)

    def _part_files(self, netlist: str, chain: Sequence[str]) -> list[str]:
        found: dict[str, None] = {}
        for pattern in self._patterns(netlist, chain):
            try:
                found.update(dict.fromkeys(self.tree.match(pattern)))
            except Refused:
                continue
        return list(found)

    def _names_part(self, netlist: str, name: str) -> bool:
        folder, base = posixpath.split(name)
        return any(
            posixpath.dirname(pattern) == folder and (base == part or fnmatch.fnmatchcase(base, part))
            for pattern in self._patterns(netlist, self._chain(netlist))
            for part in (posixpath.basename(pattern),)
        )


def is_netlist(path: str) -> bool:
    """Whether a file's name is that of a netlist."""
    return path.lower().endswith(NETLISTS)


def is_doubtful(path: str) -> bool:
    """Whether a file of this name may well be something else than a SPICE netlist."""
    return not is_netlist(path) or path.lower().endswith(AMBIGUOUS)


_INCLUDED = (".lib", ".sub", ".subckt", ".mod", ".model", ".inc", ".l")
"""Endings of what netlists include, in lower case."""


def _has_role(path: str) -> bool:
    """Whether a name says that the file is something else: settings, records, a library."""
    return path.lower().endswith((".toml", ".md", ".txt", *_INCLUDED))
