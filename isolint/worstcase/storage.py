"""A capacitor behind a rectifier that holds the LED current up between the crests: how far its volts fall and rise.

In: how much current charges the capacitor at a crest, and how much its load takes, as functions of its volts. Out: its
lowest and its highest volts once it has settled, bounds on the safe side. Pure numerics; nothing is stepped that was
not asked of a few operating points.

Both currents are convex in the volts (resistors and junctions). For the lower bound the charging curve is replaced by
its tangent, which lies below it, and the load by its chord, which lies above it; for the upper bound the charging curve
by its chord and the load by its tangent.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

STEPS = 48
_HALVINGS = 24
_LEAST_SHARE, _MOST_SHARE = 0.3, 0.9
_TANGENT = 0.02
_CLOSE = 0.01
_NOTHING_BELOW = 0.3
# Volts below which a rectifier conducts nothing.

_ALIKE = 0.05
_TURNS = 2
_NO_SHARE = 1e-3

Amps = Callable[[float], float]
"""Amperes at the volts of the capacitor."""


class StraightLine(NamedTuple):
    """A straight line of amperes over volts that carries nothing below zero."""

    slope: float
    offset: float

    def at(self, volts: float) -> float:
        """Amperes, none backwards."""
        return max(self.offset + self.slope * volts, 0.0)


class Settled(NamedTuple):
    """Volts of a capacitor over a period that repeats: the lowest and the highest, and what flows meanwhile.

    charging, taken: mean squares of the currents in and out, amperes squared; peak: of the charging one.
    """

    low: float
    high: float
    charging: float = 0.0
    taken: float = 0.0
    peak: float = 0.0


def through(a: tuple[float, float], b: tuple[float, float]) -> StraightLine:
    """The line through two points of volts and amperes."""
    slope = (b[1] - a[1]) / (b[0] - a[0])
    return StraightLine(slope, a[1] - slope * a[0])


def repeats_after(forwards: float, backwards: float, period: float) -> float:
    """Half of the period where both half waves charge alike, else all of it; seconds."""
    return period / 2.0 if abs(forwards - backwards) <= _ALIKE * abs(forwards) else period


def bounds(
    crest: float, charging: Amps, taken: Amps, farads: float, hertz: float, halves: bool, least: float
) -> Settled:
    """The lowest and the highest volts of a capacitor behind a rectifier.

    crest: volts of the sine. charging: into the capacitor at the crest, taken: out of it, each at its volts. halves:
    both half waves charge. least: volts below which charging can't be asked for: nothing limits it there.
    """
    low, high = _LEAST_SHARE * crest, _MOST_SHARE * crest
    seconds = (0.5 if halves else 1.0) / hertz
    found: Settled | None = None
    for turn in range(1 + _TURNS):
        foot = max(low, least)
        near = (crest - foot, charging(foot))
        step = min(_TANGENT * crest, 0.5 * near[0])
        lower = through(near, (near[0] - step, charging(foot + step)))
        upper = through((min(_NOTHING_BELOW, 0.5 * near[0]), 0.0), near)
        most_taken = through((low, taken(low)), (high, taken(high)))
        least_taken = most_taken
        if turn == _TURNS:
            middle = (low + high) / 2.0
            near_middle = (1.0 - _CLOSE) * middle
            least_taken = through((near_middle, taken(near_middle)), (middle, taken(middle)))
        down = settled(lower, most_taken, crest, farads, seconds, halves)
        up = settled(upper, least_taken, crest, farads, seconds, halves)
        most = [max(pair) for pair in zip(down[2:], up[2:], strict=True)]
        found = Settled(down.low, up.high, *most)
        low, high = max(0.9 * down.low, _NO_SHARE * crest), 1.1 * up.high
        high = max(high, 1.1 * low)
    assert found is not None
    return found


def settled(
    charge: StraightLine, load: StraightLine, crest: float, farads: float, seconds: float, halves: bool
) -> Settled:
    """The period that repeats: what it ends with falls behind what it starts with the more, the higher that is."""
    sine = [math.sin(angle(step, halves)) for step in range(STEPS)]
    volts = [crest * (abs(value) if halves else value) for value in sine]
    low, high = 0.0, crest
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if _turn(charge, load, volts, farads, seconds, middle)[-1] >= middle:
            low = middle
        else:
            high = middle
    every = _turn(charge, load, volts, farads, seconds, (low + high) / 2.0)
    amps = [charge.at(driven - held) for driven, held in zip(volts, every, strict=True)]
    squares = sum(each * each for each in amps) / STEPS
    return Settled(min(every), max(every), squares, sum(load.at(held) ** 2 for held in every) / STEPS, max(amps))


def angle(step: int, halves: bool) -> float:
    """The middle of a step of the sine, radians; `halves`: half of it is all that repeats."""
    return (math.pi if halves else 2.0 * math.pi) * (step + 0.5) / STEPS


def _turn(
    charge: StraightLine, load: StraightLine, volts: Sequence[float], farads: float, seconds: float, start: float
) -> list[float]:
    """The capacitor's volts at the end of each step: C dV/dt is what charges it less what is taken, both straight."""
    step = seconds / len(volts)
    found: list[float] = []
    held = start
    for driven in volts:
        given, slope = 0.0, 0.0
        if charge.at(driven - held) > 0.0:
            given, slope = charge.offset + charge.slope * driven, charge.slope
        if load.at(held) > 0.0:
            given, slope = given - load.offset, slope + load.slope
        if slope > 0.0:
            end = given / slope
            held = end + (held - end) * math.exp(-step * slope / farads)
        else:
            held += step * given / farads
        held = max(held, 0.0)
        found.append(held)
    return found
