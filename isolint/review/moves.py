"""Which netlist of the base is which of head: by path, by content, by structure; copies are no moves."""

from __future__ import annotations

import posixpath
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

MOST_COMPARED = 400
"""Pairs of netlists whose structure is compared."""
_MOVED = 0.5


class Moves(NamedTuple):
    """Pairs of old and new path of what was moved, and of each copy the path that it was copied from."""

    moved: tuple[tuple[str, str], ...]
    copied: Mapping[str, str]


def moves(
    gone: Iterable[str],
    added: Iterable[str],
    old_ids: Mapping[str, str],
    new_ids: Mapping[str, str],
    share: Callable[[str, str], float],
) -> Moves:
    """Find out what was moved or copied.

    ids: of the contents by path. share: how much of an old netlist is in a new one, 0 to 1.
    """
    left_old, left_new = sorted(gone, key=_order), sorted(added, key=_order)
    moved: list[tuple[str, str]] = []
    equal = [
        (-int(posixpath.basename(one) == posixpath.basename(two)), -_end(one, two), one, two)
        for one in left_old
        for two in left_new
        if old_ids.get(one) is not None and old_ids.get(one) == new_ids.get(two)
    ]
    for _, _, one, two in sorted(equal):
        if one in left_old and two in left_new:
            _take(one, two, left_old, left_new, moved)
    if len(left_old) * len(left_new) <= MOST_COMPARED:
        scores = {(one, two): share(one, two) for one in left_old for two in left_new}
        for (one, two), score in sorted(scores.items(), key=lambda each: (-each[1], each[0])):
            if score < _MOVED or one not in left_old or two not in left_new:
                continue
            best_here = max(scores[one, other] for other in left_new)
            best_there = max(scores[other, two] for other in left_old)
            if score >= best_here and score >= best_there:
                _take(one, two, left_old, left_new, moved)
    sources: dict[str, str] = {}
    for path, id in sorted(old_ids.items(), key=lambda each: _order(each[0])):
        sources.setdefault(id, path)
    copied = {path: sources[new_ids[path]] for path in left_new if new_ids.get(path) in sources}
    return Moves(tuple(moved), copied)


def _take(one: str, two: str, left_old: list[str], left_new: list[str], moved: list[tuple[str, str]]) -> None:
    left_old.remove(one)
    left_new.remove(two)
    moved.append((one, two))


def _order(path: str) -> tuple[str, str]:
    return path.casefold(), path


def _end(one: str, two: str) -> int:
    """How many characters two paths have in common from the end."""
    return len(posixpath.commonprefix([one[::-1], two[::-1]]))
