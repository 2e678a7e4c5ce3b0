"""Extreme values of several quantities over ranges of their parameters.

In: ranges and a function from a vector of parameter values to a vector of quantities. Out: for each quantity its
nominal value and both ends, each with the corner where it was found and the method. Pure numerics: nothing here
knows circuits. An exception that the function raises (a network without an operating point) passes through.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Literal

Method = Literal["sensitivity", "vertices"]
Sought = Literal["both", "low", "high"]
Corner = tuple[tuple[str, float], ...]
Vector = tuple[float, ...]

MOST_VERTICES = 2**12
"""No end is sought among more combinations than this; `Extreme.capped` says where that cut something off."""

_SAME = 1e-9
_SECTIONS = 12
_GOLDEN = 0.5 * (5.0**0.5 - 1.0)


@dataclass(frozen=True, slots=True)
class Range:
    """One parameter: low <= nominal <= high. It costs nothing where low == high."""

    name: str
    low: float
    nominal: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.nominal <= self.high:
            raise ValueError(f"{self.name}: {self.nominal!r} is not between {self.low!r} and {self.high!r}")


@dataclass(frozen=True, slots=True)
class Extreme:
    """One quantity: nominal value, both ends, and the parameter values at each end.

    Corners name the parameters that the quantity responds to, in the order of the ranges. method: "sensitivity"
    where signs of single moves found both ends and stayed valid there, else "vertices". capped: not all
    combinations were tried because there were more than `MOST_VERTICES`.
    """

    nominal: float
    low: float
    high: float
    low_corner: Corner
    high_corner: Corner
    method: Method
    capped: bool = False


def extremes(
    ranges: Sequence[Range],
    evaluate: Callable[[Sequence[float]], Sequence[float]],
    noise: float = 1e-12,
    sought: Sought = "both",
) -> tuple[Extreme, ...]:
    """The ends of every quantity that `evaluate` gives over the box of `ranges`.

    Moving one parameter at a time from nominal to both of its ends gives the sign of each response and shows where
    it is not monotonic. The corner that the signs name is checked by moving each parameter there to its other end
    until no move improves it. Parameters whose response is not monotonic, or whose sign was another one at the
    corner, are tried in all combinations, nominal values and a search between the ends included.

    noise: changes below it (in the unit of the quantity: 1 pA, 1 pV) or below a 1e-9 part are rounding, no response.
    sought: the end that the caller uses, which halves the work; the other one then is only the farthest value seen.
    """
    box = _Box(ranges, evaluate, noise)
    nominal = box.at(box.nominal)
    responses = [_Response.of(box, quantity) for quantity in range(len(nominal))]
    ends = [
        tuple(
            _search(box, q, direction, r) if wanted else _End(q, direction, box.nominal, nominal[q])
            for direction, wanted in sides
        )
        for q, r in enumerate(responses)
        for sides in (((-1.0, sought != "high"), (1.0, sought != "low")),)
    ]
    found = []
    for quantity, (low, high) in enumerate(ends):
        response = responses[quantity]
        for end, wanted in ((low, sought != "high"), (high, sought != "low")):
            _adopt_better(box, end, response, wanted)
        found.append(
            Extreme(
                nominal=nominal[quantity],
                low=low.value,
                high=high.value,
                low_corner=_named(box, low, response),
                high_corner=_named(box, high, response),
                method="vertices" if low.vertices or high.vertices else "sensitivity",
                capped=low.capped or high.capped,
            )
        )
    return tuple(found)


class _Box:
    """The ranges and every evaluation within them, shared by all quantities."""

    def __init__(
        self, ranges: Sequence[Range], evaluate: Callable[[Sequence[float]], Sequence[float]], noise: float
    ) -> None:
        self.noise = noise
        self.ranges = tuple(ranges)
        self.axes = [i for i, r in enumerate(self.ranges) if r.low < r.high]
        self.nominal: Vector = tuple(r.nominal for r in self.ranges)
        self.known: dict[Vector, tuple[float, ...]] = {}
        self._evaluate = evaluate

    def at(self, vector: Vector) -> tuple[float, ...]:
        values = self.known.get(vector)
        if values is None:
            values = self.known[vector] = tuple(self._evaluate(vector))
        return values

    def sign(self, old: float, new: float) -> int:
        """+1 or -1 where `new` is above or below `old` by more than rounding, else 0."""
        change = new - old
        if abs(change) <= max(self.noise, _SAME * max(abs(old), abs(new))):
            return 0
        return 1 if change > 0.0 else -1


def _moved(vector: Vector, axis: int, value: float) -> Vector:
    return (*vector[:axis], value, *vector[axis + 1 :])


@dataclass(frozen=True, slots=True)
class _Response:
    """How one quantity answers to single moves from nominal: sign by axis, and the axes where it is not monotonic."""

    signs: dict[int, int]
    bent: frozenset[int]

    @classmethod
    def of(cls, box: _Box, quantity: int) -> _Response:
        nominal = box.at(box.nominal)[quantity]
        signs: dict[int, int] = {}
        bent = set()
        for axis in box.axes:
            r = box.ranges[axis]
            down = box.sign(nominal, box.at(_moved(box.nominal, axis, r.low))[quantity])
            up = box.sign(nominal, box.at(_moved(box.nominal, axis, r.high))[quantity])
            if up and up == down:
                bent.add(axis)
            signs[axis] = up or -down
        return cls(signs, frozenset(bent))


@dataclass(slots=True)
class _End:
    """One end of one quantity while it is sought; direction +1 for the high end, -1 for the low one."""

    quantity: int
    direction: float
    vector: Vector
    value: float
    vertices: bool = False
    capped: bool = False
    flipped: set[int] = field(default_factory=set)

    def offer(self, box: _Box, vector: Vector) -> bool:
        """Move there if it is better by more than rounding."""
        value = box.at(vector)[self.quantity]
        if box.sign(self.value, value) * self.direction <= 0.0:
            return False
        self.vector, self.value = vector, value
        return True


def _search(box: _Box, quantity: int, direction: float, response: _Response) -> _End:
    vector = box.nominal
    for axis in box.axes:
        toward = response.signs[axis] * direction
        if toward and axis not in response.bent:
            vector = _moved(vector, axis, box.ranges[axis].high if toward > 0.0 else box.ranges[axis].low)
    end = _End(quantity, direction, vector, box.at(vector)[quantity])
    _exchange(box, end, response)
    suspects = sorted(response.bent | {axis for axis in end.flipped if response.signs[axis]})
    if suspects:
        _enumerate(box, end, suspects, response)
        _exchange(box, end, response)
        for axis in sorted(response.bent):
            _section(box, end, axis)
    return end


def _exchange(box: _Box, end: _End, response: _Response) -> None:
    """Move single parameters to an end (or back to nominal) until no such move improves."""
    improved = True
    while improved:
        improved = False
        for axis in box.axes:
            r = box.ranges[axis]
            values = (r.low, r.nominal, r.high) if axis in response.bent else (r.low, r.high)
            for value in values:
                if value != end.vector[axis] and end.offer(box, _moved(end.vector, axis, value)):
                    end.flipped.add(axis)
                    improved = True


def _enumerate(box: _Box, end: _End, axes: Sequence[int], response: _Response) -> None:
    """Try all combinations of the ends of `axes`, with the nominal value too where the response is not monotonic."""
    end.vertices = True
    choices: list[tuple[float, ...]] = []
    number = 1
    for axis in axes:
        r = box.ranges[axis]
        values: tuple[float, ...] = (r.low, r.nominal, r.high) if axis in response.bent else (r.low, r.high)
        if number * len(values) > MOST_VERTICES:
            end.capped = True
            values = (end.vector[axis],)
        number *= len(values)
        choices.append(values)
    for combination in product(*choices):
        vector = list(end.vector)
        for axis, value in zip(axes, combination, strict=True):
            vector[axis] = value
        end.offer(box, tuple(vector))


def _section(box: _Box, end: _End, axis: int) -> None:
    """Golden-section search along one parameter for an extreme between its ends."""
    low, high = box.ranges[axis].low, box.ranges[axis].high
    start = end.vector

    def value(x: float) -> float:
        return end.direction * box.at(_moved(start, axis, x))[end.quantity]

    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    for _ in range(_SECTIONS):
        if value(left) > value(right):
            high, right = right, left
            left = high - _GOLDEN * (high - low)
        else:
            low, left = left, right
            right = low + _GOLDEN * (high - low)
    for x in (left, right):
        end.offer(box, _moved(start, axis, x))


def _adopt_better(box: _Box, end: _End, response: _Response, wanted: bool) -> None:
    """Take the best of everything evaluated for any quantity, so that the ends hold all that was seen."""
    best = max(box.known, key=lambda vector: end.direction * box.known[vector][end.quantity])
    if end.offer(box, best) and wanted:
        end.vertices = True
        _exchange(box, end, response)
    else:
        # Within rounding of the end: the corner stays, the bound covers what was seen.
        end.value = max(end.value, box.known[best][end.quantity], key=lambda value: end.direction * value)


def _named(box: _Box, end: _End, response: _Response) -> Corner:
    """The parameters that this quantity responds to, with their values at the end."""
    return tuple(
        (box.ranges[axis].name, end.vector[axis])
        for axis in box.axes
        if response.signs[axis] or axis in response.bent or end.vector[axis] != box.nominal[axis]
    )
