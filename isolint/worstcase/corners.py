"""Extreme values of several quantities over ranges of their parameters.

In: ranges and a function from a vector of parameter values to a vector of quantities. Out: for each quantity its
nominal value and both ends, each with the corner where it was found and the method. Pure numerics: nothing here
knows circuits. An exception that the function raises (a network without an operating point) passes through.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Literal, NamedTuple

from isolint.worstcase.budget import OverBudget

Method = Literal["sensitivity", "vertices"]
Sought = Literal["both", "low", "high"]
Corner = tuple[tuple[str, float], ...]

MOST_VERTICES = 2**12
"""No end is sought among more combinations than this; `OverBudget` is raised where it would take more."""

ROUNDING = 1e-9
"""Amperes and volts below which a current is none. Where too many parameters seem to change the sign of their effect,
the end is sought again with what is less taken for rounding."""

_SAME = 1e-9
_SECTIONS = 12
_GOLDEN = 0.5 * (5.0**0.5 - 1.0)


class Range(NamedTuple):
    """One parameter: low <= nominal <= high. It costs nothing where low == high.

    leader: the place of another range, -1 for none. Both act as factors of the same number, and so stand at their ends
    together: this one at its high end where that one is at its high end, or, `opposed`, at its low end.
    """

    name: str
    low: float
    nominal: float
    high: float
    leader: int = -1
    opposed: bool = False


class Extreme(NamedTuple):
    """One quantity: nominal value, both ends, and the parameter values at each end.

    Corners name the parameters that the quantity responds to, in the order of the ranges. method: "sensitivity"
    where signs of single moves found both ends and stayed valid there, else "vertices".
    """

    nominal: float
    low: float
    high: float
    low_corner: Corner
    high_corner: Corner
    method: Method


def extremes(
    ranges: Sequence[Range],
    evaluate: Callable[[Sequence[float]], Sequence[float]],
    noise: float = 1e-12,
    sought: Sought | Sequence[Sought] = "both",
) -> tuple[Extreme, ...]:
    """The ends of every quantity that `evaluate` gives over the box of `ranges`.

    Moving one parameter at a time from nominal to both of its ends gives the sign of each response and shows where
    it is not monotonic. The corner that the signs name is checked by moving each parameter there to its other end
    until no move improves it. Parameters whose response is not monotonic, or whose sign was another one at the
    corner, are tried in all combinations, nominal values and a search between the ends included.

    noise: changes below it (in the unit of the quantity: 1 pA, 1 pV) or below a 1e-9 part are rounding, no response.
    sought: the end that the caller uses, of all quantities or of each, which halves the work; the other one then is
    only the farthest value seen.
    """
    box = _Box(ranges, evaluate, noise)
    nominal = box.at(box.nominal)
    asked = [sought] * len(nominal) if isinstance(sought, str) else sought
    responses = [_Response.of(box, quantity) for quantity in range(len(nominal))]
    ends = [
        tuple(
            _search(box, q, direction, r) if wanted else _End(q, direction, box.nominal, nominal[q])
            for direction, wanted in ((-1.0, asked[q] != "high"), (1.0, asked[q] != "low"))
        )
        for q, r in enumerate(responses)
    ]
    found = []
    for quantity, (low, high) in enumerate(ends):
        response = responses[quantity]
        for end, wanted in ((low, asked[quantity] != "high"), (high, asked[quantity] != "low")):
            _adopt_better(box, end, response, wanted)
        found.append(
            Extreme(
                nominal=nominal[quantity],
                low=low.value,
                high=high.value,
                low_corner=_named(box, low, response),
                high_corner=_named(box, high, response),
                method="vertices" if low.vertices or high.vertices else "sensitivity",
            )
        )
    return tuple(found)


NOMINAL, LOW, HIGH = -1.0, 0.0, 1.0
"""Where the parameters of an axis stand; between LOW and HIGH they stand between their ends."""

Place = tuple[float, ...]
"""Where each axis of a box stands."""


class _Box:
    """The ranges and every evaluation within them, shared by all quantities.

    An axis is a parameter with those that follow it; `members` holds the places of them and whether each is opposed.
    """

    def __init__(
        self, ranges: Sequence[Range], evaluate: Callable[[Sequence[float]], Sequence[float]], noise: float
    ) -> None:
        self.noise = noise
        self.ranges = tuple(ranges)
        groups: dict[int, list[tuple[int, bool]]] = {}
        for index, own in enumerate(self.ranges):
            if not own.low <= own.nominal <= own.high:
                raise ValueError(f"{own.name}: {own.nominal!r} is not between {own.low!r} and {own.high!r}")
            if own.low < own.high:
                groups.setdefault(own.leader if own.leader >= 0 else index, []).append((index, own.opposed))
        self.members = list(groups.values())
        self.axes = range(len(self.members))
        self.nominal: Place = (NOMINAL,) * len(self.members)
        self.known: dict[Place, tuple[float, ...]] = {}
        self._evaluate = evaluate

    def value(self, index: int, opposed: bool, where: float) -> float:
        """The value of one parameter of an axis that stands at `where`."""
        own = self.ranges[index]
        if where == NOMINAL:
            return own.nominal
        if opposed:
            where = 1.0 - where
        return own.low if where == LOW else own.high if where == HIGH else own.low + where * (own.high - own.low)

    def vector(self, place: Place) -> list[float]:
        """The values of all parameters at a place."""
        vector = [own.nominal for own in self.ranges]
        for members, where in zip(self.members, place, strict=True):
            if where != NOMINAL:
                for index, opposed in members:
                    vector[index] = self.value(index, opposed, where)
        return vector

    def at(self, place: Place) -> tuple[float, ...]:
        values = self.known.get(place)
        if values is None:
            values = self.known[place] = tuple(self._evaluate(self.vector(place)))
        return values

    def coarser(self, noise: float) -> _Box:
        """The same box with the same evaluations, in which less counts as a response."""
        other = _Box(self.ranges, self._evaluate, noise)
        other.known = self.known
        return other

    def sign(self, old: float, new: float) -> int:
        """+1 or -1 where `new` is above or below `old` by more than rounding, else 0."""
        change = new - old
        if abs(change) <= max(self.noise, _SAME * max(abs(old), abs(new))):
            return 0
        return 1 if change > 0.0 else -1


def _moved(place: Place, axis: int, where: float) -> Place:
    return (*place[:axis], where, *place[axis + 1 :])


class _Response(NamedTuple):
    """How one quantity answers to single moves from nominal: sign by axis, and the axes where it is not monotonic."""

    signs: dict[int, int]
    bent: frozenset[int]

    @classmethod
    def of(cls, box: _Box, quantity: int) -> _Response:
        nominal = box.at(box.nominal)[quantity]
        signs: dict[int, int] = {}
        bent = set()
        for axis in box.axes:
            down = box.sign(nominal, box.at(_moved(box.nominal, axis, LOW))[quantity])
            up = box.sign(nominal, box.at(_moved(box.nominal, axis, HIGH))[quantity])
            if up and up == down:
                bent.add(axis)
            signs[axis] = up or -down
        return cls(signs, frozenset(bent))


@dataclass(slots=True, eq=False, repr=False)
class _End:
    """One end of one quantity while it is sought; direction +1 for the high end, -1 for the low one."""

    quantity: int
    direction: float
    place: Place
    value: float
    vertices: bool = False
    flipped: set[int] = field(default_factory=set)

    def offer(self, box: _Box, place: Place) -> bool:
        """Move there if it is better by more than rounding."""
        value = box.at(place)[self.quantity]
        if box.sign(self.value, value) * self.direction <= 0.0:
            return False
        self.place, self.value = place, value
        return True


def _search(box: _Box, quantity: int, direction: float, response: _Response) -> _End:
    place = box.nominal
    for axis in box.axes:
        toward = response.signs[axis] * direction
        if toward and axis not in response.bent:
            place = _moved(place, axis, HIGH if toward > 0.0 else LOW)
    end = _End(quantity, direction, place, box.at(place)[quantity])
    _exchange(box, end, response)
    suspects = sorted(response.bent | {axis for axis in end.flipped if response.signs[axis]})
    if box.noise < ROUNDING and _combinations(suspects, response) > MOST_VERTICES:
        coarse = box.coarser(ROUNDING)
        return _search(coarse, quantity, direction, _Response.of(coarse, quantity))
    if suspects:
        _enumerate(box, end, suspects, response)
        _exchange(box, end, response)
        for axis in sorted(response.bent):
            _section(box, end, axis)
    return end


def _choices(axis: int, response: _Response) -> tuple[float, ...]:
    """Where an axis is tried: at its ends, and at nominal where the response is not monotonic."""
    return (LOW, NOMINAL, HIGH) if axis in response.bent else (LOW, HIGH)


def _combinations(axes: Sequence[int], response: _Response) -> int:
    """How many places there are with each of some axes where it is tried."""
    return math.prod(len(_choices(axis, response)) for axis in axes)


def _exchange(box: _Box, end: _End, response: _Response) -> None:
    """Move single axes to an end (or back to nominal) until no such move improves."""
    improved = True
    while improved:
        improved = False
        for axis in box.axes:
            for where in _choices(axis, response):
                if where != end.place[axis] and end.offer(box, _moved(end.place, axis, where)):
                    end.flipped.add(axis)
                    improved = True


def _enumerate(box: _Box, end: _End, axes: Sequence[int], response: _Response) -> None:
    """Try all combinations of the ends of `axes`, with nominal too where the response is not monotonic."""
    end.vertices = True
    choices = [_choices(axis, response) for axis in axes]
    if _combinations(axes, response) > MOST_VERTICES:
        raise OverBudget(
            f"{len(axes)} values change the sign of their effect, and no end is sought among more than "
            f"{MOST_VERTICES} combinations of them"
        )
    for combination in product(*choices):
        place = list(end.place)
        for axis, where in zip(axes, combination, strict=True):
            place[axis] = where
        end.offer(box, tuple(place))


def _section(box: _Box, end: _End, axis: int) -> None:
    """Golden-section search along one axis for an extreme between its ends."""
    low, high = LOW, HIGH
    start = end.place

    def value(where: float) -> float:
        return end.direction * box.at(_moved(start, axis, where))[end.quantity]

    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    for _ in range(_SECTIONS):
        if value(left) > value(right):
            high, right = right, left
            left = high - _GOLDEN * (high - low)
        else:
            low, left = left, right
            right = low + _GOLDEN * (high - low)
    for where in (left, right):
        end.offer(box, _moved(start, axis, where))


def _adopt_better(box: _Box, end: _End, response: _Response, wanted: bool) -> None:
    """Take the best of everything evaluated for any quantity, so that the ends hold all that was seen."""
    best = max(box.known, key=lambda place: end.direction * box.known[place][end.quantity])
    if end.offer(box, best) and wanted:
        end.vertices = True
        _exchange(box, end, response)
    else:
        # Within rounding of the end: the corner stays, the bound covers what was seen.
        end.value = max(end.value, box.known[best][end.quantity], key=lambda value: end.direction * value)


def _named(box: _Box, end: _End, response: _Response) -> Corner:
    """The parameters that this quantity responds to, with their values at the end."""
    named = [
        (index, box.value(index, opposed, end.place[axis]))
        for axis in box.axes
        if response.signs[axis] or axis in response.bent or end.place[axis] != NOMINAL
        for index, opposed in box.members[axis]
    ]
    return tuple((box.ranges[index].name, value) for index, value in sorted(named))
