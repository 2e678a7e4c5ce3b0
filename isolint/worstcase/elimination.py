"""Elimination on plain lists: one solution, or the reduction of a system's linear part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.worstcase.sparse_factors import Factors, Order

Matrix = list[list[float]]

_RANK = 1e-13
# A pivot this much smaller than its row began is rounding noise of a row that depends on the others.


_FEW = 12
# Up to so many equations the zeros of a matrix are not worth being left out.


class Elimination:
    """Solves one system of equations after the other in which the same coefficients are zero."""

    __slots__ = ("_order",)

    def __init__(self) -> None:
        self._order: Order = ()

    def solve(self, matrix: Matrix, right: list[float], size: int) -> list[float] | None:
        """As `solve_dense`; many equations, each of which holds few unknowns, take no more than these."""
        if size > _FEW:
            rows = [{column: value for column, value in enumerate(row[:size]) if value} for row in matrix[:size]]
            factors = Factors.of(rows, self._order)
            if factors is not None:
                self._order = factors.order
                return factors.solved(right[:size])
        return solve_dense(matrix, right, size)


def solve_dense(matrix: Matrix, right: list[float], size: int) -> list[float] | None:
    """Solve the leading size x size part of `matrix` x = `right` by LU with partial pivoting, None where singular.

    Both arguments are overwritten. Rows and columns beyond `size` are ignored.
    """
    for k in range(size):
        row = matrix[k]
        best = abs(row[k])
        at = k
        for i in range(k + 1, size):
            value = abs(matrix[i][k])
            if value > best:
                best, at = value, i
        if not best > 1e-300:
            return None
        if at != k:
            row = matrix[at]
            matrix[at] = matrix[k]
            matrix[k] = row
            right[k], right[at] = right[at], right[k]
        pivot = row[k]
        for i in range(k + 1, size):
            other = matrix[i]
            factor = other[k]
            if factor:
                factor /= pivot
                for j in range(k + 1, size):
                    other[j] -= factor * row[j]
                right[i] -= factor * right[k]
    for k in range(size - 1, -1, -1):
        row = matrix[k]
        value = right[k]
        for j in range(k + 1, size):
            value -= row[j] * right[j]
        right[k] = value / row[k]
    return right


class Eliminated(NamedTuple):
    """A linear system whose eliminable unknowns were expressed by the kept ones.

    rows, right: the remaining equations over the columns `kept`, in that order; equation i < `paired` is the one
    that belongs to unknown kept[i]. pivots: (unknown, equation, right side) in order of elimination.
    """

    kept: list[int]
    paired: int
    rows: Matrix
    right: list[float]
    pivots: list[tuple[int, list[float], float]]
    size: int

    def expand(self, values: Sequence[float]) -> list[float]:
        """All unknowns from the kept ones."""
        full = [0.0] * self.size
        for unknown, value in zip(self.kept, values, strict=False):
            full[unknown] = value
        done = list(self.kept)
        for unknown, row, right in reversed(self.pivots):
            value = right
            for j in done:
                if row[j]:
                    value -= row[j] * full[j]
            full[unknown] = value / row[unknown]
            done.append(unknown)
        return full


def reduce_linear(rows: Matrix, right: list[float], nonlinear: Sequence[bool]) -> Eliminated:
    """Eliminate every unknown that `nonlinear` does not mark, as far as the rank allows (a Schur complement).

    Equation i belongs to unknown i. Arguments are overwritten. Unknowns that find no pivot among the linear
    equations are kept, as are the equations that are left over.
    """
    size = len(rows)
    kept = [i for i in range(size) if nonlinear[i]]
    active = list(range(size))
    free = [i for i in range(size) if not nonlinear[i]]
    limits = {i: _RANK * max(map(abs, rows[i]), default=0.0) for i in free}
    pivots: list[tuple[int, list[float], float]] = []
    left_over: list[int] = []
    for column in [i for i in range(size) if not nonlinear[i]]:
        best, at = 0.0, -1
        for i in free:
            value = abs(rows[i][column])
            if value > best and value > limits[i]:
                best, at = value, i
        if at < 0:
            left_over.append(column)
            continue
        free.remove(at)
        active.remove(at)
        row, value = rows[at], right[at]
        pivots.append((column, row, value))
        pivot = row[column]
        support = [j for j in range(size) if row[j] and j != column]
        for i in active:
            other = rows[i]
            factor = other[column]
            if factor:
                factor /= pivot
                for j in support:
                    other[j] -= factor * row[j]
                other[column] = 0.0
                right[i] -= factor * value
    columns = kept + left_over
    equations = kept + free
    return Eliminated(
        kept=columns,
        paired=len(kept),
        rows=[[rows[i][j] for j in columns] for i in equations],
        right=[right[i] for i in equations],
        pivots=pivots,
        size=size,
    )
