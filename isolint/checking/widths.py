"""How long an output whose LED alternates is surely on, and surely off, within each half wave.

In: an analysis, a channel with a sine through its LED, a setting. Out: `Widths` in seconds. From the volts at which
the current suffices, and at which it still leaves a valid off level, both through the sine; the times of the edges
come off.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.once import once
from isolint.checking.speed import speed
from isolint.interfaces.entities import Channel
from isolint.worstcase import waves
from isolint.worstcase.figures import Figure
from isolint.worstcase.leakage import LeakAnalyser
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting, Term, unique

_SEARCHES = 30


class Widths(NamedTuple):
    """Seconds at least: on, and off between; either may be below zero, where it vanishes."""

    on: float
    gap: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]

    @property
    def least(self) -> float:
        """The shorter of both."""
        return min(self.on, self.gap)


@once
def widths(analysis: Analysis, channel: Channel, setting: Setting = WORST) -> Widths:
    """The shortest times on and off; raises `Lacking`."""
    electrical = KINDEST if setting.is_kindest else WORST
    held, source = analysis.held(channel, electrical), analysis.periodic_source(channel, electrical)
    assert source is not None and source.shape == "sine"
    halves = 2.0 if held.repeats < source.period else 1.0
    times = speed(analysis, channel, setting)
    least_off = times.off if setting.is_kindest else 0.0
    on = (source.period - analysis.time_off(channel, electrical)) / halves
    off, words, passed = _valid_off(analysis, channel, electrical)
    gap = source.period * off / halves
    figures = (
        Figure("t_lit", on, "s", "time with enough current each time", end="min"),
        Figure("t_dark", gap, "s", f"time at most with so little that {words}", end="min"),
        Figure("t_on", times.on, "s", "time to turn on"),
        Figure("t_off", times.off, "s", "time to turn off"),
        Figure("on_min", on - times.on + least_off, "s", "shortest time on", end="min"),
        Figure("gap_min", gap - times.off, "s", "shortest time off", end="min"),
    )
    terms = unique([*held.terms, *times.terms, *passed])
    return Widths(on - times.on + least_off, gap - times.off, figures, terms)


def _valid_off(analysis: Analysis, channel: Channel, electrical: Setting) -> tuple[float, str, list[Term]]:
    """The share of a period in which even the strongest part leaves a valid off level, and what that is of."""
    closed, drive = analysis.closed_current(channel, electrical), analysis.drive(channel, electrical)
    if closed.high <= 0.0:
        raise Lacking("its output has no load", blocked_by="load")
    crossing = analysis.offs(electrical).crossing(channel, closed.high)
    leaks = LeakAnalyser(analysis.lookup, electrical)
    source, drives = analysis.periodic_source(channel, electrical), analysis.drives(electrical)
    assert source is not None
    least, terms = 1.0, [*drive.terms]
    for row in drive.by_temperature:
        wave = waves.wave(drives, channel, drive, source, row.high, high=True)
        low, high = NO_CURRENT, max(max(wave.points), 2.0 * NO_CURRENT)
        for _ in range(_SEARCHES):
            middle = math.sqrt(low * high)
            passed = leaks.passed(channel.part, middle, row.temperature)[0]
            low, high = (middle, high) if passed.amps < crossing.amps else (low, middle)
        terms.extend(leaks.passed(channel.part, low, row.temperature)[0].terms)
        least = min(least, waves.dark_share(drives, channel, drive, source, wave, row.high, low))
    return least, f"it just leaves {crossing.words}", terms
