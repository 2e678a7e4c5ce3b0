"""The output of a coupler whose LED is driven periodically: is its level held through the period, how long is it off?

In: the analysed drive and load of a channel with the source that makes the drive periodic. Out: a `HeldLevel`. Of the
capacitors of the load the one with the largest time constant counts, the others are left out: they only hold longer.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

from isolint.facts import ElementFacts
from isolint.interfaces.entities import Channel
from isolint.standards import preferred
from isolint.worstcase import held as holding
from isolint.worstcase import network as n
from isolint.worstcase import waves
from isolint.worstcase.alternating import unknown_frequency
from isolint.worstcase.base import BaseTheft
from isolint.worstcase.drive import AtTemperature, Drive, DriveAnalyser, vector_of
from isolint.worstcase.load import Load, LoadAnalyser, LoadRow
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.receiver_goals import goal_of
from isolint.worstcase.solve import Point
from isolint.worstcase.transfer import TransferAnalyser
from isolint.worstcase.uncertain import Lacking, Term, unique

HOLD = "capacitor held at its volts"
_STRAIGHT = 1e-3
_MOVED_VOLTS = 1e-3
_NO_SIEMENS = 1e-9
_SEARCHES = 30
_PIECES = 24
# Steps of each level of a two-level drive.


class Smoothing(NamedTuple):
    """The capacitor of a load that counts: nominal seconds of its time constant, and those that are left out."""

    element: int
    farads: float
    tau: float
    left_out: tuple[int, ...]


class HeldRow(NamedTuple):
    """One temperature. margin: by which the current may shrink; amperes at the crest, on average and required.

    off: share of the period in which less than the required current is there.
    amps: output current at the points of the wave.
    """

    temperature: float
    margin: float
    crest: float
    mean: float
    required: float
    required_corner: str
    led_corner: str
    off: float
    amps: tuple[float, ...] = ()


class HeldLevel(NamedTuple):
    """A periodic drive against what the load asks for. repeats: seconds after which the output's current repeats."""

    source: waves.Source
    rows: tuple[HeldRow, ...]
    smoothing: Smoothing | None
    repeats: float
    terms: tuple[Term, ...]

    @property
    def worst(self) -> HeldRow:
        """The row with the least margin, or where none has any, with the least current at the crest."""
        return min(self.rows, key=lambda row: (row.margin, row.crest / max(row.required, NO_CURRENT)))

    @property
    def smooths(self) -> bool:
        """Whether a capacitor is there that was meant to smooth: its time constant is a whole repetition or more."""
        return self.smoothing is not None and self.smoothing.tau >= self.repeats


class PeriodicAnalyser:
    """Periodic drives of one netlist in one setting."""

    def __init__(self, drives: DriveAnalyser, loads: LoadAnalyser) -> None:
        self.drives = drives
        self.loads = loads
        self.setting = loads.setting
        self.circuit = loads.circuit

    def held(
        self,
        channel: Channel,
        source: waves.Source,
        drive: Drive,
        load: Load,
        ratio: TransferAnalyser,
        base: BaseTheft | None,
        stress: float,
        more: Sequence[Sequence[float]] = (),
    ) -> HeldLevel:
        """Whether the level is held, temperature by temperature; `Lacking` where the load can't be judged so.

        stress: LED current that ages it, amperes. more: what others beside it give, at each temperature and point.
        """
        smoothing = self.smoothing(channel)
        if source.hertz is None:
            raise _unknown_frequency(self.loads.lookup, channel, source)
        if smoothing is not None and smoothing.tau * source.hertz < waves.SMOOTHING:
            smoothing = None
        rows: list[HeldRow] = []
        terms: list[Term] = [*drive.terms, *load.terms, *source.terms]
        halves = True
        for place, (at, need) in enumerate(zip(drive.by_temperature, load.rows, strict=True)):
            wave = waves.wave(self.drives, channel, drive, source, at.low, high=False)
            beside = more[place] if more else ()
            halves = halves and (bool(beside) or waves.same_halves(wave))
            found = [
                self._row(
                    channel,
                    (source, wave),
                    (at, need, load),
                    smoothing,
                    _gives(ratio, base, stress, at.temperature, volts, terms),
                    volts,
                    beside,
                )
                for volts in _least_volts(ratio, need)
            ]
            rows.append(max(found, key=lambda row: (row.margin, row.mean)))
        if smoothing is not None:
            terms.append(self.loads.lookup.tolerance(smoothing.element))
        repeats = source.period / 2.0 if halves else source.period
        return HeldLevel(source, tuple(rows), smoothing, repeats, unique(terms))

    # -- one temperature ----------------------------------------------------------------------------------------------

    def _row(
        self,
        channel: Channel,
        driven: tuple[waves.Source, waves.Wave],
        asked: tuple[AtTemperature, LoadRow, Load],
        smoothing: Smoothing | None,
        gives: Callable[[float], float],
        volts: float,
        beside: Sequence[float],
    ) -> HeldRow:
        source, wave = driven
        row, need, load = asked
        required, top = need.required.value, max(wave.points)
        # That the crest is not known is said; what is less and not known counts as nothing.
        peak = gives(top) if top > NO_CURRENT else 0.0
        amps = [peak if value == top else _or_nothing(gives, value) for value in wave.points]
        if beside:
            amps = [own + other for own, other in zip(amps, beside, strict=True)]
        if required <= 0.0:
            margin = holding.MOST
        elif smoothing is None:
            margin = holding.margin_without(_present(wave, amps), required)
        else:
            form = self._form(channel, load, need, smoothing, volts)
            margin = holding.margin(form, steps_of(wave, amps, source.period))
        return HeldRow(
            row.temperature,
            margin,
            max(amps),
            waves.mean_of(wave, amps),
            required,
            need.required.corner,
            row.low.corner,
            waves.off_share(wave, amps, required),
            tuple(amps),
        )

    def needed(
        self, ratio: TransferAnalyser, base: BaseTheft | None, stress: float, row: HeldRow, most: float
    ) -> float:
        """The LED current with which the output just gives what is required, amperes; `most` where none does.

        row: of the temperature that counts.
        """
        gives = _gives(ratio, base, stress, row.temperature, ratio.saturation_voltage(), [])
        low, high = NO_CURRENT, most
        for _ in range(_SEARCHES):
            middle = math.sqrt(low * high)
            low, high = (low, middle) if _or_nothing(gives, middle) >= row.required else (middle, high)
        return high

    # -- the load seen from its capacitor -----------------------------------------------------------------------------

    def smoothing(self, channel: Channel) -> Smoothing | None:
        """The capacitor of a load with the largest time constant, None without any that can charge."""
        walker = self.loads.lookup.walker
        found: list[tuple[float, int, float]] = []
        for element in channel.load.elements:
            nets = self.circuit.pins(element)
            if self.circuit.letter(element) != "C" or all(walker.held(net) is not None for net in nets[:2]):
                continue
            farads = self.circuit.value(element)
            if farads is None:
                raise Lacking(f"capacitor {self.circuit.path(element)} has no value")
            made = self.loads.assembled(channel)
            bench = _Bench(self.loads, made, channel, element, made.nominal(self.setting), 25.0, ())
            u = bench.across(bench.point(None, 0.0))
            away = u - 0.1 * u if abs(u) > 1.0 else u + 0.1
            siemens = bench.charging(bench.point(away, 0.0)) / (u - away)
            if siemens > _NO_SIEMENS:
                found.append((farads / siemens, element, farads))
        if not found:
            return None
        tau, element, farads = max(found)
        return Smoothing(element, farads, tau, tuple(other for _, other, _ in found if other != element))

    def smallest_capacitor(
        self,
        channel: Channel,
        source: waves.Source,
        drive: Drive,
        load: Load,
        ratio: TransferAnalyser,
        base: BaseTheft | None,
        stress: float,
        wanted: float,
    ) -> float | None:
        """The smallest E12 capacitor across the output with which the level is held with a margin, farads.

        None where none up to 10 mF is enough. It has the tolerance that counts for capacitors by default.
        """
        usual = ElementFacts.tolerance.cases["C"].low
        rows = []
        for at, need in zip(drive.by_temperature, load.rows, strict=True):
            wave = waves.wave(self.drives, channel, drive, source, at.low, high=False)
            volts = _least_volts(ratio, need)[0]
            gives = _gives(ratio, base, stress, at.temperature, volts, [])
            steps = steps_of(wave, [_or_nothing(gives, value) for value in wave.points], source.period)
            rows.append((steps, self._form(channel, load, need, None, volts)))

        def enough(farads: float) -> bool:
            return all(
                holding.margin(form._replace(farads=farads * (1.0 + usual)), steps) >= wanted for steps, form in rows
            )

        values = preferred.twelve(1e-9, 10e-3)
        if not enough(values[-1]):
            return None
        return values[bisect.bisect_left(values, True, key=enough)]

    def _form(
        self, channel: Channel, load: Load, need: LoadRow, smoothing: Smoothing | None, volts: float
    ) -> holding.Form:
        """The load at the corner where it asks for most, from a few solves; `Lacking` where it is not linear."""
        loads, receiver = self.loads, load.receiver
        element = None if smoothing is None else smoothing.element
        made = loads.assembled(channel)
        goal = goal_of(loads.lookup, loads.assembler, loads.recognition, made, receiver)
        currents = loads.input_currents(made, channel, receiver)
        vector, amps = vector_of(made, need.required.at), need.required.value
        trimmed = made if not goal.replaces else made.without(goal.replaces)
        bench = _Bench(loads, trimmed, channel, element, vector, need.temperature, [*currents(vector), *goal.extra])

        def seen(u: float, i: float) -> tuple[float, float, float]:
            point = bench.point(u, i)
            return bench.charging(point), bench.left(point), goal.excess(point, vector)

        u_off = bench.across(bench.point(None, 0.0))
        level = bench.across(bench.point(None, amps))
        other = level if abs(level - u_off) > _MOVED_VOLTS else u_off - 1.0
        rest, moved, loaded, both = seen(u_off, 0.0), seen(other, 0.0), seen(u_off, amps), seen(other, amps)
        for a, b, c, d in zip(rest, moved, loaded, both, strict=True):
            if abs(b + c - a - d) > _STRAIGHT * max(abs(a - b), abs(a - c)):
                which = "a capacitor" if element is None else f"capacitor {self.circuit.path(element)}"
                raise Lacking(f"its load is not linear: how far {which} holds its level is not judged")
        by_volts = [(a - b) / (u_off - other) for a, b in zip(rest, moved, strict=True)]
        by_amps = [(c - a) / amps for a, c in zip(rest, loaded, strict=True)]
        farads = 1e-6
        if smoothing is not None:
            farads = smoothing.farads * (1.0 + self.setting.low(loads.lookup.tolerance(smoothing.element)))
        return holding.Form(
            farads=farads,
            u_off=u_off,
            g0=-by_volts[0],
            alpha=-by_amps[0],
            p=rest[1] - by_volts[1] * u_off,
            q=by_volts[1],
            r=-by_amps[1],
            least=volts,
            e0=rest[2] - by_volts[2] * u_off,
            eu=by_volts[2],
            ei=by_amps[2],
        )


class _Bench:
    """A load network with a capacitor held at some volts, or left alone, and a current through the output.

    element: the capacitor; None for one across the output.
    """

    def __init__(
        self,
        loads: LoadAnalyser,
        made: Assembly,
        channel: Channel,
        element: int | None,
        vector: Sequence[float],
        temperature: float,
        extra: Sequence[n.Branch],
    ) -> None:
        self._loads = loads
        self._made = made if element is None else made.without(loads.circuit.path(element))
        self._channel = channel
        self._given = vector, temperature
        self._extra = extra
        self._ends = [made.node(net, loads.circuit.net_name(net)) for net in loads.ends(channel)]
        plates = None if element is None else loads.circuit.pins(element)[:2]
        self._plates = self._ends if plates is None else [made.nets[net] for net in plates]

    def point(self, volts: float | None, amps: float) -> Point:
        """The operating point."""
        vector, temperature = self._given
        a, b = self._plates
        source = [] if volts is None else [n.VoltageSource(HOLD, a, b, volts)]
        return self._loads.solved(self._made, self._channel, vector, temperature, amps, [*self._extra, *source])

    def across(self, point: Point) -> float:
        """Volts on the capacitor."""
        return point.voltage(self._plates[0]) - point.voltage(self._plates[1])

    def left(self, point: Point) -> float:
        """Volts across the output."""
        return point.voltage(self._ends[0]) - point.voltage(self._ends[1])

    def charging(self, point: Point) -> float:
        """Amperes into the capacitor."""
        return -point.current(HOLD)


def _unknown_frequency(lookup: Lookup, channel: Channel, source: waves.Source) -> Lacking:
    held = next(held for held in channel.drive.boundary if held.net == source.place)
    return unknown_frequency(lookup, held)


def ageing_stress(drives: DriveAnalyser, channel: Channel, drive: Drive, source: waves.Source) -> float:
    """What ages an LED in the on state: the root of the mean square of its current over a period, amperes.

    Damage goes with the square of the current. What a PULSE card of the netlist leaves out is no fact.
    """
    top = drive.current.high
    if drive.fed:
        return math.sqrt(max(row.square_high for row in drive.fed))
    if source.shape == "levels":
        share = 1.0 if source.held_on is not None or source.duty is None else drives.setting.high(source.duty)
        return top.value * math.sqrt(min(share, 1.0))
    whole = waves.wave(drives, channel, drive, source, top, high=True)
    return math.sqrt(whole.mean_square * waves.HIGH_GUARD)


def _least_volts(ratio: TransferAnalyser, need: LoadRow) -> list[float]:
    """The output voltages at which the current may be counted: the best of them holds."""
    saturated, left = ratio.saturation_voltage(), need.voltage.value
    if ratio.record.transfer.versus_voltage is None:
        return [saturated]
    return [saturated, (saturated + left) / 2.0] if saturated < left else [left]


def _gives(
    ratio: TransferAnalyser,
    base: BaseTheft | None,
    stress: float,
    temperature: float,
    volts: float,
    terms: list[Term],
) -> Callable[[float], float]:
    """The output current that an LED current gives at worst."""
    taken = 0.0
    if base is not None:
        taken = next((row.taken.value for row in base.rows if row.temperature == temperature), 0.0)
        terms.extend(base.terms)

    def amps(led: float) -> float:
        found = ratio.available(led, stress, temperature, volts)
        terms.extend(term for term in found.terms if term not in terms)
        if base is None or taken <= NO_CURRENT:
            return found.current
        return found.current * max(1.0 - taken / (base.photo_gain * led), 0.0)

    return amps


def _or_nothing(gives: Callable[[float], float], led: float) -> float:
    """What an LED current gives, nothing where no curve reaches down to it: a lower bound."""
    if led <= NO_CURRENT:
        return 0.0
    try:
        return gives(led)
    except Lacking:
        return 0.0


def _present(wave: waves.Wave, amps: Sequence[float]) -> list[float]:
    """The currents that occur at all."""
    if wave.shape == "sine":
        return list(amps)
    return [value for value, share in zip(amps, (wave.share, 1.0 - wave.share), strict=True) if share > 0.0]


def steps_of(wave: waves.Wave, amps: Sequence[float], period: float) -> list[holding.Step]:
    """One period as steps of equal current, low."""
    if wave.shape == "levels":
        shares = (wave.share, 1.0 - wave.share)
        return [
            (value, share * period / _PIECES) for value, share in zip(amps, shares, strict=True) for _ in range(_PIECES)
        ]
    way = [*amps, *reversed(amps[:-1])]
    seconds = period / (len(way) - 1)
    return [(waves.LOW_GUARD * (a + b) / 2.0, seconds) for a, b in pairwise(way)]
