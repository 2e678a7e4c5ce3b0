"""What a work tree holds against a commit: by the ids that git would give, without asking git to look at any file."""

from __future__ import annotations

from collections.abc import Mapping

from isolint.errors import Refused
from isolint.review.repository import LINK, SUBMODULE, Repository
from isolint.source import FolderTree


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
