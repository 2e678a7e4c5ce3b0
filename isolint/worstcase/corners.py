"""Extreme values of several quantities over ranges of their parameters.

In: ranges and a function from a vector of parameter values to a vector of quantities. Out: for each quantity its
nominal value and both ends, each with the corner where it was found and the method. Pure numerics: nothing here
knows circuits. An exception that the function raises (a network without an operating point) passes through.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import Literal, NamedTuple

from isolint.worstcase.box import HIGH, LOW, NOMINAL, Box, Evaluate, Inside, Near, Place, Range, moved
from isolint.worstcase.budget import OverBudget

__all__ = ["MOST_VERTICES", "Corner", "Extreme", "Method", "Range", "Sought", "extremes"]

Method = Literal["sensitivity", "vertices"]
Sought = Literal["both", "low", "high"]
Corner = tuple[tuple[str, float], ...]

MOST_VERTICES = 2**12
"""No end is sought among more combinations than this; `OverBudget` is raised where it would take more."""

ROUNDING, LITTLE = 1e-9, 1e-6
"""Amperes or volts, and part of a value, below which a change may be rounding: a net that only leakage holds, behind
a few ohms, is known no better. Where many parameters seem to change the sign of their effect, the end is sought with
what is less taken for none."""

_MANY = 64
# Combinations.

_SMALL = 1e-8
# What a parameter may still add to an end, as a part of the larger end, without being looked at.

_COUNTS, _LEAST = 1e-3, 1e-6
# A slope counts from this part of the larger end on, and from this many amperes or volts.

_STEEPER = 8.0

_PROBES = 8
_SLIGHT = 1e-6
# A slope below this part of the steepest names no end.

_SECTIONS = 12
_GOLDEN = 0.5 * (5.0**0.5 - 1.0)


class Extreme(NamedTuple):
    """One quantity: nominal value, both ends, and the parameter values at each end.

    Corners name the parameters that the quantity responds to, in the order of the ranges. method: "sensitivity"
    where signs found both ends and stayed valid there, else "vertices".
    """

    nominal: float
    low: float
    high: float
    low_corner: Corner
    high_corner: Corner
    method: Method


def extremes(
    ranges: Sequence[Range],
    evaluate: Evaluate,
    noise: float = 1e-12,
    sought: Sought | Sequence[Sought] = "both",
    near: Near | None = None,
    careful: bool = True,
    inside: Inside | None = None,
) -> tuple[Extreme, ...]:
    """The ends of every quantity that `evaluate` gives over the box of `ranges`.

    The slopes at nominal name the corner of each end. Where every slope there still leads to that corner, it is the
    end. A parameter whose slope turned between the two, or that has one at the corner only, is a suspect: it is moved
    to both of its ends from nominal, which shows whether its effect is monotonic, and at the corner until no move
    improves it. Suspects that are not monotonic, or whose sign was another one at the corner, are tried in all
    combinations, nominal values and a search between the ends included; then the slopes are looked at again. Without
    `near` all parameters are suspects.

    noise: changes below it (in the unit of the quantity: 1 pA, 1 pV) or below a 1e-9 part are rounding, no response.
    sought: the end that the caller uses, of all quantities or of each, which halves the work; the other one then is
    only the farthest value seen.
    near: the values close to a vector that was evaluated, to first order and without evaluating.
    careful: whether all parameters are suspects too where a slope at one end is far steeper than at the other.
    inside: what may bend on the way though the quantities show nothing of it at nominal: the slopes are looked at where
    it goes farthest too.
    """
    box = Box(ranges, evaluate, noise, near, inside)
    nominal = box.at(box.nominal)
    asked = [sought] * len(nominal) if isinstance(sought, str) else sought
    searched = [_both_ends(box, quantity, wanted, careful) for quantity, wanted in enumerate(asked)]
    for place in _probes(box):
        box.slopes(place)
    seen = -1
    while seen < box.looked_at:
        # Where the ends of one quantity lie, the slopes of another may have turned.
        seen = box.looked_at
        searched = [
            _both_ends(box, quantity, wanted, careful, before[0].suspects)
            for quantity, (wanted, before) in enumerate(zip(asked, searched, strict=True))
        ]
    found = []
    for quantity, (response, low, high) in enumerate(searched):
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


def _probes(box: Box) -> list[Place]:
    """Where numbers inside that bend within the box go farthest, by their slopes at nominal."""
    found: dict[Place, None] = {}
    for (value, bends), along in box.bending():
        reach = sum(map(abs, along))
        least = _SLIGHT * max(map(abs, along), default=0.0)
        if not reach or (bends is not None and all(abs(bend - value) > reach for bend in bends)):
            continue
        for way in (-1.0, 1.0):
            found[tuple(_toward(slope * way) if abs(slope) > least else NOMINAL for slope in along)] = None
    return [place for place in list(found)[:_PROBES] if box.may(place)]


def _both_ends(
    box: Box, quantity: int, sought: Sought, careful: bool, known: Collection[int] = ()
) -> tuple[_Response, _End, _End]:
    """How a quantity responds, and its low and high end; one that is not sought stays at nominal.

    known: the suspects as far as they are known.
    """
    directions = [way for way, name in ((-1.0, "low"), (1.0, "high")) if sought in ("both", name)]
    signs = _signs(box, quantity, directions)
    # What is off at nominal has no slopes there, wherever it is on.
    if signs is None or (_is_off(box, quantity, box.nominal) and not _stays_off(box, quantity)):
        suspects = set(box.axes)
    else:
        suspects = {*known, *_may_turn(box, quantity, signs, directions)}
    while True:
        response = _Response.of(box, quantity, suspects, signs or {})
        ends = {way: _search(box, quantity, way, response) for way in directions}
        for end in ends.values():
            _start_elsewhere(box, end, response)
        largest = max(abs(value) for value in (box.at(box.nominal)[quantity], *(end.value for end in ends.values())))
        more = {axis for end in ends.values() for axis in _turned(box, end, _SMALL * largest)}
        more |= _changing(box, quantity, response.signs, max(_SMALL * largest, box.noise))
        if careful and not _is_tame(box, quantity, [end.place for end in ends.values()], largest):
            more = set(box.axes)
        more -= suspects
        if not more:
            break
        suspects |= more
    still = box.at(box.nominal)[quantity]
    low, high = (ends.get(way) or _End(quantity, way, box.nominal, still) for way in (-1.0, 1.0))
    return response, low, high


def _signs(box: Box, quantity: int, directions: Sequence[float]) -> dict[int, int] | None:
    """What the slopes at nominal say of each axis; None where there are none."""
    slopes = box.slopes(box.nominal)
    if slopes is None:
        return None
    value = box.at(box.nominal)[quantity]
    along = [each[quantity] for each in slopes]
    signs = {axis: box.sign(value, value + slope) for axis, slope in enumerate(along)}
    # Little responds where the quantity is off; it may be on where all that moves it at all is at its end.
    least = {axis: (slope > 0.0) - (slope < 0.0) for axis, slope in enumerate(along)}
    for way in directions if least != signs else ():
        plain, all_in = (tuple(_toward(each[axis] * way) for axis in box.axes) for each in (signs, least))
        if (
            abs(box.at(plain)[quantity]) < _LEAST
            and box.sign(box.at(plain)[quantity], box.at(all_in)[quantity]) * way > 0.0
        ):
            return least
    return signs


def _is_off(box: Box, quantity: int, place: Place) -> bool:
    return abs(box.at(place)[quantity]) < _LEAST


def _stays_off(box: Box, quantity: int) -> bool:
    """Whether what is off at nominal is off where all that moves it at all is at its end, the one way and the other.

    Without transistors the current of what is off follows the voltage across it, however small: slopes lead there, but
    where it is cut at 0.
    """
    slopes = box.slopes(box.nominal)
    if slopes is None or box.has_gain():
        return False
    along = [each[quantity] for each in slopes]
    if not any(along):
        return False
    ends = (tuple(_toward(slope * way) for slope in along) for way in (-1.0, 1.0))
    return all(_is_off(box, quantity, end) for end in ends)


def _changing(box: Box, quantity: int, signs: Mapping[int, int], least: float) -> set[int]:
    """The parameters whose slopes have another sign than at nominal wherever slopes were looked at."""
    return {
        axis
        for slopes in box.known_slopes()
        for axis, sign in signs.items()
        if slopes[axis][quantity] * sign < -least or (not sign and abs(slopes[axis][quantity]) > least)
    }


def _is_tame(box: Box, quantity: int, places: Sequence[Place], largest: float) -> bool:
    """Whether no slope that counts is far steeper at one of two places than at the other: a quantity that is off at one
    and on at the other, or saturates, may have its end where no slope leads to."""
    places = [place for place in places if all(where in (LOW, NOMINAL, HIGH) for where in place)]
    known = [box.slopes(place) for place in places]
    if len(known) < 2 or any(slopes is None for slopes in known):
        return True
    least = max(_COUNTS * largest, _LEAST)
    for axis in box.axes:
        steep = [abs(slopes[axis][quantity]) for slopes in known if slopes is not None]
        if max(steep) > least and max(steep) > _STEEPER * min(steep):
            # Forward voltages have another curve at their very limits.
            inner = [box.within(place, axis) for place in places]
            steep = [abs(slopes[quantity]) for slopes in inner if slopes is not None]
            if len(steep) < 2 or max(steep) > _STEEPER * min(steep):
                return False
    return True


def _toward(slope: float) -> float:
    return HIGH if slope > 0.0 else LOW if slope < 0.0 else NOMINAL


def _may_turn(box: Box, quantity: int, signs: Mapping[int, int], directions: Sequence[float]) -> set[int]:
    """Where only one end is sought: the parameters whose slopes would turn before the other end if they went on to
    change as they do towards this one, so that the other end may be farther out."""
    if len(directions) == 2:
        return set()
    (way,) = directions
    place = tuple(_toward(signs[axis] * way) for axis in box.axes)
    box.at(place)
    slopes, start = box.slopes(place), box.slopes(box.nominal)
    if slopes is None or start is None:
        return set(box.axes)
    return {
        axis
        for axis, sign in signs.items()
        if sign and (2.0 * start[axis][quantity] - slopes[axis][quantity]) * sign < 0.0
    }


def _turned(box: Box, end: _End, least: float) -> set[int]:
    """The parameters whose slopes at an end lead away from it, by more than `least`."""
    if not all(where in (LOW, NOMINAL, HIGH) for where in end.place):
        return set()
    slopes = box.slopes(end.place)
    if slopes is None:
        return set(box.axes)
    found = set()
    for axis, where in enumerate(end.place):
        sign = box.sign(end.value, end.value + slopes[axis][end.quantity]) * end.direction
        if abs(slopes[axis][end.quantity]) > least and where != (HIGH if sign > 0.0 else LOW) and sign:
            found.add(axis)
    return found


class _Response(NamedTuple):
    """How one quantity answers to moves from nominal: sign by axis, and the axes where it is not monotonic.

    suspects: the axes that were moved to both of their ends; of the others the slope says it.
    """

    signs: dict[int, int]
    bent: frozenset[int]
    suspects: frozenset[int]

    @classmethod
    def of(cls, box: Box, quantity: int, suspects: Collection[int], known: Mapping[int, int]) -> _Response:
        """known: the signs of all that is no suspect."""
        nominal = box.at(box.nominal)[quantity]
        signs = {axis: known.get(axis, 0) for axis in box.axes}
        bent = set()
        for axis in sorted(suspects):
            down = box.sign(nominal, box.at(moved(box.nominal, axis, LOW))[quantity])
            up = box.sign(nominal, box.at(moved(box.nominal, axis, HIGH))[quantity])
            if up and up == down:
                bent.add(axis)
            signs[axis] = up or -down
        return cls(signs, frozenset(bent), frozenset(suspects))


@dataclass(slots=True, eq=False, repr=False)
class _End:
    """One end of one quantity while it is sought; direction +1 for the high end, -1 for the low one."""

    quantity: int
    direction: float
    place: Place
    value: float
    vertices: bool = False
    flipped: set[int] = field(default_factory=set)

    def offer(self, box: Box, place: Place) -> bool:
        """Move there if it is better by more than rounding."""
        value = box.at(place)[self.quantity]
        if box.sign(self.value, value) * self.direction <= 0.0:
            return False
        self.place, self.value = place, value
        return True


def _search(box: Box, quantity: int, direction: float, response: _Response) -> _End:
    place = box.nominal
    for axis in box.axes:
        toward = response.signs[axis] * direction
        if toward and axis not in response.bent:
            place = moved(place, axis, HIGH if toward > 0.0 else LOW)
    end = _End(quantity, direction, place, box.at(place)[quantity])
    _exchange(box, end, response)
    suspects = sorted(response.bent | {axis for axis in end.flipped if response.signs[axis]})
    if box.same < LITTLE and _combinations(suspects, response) > _MANY:
        coarse = box.coarser(max(box.noise, ROUNDING), LITTLE)
        return _search(coarse, quantity, direction, _Response.of(coarse, quantity, response.suspects, response.signs))
    if suspects:
        end.vertices = True
        _enumerate(box, end, suspects, response)
        _exchange(box, end, response)
        for axis in sorted(response.bent):
            _section(box, end, axis)
    return end


def _start_elsewhere(box: Box, end: _End, response: _Response) -> None:
    """Try the corners to which the slopes of other places lead, until none of them is better.

    What bends sharply (an output at its limit, a forward voltage at its test current) has ends of its own on either
    side, and no single move leads from one to the other.
    """
    improved = True
    while improved:
        improved = False
        least = max(_SMALL * max(abs(end.value), abs(box.at(box.nominal)[end.quantity])), box.noise)
        for slopes in list(box.known_slopes()):
            along = [each[end.quantity] * end.direction for each in slopes]
            place = tuple(
                _toward(slope) if abs(slope) > least else where for slope, where in zip(along, end.place, strict=True)
            )
            if place != end.place and end.offer(box, place):
                end.vertices = improved = True
        if improved:
            _exchange(box, end, response)
            if all(where in (LOW, NOMINAL, HIGH) for where in end.place):
                box.slopes(end.place)


def _choices(axis: int, response: _Response) -> tuple[float, ...]:
    """Where an axis is tried: at its ends, and at nominal where the response is not monotonic."""
    return (LOW, NOMINAL, HIGH) if axis in response.bent else (LOW, HIGH)


def _combinations(axes: Sequence[int], response: _Response) -> int:
    """How many places there are with each of some axes where it is tried."""
    return math.prod(len(_choices(axis, response)) for axis in axes)


def _exchange(box: Box, end: _End, response: _Response) -> None:
    """Move single suspects to an end (or back to nominal) until no such move improves."""
    improved = True
    while improved:
        improved = False
        for axis in sorted(response.suspects):
            for where in _choices(axis, response):
                if where != end.place[axis] and end.offer(box, moved(end.place, axis, where)):
                    end.flipped.add(axis)
                    improved = True


def _enumerate(box: Box, end: _End, axes: Sequence[int], response: _Response) -> None:
    """Try all combinations of the ends of `axes`, with nominal too where the response is not monotonic."""
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


def _section(box: Box, end: _End, axis: int) -> None:
    """Golden-section search along one axis for an extreme between its ends."""
    low, high = LOW, HIGH
    start = end.place

    def value(where: float) -> float:
        return end.direction * box.at(moved(start, axis, where))[end.quantity]

    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    for _ in range(_SECTIONS):
        if value(left) > value(right):
            high, right = right, left
            left = high - _GOLDEN * (high - low)
        else:
            low, left = left, right
            right = low + _GOLDEN * (high - low)
    for where in (left, right):
        end.offer(box, moved(start, axis, where))


def _adopt_better(box: Box, end: _End, response: _Response, wanted: bool) -> None:
    """Take the best of everything evaluated for any quantity, so that the ends hold all that was seen."""
    best = max(box.known, key=lambda place: end.direction * box.known[place][end.quantity])
    if end.offer(box, best) and wanted:
        end.vertices = True
        _exchange(box, end, response)
    else:
        # Within rounding of the end: the corner stays, the bound covers what was seen.
        end.value = max(end.value, box.known[best][end.quantity], key=lambda value: end.direction * value)


def _named(box: Box, end: _End, response: _Response) -> Corner:
    """The parameters that this quantity responds to, with their values at the end."""
    named = [
        (index, box.value(index, opposed, end.place[axis]))
        for axis in box.axes
        if response.signs[axis] or axis in response.bent or end.place[axis] != NOMINAL
        for index, opposed in box.members[axis]
    ]
    return tuple((box.ranges[index].name, value) for index, value in sorted(named))
