"""Alternating and pulsed LED drive: peak, average and rms current at worst case.

In: the analysed on state of a channel, its drive analyser. Out: a `Pulsed`, or None for direct current. A sine is
stepped through operating points at the corner of the largest peak; a capacitor that drops the voltage counts with its
reactance.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import Literal, NamedTuple

from isolint.interfaces.entities import Boundary, Channel
from isolint.parts import Led
from isolint.rows import Usual, least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.alternating import dropping_capacitors, frequency, high_share, is_sine, reactance
from isolint.worstcase.drive import Drive, DriveAnalyser, led_name, vector_of
from isolint.worstcase.leds import LedTerms
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, steady
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.uncertain import Lacking, Term

STEPS = 48
LONGEST_PERIOD = 25e-3
"""Seconds; slower changes are direct current that comes and goes."""

PULSE_OVER_DC = 10.0
SMOOTHING = 0.1
# A capacitor whose time constant with all resistors is less than this part of a radian does not smooth.

MOST_PHASE = math.sqrt(2.0)
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
    current. smoothed: path of a capacitor that may hold the current near its peak, "" for none. inrush: the current
    when the source is switched on at its crest and the dropping capacitor is empty, crest: the volts there.
    """

    how: Literal["sine", "pulse"]
    rows: tuple[PulsedRow, ...]
    duty: float
    dropping: tuple[str, float, float, float] | None
    smoothed: str
    limit: Term
    inrush: Bound | None = None
    crest: float = 0.0


def pulsed(channel: Channel, drive: Drive, drives: DriveAnalyser, led: LedTerms) -> Pulsed | None:
    """The pulses of a channel's LED; `Lacking` when they can't be judged."""
    lookup = drives.lookup
    sines = [held for held in channel.drive.boundary if _alternates(drives, held)]
    if not sines:
        return _pulse(channel, drive, drives, led)
    if len(sines) > 1:
        names = ", ".join(lookup.circuit.net_name(held.net) for held in sines)
        raise Lacking(f"several alternating sources drive its LED ({names}); their phase is not judged")
    held = sines[0]
    dropping = dropping_capacitors(lookup, channel.drive)
    rows = tuple(_row(channel, drive, drives, held, bound.high) for bound in drive.by_temperature)
    said, inrush, crest = None, None, 0.0
    if len(dropping) == 1:
        ((element, hertz),) = dropping.items()
        farads = (lookup.circuit.value(element) or 0.0) * (1.0 + drives.setting.high(lookup.tolerance(element)))
        top = max(rows, key=lambda row: steady(row.peak.value))
        said = (lookup.circuit.path(element), hertz, farads, _volts(drive, drives, channel, held, top.peak))
        bounds = [_inrush(channel, drive, drives, element, bound.high) for bound in drive.by_temperature]
        inrush = max(bounds, key=lambda bound: steady(bound.value))
        crest = _volts(drive, drives, channel, held, inrush) * math.sqrt(2.0)
    return Pulsed(
        "sine", rows, 1.0, said, _smoothing(channel, drives, held, dropping), _pulse_limit(channel, led, True), inrush,
        crest,
    )  # fmt: skip


def _alternates(drives: DriveAnalyser, held: Boundary) -> bool:
    return (held.kind == "supply" and drives.lookup.is_alternating(held.net)) or is_sine(drives.circuit, held)


def _pulse_limit(channel: Channel, led: LedTerms, assume: bool) -> Term:
    """The record's pulse limit; where it has none the DC limit, for a sine up to ten times as much at the kindest."""
    base = led.forward_current_max
    high = PULSE_OVER_DC * base.kind_high if assume else base.high
    origin = "default, from the DC limit to ten times it (from memory)"

    def usual(low: float, high: float, _: str) -> Usual:
        return least(low, high, origin)

    return fact_terms.of_part(channel.part, Led.pulse_current_max, usual, Interval(base.low, high))


# -- sine ---------------------------------------------------------------------------------------------------------


def _row(channel: Channel, drive: Drive, drives: DriveAnalyser, held: Boundary, peak: Bound) -> PulsedRow:
    """Average and rms of one period at the corner of the largest peak."""
    phase = _phase(channel, drive, drives, held, peak)
    currents = [max(value, 0.0) * phase for value in _currents(channel, drive, drives, held, peak)]
    average = sum(currents) / len(currents)
    rms = math.sqrt(sum(value * value for value in currents) / len(currents))
    return PulsedRow(peak.temperature, peak._replace(value=peak.value * phase), average, rms)


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
        point = solve(n.Network(network.nodes, branches), corner.temperature)
    except n.NotSolvable as error:
        raise Lacking(error.text) from None
    return corner._replace(value=max(point.current(led_name(channel)), 0.0))


def _ends(drive: Drive, drives: DriveAnalyser, channel: Channel, held: Boundary) -> tuple[Assembly, Assembly]:
    """The network in the on state with the source at its highest and at its lowest."""
    pair: tuple[Level, Level] = ("positive", "negative") if held.kind == "supply" else ("high", "low")
    made = []
    for level in pair:
        state: State = {**drive.on, held.net: level}
        made.append(drives.assemble(channel, state))
    return made[0], made[1]


def _currents(channel: Channel, drive: Drive, drives: DriveAnalyser, held: Boundary, corner: Bound) -> list[float]:
    high, low = _ends(drive, drives, channel, held)
    vector = vector_of(high, corner.at)
    network = high.network(vector, corner.temperature)
    name = drives.lookup.source_name(held.net)
    top = _source_volts(network, name)
    bottom = _source_volts(low.network(vector_of(low, corner.at), corner.temperature), name)
    middle, swing = (top + bottom) / 2.0, (top - bottom) / 2.0
    found: list[float] = []
    start: Point | None = None
    for step in range(STEPS):
        angle = 2.0 * math.pi * (step + 0.5) / STEPS
        volts = middle + swing * math.sin(angle)
        branches = tuple(
            branch._replace(volts=volts) if isinstance(branch, n.VoltageSource) and branch.name == name else branch
            for branch in network.branches
        )
        start = solve(n.Network(network.nodes, branches), corner.temperature, start)
        found.append(start.current(led_name(channel)))
    return found


def _source_volts(network: n.Network, name: str) -> float:
    return next(
        branch.volts for branch in network.branches if isinstance(branch, n.VoltageSource) and branch.name == name
    )


def _volts(drive: Drive, drives: DriveAnalyser, channel: Channel, held: Boundary, corner: Bound) -> float:
    """The rms value of the source at a corner, volts."""
    high, _ = _ends(drive, drives, channel, held)
    network = high.network(vector_of(high, corner.at), corner.temperature)
    return abs(_source_volts(network, drives.lookup.source_name(held.net))) / math.sqrt(2.0)


def _phase(channel: Channel, drive: Drive, drives: DriveAnalyser, held: Boundary, corner: Bound) -> float:
    """How much more flows than with the reactance added straight to the resistance: (R + X) / sqrt(R^2 + X^2)."""
    dropping = dropping_capacitors(drives.lookup, channel.drive)
    if not dropping or corner.value <= 0.0:
        return 1.0
    if len(dropping) > 1:
        return MOST_PHASE
    ((element, hertz),) = dropping.items()
    farads = drives.circuit.value(element) or 0.0
    named = dict(corner.at)
    farads *= 1.0 + named.get(drives.lookup.tolerance(element).name, 0.0)
    ohms = reactance(hertz, farads)
    top = _volts(drive, drives, channel, held, corner) * math.sqrt(2.0)
    rest = max(top / corner.value - ohms, 0.0)
    return min((rest + ohms) / math.hypot(rest, ohms), MOST_PHASE)


def _smoothing(channel: Channel, drives: DriveAnalyser, held: Boundary, dropping: Collection[int]) -> str:
    """The capacitor of the network that may hold the current up between the peaks."""
    lookup, circuit = drives.lookup, drives.circuit
    others = [
        element for element in channel.drive.elements if circuit.letter(element) == "C" and element not in dropping
    ]
    if not others:
        return ""
    hertz = frequency(lookup, held)
    ohms = sum(lookup.ohms(element) or 0.0 for element in channel.drive.elements if circuit.letter(element) == "R")
    for element in others:
        farads = circuit.value(element)
        if farads is None or hertz is None or 2.0 * math.pi * hertz * farads * ohms > SMOOTHING:
            return circuit.path(element)
    return ""


# -- pulse --------------------------------------------------------------------------------------------------------


def _pulse(channel: Channel, drive: Drive, drives: DriveAnalyser, led: LedTerms) -> Pulsed | None:
    """A PULSE source as the only input, for a record that states what its LED takes in pulses."""
    record = channel.part.record
    inputs: Sequence[tuple[int, object]] = drives.inputs(channel)
    if record is None or record.led.pulse_current_max is None or len(inputs) != 1:
        return None
    held = next((held for held in channel.drive.boundary if held.net == inputs[0][0] and held.element >= 0), None)
    stimulus = None if held is None else drives.circuit.stimulus(held.element)
    if (
        held is None
        or stimulus is None
        or stimulus[0] != "PULSE"
        or len(stimulus[1]) < 7
        or stimulus[1][6] > LONGEST_PERIOD
    ):
        return None
    duty = high_share(drives.circuit, held.element, drive.on.get(held.net) == "high")
    rows = tuple(
        PulsedRow(row.temperature, row.high, row.high.value * duty, row.high.value * math.sqrt(duty))
        for row in drive.by_temperature
    )
    return Pulsed("pulse", rows, duty, None, "", _pulse_limit(channel, led, False))
