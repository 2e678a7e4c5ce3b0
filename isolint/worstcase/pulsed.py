"""Alternating and pulsed LED drive: peak, average and rms current at worst case.

In: the analysed on state of a channel, its drive analyser. Out: a `Pulsed`, or None for direct current. A sine is
stepped through operating points at the corner of the largest peak; a capacitor that drops the voltage counts with its
reactance.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Literal, NamedTuple

from isolint.interfaces.entities import Channel
from isolint.parts import Led
from isolint.rows import Usual, least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.alternating import alternates, dropping_capacitors
from isolint.worstcase.drive import Drive, DriveAnalyser, led_name, vector_of
from isolint.worstcase.leds import LedTerms
from isolint.worstcase.quantities import Bound, steady
from isolint.worstcase.solve import solve
from isolint.worstcase.uncertain import Lacking, Term
from isolint.worstcase.waves import HIGH_GUARD, Source, both_halves, crests, off_level, source_of

PULSE_OVER_DC = 10.0
_SWALLOWS = 10.0
# A capacitor so many times as large hardly moves while it takes another one's charge.

EMPTY_OHMS = 1e-3
"""What an empty capacitor has."""


class PulsedRow(NamedTuple):
    """Currents at one temperature, amperes: the peak with its corner, average and rms over a whole period."""

    temperature: float
    peak: Bound
    average: float
    rms: float


class Pulsed(NamedTuple):
    """Alternating or pulsed drive of a channel.

    duty: share of time at the peak, of a pulse. dropping: path, hertz, farads and volts of a capacitor that limits the
    current. smoothed: why nothing but the peak is known, "" where the average is. inrush: the current when the source
    is switched on at its crest and the dropping capacitor is empty, crest: the volts there. terms: what the share of
    time rests on.
    """

    how: Literal["sine", "pulse"]
    rows: tuple[PulsedRow, ...]
    duty: float
    dropping: tuple[str, float, float, float] | None
    smoothed: str
    limit: Term
    inrush: Bound | None = None
    crest: float = 0.0
    terms: tuple[Term, ...] = ()


def pulsed(channel: Channel, drive: Drive, drives: DriveAnalyser, led: LedTerms) -> Pulsed | None:
    """The pulses of a channel's LED; `Lacking` when they can't be judged."""
    lookup = drives.lookup
    sines = [held for held in channel.drive.boundary if alternates(lookup, held)]
    if not sines:
        return _pulse(channel, drive, drives, led)
    if len(sines) > 1:
        names = ", ".join(lookup.circuit.net_name(held.net) for held in sines)
        raise Lacking(f"several alternating sources drive its LED ({names}); their phase is not judged")
    if drive.stored is not None:
        return None
    dropping = dropping_capacitors(lookup, channel.drive)
    source = source_of(lookup, channel, drive)
    assert source is not None
    rows = tuple(_row(channel, drive, drives, source, bound.high) for bound in drive.by_temperature)
    said, inrush, crest = None, None, 0.0
    if len(dropping) == 1:
        ((element, hertz),) = dropping.items()
        farads = (lookup.circuit.value(element) or 0.0) * (1.0 + drives.setting.high(lookup.tolerance(element)))
        top = max(drive.by_temperature, key=lambda row: steady(row.high.value)).high
        said = (lookup.circuit.path(element), hertz, farads, _volts(drive, drives, channel, source, top))
        if not _stores(channel, drives, dropping, farads):
            bounds = [_inrush(channel, drive, drives, element, bound.high) for bound in drive.by_temperature]
            inrush = max(bounds, key=lambda bound: steady(bound.value))
            crest = _volts(drive, drives, channel, source, inrush) * math.sqrt(2.0)
    return Pulsed("sine", rows, 1.0, said, drive.unsure, _pulse_limit(channel, led), inrush, crest)


def _stores(channel: Channel, drives: DriveAnalyser, dropping: Collection[int], farads: float) -> bool:
    """Whether another capacitor takes what an empty dropping one lets through."""
    circuit = drives.circuit
    others = [each for each in channel.drive.elements if circuit.letter(each) == "C" and each not in dropping]
    return any((circuit.value(each) or 0.0) >= _SWALLOWS * farads for each in others)


def _pulse_limit(channel: Channel, led: LedTerms) -> Term:
    """The record's pulse limit; where it has none the DC limit, up to ten times as much at the kindest."""
    base = led.forward_current_max
    high = PULSE_OVER_DC * base.kind_high
    origin = "default, from the DC limit to ten times it (from memory)"

    def usual(low: float, high: float, _: str) -> Usual:
        return least(low, high, origin)

    return fact_terms.of_part(channel.part, Led.pulse_current_max, usual, Interval(base.low, high))


# -- sine ---------------------------------------------------------------------------------------------------------


def _row(channel: Channel, drive: Drive, drives: DriveAnalyser, source: Source, peak: Bound) -> PulsedRow:
    """Average and rms of one period at the corner of the largest peak."""
    fed = next((row for row in drive.fed if row.temperature == peak.temperature), None)
    if fed is not None:
        return PulsedRow(peak.temperature, peak, fed.mean_high, math.sqrt(fed.square_high))
    found = crests(drives, channel, drive, source, peak)
    average, square = HIGH_GUARD * found.mean, HIGH_GUARD * found.mean_square
    return PulsedRow(peak.temperature, peak, average, math.sqrt(square))


def _inrush(channel: Channel, drive: Drive, drives: DriveAnalyser, element: int, corner: Bound) -> Bound:
    """The LED current at the crest with the dropping capacitor shorted, as an empty one is."""
    made = drives.assemble(channel, drive.on)
    name = drives.circuit.path(element)
    network = made.network(vector_of(made, corner.at), corner.temperature)
    branches = tuple(
        branch._replace(ohms=EMPTY_OHMS) if isinstance(branch, n.Resistor) and branch.name == name else branch
        for branch in network.branches
    )
    try:
        point = solve(n.BranchNetwork(network.nodes, branches), corner.temperature)
    except n.NotSolvable as error:
        raise Lacking(error.text) from None
    return corner._replace(value=max(point.current(led_name(channel)), 0.0))


def _volts(drive: Drive, drives: DriveAnalyser, channel: Channel, source: Source, corner: Bound) -> float:
    """The rms value of the source at a corner, volts."""
    return both_halves(drives, channel, drive, source, corner).crest / math.sqrt(2.0)


# -- pulse --------------------------------------------------------------------------------------------------------


def _pulse(channel: Channel, drive: Drive, drives: DriveAnalyser, led: LedTerms) -> Pulsed | None:
    """Two levels that alternate: the on level for its share of the period, the other one for the rest.

    Of several such sources nobody knows how they meet: what is more than direct current may be is not judged.
    """
    try:
        source = source_of(drives.lookup, channel, drive)
    except Lacking:
        if all(row.high.value <= _steady_limit(drives, led, row.temperature) for row in drive.by_temperature):
            return None
        raise
    if source is None or source.duty is None:
        return None
    share, rows = drives.setting.high(source.duty), []
    for row in drive.by_temperature:
        # What a capacitor does between pulses is not known, and then the off level says nothing.
        off = 0.0 if drive.unsure else max(off_level(drives, channel, drive, source, row.high), 0.0)
        on = row.high.value
        average = share * on + (1.0 - share) * off
        rms = math.sqrt(share * on * on + (1.0 - share) * off * off)
        rows.append(PulsedRow(row.temperature, row.high, average, rms))
    limit = _pulse_limit(channel, led)
    return Pulsed("pulse", tuple(rows), share, None, drive.unsure, limit, terms=source.terms)


def _steady_limit(drives: DriveAnalyser, led: LedTerms, temperature: float) -> float:
    return led.limit(temperature, drives.setting.low(led.forward_current_max))
