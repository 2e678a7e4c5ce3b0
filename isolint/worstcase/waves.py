"""Periodic drive of an LED as a table of operating points over one period.

In: a channel with its analysed drive. Out: what makes the drive periodic, and the LED current over a period at a
corner. A sine is stepped through points of the static network; a two-level signal has its two direct-current states.
Capacitors of the drive that matter within a period are followed in `smoothed`; here none does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from isolint.facts import SignalFacts
from isolint.interfaces.entities import Boundary, Channel
from isolint.rows import Usual
from isolint.worstcase import fact_terms
from isolint.worstcase.alternating import Fed, frequency, high_share
from isolint.worstcase.drive import Drive, DriveAnalyser, led_name, vector_of
from isolint.worstcase.halves import Halves, halves
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network import NotSolvable
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.quantities import Bound
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated

STEPS = 24
"""Steps from the lowest to the highest point of a sine."""

LOW_GUARD, HIGH_GUARD = 0.998, 1.002
"""What a mean over the table counts for, low or high: the table's own error is -0.11 % to +0.07 %."""

LONGEST_PERIOD = 25e-3
"""Seconds; what changes more slowly is direct current that comes and goes."""

SMOOTHING = 1.0 / 50.0
"""A capacitor matters from this share of a period on."""

_MIRRORED = 1e-6
_ALIKE = 1e-9
"""Of the crest: what is less apart is the same."""

_CROSSINGS = 5
# Halvings of a step in which a current passes what is looked for; in what is left it is straight.

_FLIPPED: dict[Level, Level] = {
    "high": "low",
    "low": "high",
    "positive": "negative",
    "negative": "positive",
    "on": "off",
    "off": "on",
}


class Source(NamedTuple):
    """What makes a drive periodic. place: a held net, or -1 - element for a source between two nets.

    hertz: None where an AC supply's frequency is not stated. duty: share of the period in the on state, of two levels.
    held_on: how much of its on level a mere stimulus of the netlist keeps between (0 worst, 1 kindest); None for what
    is stated.
    """

    place: int
    name: str
    shape: Literal["sine", "levels"]
    hertz: float | None
    duty: Term | None
    held_on: Term | None

    @property
    def terms(self) -> tuple[Term, ...]:
        """What nobody need have stated of it."""
        return tuple(term for term in (self.duty, self.held_on) if term is not None)

    @property
    def period(self) -> float:
        """Seconds; only of a source whose frequency is known."""
        assert self.hertz is not None
        return 1.0 / self.hertz


class Wave(NamedTuple):
    """LED current over one period at one corner, amperes.

    points: for a sine at `STEPS` + 1 points from the lowest to the highest phase, the way down being the same; for two
    levels the current while on and while off. volts: the source at these points. share: of the period while on.
    """

    shape: Literal["sine", "levels"]
    points: tuple[float, ...]
    volts: tuple[float, ...]
    share: float

    @property
    def mean(self) -> float:
        """The mean over the period."""
        return mean_of(self, self.points)

    @property
    def mean_square(self) -> float:
        """The mean of the square over the period."""
        return mean_of(self, [value * value for value in self.points])


def mean_of(wave: Wave, values: list[float] | tuple[float, ...]) -> float:
    """The mean over a period of what belongs to the points of a wave."""
    if wave.shape == "levels":
        return wave.share * values[0] + (1.0 - wave.share) * values[1]
    return (sum(values) - 0.5 * (values[0] + values[-1])) / (len(values) - 1)


# -- what is periodic -------------------------------------------------------------------------------------------------


def source_of(lookup: Lookup, channel: Channel, drive: Drive) -> Source | None:
    """What makes the drive of a channel periodic, None for direct current; `Lacking` where several sources do."""
    found = list(_sources(lookup, channel, lambda place: drive.on.get(place) == "high"))
    if len(found) > 1:
        names = ", ".join(source.name for source in found)
        raise Lacking(f"several alternating sources drive its LED ({names}); their phase is not judged")
    return found[0] if found else None


def repeats(lookup: Lookup, channel: Channel) -> bool:
    """Whether anything in the drive of a channel repeats, told without solving it."""
    return next(_sources(lookup, channel, lambda _: True), None) is not None


def alternates(lookup: Lookup, channel: Channel) -> bool:
    """Whether a sine drives a channel: it passes through zero twice a period. Told without solving it."""
    return any(source.shape == "sine" for source in _sources(lookup, channel, lambda _: True))


def level_shares(lookup: Lookup, channel: Channel, setting: Setting) -> dict[int, dict[Level, float]]:
    """Of each source of two levels in a drive the largest share of the period at each level, by its place."""
    found: dict[int, dict[Level, float]] = {}
    for source, other in zip(
        _sources(lookup, channel, lambda _: True), _sources(lookup, channel, lambda _: False), strict=True
    ):
        if source.shape == "levels" and source.duty is not None and other.duty is not None:
            found[source.place] = {"high": setting.high(source.duty), "low": setting.high(other.duty)}
    return found


def stated_hertz(lookup: Lookup, name: str) -> float | None:
    """The rate stated of a net's signal where its unit says that it is periodic: hertz, not baud or bit/s."""
    signal = lookup.facts.signal(name)
    rate = None if signal is None else signal.rate
    if rate is None or not rate.text.strip("\"' ").casefold().endswith("hz"):
        return None
    return rate.value


def _sources(lookup: Lookup, channel: Channel, high: Callable[[int], bool]) -> Iterator[Source]:
    """high: of the place of a source whether it counts at its high level."""
    circuit = lookup.circuit
    for held in channel.drive.boundary:
        if held.kind in ("supply", "line") and lookup.is_alternating(held.net):
            yield Source(held.net, circuit.net_name(held.net), "sine", _hertz(lookup, held), None, None)
        elif held.kind == "output":
            source = _output(lookup, held.net, held.element, high(held.net))
            if source is not None:
                yield source
    for element in channel.drive.elements:
        if circuit.letter(element) == "V" and circuit.stimulus(element) is not None:
            source = _card(lookup, -1 - element, circuit.path(element), element, high(-1 - element))
            if source is not None:
                yield source
        elif circuit.letter(element) == "S":
            yield from _controlled(lookup, element)


def _controlled(lookup: Lookup, switch: int) -> Iterator[Source]:
    """What closes and opens a switch: what is stated of it, else the PULSE source at its control."""
    circuit = lookup.circuit
    name = circuit.path(switch)
    if lookup.facts.signal(name) is not None:
        # What is stated of the switch says what it does, and no stimulus does.
        hertz = stated_hertz(lookup, name)
        if hertz is not None and hertz * LONGEST_PERIOD >= 1.0:
            yield Source(-1 - switch, name, "levels", hertz, _duty(lookup, name, True), None)
        return
    for net, upright in zip(circuit.controls(switch), (True, False), strict=False):
        if lookup.walker.grounds.holds(net):
            continue
        for element, pin in circuit.elements_at(net):
            if circuit.letter(element) == "V":
                source = _card(lookup, -1 - switch, circuit.path(switch), element, upright == (pin == 0))
                if source is not None and source.shape == "levels":
                    yield source


def _hertz(lookup: Lookup, held: Boundary) -> float | None:
    try:
        return frequency(lookup, held)
    except Lacking:
        return None


def _output(lookup: Lookup, net: int, element: int, high: bool) -> Source | None:
    """A stated rate in hertz on an output's net, else what the source card on it says."""
    name = lookup.circuit.net_name(net)
    signal = lookup.facts.signal(name)
    hertz = stated_hertz(lookup, name)
    card = None if element < 0 else _card(lookup, net, name, element, high)
    if card is not None and card.shape == "sine":
        return card if hertz is None else card._replace(held_on=None)
    if hertz is not None:
        duty = _duty(lookup, name, high)
        return Source(net, name, "levels", hertz, duty, None) if hertz * LONGEST_PERIOD >= 1.0 else None
    # What is stated of the net says what it is, and no stimulus does.
    return None if signal is not None or lookup.facts.output(name) is not None else card


def _duty(lookup: Lookup, name: str, high: bool) -> Term:
    """The share of the period in the on state, as stated of the high level."""
    term = lookup.term(SignalFacts.duty, name)
    if high or not term.stated:
        return term
    return term._replace(
        low=1.0 - term.high, nominal=1.0 - term.nominal, high=1.0 - term.low,
        kind_low=1.0 - term.kind_high, kind_high=1.0 - term.kind_low,
    )  # fmt: skip


def _card(lookup: Lookup, place: int, name: str, element: int, high: bool) -> Source | None:
    """A SIN or PULSE card: a stimulus, so that averaging over it may leave a result open, never fail it."""
    stimulus = lookup.circuit.stimulus(element)
    kind, numbers = ("", ()) if stimulus is None else stimulus
    path = lookup.circuit.path(element)
    usual = Usual(0.0, 0.0, 1.0, 1.0, 1.0, f"assumption: source {path} of the netlist is what drives the board")
    held_on = fact_terms.defaulted(
        SignalFacts.rate, name, usual, title=f"share of its on level that {name} keeps between", unit="1"
    )
    if kind == "SIN" and len(numbers) >= 3 and numbers[2] * LONGEST_PERIOD >= 1.0:
        return Source(place, name, "sine", numbers[2], None, held_on)
    if kind == "PULSE" and len(numbers) >= 7 and 0.0 < numbers[6] <= LONGEST_PERIOD:
        rise, fall, width, period = numbers[3:7]
        # Edges don't count for a level, and count for heat.
        least = width / period if high == (numbers[1] >= numbers[0]) else 1.0 - (width + rise + fall) / period
        low, top = max(min(least, 1.0), 0.0), high_share(lookup.circuit, element, high)
        title = f"share of the period in which {path} is {'high' if high else 'low'}"
        duty = stated(f"source {path}", title, "1", low, low, max(low, top), f"source {path} in the netlist")
        return Source(place, name, "levels", 1.0 / period, duty, held_on)
    return None


# -- the table --------------------------------------------------------------------------------------------------------


def wave(drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, corner: Bound, high: bool) -> Wave:
    """The LED current over a period at a corner; high: for quantities whose high end hurts."""
    if drive.unsure:
        raise Lacking(drive.unsure)
    setting = drives.setting
    if source.shape == "levels":
        assert source.duty is not None
        led = led_name(channel)
        on, off = (_at(drives, channel, state, corner).current(led) for state in _both(drive, source))
        share = setting.high(source.duty) if high else setting.low(source.duty)
        found = Wave("levels", (max(on, 0.0), max(off, 0.0)), (), share)
    elif drive.fed:
        found = _half_sines(next(row for row in drive.fed if row.temperature == corner.temperature), high)
    else:
        found = crests(drives, channel, drive, source, corner)
    return found if high else _kept(found, setting, source)


def crests(drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, corner: Bound) -> Wave:
    """The LED current over the period of a sine where no capacitor matters."""
    key = (channel.subject, source.place, tuple(sorted(drive.on.items())), corner.at, corner.temperature)

    def found() -> Wave:
        volts, points = _table(both_halves(drives, channel, drive, source, corner), led_name(channel))
        return Wave("sine", points, volts, 1.0)

    return drives.lookup.watch.kept(drives.periods, key, found)


def dark_share(
    drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, wave: Wave, corner: Bound, amps: float
) -> float:
    """The share of the period of a sine in which the LED gets less than `amps`; crossings are solved for.

    wave: its current at that corner. Between two points it bends where junctions start to conduct.
    """
    if drive.fed or wave.shape != "sine":
        return off_share(wave, wave.points, amps)
    found, led = both_halves(drives, channel, drive, source, corner), led_name(channel)
    first = STEPS // 2 if same_halves(wave) else 0
    volts, values = list(wave.volts[first:]), list(wave.points[first:])
    more: list[tuple[float, float]] = []
    for (va, vb), (a, b) in zip(pairwise(volts), pairwise(values), strict=True):
        if (a < amps) == (b < amps):
            continue
        low, high = ((va, a), (vb, b)) if a < amps else ((vb, b), (va, a))
        for _ in range(_CROSSINGS):
            middle = (low[0] + high[0]) / 2.0
            at = (middle, max(found.point(middle).current(led), 0.0))
            more.append(at)
            low, high = (at, high) if at[1] < amps else (low, at)
    if first:
        # Both half waves are alike.
        mirrored = [(2.0 * found.middle - at, gets) for at, gets in (*zip(volts[1:], values[1:], strict=True), *more)]
        more += mirrored
    at, gets = zip(*sorted([*zip(volts, values, strict=True), *more]), strict=True)
    return off_share(Wave("sine", gets, at, 1.0), gets, amps)


def same_halves(wave: Wave) -> bool:
    """Whether both half waves are alike, so that the current repeats after half a period."""
    top = max(wave.points)
    return wave.shape == "sine" and all(
        abs(value - mirror) <= _MIRRORED * top for value, mirror in zip(wave.points, reversed(wave.points), strict=True)
    )


def off_share(wave: Wave, amps: Sequence[float], required: float) -> float:
    """The share of a period in which less than the required current is there."""
    if wave.shape == "levels":
        return sum(s for a, s in zip(amps, (wave.share, 1.0 - wave.share), strict=True) if a < required)
    middle, swing = (wave.volts[0] + wave.volts[-1]) / 2.0, abs(wave.volts[-1] - wave.volts[0]) / 2.0
    if swing <= 0.0:
        return 0.0
    angle = [math.asin(min(max((volts - middle) / swing, -1.0), 1.0)) for volts in wave.volts]
    off = 0.0
    for (a, b), (va, vb), (start, end) in zip(pairwise(amps), pairwise(wave.volts), pairwise(angle), strict=True):
        if a < required and b < required:
            off += abs(end - start)
        elif (a < required) != (b < required):
            # Between two points the current follows the volts more straight than the angle.
            at = va + (vb - va) * (required - a) / (b - a)
            crossing = math.asin(min(max((at - middle) / swing, -1.0), 1.0))
            off += abs(crossing - start) if a < required else abs(end - crossing)
    return off / math.pi


def _half_sines(row: Fed, high: bool) -> Wave:
    """What a dropping capacitor feeds an LED: half sines of the mean that it surely has, or has at most."""
    mean = row.mean_high if high else row.mean_low
    peak = math.pi * mean / (2.0 if row.both else 1.0)
    volts = tuple(math.sin(math.pi * (step / STEPS - 0.5)) for step in range(STEPS + 1))
    return Wave("sine", tuple(peak * (abs(v) if row.both else max(v, 0.0)) for v in volts), volts, 1.0)


def off_level(drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, corner: Bound) -> float:
    """The LED current at the other level of a source of two, at a corner, amperes."""
    return _at(drives, channel, _both(drive, source)[1], corner).current(led_name(channel))


def _kept(found: Wave, setting: Setting, source: Source) -> Wave:
    """What a stimulus keeps of its on level between pulses, in a setting."""
    kept = 0.0 if source.held_on is None else setting.low(source.held_on)
    if kept <= 0.0:
        return found
    least = kept * max(found.points)
    return found._replace(points=tuple(max(value, least) for value in found.points))


def _both(drive: Drive, source: Source) -> tuple[State, State]:
    """The on state, and the same with the periodic source at its other level."""
    level = drive.on.get(source.place)
    other: Level = "hi-z" if level is None else _other(level)
    return drive.on, {**drive.on, source.place: other}


def _other(level: Level) -> Level:
    return _FLIPPED.get(level, "low")


def _at(drives: DriveAnalyser, channel: Channel, state: State, corner: Bound) -> Point:
    made = drives.assemble(channel, state)
    network = made.network(vector_of(made, corner.at), corner.temperature)
    try:
        return drives.solver.solve(network, corner.temperature)
    except NotSolvable as error:
        raise Lacking(error.text) from None


def _table(found: Halves, led: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The volts of a sine and the LED current there, from its lowest to its highest phase.

    Of two antiparallel LEDs the one that counts in each half wave. Where two points of the lower half wave are those
    of the upper one mirrored, or carry nothing, so do all.
    """
    middle, quarter = STEPS // 2, STEPS // 4
    volts = tuple(found.middle + found.crest * math.sin(math.pi * (step / STEPS - 0.5)) for step in range(STEPS + 1))

    def amps(step: int) -> float:
        return max(found.point(volts[step]).current(led), 0.0)

    upper = [amps(step) for step in range(middle, STEPS + 1)]
    ends = amps(0), amps(quarter)
    least = _ALIKE * max(*upper, *ends)
    if upper[0] <= least and max(ends) <= least:
        lower = [0.0] * middle
    elif abs(ends[0] - upper[-1]) <= least and abs(ends[1] - upper[quarter]) <= least:
        lower = upper[:0:-1]
    else:
        lower = [ends[0] if step == 0 else ends[1] if step == quarter else amps(step) for step in range(middle)]
    return volts, (*lower, *upper)


def both_halves(drives: DriveAnalyser, channel: Channel, drive: Drive, source: Source, corner: Bound) -> Halves:
    """The networks of a drive in both half waves of a sine, at a corner."""
    name = drives.lookup.source_name(source.place) if source.place >= 0 else source.name
    return halves(drives, channel, _both(drive, source), name, corner)
