"""The ranges of some parameters as a box, and a function evaluated at places of it.

In: ranges, a function of a vector. Out: values and slopes at places. Knows nothing of circuits.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final, NamedTuple, Protocol

Evaluate = Callable[[Sequence[float]], Sequence[float]]
Near = Callable[[Sequence[float], Sequence[float]], Sequence[float] | None]
"""The values at a vector (second) near one that was evaluated (first), to first order; None where nobody can tell."""

Bending = tuple[float, tuple[float, ...] | None]
"""A number that is not among the quantities: its value, and at which values it bends; None where that is not known."""


class Inside(Protocol):
    """What goes on inside of what is evaluated, of which the quantities may show nothing until it bends."""

    def bending(self, base: Sequence[float]) -> list[Bending]:
        """The numbers at a vector that was evaluated."""

    def moved(self) -> list[float]:
        """The same numbers at the vector that was followed last, to first order."""

    def may(self, vector: Sequence[float]) -> bool:
        """Whether a vector can be evaluated."""


STEP: Final = 1e-3
"""How far along an axis a slope is taken, as a part of the axis."""

SAME: Final = 1e-9
"""Values that differ by a smaller part are the same."""


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


NOMINAL, LOW, HIGH = -1.0, 0.0, 1.0
"""Where the parameters of an axis stand; between LOW and HIGH they stand between their ends."""

Place = tuple[float, ...]
"""Where each axis of a box stands."""


class Box:
    """The ranges and every evaluation within them, shared by all quantities.

    An axis is a parameter with those that follow it; `members` holds the places of them and whether each is opposed.
    """

    def __init__(
        self,
        ranges: Sequence[Range],
        evaluate: Evaluate,
        noise: float,
        near: Near | None = None,
        inside: Inside | None = None,
    ) -> None:
        self.noise = noise
        self.same = SAME
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
        self._near = near
        self._inside = inside
        self._slopes: dict[Place, list[Sequence[float]] | None] = {}

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

    def coarser(self, noise: float, same: float) -> Box:
        """The same box with the same evaluations, in which less counts as a response."""
        other = Box(self.ranges, self._evaluate, noise, self._near, self._inside)
        other.same = same
        other.known, other._slopes = self.known, self._slopes
        return other

    def slopes(self, place: Place) -> list[Sequence[float]] | None:
        """By axis how much each quantity would change along the whole of it, as it changes at a place that was
        evaluated; None where that can't be told without further evaluations."""
        if place not in self._slopes:
            self._slopes[place] = self._found_slopes(place)
        return self._slopes[place]

    def within(self, place: Place, axis: int) -> Sequence[float] | None:
        """The slopes along an axis just inside of a place, past what jumps at the place itself; None if not known."""
        if self._near is None:
            return None
        base = self.vector(place)
        step, first = self._step(place, axis, base)
        second = [2.0 * there - here for here, there in zip(base, first, strict=True)]
        one, other = self._near(base, first), self._near(base, second)
        if one is None or other is None:
            return None
        return [(new - old) / step for new, old in zip(other, one, strict=True)]

    def bending(self) -> Iterator[tuple[Bending, list[float]]]:
        """What goes on inside at nominal: each number, and by axis how much it would change along the whole of it."""
        if self._inside is None or self.slopes(self.nominal) is None:
            return
        base = self.vector(self.nominal)
        numbers = self._inside.bending(base)
        along: list[list[float]] = []
        for axis in self.axes:
            step, vector = self._step(self.nominal, axis, base)
            assert self._near is not None
            self._near(base, vector)
            along.append([(new - old) / step for new, (old, _) in zip(self._inside.moved(), numbers, strict=True)])
        for number, bending in enumerate(numbers):
            yield bending, [each[number] for each in along]

    def has_gain(self) -> bool:
        """Whether something inside may make much of little: what is off then shows nothing of where it is on."""
        if self._inside is None or self.slopes(self.nominal) is None:
            return True
        return any(bends is None for _, bends in self._inside.bending(self.vector(self.nominal)))

    def may(self, place: Place) -> bool:
        """Whether a place can be evaluated."""
        return place in self.known or self._inside is None or self._inside.may(self.vector(place))

    def known_slopes(self) -> Iterator[list[Sequence[float]]]:
        """The slopes at all places at which they were asked for."""
        return (slopes for slopes in self._slopes.values() if slopes is not None)

    @property
    def looked_at(self) -> int:
        """At how many places slopes were asked for."""
        return len(self._slopes)

    def _found_slopes(self, place: Place) -> list[Sequence[float]] | None:
        if self._near is None:
            return None
        base, values = self.vector(place), self.at(place)
        found: list[Sequence[float]] = []
        for axis in self.axes:
            step, vector = self._step(place, axis, base)
            near = self._near(base, vector)
            if near is None:
                return None
            found.append([(new - old) / step for new, old in zip(near, values, strict=True)])
        return found

    def _step(self, place: Place, axis: int, base: Sequence[float]) -> tuple[float, list[float]]:
        """A short step along an axis that stays within it, and the vector there."""
        first, _ = self.members[axis][0]
        step = -STEP if place[axis] == HIGH or base[first] >= self.ranges[first].high else STEP
        vector = list(base)
        for index, opposed in self.members[axis]:
            own = self.ranges[index]
            vector[index] += (-step if opposed else step) * (own.high - own.low)
        return step, vector

    def sign(self, old: float, new: float) -> int:
        """+1 or -1 where `new` is above or below `old` by more than rounding, else 0."""
        change = new - old
        if abs(change) <= max(self.noise, self.same * max(abs(old), abs(new))):
            return 0
        return 1 if change > 0.0 else -1


def moved(place: Place, axis: int, where: float) -> Place:
    """A place with one axis standing elsewhere."""
    return (*place[:axis], where, *place[axis + 1 :])
