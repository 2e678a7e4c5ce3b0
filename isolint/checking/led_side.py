"""What a capacitor on the LED's side adds to both edges: the LED follows its volts, not the source.

In: an analysis, a channel whose drive has two levels, an electrical setting. Out: a `Lag` in seconds. The capacitor is
held at volts between those of the off and of the on state: what flows into it there says how long each cell of volts
takes, counted at the cell's slow end (at the kindest at its fast end). It ends where the LED current just suffices, or
just leaves a valid off level.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

from isolint.checking.analysis import Analysis
from isolint.checking.once import once
from isolint.interfaces.entities import Channel
from isolint.parts import Led
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.drive import DriveAnalyser, led_name, vector_of
from isolint.worstcase.figures import Figure
from isolint.worstcase.leakage import LeakAnalyser
from isolint.worstcase.network_build import State
from isolint.worstcase.quantities import NO_CURRENT, Bound
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking, Setting, Term

_CELLS = 16
_SEARCHES = 24
_SAME_VOLTS = 1e-3
_NO_LIGHT = 0.01
"""Share of the LED current of the on state below which a state is an off state."""

_MINOR = 0.05
"""A capacitor whose share of the slowest one's time is less may be added to it."""

_LETS_GO = 0.1
"""Share of its threshold current below which a logic output is off, where no record says so (from memory)."""


class Lag(NamedTuple):
    """Seconds by which an edge of the light comes after that of its source."""

    on: float
    off: float
    figures: tuple[Figure, ...]
    terms: tuple[Term, ...]


NO_LAG = Lag(0.0, 0.0, (), ())


@once
def lag(analysis: Analysis, channel: Channel, electrical: Setting) -> Lag:
    """What the capacitors on the LED's side add; raises `Lacking`."""
    drives, circuit = analysis.drives(electrical), analysis.lookup.circuit
    elements = sorted(_storing(analysis, channel))
    if not elements:
        return NO_LAG
    found: list[tuple[float, float, Term]] = []
    for element in elements:
        tolerance = analysis.lookup.tolerance(element)
        farads = (circuit.value(element) or 0.0) * (1.0 + electrical.high(tolerance))
        on, off = _edges(analysis, drives, channel, circuit.path(element), electrical)
        found.append((farads * on, farads * off, tolerance))
    names = ", ".join(circuit.path(element) for element in elements)
    for edge in ([row[0] for row in found], [row[1] for row in found]):
        times = sorted(edge, reverse=True)
        if len(times) > 1 and times[1] > _MINOR * times[0]:
            raise Lacking(f"several capacitors slow its LED ({names}); how they do so together is not judged")
    total = Lag(sum(row[0] for row in found), sum(row[1] for row in found), (), tuple(row[2] for row in found))
    figures = (
        Figure("t_LED_on", total.on, "s", f"time until {names} lets the LED have enough current"),
        Figure("t_LED_off", total.off, "s", f"time for which {names} keeps the LED lit"),
    )
    return total._replace(figures=figures)


def _storing(analysis: Analysis, channel: Channel) -> Iterator[int]:
    """The capacitors of a drive at a net that nothing holds."""
    circuit, walker = analysis.lookup.circuit, analysis.lookup.walker
    if "anode" not in channel.pins:
        return
    for element in channel.drive.elements:
        if circuit.letter(element) != "C" or not circuit.value(element):
            continue
        if any(walker.held(net) is None for net in circuit.pins(element)):
            yield element


def _edges(
    analysis: Analysis, drives: DriveAnalyser, channel: Channel, path: str, electrical: Setting
) -> tuple[float, float]:
    """Seconds a farad of both edges; of several off states the slowest, from which and to which the light goes."""
    drive, fast = analysis.drive(channel, electrical), electrical.is_kindest
    lit = drives.led_current(channel, drive.on)
    dark = [state for state in drives.states(channel) if drives.led_current(channel, state) < _NO_LIGHT * lit]
    on = off = 0.0
    if not dark:
        return on, off
    need, leave = _enough(analysis, channel, electrical), _too_little(analysis, channel, electrical)
    for state in dark:
        low, high = (_Held(drives, channel, path, drive.on, bound) for bound in (drive.current.low, drive.current.high))
        from_off = _Held(drives, channel, path, state, drive.current.low).rest()
        to_off = _Held(drives, channel, path, state, drive.current.high)
        on = max(on, low.seconds(from_off, low.rest(), lambda amps: amps >= need, fast))
        off = max(off, to_off.seconds(high.rest(), to_off.rest(), lambda amps: amps <= leave, fast))
    return on, off


class _Held:
    """A drive in one state at a corner, with one capacitor as a source of the volts that it holds."""

    def __init__(self, drives: DriveAnalyser, channel: Channel, path: str, state: State, corner: Bound) -> None:
        made = drives.assemble(channel, state)
        self._network = made.network(vector_of(made, corner.at), corner.temperature)
        self._drives, self._temperature, self._led, self._path = drives, corner.temperature, led_name(channel), path
        held = next((branch for branch in self._network.branches if branch.name == path), None)
        if not isinstance(held, n.Blocked) or len(held.nodes) != 2:
            raise Lacking(f"capacitor {path} slows its LED; by how much is not judged")
        self._a, self._b = held.nodes

    def rest(self) -> float:
        """Volts across it when all has settled."""
        point = self._solved(self._network)
        return point.voltage(self._a) - point.voltage(self._b)

    def at(self, volts: float) -> tuple[float, float]:
        """LED current, and the current into it, amperes."""
        held = n.VoltageSource(self._path, self._a, self._b, volts)
        branches = tuple(held if branch.name == self._path else branch for branch in self._network.branches)
        point = self._solved(n.BranchNetwork(self._network.nodes, branches))
        return max(point.current(self._led), 0.0), -point.current(self._path)

    def _solved(self, network: n.BranchNetwork) -> Point:
        try:
            return self._drives.solver.solve(network, self._temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None

    def seconds(self, start: float, end: float, there: Callable[[float], bool], fast: bool) -> float:
        """Seconds a farad from some volts until the LED current is there, on the way to the volts where it rests."""
        if abs(end - start) < _SAME_VOLTS or there(self.at(start)[0]):
            return 0.0
        # Shares of the way that is left: cells are finer where less current flows.
        near, far = 1.0, 1e-6
        if not there(max(self._solved(self._network).current(self._led), 0.0)):
            return math.inf
        # A forward voltage without a curve lets all the current through at once, where the way ends.
        if there(self.at(end + far * (start - end))[0]):
            for _ in range(_SEARCHES):
                middle = math.sqrt(near * far)
                near, far = (near, middle) if there(self.at(end + middle * (start - end))[0]) else (middle, far)
        shares = [far ** (step / _CELLS) for step in range(_CELLS + 1)]
        volts = [end + share * (start - end) for share in shares]
        amps = [abs(self.at(each)[1]) for each in volts]
        pick = max if fast else min
        steps = zip(pairwise(volts), pairwise(amps), strict=True)
        return math.fsum(abs(b - a) / max(pick(i, j), NO_CURRENT) for (a, b), (i, j) in steps)


def _enough(analysis: Analysis, channel: Channel, electrical: Setting) -> float:
    """The least LED current that makes the output carry its load, amperes; of a logic output its threshold."""
    if channel.part.kind.output.conducts != "transistor":
        return _threshold(analysis, channel)
    worst = analysis.transfer(channel, electrical).worst
    ratio, stress = analysis.ratio(channel, electrical), analysis.stress(channel, electrical)

    def enough(amps: float) -> bool:
        try:
            return ratio.available(amps, stress, worst.temperature, worst.voltage).current >= worst.required
        except Lacking:
            return False

    low, high = NO_CURRENT, worst.available.led_current
    for _ in range(_SEARCHES):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _threshold(analysis: Analysis, channel: Channel) -> float:
    part = channel.part
    found = fact_terms.recorded(part, Led.threshold_current)
    if found is None:
        name = fact_terms.named(part)
        file = analysis.lookup.settings_file if part.record is None else part.record.file
        missing = fact_terms.missing(file, Led.threshold_current, name)
        raise Lacking(f"a capacitor slows its LED, and the current at which {name} switches is not known", [missing])
    return float(found)


def _too_little(analysis: Analysis, channel: Channel, electrical: Setting) -> float:
    """The most LED current with which even the strongest part leaves a valid off level, amperes."""
    if channel.part.kind.output.conducts != "transistor":
        stated = fact_terms.recorded(channel.part, Led.off_current)
        return float(stated) if stated is not None else _LETS_GO * _threshold(analysis, channel)
    closed, drive = analysis.closed_current(channel, electrical), analysis.drive(channel, electrical)
    crossing = analysis.offs(electrical).crossing(channel, closed.high)
    leaks, corner = LeakAnalyser(analysis.lookup, electrical), drive.current.high
    low, high = NO_CURRENT, max(corner.value, 2.0 * NO_CURRENT)
    for _ in range(_SEARCHES):
        middle = math.sqrt(low * high)
        passed = leaks.passed(channel.part, middle, corner.temperature)[0]
        low, high = (middle, high) if passed.amps < crossing.amps else (low, middle)
    return low
