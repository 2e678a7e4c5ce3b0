"""What a work tree or another commit holds against a commit: by the ids that git would give, without asking it to look
at any file. What is read through links and from submodules counts under the names by which it is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from isolint.errors import Refused
from isolint.project import Project
from isolint.review.repository import LINK, SUBMODULE, Repository, TreeEntry
from isolint.source import FolderTree, Tree


def changed_in_folder(repository: Repository, commit: str) -> tuple[list[str], Mapping[str, str]]:
    """The paths that differ from a commit, files that git does not track among them; second, ids by path."""
    tree = FolderTree(repository.root)
    held = repository.files(commit)
    ids: dict[str, str] = {}
    for path in tree.walk():
        try:
            ids[path] = repository.digest(tree.read(path))
        except Refused:
            ids[path] = ""
    changed = [path for path, id in ids.items() if path not in held or held[path].id != id]
    for path, each in held.items():
        if path in ids or each.mode == SUBMODULE:
            continue
        if each.mode == LINK or path.startswith(".") or "/." in path:
            # Neither is walked: a link is followed by who reads it, a hidden file is read by nobody.
            if each.mode == LINK and not (repository.root / path).is_symlink():
                changed.append(path)
            continue
        changed.append(path)
    return sorted(set(changed)), ids


def changed_behind(
    changed: Iterable[str], old: Mapping[str, str], new: Mapping[str, str], files: Mapping[str, TreeEntry]
) -> list[str]:
    """Changed paths with the names behind links and in submodules under which something else is read now.

    old, new: ids by these names. A submodule is no file: only what it holds is told.
    """
    found = {*changed, *(name for name in old.keys() | new.keys() if old.get(name) != new.get(name))}
    return sorted(path for path in found if path not in files or files[path].mode != SUBMODULE)


def unseen(
    project: Project, old: Mapping[str, str], new: Mapping[str, str], files: Mapping[str, TreeEntry]
) -> list[str]:
    """Submodules that are at another commit now, are not here, and of which a netlist reads something."""
    absent = [path for path in sorted(old.keys() | new.keys()) if path in files and files[path].mode == SUBMODULE]
    changed = [path for path in absent if old.get(path) != new.get(path)]
    if not changed:
        return []
    read = {each for netlist in project.netlists() for each in project.closure(netlist)}
    return [path for path in changed if any(each.startswith(f"{path}/") for each in read)]


def read_behind(repository: Repository, tree: Tree, names: Iterable[str]) -> Mapping[str, str]:
    """The ids of what a work tree gives under names of a commit that are no files of it."""
    found: dict[str, str] = {}
    for name in names:
        try:
            found[name] = repository.digest(tree.read(name)) if tree.exists(name) else ""
        except Refused:
            found[name] = ""
    return found
