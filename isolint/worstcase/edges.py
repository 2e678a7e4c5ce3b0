"""How long the edges of an output take: charge control of a transistor lit by an LED, and what its load holds up.

In: currents from static solves of the load and the times of the part. Out: seconds. Pure numerics.

A phototransistor is a charge that light fills and its own current empties. To start, the light charges its base to a
junction's voltage; then the output current nears what the light gives with one time constant tau_A, which the charge
of the collector capacitance in the load stretches. To stop, the charge that is more than the load can carry is used
up first (storage), then the current dies away with tau_A.
"""

from __future__ import annotations

import math
from typing import NamedTuple

GUARD = 1.05
"""What times count for at worst: -2 % to +35 % was measured against a simulator."""

BASE_GUARD = 1.10
"""The same where a resistor at the base takes part of the photocurrent: -6.7 % was measured."""

TEN_TO_NINETY = 2.2
"""Time from 10 to 90 % over the time constant."""

JUNCTION = 0.65
"""Volts to which the base is charged before the output conducts."""

CHARGE, LEAST_CHARGE = 2.0, 1.0
"""Times that charge over the available current until it conducts, at worst and at the kindest."""


class SwitchingPart(NamedTuple):
    """The device in one setting. rise, fall: 10 to 90 % at `ohms`. farads: C_e. storage: its time constant. Seconds."""

    rise: float
    fall: float
    ohms: float
    farads: float
    storage: float


class Load(NamedTuple):
    """The load of an output in amperes, ohms, farads.

    closed: current of the closed output. on: at the receiver's level. off: that leaves exactly its off level. ohms: the
    open output's voltage over `closed`. farads: across the output.
    """

    closed: float
    on: float
    off: float
    ohms: float
    farads: float


class Light(NamedTuple):
    """Output current that the LED gives in amperes. least: available. most: of a new part at the largest LED current.

    base: what a resistor at the base takes, counted at the output, while turning off.
    """

    least: float
    most: float
    base: float = 0.0


class Times(NamedTuple):
    """Seconds from the LED's edge to the receiver's level, on and off."""

    on: float
    off: float


def time_constant(part: SwitchingPart, load: Load, edge: float) -> float:
    """tau_A, seconds: that of the edge at its test load, and the charge of both capacitances in the load."""
    return edge / TEN_TO_NINETY + part.farads * max(load.ohms - part.ohms, 0.0) + load.farads * load.ohms


def turn_on(part: SwitchingPart, load: Load, light: Light, charge: float) -> float:
    """Seconds until the output current reaches what the receiver asks for; infinite where it never does."""
    if light.least <= load.on or light.least <= 0.0:
        return math.inf
    start = charge * part.farads * JUNCTION / light.least
    return start + time_constant(part, load, part.rise) * math.log(light.least / (light.least - load.on))


def storage(part: SwitchingPart, load: Load, light: Light) -> float:
    """Seconds until the charge is used up that the load could not carry away."""
    return part.storage * max(math.log(max(light.most, 1e-15) / (load.closed + light.base)), 0.0)


def turn_off(part: SwitchingPart, load: Load, light: Light) -> float:
    """Seconds until the output current has fallen to what leaves the off level; infinite where it never does."""
    if load.off <= 0.0:
        return math.inf
    start = min(load.closed, light.most - light.base) + light.base
    stay = load.off + light.base
    decay = time_constant(part, load, part.fall) * max(math.log(start / stay), 0.0) if start > 0.0 else 0.0
    return storage(part, load, light) + decay


# -- capacitors behind the output -------------------------------------------------------------------------------------


class Chain(NamedTuple):
    """A linear load with capacitors: C u' = J u + b, less the output's current in the first, which lies across it.

    rates: J in siemens. fed: b in amperes. e0 + eu u is zero or more where the receiver has its level.
    """

    farads: tuple[float, ...]
    rates: tuple[tuple[float, ...], ...]
    fed: tuple[float, ...]
    e0: float
    eu: tuple[float, ...]


_TERMS, _STEPS, _LONGEST, _CLOSER = 8, 400, 12.0, 4


def settled(chain: Chain, amps: float) -> list[float]:
    """The volts at which nothing changes any more while the output carries a current."""
    right = [-b + (amps if k == 0 else 0.0) for k, b in enumerate(chain.fed)]
    return _solved([list(row) for row in chain.rates], right)


def decay(chain: Chain, lag: float, amps: float) -> float:
    """Seconds in which a current that dies away with `lag` lets the receiver off, from where it has settled.

    The chain's excess is that over the off level.
    """
    start = [*settled(chain, amps), amps]
    return _until(chain, _with_lag(chain, lag, 0.0), start)


def pull(chain: Chain, lag: float, amps: float, least: float) -> float:
    """Seconds until a current that rises to `amps` with `lag` has brought the receiver to its level.

    The output holds its least voltage once it has got there.
    """
    start = [*settled(chain, 0.0), 0.0]
    return _until(chain, _with_lag(chain, lag, amps), start, least)


def _with_lag(chain: Chain, lag: float, amps: float) -> tuple[list[list[float]], list[float]]:
    """State u, i as x' = A x + b."""
    count = len(chain.farads)
    a = [[g / c for g in row] + [0.0] for row, c in zip(chain.rates, chain.farads, strict=True)]
    a[0][count] = -1.0 / chain.farads[0]
    a.append([0.0] * count + [-1.0 / lag])
    return a, [*(b / c for b, c in zip(chain.fed, chain.farads, strict=True)), amps / lag]


def _until(
    chain: Chain,
    system: tuple[list[list[float]], list[float]],
    start: list[float],
    least: float | None = None,
) -> float:
    """Seconds until the excess is zero or more, stepped exactly; infinite where it never is."""
    slowest = sum(chain.farads[k] / max(-chain.rates[k][k], 1e-15) for k in range(len(chain.farads)))
    most = sum_of_time_constants(chain)
    end = _LONGEST * max(slowest, most, -1.0 / system[0][-1][-1])
    step = end / _STEPS
    move = _exponential(*system, step)
    x, seconds = list(start), 0.0
    before = _excess(chain, x)
    if before >= 0.0:
        return 0.0
    while seconds < 4.0 * end:
        after, took = _moved(move, x), step
        if least is not None and after[0] < least:
            # From here on the output keeps its own capacitor at its least voltage.
            took = _within(system, x, step, least)
            after = [least, *_moved(_exponential(*system, took), x)[1:]]
            a, b = system
            system, least = ([[0.0] * len(a), *(list(row) for row in a[1:])], [0.0, *b[1:]]), None
            move = _exponential(*system, step)
        now = _excess(chain, after)
        if now >= 0.0:
            return seconds + took * before / (before - now)
        seconds += took
        x, before = after, now
    return math.inf


def _within(system: tuple[list[list[float]], list[float]], x: list[float], step: float, least: float) -> float:
    """Seconds into a step at which the first state, that ends it below its least value, has come there.

    By false position.
    """
    low, high = 0.0, step
    below, above = least - x[0], least - _moved(_exponential(*system, step), x)[0]
    if below >= 0.0:
        return 0.0
    for _ in range(_CLOSER):
        seconds = high - (high - low) * above / (above - below)
        now = least - _moved(_exponential(*system, seconds), x)[0]
        if now < 0.0:
            low, below, above = seconds, now, above / 2.0
        else:
            high, above, below = seconds, now, below / 2.0
    return high


def _moved(move: tuple[list[list[float]], list[float]], x: list[float]) -> list[float]:
    return [sum(m * v for m, v in zip(row, x, strict=True)) + c for row, c in zip(*move, strict=True)]


def sum_of_time_constants(chain: Chain) -> float:
    """The sum of each capacitor times the resistance that it sees, seconds: no time constant is longer."""
    total = 0.0
    for k, farads in enumerate(chain.farads):
        unit = [-1.0 if j == k else 0.0 for j in range(len(chain.farads))]
        total += farads * abs(_solved([list(row) for row in chain.rates], unit)[k])
    return total


def _excess(chain: Chain, x: list[float]) -> float:
    return chain.e0 + sum(e * u for e, u in zip(chain.eu, x, strict=False))


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """A small system by elimination with pivots."""
    size = len(right)
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(matrix[row][column]))
        matrix[column], matrix[pivot] = matrix[pivot], matrix[column]
        right[column], right[pivot] = right[pivot], right[column]
        for row in range(column + 1, size):
            factor = matrix[row][column] / matrix[column][column]
            for k in range(column, size):
                matrix[row][k] -= factor * matrix[column][k]
            right[row] -= factor * right[column]
    for row in reversed(range(size)):
        known = sum(matrix[row][k] * right[k] for k in range(row + 1, size))
        right[row] = (right[row] - known) / matrix[row][row]
    return right


def _exponential(a: list[list[float]], b: list[float], step: float) -> tuple[list[list[float]], list[float]]:
    """x(t + step) = E x + f for x' = A x + b, by a series of the scaled matrix and squaring."""
    size = len(b) + 1
    whole = [[*(v * step for v in row), c * step] for row, c in zip(a, b, strict=True)] + [[0.0] * size]
    norm = max(sum(abs(v) for v in row) for row in whole)
    halvings = max(0, math.ceil(math.log2(max(norm, 1e-30))) + 1)
    scaled = [[v / 2.0**halvings for v in row] for row in whole]
    found = [[1.0 if i == j else 0.0 for j in range(size)] for i in range(size)]
    power = found
    for term in range(1, _TERMS + 1):
        power = [[v / term for v in row] for row in _product(power, scaled)]
        found = [[p + q for p, q in zip(r, s, strict=True)] for r, s in zip(found, power, strict=True)]
    for _ in range(halvings):
        found = _product(found, found)
    return [row[:-1] for row in found[:-1]], [row[-1] for row in found[:-1]]


def _product(a: list[list[float]], b: list[list[float]]) -> list[list[float]]:
    columns = list(zip(*b, strict=True))
    return [[sum(p * q for p, q in zip(row, column, strict=True)) for column in columns] for row in a]
