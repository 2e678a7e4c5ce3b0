"""Elimination of a sparse matrix: dictionaries as rows, the pivots of one matrix reused for the next one like it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

_NEAR = 1e-3
# A pivot may be this much smaller than the largest of its column.

_SINGULAR = 1e-13
# A pivot this much smaller than its row began is rounding noise.

Order = tuple[tuple[int, int], ...]
"""Columns, each with the row in which it is the pivot, as they are eliminated."""

_Step = tuple[int, int, list[tuple[int, float]]]
"""A column, the row in which it is the pivot, and the rows from which so much of that row is taken."""


class Factors(NamedTuple):
    """A matrix as steps of elimination, and the rows that are left: pivot, and what stands beside it."""

    steps: list[_Step]
    rows: list[tuple[float, list[tuple[int, float]]]]

    @classmethod
    def of(cls, rows: list[dict[int, float]], order: Order = ()) -> Factors | None:
        """Eliminate; None where the matrix is singular. The rows are overwritten.

        Of the pivots that are large enough the one in the shortest row is taken, so that chains stay chains.
        order: that of a matrix like this one, followed as far as its pivots are large enough here.
        """
        limits = [_SINGULAR * max(map(abs, row.values()), default=0.0) for row in rows]
        holding: dict[int, set[int]] = {}
        for number, row in enumerate(rows):
            for column in row:
                holding.setdefault(column, set()).add(number)
        steps: list[_Step] = []
        waiting = set(range(len(rows)))
        known = iter(order if len(order) == len(rows) else ())
        while waiting:
            column, at = next(known, (-1, -1))
            if not _fits(rows, holding.get(column, ()), column, at, limits):
                known = iter(())
                column, at = _shortest(rows, holding, waiting, limits)
                if at < 0:
                    return None
            waiting.discard(column)
            pivot_row = rows[at]
            pivot = pivot_row[column]
            for other in pivot_row:
                holding[other].discard(at)
            taken: list[tuple[int, float]] = []
            for number in holding.pop(column, ()):
                row = rows[number]
                factor = row.pop(column) / pivot
                taken.append((number, factor))
                for other, value in pivot_row.items():
                    if other != column:
                        if other not in row:
                            holding[other].add(number)
                            row[other] = 0.0
                        row[other] -= factor * value
            steps.append((column, at, taken))
        done = [(rows[at][column], [pair for pair in rows[at].items() if pair[0] != column]) for column, at, _ in steps]
        return cls(steps, done)

    @property
    def order(self) -> Order:
        """In which order what was eliminated."""
        return tuple([(column, at) for column, at, _ in self.steps])

    def solved(self, right: list[float]) -> list[float]:
        """The solution for a right side, which is overwritten."""
        for _, at, taken in self.steps:
            value = right[at]
            if value:
                for number, factor in taken:
                    right[number] -= factor * value
        found = [0.0] * len(right)
        for (column, at, _), (pivot, beside) in zip(reversed(self.steps), reversed(self.rows), strict=True):
            value = right[at]
            for other, coefficient in beside:
                value -= coefficient * found[other]
            found[column] = value / pivot
        return found


def _fits(
    rows: list[dict[int, float]], holding: Collection[int], column: int, at: int, limits: Sequence[float]
) -> bool:
    """Whether a pivot is large enough in its row and column."""
    if at not in holding:
        return False
    pivot = abs(rows[at][column])
    return pivot > limits[at] and all(pivot >= _NEAR * abs(rows[number][column]) for number in holding)


def _shortest(
    rows: list[dict[int, float]], holding: dict[int, set[int]], waiting: set[int], limits: Sequence[float]
) -> tuple[int, int]:
    """The next column and the row in which it is the pivot, -1 where all that is left of the column is rounding."""
    column = min(waiting, key=lambda each: (len(holding.get(each, ())), each))
    fit = [number for number in holding.get(column, ()) if abs(rows[number][column]) > limits[number]]
    if not fit:
        return column, -1
    largest = max(abs(rows[number][column]) for number in fit)
    near = [number for number in fit if abs(rows[number][column]) >= _NEAR * largest]
    return column, min(near, key=lambda number: (len(rows[number]), number))
