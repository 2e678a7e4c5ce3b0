"""The mean square of the current in resistors whose drive alternates, over a whole period at one corner.

In: an analysed drive and its source. Out: a `Pulses` a resistor. With a storage capacitor both ends of its volts are
taken: it is charged hardest at the lowest, and its load takes most at the highest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import suppress
from typing import NamedTuple

from isolint.interfaces.entities import Channel
from isolint.worstcase import dropper
from isolint.worstcase import network as n
from isolint.worstcase.alternating import Stored, dropping_capacitors
from isolint.worstcase.drive import Drive, DriveAnalyser
from isolint.worstcase.halves import Halves
from isolint.worstcase.quantities import Bound
from isolint.worstcase.uncertain import Lacking
from isolint.worstcase.waves import HIGH_GUARD, STEPS, Source, both_halves

_QUARTER = 6


class Pulses(NamedTuple):
    """Amperes squared on average, and the peak in amperes; ohms at that corner."""

    square: float
    peak: float
    ohms: float


def mean_squares(
    drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, corner: Bound, elements: Sequence[int]
) -> dict[int, Pulses]:
    """What flows in resistors of a drive over a period, at most."""
    found = both_halves(drives, channel, drive, source, corner)
    names = {element: drives.circuit.path(element) for element in elements}
    dropping = list(dropping_capacitors(drives.lookup, channel.drive))
    if drive.stored is not None:
        return _stored(found, drive, drive.stored, [drives.circuit.path(each) for each in dropping], names)
    if drive.fed:
        return _forced(found, drives.circuit.path(dropping[0]), drive.led, names)
    return _period(found, names)


def _stored(
    found: Halves, drive: Drive, stored: Stored, dropping: Sequence[str], names: dict[int, str]
) -> dict[int, Pulses]:
    """What charges a storage capacitor flows in a resistor, or what leaves it, or a part of both.

    The parts are told at a crest, and where nothing charges it.
    """
    low, high = (_holding(found, drive, volts) for volts in stored.volts)
    rest = high.point(found.middle)
    taken = max(rest.current(stored.path), 0.0)
    loaded = {element: abs(rest.current(name)) for element, name in names.items()}
    if dropping:
        fed = _forced(high, dropping[0], drive.led, names)
        still = _told(found, names, {element: each * each for element, each in loaded.items()}, loaded)
        return {element: max(fed[element], still[element], key=lambda pulses: pulses.square) for element in names}
    squares, peaks = dict.fromkeys(names, 0.0), dict.fromkeys(names, 0.0)
    charged: dict[int, float] = dict.fromkeys(names, 0.0)
    with suppress(Lacking):
        # Where nothing limits what charges it, no resistor lies on that way.
        crests = [low.solved(network, sign * found.crest) for network, sign in ((low.upper, 1.0), (low.lower, -1.0))]
        crest = min(crests, key=lambda point: point.current(stored.path))
        before = max(low.point(found.middle).current(stored.path), 0.0)
        gets = before - crest.current(stored.path)
        for element, name in names.items():
            own = loaded[element] * before / taken if taken > 0.0 else 0.0
            charged[element] = abs(abs(crest.current(name)) - own) / gets if gets > 0.0 else 0.0
    for element in names:
        share = loaded[element] / taken if taken > 0.0 else 0.0
        a, b = min(charged[element], 1.0), min(share, 1.0)
        squares[element] = (a * math.sqrt(stored.charging) + b * math.sqrt(stored.taken)) ** 2
        peaks[element] = a * stored.peak + loaded[element]
    return _told(found, names, squares, peaks)


def _holding(found: Halves, drive: Drive, volts: float) -> Halves:
    """The networks with the storage capacitor at some volts."""
    assert drive.stored is not None
    network = drive.assembly.network([term.nominal for term in drive.assembly.terms], found.temperature)
    held = next(b for b in network.branches if isinstance(b, n.VoltageSource) and b.name == drive.stored.path)
    return found.holding(held._replace(volts=volts))


def _period(found: Halves, names: dict[int, str]) -> dict[int, Pulses]:
    """The sum over the steps of a sine, the way down being the same as the way up."""
    squares, peaks = dict.fromkeys(names, 0.0), dict.fromkeys(names, 0.0)
    for step in range(STEPS + 1):
        point = found.point(found.middle + found.crest * math.sin(math.pi * (step / STEPS - 0.5)))
        share = (0.5 if step in (0, STEPS) else 1.0) / STEPS
        for element, name in names.items():
            amps = abs(point.current(name))
            squares[element] += share * amps * amps
            peaks[element] = max(peaks[element], amps)
    return _told(found, names, squares, peaks)


def _forced(found: Halves, path: str, led: str, names: dict[int, str]) -> dict[int, Pulses]:
    """The same where a capacitor drops the voltage: half sines of the largest peak that it lets through, each way."""
    capacitor = dropper.branch_of(found, path)
    peak = dropper.largest_peak(found, capacitor, led)
    squares, peaks = dict.fromkeys(names, 0.0), dict.fromkeys(names, 0.0)
    for forwards in (True, False):
        for step in range(1, _QUARTER + 1):
            amps = peak * math.sin(math.pi / 2.0 * step / _QUARTER)
            point = dropper.forced(found, capacitor, amps, forwards)
            share = (0.5 if step == _QUARTER else 1.0) / _QUARTER / 2.0
            for element, name in names.items():
                own = abs(point.current(name))
                squares[element] += share * own * own
                peaks[element] = max(peaks[element], own)
    return _told(found, names, squares, peaks)


def _told(
    found: Halves, names: dict[int, str], squares: dict[int, float], peaks: dict[int, float]
) -> dict[int, Pulses]:
    ohms = {b.name: b.ohms for b in found.upper.branches if isinstance(b, n.Resistor)}
    return {
        element: Pulses(HIGH_GUARD * squares[element], peaks[element], ohms[name]) for element, name in names.items()
    }
