"""The off state of an output: dark current, what little LED current still gives, and the level that is left.

In: a channel, terms, a setting, temperatures. Out: `Leak`s in amperes with their formula, and `OffLevel`s: the level
that each receiver sees while the output should be off. New parts count here: an aged LED gives less.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from contextlib import suppress
from typing import NamedTuple

from isolint.interfaces.entities import Channel, Part
from isolint.parts import Coil
from isolint.rows import least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.demands import logic_level, thresholds
from isolint.worstcase.devices import Bipolar, Diode, Mos, from_model
from isolint.worstcase.leakage import Leak, LeakAnalyser, alike
from isolint.worstcase.load import OUTPUT, LoadAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import coil_tolerance, lacking_coil, led_in
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import MOST_AMPS, Bound, steady
from isolint.worstcase.receivers import BASE_OFF_VOLTS, Receiver
from isolint.worstcase.solve import Point
from isolint.worstcase.states import CLAMP
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique
from isolint.worstcase.watch import Sources

RELEASE = Interval(0.05, 0.10)
"""Part of a relay's nominal voltage at which it releases (from memory)."""

_HALVINGS = 60
_CLOSED = 1e-3
_CLOSE = 1e-11
LEAST_VOLTS = 1e-3
LEAST_AMPS = 1e-12
LEAST_SHARE = 1e-3
"""A part of what is needed below this is none."""


class OffLevel(NamedTuple):
    """What one receiver sees in the off state at its worst: `value` against `limit` in `unit`.

    at_least: the value must not fall below the limit, else not rise above it. leaks: what flows through the output.
    """

    receiver: Receiver
    words: str
    unit: str
    value: Bound
    limit: float
    at_least: bool
    leaks: tuple[Leak, ...]
    terms: tuple[Term, ...]

    @property
    def margin(self) -> float:
        """1.00 is just a valid off level."""
        if self.at_least:
            return max(self.value.value, 0.0) / self.limit if self.limit > 0.0 else 1.0 + self.value.value
        return self.limit / max(self.value.value, LEAST_VOLTS if self.unit == "V" else LEAST_AMPS)


class OffCrossing(NamedTuple):
    """The output current in amperes that leaves exactly an off level, with the network in which it does.

    closed, open: amperes of the closed output and volts of the open one at the same corner. excess: of a point, zero or
    more where the receiver is off.
    """

    amps: float
    closed: float
    open: float
    words: str
    standing: Channel
    made: Assembly
    vector: tuple[float, ...]
    temperature: float
    extra: tuple[n.Branch, ...]
    excess: Callable[[Point], float]


class OffAnalyser:
    """Output currents and levels in the off state, of the channels of one netlist in one setting."""

    def __init__(self, lookup: Lookup, loads: LoadAnalyser, channels: Sequence[Channel], setting: Setting) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.loads = loads
        self.leaks = LeakAnalyser(lookup, setting)
        self.channels = tuple(channels)
        self.setting = setting
        self._outputs: dict[int, dict[int, tuple[tuple[int, int], dict[str, Part]]]] | None = None
        self._ends: dict[tuple[object, ...], tuple[tuple[OffGoal, Bound, tuple[Term, ...]], Sources]] = {}

    # -- level ------------------------------------------------------------------------------------------------

    def sharing(self, channel: Channel, made: Assembly) -> list[tuple[tuple[int, int], Part, int]]:
        """Other channels whose output hangs in the same load network: between which nets, one of their parts, how many
        that are alike."""
        found = []
        first, last = self.loads.ends(channel)
        turned = last, first
        here: dict[int, tuple[tuple[int, int], dict[str, Part]]] = {}
        for net in made.nets:
            here.update(self._by_ends().get(net, {}))
        for _, (ends, others) in sorted(here.items()):
            if not (all(net in made.nets for net in ends) and any(made.nets[net] for net in ends)):
                continue
            count = len(others) - (channel.subject in others)
            # What lies the other way round passes nothing that this one passes, and is a fault of its own.
            if count and ends != turned:
                found.append((ends, next(iter(others.values())), count))
        return found

    def _by_ends(self) -> Mapping[int, Mapping[int, tuple[tuple[int, int], dict[str, Part]]]]:
        """The outputs at each net: ends and parts of all channels by subject, those with the same output between the
        same nets together and numbered. Each stands at that of its ends at which fewer stand: many lead to one ground.
        """
        if self._outputs is None:
            found: dict[tuple[tuple[int, int], Hashable], dict[str, Part]] = {}
            for channel in self.channels:
                with suppress(Lacking):
                    key = (self.loads.ends(channel), alike(channel.part))
                    found.setdefault(key, {})[channel.subject] = channel.part
            self._outputs = {}
            crowd = Counter(net for ends, _ in found for net in ends)
            for number, ((ends, _), parts) in enumerate(found.items()):
                self._outputs.setdefault(min(ends, key=crowd.__getitem__), {})[number] = ends, parts
        return self._outputs

    def levels(
        self, channel: Channel, led_current: Callable[[float], float] | None = None, passes: bool = True
    ) -> tuple[OffLevel, ...]:
        """What each receiver sees at worst while the output is off.

        led_current: LED current in amperes at a temperature, none where it is not given; then nothing is said of LEDs
        whose own channels are asked what leaks through them. passes: whether outputs that are off pass anything; else
        it is what the network does by itself. `Lacking` when nothing is known to read the output.
        """
        if not self.loads.fed(channel):
            raise Lacking("its output has no load", blocked_by="load")
        worst: dict[tuple[object, ...], OffLevel] = {}
        together = self.loads.beside.off_with(channel)
        for lit, receiver in self.loads.readings(channel):
            left = tuple(pair for pair in lit.load.pairs if pair not in together)
            standing = lit if left == lit.load.pairs else lit._replace(load=lit.load._replace(pairs=left))
            if led_current is None and receiver.kind == "led" and self._judged_there(channel, receiver):
                continue
            for t in temperatures(self.lookup, None, self.setting):
                level = self._level(standing, receiver, t, led_current, passes)
                key = (receiver.kind, receiver.net, receiver.element, receiver.minus, receiver.inverted)
                if key not in worst or level.margin < worst[key].margin:
                    worst[key] = level
        return tuple(worst.values())

    def _judged_there(self, channel: Channel, receiver: Receiver) -> bool:
        """Whether what the dark current does to an LED is asked of that LED's own channel."""
        return self.loads.beside.judged(channel, self.loads.recognition.parts[receiver.element])

    def _passing(
        self, channel: Channel, made: Assembly, temperature: float, led_current: Callable[[float], float] | None
    ) -> tuple[list[Leak], tuple[tuple[tuple[int, int], float], ...]]:
        """What passes the outputs in a load network that are off, and the amperes of all between the same nets."""
        leaks = [self.leaks.dark(channel.part, temperature)]
        if led_current is not None:
            leaks.append(self.leaks.passed(channel.part, led_current(temperature), temperature)[0])
        # Outputs side by side are one source: what all of them pass, whichever of them is asked about.
        amps = {self.loads.ends(channel): [leak.amps for leak in leaks]}
        for ends, part, count in self.sharing(channel, made):
            leaks.append(self.leaks.dark(part, temperature)._replace(couplers=count))
            amps.setdefault(ends, []).extend([leaks[-1].current.si] * count)
        return leaks, tuple(sorted((ends, math.fsum(each)) for ends, each in amps.items()))

    def _level(
        self,
        channel: Channel,
        receiver: Receiver,
        temperature: float,
        led_current: Callable[[float], float] | None,
        passes: bool = True,
    ) -> OffLevel:
        made = self.loads.assembled(channel)
        leaks, passed = self._passing(channel, made, temperature, led_current) if passes else ([], ())
        key: tuple[object, ...] = (channel.load, self.loads.ends(channel), receiver, temperature, passed)
        if receiver.kind == "led":
            key = (*key, channel.subject)
        goal, value, used = self.lookup.watch.kept(
            self._ends, key, lambda: self._worst(channel, made, receiver, temperature, passed)
        )
        terms = unique([*used, *(term for leak in leaks for term in leak.terms), self.lookup.ambient()])
        return OffLevel(receiver, goal.words, goal.unit, value, goal.limit, goal.at_least, tuple(leaks), terms)

    def _worst(
        self,
        channel: Channel,
        made: Assembly,
        receiver: Receiver,
        temperature: float,
        passed: Sequence[tuple[tuple[int, int], float]],
    ) -> tuple[OffGoal, Bound, tuple[Term, ...]]:
        """What a receiver asks for and what it sees at worst while outputs pass so many amperes between their nets."""
        sources = [
            branch
            for index, (ends, amps) in enumerate(passed)
            for branch in _source(made, ends, f"{OUTPUT} {index}", amps)
        ]
        goal, trimmed, extra = self._seen(channel, made, receiver)
        ranges = trimmed.ranges(self.setting, temperature)

        def evaluate(vector: Sequence[float]) -> list[float]:
            point = self._solved(channel, trimmed, vector, temperature, [*extra(vector), *sources])
            found = goal.value(point, vector)
            return [0.0 if goal.unit == "1" and abs(found) < LEAST_SHARE else found]

        (ends,) = solved_extremes(self.loads.solver, ranges, evaluate, sought="low" if goal.at_least else "high")
        # Where the current pulled everything down, the clamp of its source shows below 0.
        value = (
            Bound(max(ends.low, 0.0), ends.low_corner, temperature)
            if goal.at_least
            else Bound(ends.high, ends.high_corner, temperature)
        )
        return goal, value, (*made.terms, *goal.terms)

    def _seen(
        self, channel: Channel, made: Assembly, receiver: Receiver
    ) -> tuple[OffGoal, Assembly, Callable[[Sequence[float]], list[n.Branch]]]:
        """What a receiver asks for while the output is off, its network, and what is added to that."""
        goal = self._goal(channel, made, receiver)
        currents = self.loads.input_currents(made, channel, receiver._replace(inverted=not receiver.inverted))
        trimmed = made if not goal.replaces else made.without(goal.replaces)
        return goal, trimmed, lambda vector: [*currents(vector), *goal.extra]

    def _solved(
        self,
        channel: Channel,
        made: Assembly,
        vector: Sequence[float],
        temperature: float,
        extra: Sequence[n.Branch],
    ) -> Point:
        network = made.network(vector, temperature, [*extra, *self.loads.leaks(made, channel)])
        try:
            return self.loads.solver.solve(network, temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None

    # -- edges ------------------------------------------------------------------------------------------------

    def crossing(self, channel: Channel, most: float) -> OffCrossing:
        """The output current that leaves exactly the off level of what reads the output, the least of its receivers.

        At the corner where the dark current hurts most. most: amperes at which no receiver is off any more.
        """
        hottest = temperatures(self.lookup, None, self.setting)[-1]
        found = [
            self._crossing(standing, receiver, hottest, most) for standing, receiver in self.loads.readings(channel)
        ]
        return min(found, key=lambda crossing: crossing.amps)

    def _crossing(self, channel: Channel, receiver: Receiver, temperature: float, most: float) -> OffCrossing:
        corner = dict(self._level(channel, receiver, temperature, None).value.at)
        made = self.loads.assembled(channel)
        goal, trimmed, extra = self._seen(channel, made, receiver)
        vector = tuple(corner.get(term.name, term.nominal) for term in trimmed.terms)
        ends = self.loads.ends(channel)
        way = 1.0 if goal.at_least else -1.0

        def excess(point: Point) -> float:
            return way * (goal.value(point, vector) - goal.limit)

        def spare(amps: float) -> float:
            sources = _source(trimmed, ends, OUTPUT, amps)
            return excess(self._solved(channel, trimmed, vector, temperature, [*extra(vector), *sources]))

        a, b = (trimmed.nets[net] for net in ends)
        still = self._solved(channel, trimmed, vector, temperature, extra(vector))
        short = n.Resistor(OUTPUT, a, b, _CLOSED)
        closed = self._solved(channel, trimmed, vector, temperature, [*extra(vector), short])
        shut = closed.current(OUTPUT)
        left = still.voltage(a) - still.voltage(b)

        def found(amps: float) -> OffCrossing:
            told = goal.words, channel, trimmed, vector, temperature, tuple(extra(vector)), excess
            # Rounded to what does not depend on where a solution began.
            return OffCrossing(steady(amps), steady(shut), steady(left), *told)

        # What nothing flows through and what is closed are points of the load too, where its clamp does not matter.
        low, at_low = 0.0, excess(still) if left >= 0.0 else spare(0.0)
        if at_low <= 0.0:
            raise Lacking(f"{goal.words}: not even without any current", blocked_by="off")
        # Beyond what flows through a closed output nothing is left across it: up to there little bends.
        high, at_high = (shut, excess(closed)) if 0.0 < shut < most else (most, spare(most))
        if at_high >= 0.0 and high < most:
            low, at_low, high, at_high = high, at_high, most, spare(most)
        if at_high >= 0.0:
            return found(most)
        # The line through the two nearest points leads there, where little bends in a step or two.
        near = sorted([(abs(at_low), low, at_low), (abs(at_high), high, at_high)])
        for step in range(_HALVINGS):
            (_, one, at_one), (_, two, at_two) = near[:2]
            middle = one - at_one * (two - one) / (at_two - at_one) if at_two != at_one else low
            straight = low < middle < high and step % 3 < 2
            if not straight:
                middle = (low + high) / 2.0
            now = spare(middle)
            done = abs(now) <= _CLOSE * abs(goal.limit) or high - low < _CLOSE * most
            if done or (straight and abs(middle - one) < _CLOSE * most):
                return found(middle)
            low, high = (middle, high) if now > 0.0 else (low, middle)
            near = sorted([*near, (abs(now), middle, now)])[:2]
        return found(near[0][1])

    def _goal(self, channel: Channel, made: Assembly, receiver: Receiver) -> OffGoal:
        """What a receiver asks for while the output is off."""
        if receiver.kind == "input":
            return self._input_goal(made, receiver)
        if receiver.kind == "coil":
            return self._coil_goal(made, receiver)
        if receiver.kind == "threshold":
            return self._threshold_goal(made, receiver)
        if receiver.kind == "led":
            return self._led_goal(channel, made, receiver)
        path = self.circuit.path(receiver.element)
        pins = [made.nets[net] for net in self.circuit.pins(receiver.element)[:3]]
        device = self._device(receiver.element)
        if isinstance(device, Mos):
            return self._gate_goal(path, pins, device, receiver)
        if not isinstance(device, Bipolar):
            raise Lacking(f"{receiver.words} reads its output; what it sees in the off state is not judged")
        sign = float(device.polarity)
        if not receiver.inverted:
            return OffGoal(
                f"base of {path} off",
                "V",
                BASE_OFF_VOLTS,
                False,
                lambda point, vector: sign * (point.voltage(pins[1]) - point.voltage(pins[2])),
            )
        ends = (pins[1], pins[2]) if device.polarity > 0 else (pins[2], pins[1])
        base = n.DiodeBranch(f"base of {path}", ends[0], ends[1], Diode(IS=device.IS / device.BF, N=device.NF))
        closed = n.Resistor(f"{path} closed", pins[0], pins[2], 1e-3)
        term = self.loads.assembler.gain(receiver.element, device)
        gain = made.term(term)
        nominal = device.BF

        def driven(point: Point, vector: Sequence[float]) -> float:
            amps = abs(point.current(closed.name))
            if amps > MOST_AMPS:
                raise Lacking(f"nothing limits the current that {path} switches (a coil without Rser)")
            return point.current(base.name) * nominal * vector[gain] / max(amps, LEAST_AMPS)

        return OffGoal(
            f"transistor {path} on, IB BF / IC",
            "1",
            1.0,
            True,
            driven,
            path,
            (base, closed),
            (term,),
        )

    def _input_goal(self, made: Assembly, receiver: Receiver) -> OffGoal:
        name = self.circuit.net_name(receiver.net)
        level = "high" if receiver.inverted else "low"
        demand = logic_level(self.lookup, receiver.net, not receiver.inverted, self.setting)
        node = made.nets[receiver.net]
        return OffGoal(
            f"input {name} {level}",
            "V",
            demand.level,
            receiver.inverted,
            lambda point, vector: point.voltage(node),
            terms=demand.terms,
        )

    def _threshold_goal(self, made: Assembly, receiver: Receiver) -> OffGoal:
        found = next(item for item in thresholds(self.lookup, (receiver.net,)) if item.element == receiver.element)
        plus, minus = (made.node(net, self.circuit.net_name(net)) for net in (found.plus, found.minus))
        limit, state = (found.on, "on") if receiver.inverted else (found.off, "off")
        name = self.circuit.path(receiver.element)
        return OffGoal(
            f"switch {name} {state}",
            "V",
            limit,
            receiver.inverted,
            lambda point, vector: point.voltage(plus) - point.voltage(minus),
        )

    def _led_goal(self, channel: Channel, made: Assembly, receiver: Receiver) -> OffGoal:
        part = self.loads.recognition.parts[receiver.element]
        limit, volts = self.loads.beside.asked(channel, part, not receiver.inverted)
        name, a, k = led_in(self.circuit, part, made)
        words = f"LED of {part.path} {'on' if receiver.inverted else 'off'}"
        if volts:
            return OffGoal(
                words, "V", limit, receiver.inverted, lambda point, vector: point.voltage(a) - point.voltage(k)
            )
        return OffGoal(words, "A", limit, receiver.inverted, lambda point, vector: point.current(name))

    def _gate_goal(self, path: str, pins: Sequence[int], device: Mos, receiver: Receiver) -> OffGoal:
        sign = float(device.polarity)
        fact = self.lookup.facts.element(path).gate_full_on
        on = abs(device.VTO) + 1.0 if fact is None else fact.value
        limit, state = (on, "on") if receiver.inverted else (abs(device.VTO) / 2.0, "off")
        return OffGoal(
            f"gate of {path} {state}",
            "V",
            limit,
            receiver.inverted,
            lambda point, vector: sign * (point.voltage(pins[1]) - point.voltage(pins[2])),
        )

    def _coil_goal(self, made: Assembly, receiver: Receiver) -> OffGoal:
        part = self.loads.recognition.parts[receiver.element]
        coil = None if part.record is None else part.record.coil
        if coil is None or coil.resistance is None or (coil.drop_out is None and coil.voltage is None):
            raise lacking_coil(self.lookup, part, Coil.drop_out, "drop-out voltage")
        terms: tuple[Term, ...] = ()
        if coil.drop_out is not None:
            volts = coil.drop_out
        else:
            assert coil.voltage is not None and part.record is not None
            low, high = RELEASE.low * coil.voltage, RELEASE.high * coil.voltage
            usual = least(low, high, "5 to 10 % of its nominal voltage (from memory)")
            title = Coil.drop_out.title.format(part.path)
            example = f'"{high:g} V"'
            term = fact_terms.defaulted(Coil.drop_out, part.record.name, usual, title=title, example=example)
            terms, volts = (term,), self.setting.low(term)
        name, share = part.path, made.share_of(coil_tolerance(part))
        return OffGoal(
            f"coil of {name} released",
            "A",
            volts / coil.resistance,
            False,
            # Counted for a coil of nominal resistance: a record states the voltage, at which each one releases.
            lambda point, vector: abs(point.current(name)) * share(vector),
            terms=terms,
        )

    def _device(self, element: int) -> object:
        model = self.circuit.model(element)
        tail = {key: value for key, value in self.circuit.tail(element).items() if isinstance(value, float)}
        kind = None if model is None else model.type
        return from_model(self.circuit.letter(element), kind, self.circuit.model_parameters(element), tail)


class OffGoal(NamedTuple):
    """What a receiver asks for: the quantity `value` at least or at most `limit`.

    Branch `replaces` gives way to `extra`.
    """

    words: str
    unit: str
    limit: float
    at_least: bool
    value: Callable[[Point, Sequence[float]], float]
    replaces: str = ""
    extra: tuple[n.Branch, ...] = ()
    terms: tuple[Term, ...] = ()


def _source(made: Assembly, ends: tuple[int, int], name: str, amps: float) -> list[n.Branch]:
    """A current through an output that stops where nothing is left across it."""
    a, b = (made.nets[net] for net in ends)
    return [n.CurrentSource(name, a, b, amps), n.DiodeBranch(f"{name}, not below 0 V", b, a, CLAMP)]
