"""A capacitor in series with an alternating source that drops its voltage: what it feeds the LED, by charge balance.

In: the networks of both half waves with the capacitor as a branch. Out: mean, peak and mean square of the LED current,
low and high.

Between two zeros of the current the capacitor swings from one end to the other, and at a zero it holds what the source
has less what the rest needs: no more than its crest. Where the current peaks it no longer changes, so that it is the
capacitor's share of the crest at most. Both ends are bounds; against a simulator the mean was 0.3 % low to 1.1 % high
where the reactance is more than five times the resistance.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from isolint.worstcase import network as n
from isolint.worstcase.alternating import Fed
from isolint.worstcase.halves import Halves
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking

ZERO_AMPS = 1e-6
"""Where the current passes through zero: what the rest needs there still is a junction's voltage."""

MOSTLY_REACTIVE = 5.0
_ABOVE = 1.01
_PEAK = 1.02
_TENTH = 0.1
_BOTH = (True, False)
_ALL, _NONE = 0.99, 1e-3
_POINTS = 6
_BELOW = 0.98
# Where something beside the LED carries a part, its mean is summed over few points of the half wave.


class DropperBranch(NamedTuple):
    """The capacitor in the networks: its name, the nodes from source to rest, and its reactance, ohms."""

    name: str
    a: int
    b: int
    ohms: float


class Way(NamedTuple):
    """One direction: volts that the rest needs without its resistance, and the LED's share of the current at its peak.

    ohms: of the rest.
    """

    volts: float
    ohms: float
    share: float


def low(halves: Halves, capacitor: DropperBranch, led: str) -> tuple[float, float]:
    """Mean and peak of the LED current, at least."""
    volts, ways = swing(halves, capacitor, led, low=True)
    charge = max(volts, 0.0) / (2.0 * math.pi * capacitor.ohms)
    peak = math.pi * charge
    means = [_led_mean(halves, capacitor, led, peak, *way) for way in zip(ways, _BOTH, strict=True)]
    return sum(means), max(means) * math.pi


def high(halves: Halves, capacitor: DropperBranch, led: str, temperature: float) -> Fed:
    """Mean, peak and mean square of the LED current, at most; the low end is left at 0."""
    volts, ways = swing(halves, capacitor, led, low=False)
    charge = max(volts, 0.0) / (2.0 * math.pi * capacitor.ohms)
    peak = _peak(halves, capacitor, volts, ways)
    shares = [way.share for way in ways]
    return Fed(
        temperature,
        0.0,
        charge * sum(shares),
        peak * max(shares),
        sum(share * share for share in shares) * peak * peak / 4.0,
        min(shares) > _NONE,
    )


def swing(halves: Halves, capacitor: DropperBranch, led: str, low: bool) -> tuple[float, list[Way]]:
    """Volts by which the capacitor swings between two zeros of its current, at least (`low`) or at most; both ways."""
    ways = [_way(halves, capacitor, led, halves.crest / capacitor.ohms, forwards) for forwards in _BOTH]
    ohms = max(way.ohms for way in ways)
    if low or capacitor.ohms < MOSTLY_REACTIVE * ohms:
        reached = 2.0 * halves.crest * capacitor.ohms / math.hypot(ohms, capacitor.ohms)
        found = reached - sum(way.volts for way in ways)
        return found if low else found * _ABOVE, ways
    return 2.0 * halves.crest - sum(_needs(halves, capacitor, ZERO_AMPS, forwards) for forwards in _BOTH), ways


def through(halves: Halves, capacitor: DropperBranch, name: str, forwards: bool) -> float:
    """The share of the capacitor's peak current that another branch takes, into its first node."""
    amps = halves.crest / capacitor.ohms
    return -forced(halves, capacitor, amps, forwards).current(name) / amps


def largest_peak(halves: Halves, capacitor: DropperBranch, led: str) -> float:
    """The largest current that the capacitor lets through, amperes."""
    volts, ways = swing(halves, capacitor, led, low=False)
    return _peak(halves, capacitor, volts, ways)


def _peak(halves: Halves, capacitor: DropperBranch, volts: float, ways: list[Way]) -> float:
    ohms = max(way.ohms for way in ways)
    most = min(halves.crest / capacitor.ohms, _PEAK * halves.crest / math.hypot(ohms, capacitor.ohms))
    return most if volts > 0.0 else 0.0


def forced(halves: Halves, capacitor: DropperBranch, amps: float, forwards: bool) -> Point:
    """The operating point with a current through the capacitor, one way or the other."""
    network, volts = (halves.upper, halves.crest) if forwards else (halves.lower, -halves.crest)
    source = n.CurrentSource(capacitor.name, capacitor.a, capacitor.b, amps if forwards else -amps)
    return halves.solved(network, volts, source)


def _needs(halves: Halves, capacitor: DropperBranch, amps: float, forwards: bool) -> float:
    """Volts that everything but the capacitor needs for a current; infinite where nothing takes it that way."""
    try:
        point = forced(halves, capacitor, amps, forwards)
    except Lacking:
        return math.inf
    return _rest(halves, capacitor, point, forwards)


def _rest(halves: Halves, capacitor: DropperBranch, point: Point, forwards: bool) -> float:
    """The same at a point that is known."""
    sign = 1.0 if forwards else -1.0
    return halves.crest - sign * (point.voltage(capacitor.a) - point.voltage(capacitor.b))


def _led(halves: Halves, capacitor: DropperBranch, led: str, amps: float, forwards: bool) -> float:
    return max(forced(halves, capacitor, amps, forwards).current(led), 0.0)


def _way(halves: Halves, capacitor: DropperBranch, led: str, most: float, forwards: bool) -> Way:
    try:
        point = forced(halves, capacitor, most, forwards)
    except Lacking:
        return Way(math.inf, 0.0, 0.0)
    whole, less = _rest(halves, capacitor, point, forwards), _needs(halves, capacitor, most * (1.0 - _TENTH), forwards)
    if math.isinf(less):
        return Way(math.inf, 0.0, 0.0)
    ohms = max((whole - less) / (_TENTH * most), 0.0)
    share = min(max(point.current(led), 0.0) / most, 1.0)
    return Way(max(whole - ohms * most, 0.0), ohms, share)


def _led_mean(halves: Halves, capacitor: DropperBranch, led: str, peak: float, way: Way, forwards: bool) -> float:
    """The mean over a period of the LED current in half waves of a peak, at least."""
    if way.share < _NONE or peak <= 0.0:
        return 0.0
    if way.share > _ALL:
        return way.share * peak / math.pi
    steps = [peak * math.sin(math.pi / 2.0 * step / _POINTS) for step in range(1, _POINTS + 1)]
    values = [_led(halves, capacitor, led, amps, forwards) for amps in steps]
    return _BELOW * (sum(values) - 0.5 * values[-1]) / _POINTS / 2.0


def branch_of(halves: Halves, name: str) -> DropperBranch:
    """The capacitor in the networks, turned so that the source's positive half wave flows from a to b."""
    found = halves.branch(name)
    if not isinstance(found, n.Resistor):
        raise Lacking(f"capacitor {name} drops no voltage in this state")
    forwards = halves.point(halves.middle + halves.crest).current(name) >= 0.0
    return DropperBranch(name, *((found.a, found.b) if forwards else (found.b, found.a)), found.ohms)
