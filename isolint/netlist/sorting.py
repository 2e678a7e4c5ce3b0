"""The lines of a run of element cards, sorted by the letter they begin with, before any is read."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice

from isolint.netlist.lines import is_comment


@dataclass(slots=True)
class SortedLines:
    """Indices of lines in the block they come from, ascending in each list.

    groups: by upper-case letter, the cards of one line that begin with it. others: cards of one line that begin with
    another letter. joined: where cards of several lines begin, and where the card behind each begins. columns: where
    the indented ones begin, from 1. end: the first line that does not belong to the run.
    """

    groups: dict[str, list[int]]
    others: list[int] = field(default_factory=list)
    joined: dict[int, int] = field(default_factory=dict)
    columns: dict[int, int] = field(default_factory=dict)
    end: int = 0

    def cut(self, end: int) -> None:
        """Leave out the cards that begin in line `end` or behind it."""
        self.end = end
        for indices in (*self.groups.values(), self.others):
            del indices[bisect_left(indices, end) :]
        self.joined = {head: behind for head, behind in self.joined.items() if head < end}


def sort_lines(lines: list[str], start: int, letters: Iterable[str]) -> tuple[SortedLines, int]:
    """Sort the lines from index `start` on, up to the first that only makes sense in its order: a dot card, a comment
    directive, text. The card in front of it counts if it is sure to be complete.

    Give the sorted lines, and how far they were looked at.
    """
    found = SortedLines({letter: [] for letter in letters})
    put = {key: found.groups[letter].append for letter in found.groups for key in (letter, letter.lower())}
    other = found.others.append
    plus: list[int] = []
    seen, complete = len(lines), False
    for index, line in enumerate(islice(lines, start, None), start):
        known = put.get(line[:1])
        if known is not None:
            known(index)
            continue
        body = line.strip()
        if not body:
            continue
        first = body[0]
        if first in "*;#$/" and is_comment(body):
            if first != "*" or body[1:2] != ".":
                continue
            seen = index
            break
        if first == "+":
            plus.append(index)
        elif first.isalpha():
            put.get(first, other)(index)
            if line[0] != first:
                found.columns[index] = len(line) - len(line.lstrip()) + 1
        else:
            seen, complete = index, True
            break
    # Each continuation belongs to the last card in front of it; the last card of all may go on behind the run.
    heads = sorted(index for indices in (*found.groups.values(), found.others) for index in indices) if plus else []
    if complete:
        found.end = seen
    else:
        found.end = max((indices[-1] for indices in (*found.groups.values(), found.others) if indices), default=start)
        found.cut(found.end)
    if plus:
        _join(found, heads, plus)
    return found, max(1, seen + 1 - start)


def _join(found: SortedLines, heads: list[int], plus: list[int]) -> None:
    for index in plus:
        at = bisect_right(heads, index) - 1
        if heads[at] < found.end:
            found.joined[heads[at]] = min(heads[at + 1] if at + 1 < len(heads) else found.end, found.end)
    for indices in (*found.groups.values(), found.others):
        if not found.joined.keys().isdisjoint(indices):
            indices[:] = [index for index in indices if index not in found.joined]
