"""What facts refer to: files of part records, the include root, each other's names."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable
from typing import Any

from isolint.errors import Mistake, Refused
from isolint.facts.stated import Stated
from isolint.source import Tree, is_hidden
from isolint.tables import Site, dotted, nearest

MOST_PART_FILES = 1000
"""Files of part records that a netlist may have; each takes up to a mebibyte."""


def part_files(tree: Tree, parts: Stated[Any] | None, beside: str, mistakes: list[Mistake]) -> tuple[str, ...]:
    """The files that `parts` names, relative to the file that names them; a pattern without any is a mistake.

    Where nothing names any it is the file `beside`, if it is there.
    """
    if parts is None:
        return (beside,) if tree.exists(beside) else ()
    site = Site(parts.file, parts.key, mistakes)
    found: dict[str, None] = {}
    if len(parts.value) > MOST_PART_FILES:
        site.wrong(f"more than {MOST_PART_FILES} names of files with part records", 'name them by "parts/*.toml"')
        return ()
    for index, pattern in enumerate(parts.value):
        try:
            folder = posixpath.dirname(parts.file)
            resolved = tree.resolve(folder, pattern)
            if is_hidden(resolved.removeprefix(f"{folder}/")) or ".git" in resolved.split("/"):
                raise Refused("the file is hidden (a name in its path begins with a dot)", cure="give it another name")
            matched = tree.match(resolved) if any(mark in pattern for mark in "*?[") else ()
            if not matched and tree.exists(resolved):
                matched = (resolved,)
        except Refused as error:
            site.inner(index).wrong(f'"{pattern}": {error.text}', error.cure or "")
            continue
        if not matched:
            site.inner(index).wrong(f'"{pattern}" matches no file', f"paths are relative to {parts.file}")
        found.update(dict.fromkeys(matched))
    if len(found) > MOST_PART_FILES:
        site.wrong(f"more than {MOST_PART_FILES} files with part records", "join some of them")
        return ()
    return tuple(found)


def include_root(tree: Tree, roots: list[Stated[str]], mistakes: list[Mistake]) -> Stated[str] | None:
    """The nearest include_root as a folder in the tree; it has to lie inside those of the farther files."""
    outer: str | None = None
    answer: Stated[str] | None = None
    for stated in reversed(roots):
        site = Site(stated.file, stated.key, mistakes)
        try:
            folder = tree.resolve(posixpath.dirname(stated.file), stated.value)
        except Refused as error:
            site.wrong(f"{stated.text}: {error.text}", error.cure or "")
            continue
        folder = "" if folder == "." else folder
        if outer and folder != outer and not folder.startswith(outer + "/"):
            site.wrong(f'{stated.text} lies outside "{outer}", which a file above states', "it can only narrow")
            continue
        outer = folder
        answer = Stated(folder, stated.file, stated.key, stated.text)
    return answer


def check_references(
    sides: Iterable[str],
    groups: Iterable[str],
    pairs: Iterable[tuple[str, str, tuple[str, str]]],
    members: Iterable[Stated[str]],
    mistakes: list[Mistake],
) -> None:
    """Names that facts use of each other: sides of bonds and barriers (file, key, names), groups of outputs."""
    stated = tuple(sides)
    known = {name.casefold() for name in stated}
    for file, key, between in pairs:
        for side in between:
            if side.casefold() not in known:
                cure = nearest(side, stated) if stated else f'write [{dotted("sides", side)}] with nets = ["..."]'
                Site(file, key, mistakes).wrong(f'there is no side "{side}"', cure)
    limits = tuple(groups)
    known = {name.casefold() for name in limits}
    for group in members:
        if group.value.casefold() not in known:
            cure = nearest(group.value, limits) if limits else f"write [groups.{group.text}] with current_max"
            Site(group.file, group.key, mistakes).wrong(f"there is no group {group.text}", cure)
