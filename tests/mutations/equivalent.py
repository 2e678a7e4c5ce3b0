"""Drawn changes that change nothing that anyone can see, each with the reason; they are not drawn."""

from __future__ import annotations

from typing import NamedTuple


class Equivalent(NamedTuple):
    """A change that is none: file, old and new text without the blanks around them, and why."""

    file: str
    old: str
    new: str
    why: str


EQUIVALENT = (
    Equivalent(
        "netlist/dots.py",
        "found: dict[str, Number] = {word.lower(): 1.0 for word in rest[1:] if _FLAG.match(word)}",
        "found: dict[str, Number] = {word.lower(): (2.0 * 1.0) for word in rest[1:] if _FLAG.match(word)}",
        "a flag of a model counts by being there",
    ),
    Equivalent(
        "interfaces/graph.py",
        "if other not in done and cost + weight < best.get(other, math.inf) and not is_wall(other):",
        "if (cost + weight < best.get(other, math.inf)) and not is_wall(other):",
        "what is done has its least cost, which no weight lowers",
    ),
    Equivalent(
        "netlist/fast.py",
        "return tails if len(tails) == len(words) else None",
        "return tails if len(tails) != len(words) else None",
        "cards that are not split at once go to the grammar, which reads them alike",
    ),
)
