"""Sparse linear equations on plain lists of dictionaries: circuits have few terms a row."""

from __future__ import annotations

Rows = list[dict[int, float]]
"""The coefficients of each equation by unknown."""

_SHARE = 1e-3
# A pivot at least this part of the largest coefficient left in its row, so that rounding does not grow.


def solve_sparse(rows: Rows, right: list[float]) -> list[float] | None:
    """Solve `rows` x = `right` by elimination; None for a singular system. Both arguments are overwritten.

    The next pivot is taken from the row with the fewest terms, in the column that stands in the fewest rows.
    """
    size = len(rows)
    users: list[set[int]] = [set() for _ in range(size)]
    for at, row in enumerate(rows):
        for column in row:
            users[column].add(at)
    left = set(range(size))
    order: list[tuple[int, int]] = []
    while left:
        found = _pivot(rows, users, left)
        if found is None:
            return None
        at, column = found
        left.discard(at)
        order.append((at, column))
        row = rows[at]
        lead = row[column]
        for used in row:
            users[used].discard(at)
        for other in list(users[column]):
            target = rows[other]
            factor = target.pop(column) / lead
            users[column].discard(other)
            right[other] -= factor * right[at]
            for used, value in row.items():
                if used == column:
                    continue
                if used not in target:
                    users[used].add(other)
                    target[used] = -factor * value
                else:
                    target[used] -= factor * value
    found_values = [0.0] * size
    for at, column in reversed(order):
        row = rows[at]
        rest = right[at] - sum(value * found_values[used] for used, value in row.items() if used != column)
        found_values[column] = rest / row[column]
    return found_values


def _pivot(rows: Rows, users: list[set[int]], left: set[int]) -> tuple[int, int] | None:
    """Row and column to eliminate next; None where a row has nothing left."""
    best, place = 0, None
    for at in left:
        row = rows[at]
        count = len(row)
        if place is not None and count > best:
            continue
        largest = max(map(abs, row.values()), default=0.0)
        if not largest > 0.0:
            return None
        column = min(
            (used for used, value in row.items() if abs(value) >= _SHARE * largest), key=lambda used: len(users[used])
        )
        cost = (count - 1) * (len(users[column]) - 1)
        if place is None or cost < best:
            best, place = cost, (at, column)
            if not cost:
                break
    return place
