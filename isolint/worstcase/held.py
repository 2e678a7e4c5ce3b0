"""Whether a level is held through a whole period, with one capacitor in the load: the margin of a periodic drive.

In: the current that the output has to give over a period, and what a few solves tell of the load: how the current into
the capacitor, the voltage across the output and the receiver's level depend on the capacitor's volts and on the output
current. Out: the factor by which that current may shrink until the level is no longer held. Pure numerics.

Why it is a bound: C dU/dt = j(U) - i with j falling in U, and i no more than the true current at all voltages from
V_L on; below V_L the bound is V_L itself. The comparison theorem for scalar monotone equations does the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

LEAST, MOST = 0.01, 100.0
_PRECISION = 1.001
_NO_VOLTS = 1e-6
_SAME_VOLTS = 1e-6
_TURNS = 40

Step = tuple[float, float]
"""Current in amperes and seconds."""


class Form(NamedTuple):
    """A linear load seen from its capacitor: volts U on it, amperes i through the output.

    j = g0 (u_off - U) - alpha i flows into it; p + q U - r i is the voltage across the output, `least` the lowest at
    which its current counts; e0 + eu U + ei i is zero or more where the receiver has its level.
    """

    farads: float
    u_off: float
    g0: float
    alpha: float
    p: float
    q: float
    r: float
    least: float
    e0: float
    eu: float
    ei: float

    @property
    def tau(self) -> float:
        """Seconds."""
        return self.farads / self.g0


class Settled(NamedTuple):
    """A period after all others: the least excess over the level, and the capacitor's volts at both ends."""

    excess: float
    low: float
    high: float


def settled(form: Form, steps: Sequence[Step]) -> Settled:
    """The period into which the capacitor settles."""
    start = _affine(form, steps)
    period = _walk(form, steps, start, clamped=False)
    if min(form.p + form.q * u - form.r * i for u, i in period) < form.least:
        period = _walk(form, steps, _repeating(form, steps, start), clamped=True)
    volts = [u for u, _ in period]
    return Settled(min(form.e0 + form.eu * u + form.ei * i for u, i in period), min(volts), max(volts))


def _repeating(form: Form, steps: Sequence[Step], guess: float) -> float:
    """The volts from which a period that the output's least voltage clamps comes back to itself.

    What comes back rises with what it started from, by less than that: false position between both ends.
    """
    ends = (form.u_off, guess, (form.least - form.p) / form.q if form.q else guess)
    low, high = min(ends), max(ends)
    rise_low, rise_high = (_walk(form, steps, u, clamped=True)[-1][0] - u for u in (low, high))
    u = low
    for _ in range(_TURNS):
        if rise_low <= 0.0 or rise_high >= 0.0 or high - low < _SAME_VOLTS:
            break
        u = low + (high - low) * rise_low / (rise_low - rise_high)
        rise = _walk(form, steps, u, clamped=True)[-1][0] - u
        if abs(rise) < _SAME_VOLTS:
            return u
        if rise > 0.0:
            low, rise_low, rise_high = u, rise, rise_high / 2.0
        else:
            high, rise_high, rise_low = u, rise, rise_low / 2.0
    return low if rise_low <= 0.0 else high if rise_high >= 0.0 else u


def _inside(form: Form, amps: float) -> bool:
    """Whether something lies between the output and the capacitor, so that the current can't drag it along at once."""
    return abs(form.r * amps) > _NO_VOLTS


def _affine(form: Form, steps: Sequence[Step]) -> float:
    """Where the period of an output that is never short of voltage starts and ends."""
    decay, offset = 1.0, 0.0
    for amps, seconds in steps:
        part = math.exp(-seconds / form.tau)
        target = form.u_off - form.alpha * amps / form.g0
        offset = target + (offset - target) * part
        decay *= part
    return offset / -math.expm1(math.log(decay)) if 0.0 < decay < 1.0 else offset


def _walk(form: Form, steps: Sequence[Step], start: float, clamped: bool) -> list[tuple[float, float]]:
    """Volts and output current at the end of each step."""
    found: list[tuple[float, float]] = []
    u = start
    for given, seconds in steps:
        amps, g, target = given, form.g0, form.u_off - form.alpha * given / form.g0
        if clamped and form.p + form.q * u - form.r * given < form.least and form.r > 0.0 and _inside(form, given):
            # The output holds its least voltage: what it carries follows from the capacitor.
            share = form.alpha / form.r
            g = form.g0 + share * form.q
            target = (form.g0 * form.u_off - share * (form.p - form.least)) / g
            amps = max((form.p + form.q * u - form.least) / form.r, 0.0)
        u = target + (u - target) * math.exp(-seconds * g / form.farads)
        if clamped and form.q and not _inside(form, given) and form.p + form.q * u < form.least:
            u = (form.least - form.p) / form.q
        found.append((u, amps))
    return found


def margin(form: Form, steps: Sequence[Step]) -> float:
    """The factor by which the current may shrink until the level is not held any more; its lower end to 0.1 %."""

    def holds(factor: float) -> bool:
        return settled(form, [(amps / factor, seconds) for amps, seconds in steps]).excess >= 0.0

    if not holds(LEAST):
        return 0.0
    if holds(MOST):
        return MOST
    low, high = LEAST, MOST
    while high > low * _PRECISION:
        middle = math.sqrt(low * high)
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def margin_without(amps: Sequence[float], required: float) -> float:
    """The margin where nothing smooths: that of the weakest phase."""
    return min(amps) / required if required > 0.0 else MOST
