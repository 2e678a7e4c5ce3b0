"""Adopting isolint on designs that have faults already: the baseline written, shrunk and shown.

In: netlists or folders. Out: the texts of baseline files and what changed; the command line writes them. `write`
accepts what fails now; `prune` only ever removes entries, or gives those of a moved file its new name.
"""

from __future__ import annotations

import os
import posixpath
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import partial

from isolint import selection
from isolint.acceptance import BASELINE, alike, baselines
from isolint.app import Options, check_in, told
from isolint.checking.baselines import KnownFailure, entry, match, read, relative, text
from isolint.errors import FAULTS, IsolintError, SettingsError, itself_failed
from isolint.facts import Facts, load
from isolint.preparing import locate, shown
from isolint.results import NetlistReport, told_of_crashes
from isolint.source import FolderTree


@dataclass(slots=True)
class BaselineChange:
    """What is to be done to one baseline file. before: None where there is none yet. root: the folder of its tree."""

    file: str
    root: str
    before: str | None
    after: str
    added: tuple[KnownFailure, ...] = ()
    removed: tuple[KnownFailure, ...] = ()
    held: int = 0


@dataclass(slots=True)
class _File:
    """One baseline while it is changed: the old entries, and the new ones by netlist as named in it."""

    tree: FolderTree
    path: str
    before: str | None = None
    old: tuple[KnownFailure, ...] = ()
    new: list[KnownFailure] = field(default_factory=list)

    def change(self) -> BaselineChange:
        """Compare old and new."""
        keys_before, keys_after = {_identity(e) for e in self.old}, {_identity(e) for e in self.new}
        return BaselineChange(
            shown(self.tree, self.path),
            str(self.tree.root),
            self.before,
            text(self.new),
            tuple(e for e in self.new if _identity(e) not in keys_before),
            tuple(e for e in self.old if _identity(e) not in keys_after),
            len(self.new),
        )


def _identity(held: KnownFailure) -> tuple[str, str]:
    return held.netlist, held.fingerprint


@dataclass(slots=True)
class _Judged:
    """The netlists of one job, judged without a baseline, with what could not be done."""

    reports: list[tuple[FolderTree, str, NetlistReport]] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


Lock = Callable[[Iterable[str]], None]
"""Wait until nobody else writes in some folders, and keep others from it until this job is done."""


def write(paths: Sequence[str], options: Options, lock: Lock) -> tuple[list[BaselineChange], list[str]]:
    """Accept every failure of the netlists; second, what could not be done.

    Entries of other netlists stay. A netlist goes into the nearest baseline that exists from its folder up, else into
    a new one beside the outermost isolint.toml that counts for it, else at the root.
    """
    judged = _judge(paths, options)
    files: dict[str, _File] = {}
    homes = [_home(tree, netlist) for tree, netlist, _ in judged.reports]
    lock(_folder(tree, home) for (tree, _, _), home in zip(judged.reports, homes, strict=True))
    for (tree, netlist, report), home in zip(judged.reports, homes, strict=True):
        file = _opened(files, tree, home)
        name = relative(netlist, posixpath.dirname(file.path))
        file.new = [held for held in file.new if held.netlist != name]
        file.new.extend(made for result in report.results if (made := entry(result, name)) is not None)
    changes = [file.change() for file in files.values()]
    return [each for each in changes if each.before is not None or each.held], judged.errors


def prune(paths: Sequence[str], options: Options, lock: Lock) -> tuple[list[BaselineChange], list[str]]:
    """Remove the entries of these netlists that nothing matches any more, and those of netlists that are gone."""
    judged = _judge(paths, options)
    files: dict[str, _File] = {}
    renamed: dict[str, dict[str, str]] = {}
    lock(_folder(tree, each.file) for tree, netlist, _ in judged.reports for each in baselines(tree, netlist, ""))
    for tree, netlist, report in judged.reports:
        found = baselines(tree, netlist, "")
        matched = match(report.results, found, netlist, tree.exists, partial(alike, tree, netlist))
        for baseline in found:
            file = _opened(files, tree, baseline.file)
            if matched.moved and not matched.rivals:
                renamed.setdefault(baseline.file, {})[matched.moved] = relative(netlist, baseline.folder)
        for baseline, stale in matched.stale:
            file = _opened(files, tree, baseline.file)
            file.new.remove(next(held for held in file.new if held == stale))
    for file in files.values():
        names = renamed.get(file.path, {})
        folder = posixpath.dirname(file.path)
        moved = [held._replace(netlist=names.get(held.netlist, held.netlist)) for held in file.new]
        file.new = [held for held in moved if file.tree.exists(posixpath.join(folder, held.netlist))]
    return [file.change() for file in files.values()], judged.errors


def show(paths: Sequence[str], options: Options) -> tuple[list[tuple[str, KnownFailure]], list[str]]:
    """The entries that count for the netlists, as pairs of netlist and entry; second, what could not be done."""
    rows: list[tuple[str, KnownFailure]] = []
    errors: list[str] = []
    for tree, netlist in _named(paths, options, errors):
        try:
            found = baselines(tree, netlist, "")
        except SettingsError as error:
            errors.extend(str(mistake._replace(file=shown(tree, mistake.file))) for mistake in error.mistakes)
            continue
        for baseline in found:
            name = relative(netlist, baseline.folder)
            rows.extend((shown(tree, netlist), held) for held in baseline.entries if held.netlist == name)
    return rows, list(dict.fromkeys(errors))


def _named(paths: Sequence[str], options: Options, errors: list[str]) -> Iterable[tuple[FolderTree, str]]:
    """Every netlist that is meant: those named, and the top-level ones below folders."""
    for path in dict.fromkeys(paths):
        try:
            if os.path.isdir(path):
                project, netlists = selection.below(path, options.root)
                assert isinstance(project.tree, FolderTree)
                yield from ((project.tree, netlist) for netlist in netlists)
            else:
                tree, inner, _ = locate(path, options.root)
                yield tree, inner
        except IsolintError as error:
            errors.append(told(path, error))


def _judge(paths: Sequence[str], options: Options) -> _Judged:
    done = _Judged()
    alone = options._replace(baseline=False)
    for tree, netlist in _named(paths, options, done.errors):
        try:
            done.reports.append((tree, netlist, check_in(tree, netlist, "", alone)[0]))
        except SettingsError as error:
            done.errors.extend(str(mistake._replace(file=shown(tree, mistake.file))) for mistake in error.mistakes)
        except IsolintError as error:
            done.errors.append(told(shown(tree, netlist), error))
        except FAULTS as error:
            done.errors.append(f"{shown(tree, netlist)}: {itself_failed(error)}")
    for tree, netlist, report in done.reports:
        crashed = told_of_crashes(report.results)
        if crashed:
            done.errors.append(f"{shown(tree, netlist)}: {crashed}")
    done.errors = list(dict.fromkeys(done.errors))
    return done


def _folder(tree: FolderTree, path: str) -> str:
    return str(tree.root / posixpath.dirname(path))


def _opened(files: dict[str, _File], tree: FolderTree, path: str) -> _File:
    key = str(tree.root / path)
    if key not in files:
        made = files[key] = _File(tree, path)
        if tree.exists(path):
            data = tree.read(path)
            made.before = data.decode("utf-8", "replace")
            made.old = read(data, path).entries
            made.new = list(made.old)
    return files[key]


def _home(tree: FolderTree, netlist: str) -> str:
    """The baseline file that a netlist's entries belong in."""
    facts: Facts = load(tree, netlist)
    folder = posixpath.dirname(netlist)
    chain = [folder]
    while folder:
        folder = posixpath.dirname(folder)
        chain.append(folder)
    for candidate in chain:
        if tree.exists(posixpath.join(candidate, BASELINE)):
            return posixpath.join(candidate, BASELINE)
    return posixpath.join(posixpath.dirname(facts.files[-1]) if facts.files else "", BASELINE)
