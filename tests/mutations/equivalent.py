"""Drawn changes that change nothing that anyone can see, each with the reason; they are not drawn."""

from __future__ import annotations

from typing import NamedTuple


class Equivalent(NamedTuple):
    """A change that is none: file, old and new text as `python -m tests.mutations --seeded` prints them, and why."""

    file: str
    old: str
    new: str
    why: str


EQUIVALENT: tuple[Equivalent, ...] = ()
