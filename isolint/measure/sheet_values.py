"""What a coupler's model gives, as data sheets state it: forward voltage, ratio, saturation voltage, dark current.

In: a `Body` and the nets of its pins. Out: numbers at the usual test points, or why one can't be computed. They are
what one model says at one temperature: typical values, no guarantee of anybody.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from isolint.measure.bench import QUICK, THOROUGH, Bench
from isolint.measure.body import Body
from isolint.measure.make import Unmeasurable

T = TypeVar("T")

LED_CURRENTS = (0.1e-3, 0.2e-3, 0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3)
OUTPUT_VOLTS = (0.2, 0.3, 0.4, 0.6, 1.0, 2.0, 5.0, 10.0)
FORWARD_CURRENT = 10e-3
RATIO_CURRENT = 5e-3
RATIO_VOLTS = 5.0
SATURATION_DRIVE = 8e-3
SATURATION_CURRENT = 2.4e-3
SATURATION_SHARE = 0.3
"""Of what the output could carry unsaturated, where that is too little for the usual current."""

DARK_VOLTS = 10.0
LEAST_DARK = 1e-11
"""Amperes; below this a model has no leakage, and what is left is the solver's."""

SUPPLY_VOLTS = 5.0


class ChannelNets(NamedTuple):
    """The nets of the pins of one channel; None for an output that is no transistor. supplies: pins held at 5 V."""

    anode: int
    cathode: int
    collector: int | None = None
    emitter: int | None = None
    supplies: tuple[int, ...] = ()


class SaturatedVolts(NamedTuple):
    """Volts left across the output at its current and the LED current."""

    volts: float
    at: float
    drive: float


class Values(NamedTuple):
    """Curves as pairs, ascending. missing: what can't be computed, with why."""

    forward: tuple[tuple[float, float], ...] = ()
    over_current: tuple[tuple[float, float], ...] = ()
    over_voltage: tuple[tuple[float, float], ...] = ()
    saturated: SaturatedVolts | None = None
    dark: float | None = None
    missing: tuple[tuple[str, str], ...] = ()

    @property
    def ratio(self) -> float | None:
        """The ratio at the usual test point."""
        return dict(self.over_current).get(RATIO_CURRENT)


def measured(body: Body, pins: ChannelNets, effort: int = THOROUGH) -> Values:
    """Measure one channel of a part; effort: what each of its benches may cost."""
    missing: list[tuple[str, str]] = []

    def tried(what: str, measure: Callable[[], T]) -> T | None:
        try:
            return measure()
        except Unmeasurable as error:
            missing.append((what, error.text))
            return None

    forward = tried("forward voltage", lambda: forward_voltages(body, pins, LED_CURRENTS, effort)) or ()
    if pins.collector is None or pins.emitter is None:
        return Values(forward, missing=tuple(missing))
    over_current = tried("transfer ratio", lambda: ratios(body, pins, LED_CURRENTS, effort)) or ()
    found = Values(forward, over_current)
    if over_current:
        found = found._replace(
            over_voltage=tried("ratio over output voltage", lambda: over_voltages(body, pins, effort)) or (),
            saturated=tried("saturation voltage", lambda: saturation(body, pins, found.ratio or 0.0, effort)),
            dark=tried("dark current", lambda: dark_current(body, pins, effort)),
        )
    return found._replace(missing=tuple(missing))


def forward_voltages(
    body: Body, pins: ChannelNets, currents: Sequence[float], effort: int = QUICK
) -> tuple[tuple[float, float], ...]:
    """Volts from anode to cathode over LED currents."""
    bench = Bench(body, {pins.cathode: 0.0}, {pins.anode: 0.0}, effort=effort)
    found = []
    for amps in currents:
        bench.push(pins.anode, amps)
        bench.solve()
        found.append((amps, bench.voltage(pins.anode)))
    return tuple(found)


def _output(body: Body, pins: ChannelNets, volts: float, effort: int) -> tuple[Bench, int]:
    """A bench with the output at a voltage and the LED dark; second, the collector."""
    assert pins.collector is not None and pins.emitter is not None
    held = dict.fromkeys(pins.supplies, SUPPLY_VOLTS)
    held |= {pins.cathode: 0.0, pins.emitter: 0.0, pins.collector: volts}
    return Bench(body, held, {pins.anode: 0.0}, effort=effort), pins.collector


def ratios(
    body: Body, pins: ChannelNets, currents: Sequence[float], effort: int = QUICK
) -> tuple[tuple[float, float], ...]:
    """Output current over LED current at 5 V, over LED currents; what flows in the dark counts with it."""
    bench, collector = _output(body, pins, RATIO_VOLTS, effort)
    found = []
    for amps in currents:
        bench.push(pins.anode, amps)
        bench.solve()
        found.append((amps, bench.taken(collector) / amps))
    return tuple(found)


def over_voltages(body: Body, pins: ChannelNets, effort: int) -> tuple[tuple[float, float], ...]:
    """The ratio over output voltages at the usual LED current."""
    bench, collector = _output(body, pins, RATIO_VOLTS, effort)
    bench.push(pins.anode, RATIO_CURRENT)
    found = []
    for volts in reversed(OUTPUT_VOLTS):
        bench.hold(collector, volts)
        bench.solve()
        found.append((volts, bench.taken(collector) / RATIO_CURRENT))
    return tuple(reversed(found))


def saturation(body: Body, pins: ChannelNets, ratio: float, effort: int) -> SaturatedVolts:
    """The voltage that is left at an output current well below what the LED current would give."""
    assert pins.collector is not None and pins.emitter is not None
    amps = min(SATURATION_CURRENT, SATURATION_SHARE * ratio * SATURATION_DRIVE)
    if not amps > 0.0:
        raise Unmeasurable("the output carries no current")
    held = dict.fromkeys(pins.supplies, SUPPLY_VOLTS) | {pins.cathode: 0.0, pins.emitter: 0.0}
    bench = Bench(body, held, {pins.anode: SATURATION_DRIVE, pins.collector: amps}, effort=effort)
    bench.solve()
    volts = bench.voltage(pins.collector)
    if not 0.0 < volts < RATIO_VOLTS:
        raise Unmeasurable("nothing in its model saturates")
    return SaturatedVolts(volts, amps, SATURATION_DRIVE)


def dark_current(body: Body, pins: ChannelNets, effort: int) -> float:
    """The output current without light."""
    bench, collector = _output(body, pins, DARK_VOLTS, effort)
    bench.solve()
    return bench.taken(collector)
