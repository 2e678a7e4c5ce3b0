"""Curves of a data sheet: points joined by straight lines, never extrapolated."""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import NamedTuple


class Curve(NamedTuple):
    """Points (x, y) with ascending x, joined by straight lines; over log x where x is a current."""

    points: tuple[tuple[float, float], ...]
    logarithmic: bool = False

    def at(self, x: float) -> float | None:
        """The value at x, None outside the points: a curve is never extrapolated."""
        points = self.points
        if not points or not points[0][0] <= x <= points[-1][0]:
            return None
        index = min(bisect_right(points, x, key=lambda point: point[0]), len(points) - 1)
        (left, low), (right, high) = points[max(index - 1, 0)], points[index]
        if x == left:
            return low
        if x == right:
            return high
        share = math.log(x / left) / math.log(right / left) if self.logarithmic else (x - left) / (right - left)
        return low + share * (high - low)
