"""Which netlists a run is about when their names are not given: those that depend on changed files, or all of a folder.

This is how a hook and a repository-wide run ask. The answer for a netlist is the same whatever else is checked with it.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from isolint.app import Options, Run, told
from isolint.errors import IsolintError, Place
from isolint.preparing import repository, shown
from isolint.project import Dependency, Project, is_doubtful, is_netlist
from isolint.results import Report
from isolint.source import FolderTree
from isolint.worktree import earlier, former, taken_away, untracked


def check_changed(paths: Sequence[str], options: Options) -> tuple[Report, tuple[str, ...]]:
    """Judge every netlist that depends on one of the changed files, or on one that the commit being made takes away.

    Second, what there is to say of the others. Without any path only the repository of the working folder is asked.
    """
    run = Run(options, whole=False)
    by_top: dict[Path, list[tuple[str, str]]] = {}
    for path in dict.fromkeys(paths):
        try:
            top, inner = placed(path, options.root)
        except IsolintError as error:
            run.errors.append(told(path, error))
            continue
        by_top.setdefault(top, []).append((inner, path))
    if not paths:
        by_top[placed("isolint.toml", options.root)[0]] = []
    for top, named in by_top.items():
        tree = FolderTree(top)
        project = Project(tree)
        called = _also_called(tree, [*(name for name, _ in named), *taken_away(top)])
        names = dict.fromkeys([*called, *(other for others in called.values() for other in others)])
        gone = [name for name in names if not name.lower().endswith(".toml") and not project.tree.exists(name)]
        concerned = project.concerned(names, former(top, gone))
        run.notes += [
            f"{path}: no netlist here depends on it"
            for name, path in named
            if not any(concerned[each] for each in (name, *called[name]))
        ]
        left = project.orphaned(earlier(top, project.deciding(names), project.text_of))
        wanted = sorted({*left, *(netlist for netlists in concerned.values() for netlist in netlists)})
        add_all(run, project, wanted)
    return run.report(), tuple(run.notes)


def _also_called(tree: FolderTree, names: Sequence[str]) -> dict[str, list[str]]:
    """The names that links in the tree give to files too."""
    links = tree.links()
    found: dict[str, list[str]] = {}
    for name in names:
        ends = {other: target for other, target in links.items() if name == target or name.startswith(f"{target}/")}
        found[name] = [other + name.removeprefix(target) for other, target in ends.items()]
    return found


MOST_NAMES = 64 * 1024 * 1024
"""Bytes that a list of changed files may have."""


def listed(data: bytes) -> list[str]:
    """The names in a list that `git diff -z` made, separated by NUL; raise `IsolintError`."""
    if len(data) > MOST_NAMES:
        raise IsolintError("the list of changed files is too long", cure="use --project")
    if b"\0" not in data and b"\n" in data.strip():
        raise IsolintError("the names in the list are not separated by NUL", cure="let git write it with -z")
    return [os.fsdecode(name) for name in data.rstrip(b"\n").split(b"\0") if name]


def check_project(folder: str, options: Options) -> tuple[Report, tuple[str, ...]]:
    """Judge every top-level netlist below a folder; second, files that were left out because they are none."""
    run = Run(options)
    project, netlists = below(folder, options.root)
    add_all(run, project, netlists)
    return run.report(), tuple(run.notes)


def add_all(run: Run, project: Project, netlists: Sequence[str]) -> None:
    """Judge netlists as a hook does: files that nobody else has are told, files that are no netlists left out."""
    tree = project.tree
    assert isinstance(tree, FolderTree)
    needed = {netlist: project.dependencies(netlist) for netlist in netlists}
    used = {each.path for found in needed.values() for each in found if not each.trouble}
    answer = untracked(tree.root, {*netlists, *used})
    # All that judging needs is loaded while git looks.

    alone = answer()
    # A netlist that is not tracked itself reaches nobody, whatever it depends on.
    shared = [each for netlist in netlists if netlist not in alone for each in needed[netlist] if each.path in alone]
    includes = {each.path for each in shared if each.kind == "include"}
    baselines = {each.path for each in shared if each.kind == "baseline"}
    for path in sorted({each.path for each in shared} - includes - baselines):
        run.notes.append(f"{shown(tree, path)}: counts here, but git does not track it (git add it)")
    for netlist in netlists:
        run.options = run.options._replace(untracked=frozenset(includes if netlist in alone else includes | baselines))
        run.add(tree, netlist, "", shown(tree, netlist), doubtful=is_doubtful(netlist))


def placed(path: str, root: str | None) -> tuple[Path, str]:
    """The root folder that a file, which need not exist any more, belongs to, and its path below it."""
    full = Path(os.path.abspath(path))
    top = Path(os.path.abspath(root)) if root is not None else repository(full.parent)
    if top not in full.parents:
        raise IsolintError(f"the file lies outside the root folder {root}", Place(path), "give a wider --root")
    return top, full.relative_to(top).as_posix()


def below(folder: str, root: str | None) -> tuple[Project, tuple[str, ...]]:
    """The project that a folder belongs to, and its top-level netlists in or below the folder."""
    full = Path(os.path.abspath(folder))
    if full.is_file():
        raise IsolintError("this is a file, not a folder", Place(folder), f"isolint check {folder} judges a netlist")
    if not full.is_dir():
        raise IsolintError("there is no such folder", Place(folder), "name the folder that holds the netlists")
    top = Path(os.path.abspath(root)) if root is not None else repository(full)
    if top != full and top not in full.parents:
        raise IsolintError(f"the folder lies outside the root folder {root}", Place(folder), "give a wider --root")
    project = Project(FolderTree(top))
    inner = full.relative_to(top).as_posix()
    return project, project.netlists("" if inner == "." else inner)


def files_of(path: str, options: Options) -> tuple[bool, tuple[Dependency, ...], tuple[str, ...]]:
    """The map of the hook for one file: whether it is top-level, what it depends on, which netlists depend on it."""
    top, inner = placed(path, options.root)
    tree = FolderTree(top)
    project = Project(tree)
    netlists = project.concerned([inner])[inner]
    own: tuple[Dependency, ...] = ()
    if inner in netlists or is_netlist(inner):
        own = tuple(
            each._replace(path=each.path if each.trouble else shown(tree, each.path))
            for each in project.dependencies(inner)
        )
    return inner in netlists, own, tuple(shown(tree, netlist) for netlist in netlists if netlist != inner)
