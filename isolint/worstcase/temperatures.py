"""The temperatures at which corners are taken: both ends of the ambient, and where a ratio curve bends between them."""

from __future__ import annotations

from itertools import pairwise

from isolint.interfaces.entities import Part
from isolint.parts import generic
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.transfer import generic_record
from isolint.worstcase.uncertain import Setting

USUAL_BENDS = (-40.0, -25.0, 0.0, 25.0, 50.0, 70.0, 85.0, 100.0)
"""Points of the generic curves."""


def temperatures(lookup: Lookup, part: Part | None, setting: Setting) -> tuple[float, ...]:
    """Ambient ends of a setting, and between them the points where the part's ratio falls less steeply than before.

    Everything else changes in one direction over temperature, so that only at such a point can a ratio times a rising
    LED current be smaller than at both ends.
    """
    low, high = setting.range(lookup.ambient())
    if low == high:
        return (low,)
    if part is None:
        return (low, high)
    points = _points(part)
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points)]
    bends = [
        at
        for (at, _), (before, after) in zip(points[1:-1], pairwise(slopes), strict=True)
        if before < 0.0 and after > before and low < at < high
    ]
    return (low, *bends, high)


def _points(part: Part) -> list[tuple[float, float]]:
    record = generic_record(part) if part.record is None else part.record
    if record.transfer.versus_temperature is not None:
        return list(record.transfer.versus_temperature.points)
    found = ((at, generic.temperature_factor(record, record.led.technology, at)) for at in USUAL_BENDS)
    return [(at, interval.low) for at, interval in found if interval is not None]
