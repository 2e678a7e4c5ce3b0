"""A coupler that feeds back to a controller: both ends of the pin's range, and what the shunt reference gets.

In: a channel, the analysers of its drive and load in one setting. Out: `FeedbackPin` (what the output must carry at
both ends of the control range), the drive with the reference fully on, and the least current of the reference. Static
only.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import NamedTuple

from isolint.facts import InputFacts
from isolint.interfaces.entities import Channel, Shunt
from isolint.worstcase import network as n
from isolint.worstcase.drive import FLOAT_OHMS, Drive, DriveAnalyser, led_name
from isolint.worstcase.leakage import LeakAnalyser
from isolint.worstcase.leds import LedTerms
from isolint.worstcase.load import Load, LoadAnalyser
from isolint.worstcase.lookup import NOMINAL_TEMPERATURE, Lookup
from isolint.worstcase.network_build import REAL
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, highest, lowest
from isolint.worstcase.receiver_goals import turn_up
from isolint.worstcase.solve import Point
from isolint.worstcase.strongest import highest_ratio
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique


class FeedbackPin(NamedTuple):
    """What the output carries that holds the pin at one end of its range, and at the other: `most` asks for more.

    net: the pin. low, high: its control range, volts. falls: the output pulls it low.
    """

    net: int
    low: float
    high: float
    falls: bool
    most: Load
    least: Load

    @property
    def idle(self) -> float:
        """The end of the range that the pin must reach with the LED dark, volts."""
        return self.high if self.falls else self.low


class Biased(NamedTuple):
    """The least current that a shunt reference gets at its cathode. led: what its LED takes then, amperes.

    carried: what the output carries then. ratio: of the best new part.
    """

    shunt: Shunt
    current: Bound
    led: float
    carried: float
    ratio: float
    terms: tuple[Term, ...]


def pin_net(lookup: Lookup, channel: Channel) -> int:
    """The controller's pin that a channel's output moves: of inputs in its load the one with a control range."""
    inputs = [held.net for held in channel.load.boundary if held.kind == "input"]
    stated = {net: lookup.input(net) for net in inputs}
    ranged = [net for net, facts in stated.items() if facts is not None and facts.control_range is not None]
    if ranged or inputs:
        return (ranged or inputs)[0]
    ends = [channel.pins[role] for role in ("collector", "emitter") if role in channel.pins]
    named = [net for net in ends if (use := lookup.facts.signal(lookup.circuit.net_name(net))) is not None and use.use]
    free = [net for net in ends if lookup.walker.held(net) is None]
    return (named or free or ends)[0]


def pin_of(lookup: Lookup, loads: LoadAnalyser, channel: Channel) -> FeedbackPin:
    """Both ends of the range of a controller's pin; `Lacking` where it, or what feeds the pin, is not stated."""
    net = pin_net(lookup, channel)
    name = lookup.circuit.net_name(net)
    facts = lookup.input(net)
    stated = None if facts is None else facts.control_range
    if stated is None:
        text = f"over which voltages pin {name} of the controller acts nobody states"
        raise Lacking(text, [lookup.missing(InputFacts.control_range, name)])
    alone = channel._replace(load=channel.load._replace(pairs=()))
    if facts is not None and facts.pull_up is None and facts.source_current is None and not loads.fed(alone):
        text = f"nothing in this netlist feeds pin {name}, and nobody states a pull-up or a source inside"
        raise Lacking(text, [lookup.missing(InputFacts.source_current, name)])
    low, high = stated.value.low, stated.value.high
    at_low, at_high = loads.holding(alone, net, low), loads.holding(alone, net, high)
    falls = at_low.receiver.inverted
    most, least = (at_low, at_high) if falls else (at_high, at_low)
    return FeedbackPin(net, low, high, falls, most, least)


def dark_levels(
    lookup: Lookup, loads: LoadAnalyser, channel: Channel, pin: FeedbackPin, setting: Setting
) -> tuple[Bound, tuple[Term, ...]]:
    """Where the pin stands at worst with the LED dark, volts."""
    leaks = LeakAnalyser(lookup, setting)
    alone = channel._replace(load=channel.load._replace(pairs=()))
    rows = loads.standing_at(alone, pin.net, lambda t: leaks.dark(channel.part, t).amps)
    worst = lowest(low for low, _ in rows) if pin.falls else highest(high for _, high in rows)
    leak = leaks.dark(channel.part, worst.temperature)
    return worst, unique([*pin.least.terms, *leak.terms])


def biased(
    drives: DriveAnalyser, channel: Channel, shunt: Shunt, pin: FeedbackPin | None, terms: LedTerms, setting: Setting
) -> Biased:
    """The least current that a reference gets, with the LED at the least current at which the loop works.

    The LED has its smallest forward voltage; the reference is a current that is turned up until the LED has its own.
    pin: None where nobody states its range: then the LED may be dark.
    """
    used: list[Term] = []
    ratio = highest_ratio(channel.part, setting, used)
    carried = 0.0 if pin is None else max(pin.least.required.low.value, 0.0)
    wanted = carried / ratio
    made, light = _assembled(drives, channel, shunt, terms)
    nets = drives.circuit.pins(shunt.element)
    k, a = (made.node(nets[pin_], drives.circuit.net_name(nets[pin_])) for pin_ in shunt.pins[:2])

    def evaluate(temperature: float, vector: Sequence[float]) -> list[float]:
        def gap(amps: float) -> tuple[Point, float]:
            sink = n.CurrentSource(f"current of {shunt.path}", k, a, amps)
            point = drives.solver.solve(made.network(vector, temperature, [sink]), temperature)
            return point, -point.current(light) - wanted

        return [turn_up(gap).amps]

    rows: list[Bound] = []
    for t in drives.temperatures(channel):
        try:
            (ends,) = solved_extremes(drives.solver, made.ranges(setting, t), partial(evaluate, t), sought=["low"])
        except n.NotSolvable as error:
            raise Lacking(error.text) from None
        rows.append(Bound(ends.low, ends.low_corner, t))
    more = () if pin is None else pin.least.terms
    return Biased(
        shunt, lowest(rows), wanted, carried, ratio, unique([*made.terms, *used, *more, drives.lookup.ambient()])
    )


def _assembled(drives: DriveAnalyser, channel: Channel, shunt: Shunt, terms: LedTerms) -> tuple[Assembly, str]:
    """The drive without the reference, its LED at a voltage that does not fall with its current."""
    on = dict(drives.on_state(channel, REAL))
    on[-1 - shunt.element] = "off"
    made = drives.assembler.assemble(channel.drive, on)
    name = led_name(channel)
    a, k = (made.node(channel.pins[role], drives.circuit.net_name(channel.pins[role])) for role in ("anode", "cathode"))
    voltage, drift = made.term(terms.forward_voltage), made.term(terms.temperature_coefficient)
    made.drifts[drift] = voltage

    def lit(vector: Sequence[float], temperature: float) -> n.Branch:
        return n.VoltageSource(name, a, k, vector[voltage] + vector[drift] * (temperature - NOMINAL_TEMPERATURE))

    made.add(name, lit, voltage, drift, warm=True)
    return made, name


def idle_voltage(
    drives: DriveAnalyser, channel: Channel, shunt: Shunt, setting: Setting
) -> tuple[Bound, tuple[Term, ...]]:
    """The highest voltage across a reference that takes nothing."""
    state = dict(drives.on_state(channel, REAL))
    state[-1 - shunt.element] = "off"
    made = drives.assemble(channel, state)
    nets = drives.circuit.pins(shunt.element)
    k, a = (made.node(nets[pin], drives.circuit.net_name(nets[pin])) for pin in shunt.pins[:2])
    leak = n.Resistor(f"leakage of {shunt.path}", k, a, FLOAT_OHMS)

    def evaluate(temperature: float, vector: Sequence[float]) -> list[float]:
        point = drives.solver.solve(made.network(vector, temperature, [leak]), temperature)
        return [point.voltage(k) - point.voltage(a)]

    rows: list[Bound] = []
    for t in drives.temperatures(channel):
        (ends,) = solved_extremes(drives.solver, made.ranges(setting, t), partial(evaluate, t), sought=["high"])
        rows.append(Bound(ends.high, ends.high_corner, t))
    return highest(rows), unique(made.terms)


def most_through(drive: Drive, shunt: Shunt) -> float:
    """Amperes into the cathode of a reference fully on, where the LED takes most; below 0 it is turned round."""
    return -drive.point(drive.current.high)[1].current(shunt.path)
