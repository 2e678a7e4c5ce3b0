"""The off state of an output: dark current, what little LED current still gives, and the level that is left.

In: a channel, terms, a setting, temperatures. Out: `Leak`s in amperes with their formula, and `OffLevel`s: the level
that each receiver sees while the output should be off. New parts count here: an aged LED gives less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from isolint.interfaces.values import Channel, Part
from isolint.parts import Curve, PartRecord, Ratio, generic
from isolint.results import MissingFact
from isolint.units import Interval, show_number
from isolint.worstcase import network as n
from isolint.worstcase.assembly import Assembly
from isolint.worstcase.corners import extremes
from isolint.worstcase.demands import logic_level, next_led, thresholds
from isolint.worstcase.devices import Bipolar, Diode, Mos, from_model
from isolint.worstcase.drive import Bound
from isolint.worstcase.factors import Factor
from isolint.worstcase.load import OUTPUT, LoadAnalyser, without
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.receivers import BASE_OFF_VOLTS, Receiver
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.states import CLAMP
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.terms import Lacking, Setting, Term, stated, unique
from isolint.worstcase.transfer import generic_record

TRANSISTORS = ("phototransistor", "photodarlington")
LOGIC_LEAKAGE = Interval(0.5e-6, 200e-6)
"""Amperes that an open collector of a logic-output coupler leaks: cold and low.

Hot and at its highest voltage (from memory).
"""

RELEASE = Interval(0.05, 0.10)
"""Part of a relay's nominal voltage at which it releases (from memory)."""

LEAST_VOLTS = 1e-3
LEAST_AMPS = 1e-12


@dataclass(frozen=True, slots=True)
class Leak:
    """Output current in the off state at one temperature, amperes.

    `formula` and `numbers` give it, `origin` says from where.
    """

    amps: float
    temperature: float
    formula: str
    numbers: str
    origin: str
    terms: tuple[Term, ...]


@dataclass(frozen=True, slots=True)
class OffLevel:
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


class OffAnalyser:
    """Output currents and levels in the off state, of the channels of one netlist in one setting."""

    def __init__(self, lookup: Lookup, loads: LoadAnalyser, channels: Sequence[Channel], setting: Setting) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.loads = loads
        self.channels = tuple(channels)
        self.setting = setting

    # -- output current ---------------------------------------------------------------------------------------

    def dark(self, part: Part, temperature: float) -> Leak:
        """The output current without any LED current, as a new part's maximum at a temperature."""
        record = part.record or generic_record(part)
        if part.type not in TRANSISTORS:
            return self._logic_leakage(part, record, temperature)
        given = record.output.dark_current
        name = record.name
        if given is not None:
            most, at, origin = given.max, given.at, f"record {name}"
            base = stated(
                f"parts.{name}.output.dark_current", f"dark current of {part.path}", "A", most, most, most, origin
            )
            hot = given.hot
        else:
            usual = generic.family(part.type).dark_current or Interval(0.0, 1e-6)
            example = f'[parts.{name}.output]\ndark_current = {{ max = "100 nA", at = "25 degC" }}'
            origin = generic.origin(part.type)
            base = Term(
                f"parts.{name}.output.dark_current",
                f"dark current of {part.path} at 25 degC",
                "A",
                usual.high,
                usual.high,
                usual.high,
                usual.low,
                usual.low,
                False,
                origin,
                example,
            )
            at, hot = 25.0, None
        amps = self.setting.high(base)
        if hot is not None and amps > 0.0:
            return self._with_hot_point(base, amps, at, hot, temperature, origin)
        kelvins = Term(
            f"parts.{name}.output.dark_current.hot",
            f"kelvins in which the dark current of {part.path} doubles",
            "K",
            generic.DARK_CURRENT_DOUBLING.low,
            generic.DARK_CURRENT_DOUBLING.high,
            generic.DARK_CURRENT_DOUBLING.high,
            generic.DARK_CURRENT_DOUBLING.high,
            generic.DARK_CURRENT_DOUBLING.high,
            False,
            "8 to 10 K (from memory)",
            f'[parts.{name}.output]\ndark_current = {{ max = "100 nA", at = "25 degC", hot = ["10 uA", "85 degC"] }}',
        )
        # Below the test temperature the slow doubling leaves more.
        doubling = self.setting.low(kelvins) if temperature >= at else kelvins.high
        value = amps * math.pow(2.0, (temperature - at) / doubling)
        numbers = f"{_n(amps)} * 2 ** (({_n(temperature)} - {_n(at)}) / {_n(doubling)})"
        return Leak(value, temperature, "I_test * 2 ** ((T - T_test) / K)", numbers, origin, (base, kelvins))

    def _with_hot_point(
        self, base: Term, amps: float, at: float, hot: tuple[float, float], temperature: float, origin: str
    ) -> Leak:
        """Straight in the logarithm between the two guaranteed points; above the hot one as without it."""
        most, hottest = hot
        if temperature > hottest:
            doubling = generic.DARK_CURRENT_DOUBLING.low
            amps, at = most, hottest
        else:
            doubling = (hottest - at) / math.log2(most / amps) if most > amps else math.inf
        value = amps * math.pow(2.0, (temperature - at) / doubling)
        numbers = (
            f"{_n(amps)} * 2 ** (({_n(temperature)} - {_n(at)}) / {_n(doubling) if math.isfinite(doubling) else '1e9'})"
        )
        return Leak(
            value, temperature, "I_test * 2 ** ((T - T_test) / K)", numbers, f"{origin}, with its hot point", (base,)
        )

    def _logic_leakage(self, part: Part, record: PartRecord, temperature: float) -> Leak:
        key, title = f"parts.{record.name}.output.leakage", f"off leakage of {part.path}"
        if record.output.leakage is not None:
            most = record.output.leakage
            term = stated(key, title, "A", most, most, most, f"record {record.name}")
        else:
            ends = LOGIC_LEAKAGE
            example = f'[parts.{record.name}.output]\nleakage = "100 uA"'
            term = Term(
                key,
                title,
                "A",
                ends.high,
                ends.high,
                ends.high,
                ends.low,
                ends.low,
                False,
                f"{generic.origin(part.type)} (from memory)",
                example,
            )
        amps = self.setting.high(term)
        return Leak(amps, temperature, "I_leakage", _n(amps), term.origin, (term,))

    def passed(self, part: Part, led_current: float, temperature: float) -> tuple[Leak, tuple[Factor, ...]]:
        """The most output current that an LED current gives through a new part, with its factors."""
        record = part.record or generic_record(part)
        technology = record.led.technology
        origin = generic.origin(part.type)
        terms: list[Term] = []

        def usual(key: str, title: str, ends: Interval, example: str) -> float:
            term = Term(
                f"parts.{record.name}.transfer.{key}",
                f"{title} ({part.path})",
                "1",
                ends.high,
                ends.high,
                ends.high,
                ends.low,
                ends.low,
                False,
                origin,
                f"[parts.{record.name}.transfer]\n{example}",
            )
            if ends.is_point:
                return ends.high
            terms.append(term)
            return self.setting.high(term)

        ratio = record.transfer.ratio
        if ratio is not None and ratio.max is not None:
            most = Factor("ratio_max", "maximum transfer ratio", ratio.max, f"record {record.name}")
        else:
            family = generic.family(part.type).ratio
            if family is None:
                given = 'ratio = { min = "500 %", max = "2500 %", current = "1.6 mA", voltage = "2 V" }'
                example = f"[parts.{record.name}.transfer]\n{given}"
                fact = MissingFact(
                    record.file or self.lookup.settings_file, f"parts.{record.name}.transfer.ratio", example
                )
                raise Lacking(f"the maximum transfer ratio of {record.name} is not known", [fact])
            low = ratio.min if ratio is not None and ratio.min is not None else family.low
            example = 'ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }'
            value = usual(
                "ratio" if ratio is None else "ratio.max",
                "maximum transfer ratio",
                Interval(min(low, family.high), family.high),
                example,
            )
            most = Factor("ratio_max", "maximum transfer ratio", value, origin)
        curve = record.transfer.versus_current
        if curve is not None:
            at_led = Factor(
                "D_IF", "largest ratio over LED current", _largest(curve, led_current), f"record {record.name}"
            )
        else:
            ends = Interval(1.0, max(_generic_peak(part, record, technology), 1.0))
            value = usual(
                "versus_current",
                "largest ratio over LED current",
                ends,
                'versus_current = [["1 mA", 0.60], ["5 mA", 1.00]]',
            )
            at_led = Factor("D_IF", "largest ratio over LED current", value, origin)
        curve = record.transfer.versus_temperature
        title = f"ratio over temperature at {temperature:g} degC"
        found = generic.temperature_factor(record, technology, temperature)
        if found is None:
            points = 'versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]'
            example = f"[parts.{record.name}.transfer]\n{points}"
            fact = MissingFact(
                record.file or self.lookup.settings_file, f"parts.{record.name}.transfer.versus_temperature", example
            )
            raise Lacking(f"the ambient {temperature:g} degC lies outside the curves of {record.name}", [fact])
        warm = usual(
            "versus_temperature",
            title,
            found,
            'versus_temperature = [["-25 degC", 0.90], ["25 degC", 1.0], ["85 degC", 0.70]]',
        )
        heat = Factor("D_T", title, warm, origin if curve is None else f"record {record.name}")
        volts = record.transfer.versus_voltage
        across = Factor(
            "D_VCE",
            "largest ratio over output voltage",
            1.0 if volts is None else max(1.0, *(y for _, y in volts.points)),
            "not below 1",
        )
        factors = (most, at_led, across, heat)
        amps = led_current
        for factor in factors:
            amps *= factor.value
        names = " * ".join(["IF_off", *(factor.symbol for factor in factors)])
        numbers = " * ".join(_n(value) for value in (led_current, *(factor.value for factor in factors)))
        return Leak(amps, temperature, names, numbers, most.origin, tuple(terms)), factors

    # -- level ------------------------------------------------------------------------------------------------

    def sharing(self, channel: Channel, made: Assembly) -> list[Channel]:
        """Other channels whose output hangs in the same load network."""
        found = []
        for other in self.channels:
            if other is channel or other.subject == channel.subject:
                continue
            try:
                ends = self.loads.ends(other)
            except Lacking:
                continue
            if all(net in made.nets for net in ends) and any(made.nets[net] for net in ends):
                found.append(other)
        return found

    def levels(self, channel: Channel, led_current: Callable[[float], float] | None = None) -> tuple[OffLevel, ...]:
        """What each receiver sees at worst while the output is off.

        led_current: LED current in amperes at a temperature, none where it is not given. `Lacking` when nothing is
        known to read the output.
        """
        if not self.loads.fed(channel):
            raise Lacking("its output has no load", blocked_by="load-missing")
        return tuple(
            min(
                (self._level(channel, receiver, t, led_current) for t in temperatures(self.lookup, None, self.setting)),
                key=lambda level: level.margin,
            )
            for receiver in self.loads.receivers(channel)
        )

    def _level(
        self, channel: Channel, receiver: Receiver, temperature: float, led_current: Callable[[float], float] | None
    ) -> OffLevel:
        made = self.loads.assembled(channel)
        leaks = [self.dark(channel.part, temperature)]
        own = leaks[0].amps
        if led_current is not None:
            leaks.append(self.passed(channel.part, led_current(temperature), temperature)[0])
            own += leaks[-1].amps
        sources = _source(made, self.loads.ends(channel), OUTPUT, own)
        for other in self.sharing(channel, made):
            leaks.append(self.dark(other.part, temperature))
            sources.extend(_source(made, self.loads.ends(other), f"dark current of {other.subject}", leaks[-1].amps))
        goal = self._goal(made, receiver)
        currents = self.loads.input_currents(made, channel, replace(receiver, inverted=not receiver.inverted))
        trimmed = made if not goal.replaces else without(made, goal.replaces)
        ranges = trimmed.ranges(self.setting)

        def evaluate(vector: Sequence[float]) -> list[float]:
            extra = [*currents(vector), *goal.extra, *sources, *self.loads.leaks(trimmed, channel)]
            try:
                return [goal.value(solve(trimmed.network(vector, temperature, extra), temperature), vector)]
            except n.NotSolvable as error:
                raise Lacking(error.text) from None

        (ends,) = extremes(ranges, evaluate)
        # Where the current pulled everything down, the clamp of its source shows below 0.
        value = (
            Bound(max(ends.low, 0.0), ends.low_corner, temperature)
            if goal.at_least
            else Bound(ends.high, ends.high_corner, temperature)
        )
        terms = unique(
            [*made.terms, *goal.terms, *(term for leak in leaks for term in leak.terms), self.lookup.ambient()]
        )
        return OffLevel(receiver, goal.words, goal.unit, value, goal.limit, goal.at_least, tuple(leaks), terms)

    def _goal(self, made: Assembly, receiver: Receiver) -> OffGoal:
        """What a receiver asks for while the output is off."""
        if receiver.kind == "input":
            return self._input_goal(made, receiver)
        if receiver.kind == "coil":
            return self._coil_goal(receiver)
        if receiver.kind == "threshold":
            return self._threshold_goal(made, receiver)
        if receiver.kind == "led":
            return self._led_goal(made, receiver)
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
        return OffGoal(
            f"transistor {path} on, IB BF / IC",
            "1",
            1.0,
            True,
            lambda point, vector: (
                point.current(base.name) * nominal * vector[gain] / max(abs(point.current(closed.name)), LEAST_AMPS)
            ),
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

    def _led_goal(self, made: Assembly, receiver: Receiver) -> OffGoal:
        part = self.loads.recognition.parts[receiver.element]
        limit, volts = next_led(part, not receiver.inverted)
        nets = dict(zip(part.roles, self.circuit.pins(part.element), strict=False))
        a, k = made.nets[nets["anode"]], made.nets[nets["cathode"]]
        words = f"LED of {part.path} {'on' if receiver.inverted else 'off'}"
        if volts:
            return OffGoal(
                words, "V", limit, receiver.inverted, lambda point, vector: point.voltage(a) - point.voltage(k)
            )
        return OffGoal(words, "A", limit, receiver.inverted, lambda point, vector: point.current(part.path))

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

    def _coil_goal(self, receiver: Receiver) -> OffGoal:
        part = self.loads.recognition.parts[receiver.element]
        coil = None if part.record is None else part.record.coil
        if coil is None or coil.resistance is None or (coil.drop_out is None and coil.voltage is None):
            raise Lacking(f"the drop-out voltage of relay {part.path} is not known")
        terms: tuple[Term, ...] = ()
        if coil.drop_out is not None:
            volts = coil.drop_out
        else:
            assert coil.voltage is not None and part.record is not None
            low, high = RELEASE.low * coil.voltage, RELEASE.high * coil.voltage
            example = f'[parts.{part.record.name}.coil]\ndrop_out = "{high:g} V"'
            term = Term(
                f"parts.{part.record.name}.coil.drop_out",
                f"drop-out voltage of {part.path}",
                "V",
                low,
                low,
                high,
                high,
                high,
                False,
                "5 to 10 % of its nominal voltage (from memory)",
                example,
            )
            terms, volts = (term,), self.setting.low(term)
        name = part.path
        return OffGoal(
            f"coil of {name} released",
            "A",
            volts / coil.resistance,
            False,
            lambda point, vector: abs(point.current(name)),
            terms=terms,
        )

    def _device(self, element: int) -> object:
        model = self.circuit.model(element)
        tail = {key: value for key, value in self.circuit.tail(element).items() if isinstance(value, float)}
        kind = None if model is None else model.type
        return from_model(self.circuit.letter(element), kind, self.circuit.model_parameters(element), tail)


@dataclass(frozen=True, slots=True)
class OffGoal:
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


def _largest(curve: Curve, x: float) -> float:
    """The value of a curve, outside its points the largest value that it has anywhere: a bound, no extrapolation."""
    inside = curve.at(x)
    return max(y for _, y in curve.points) if inside is None else inside


def _generic_peak(part: Part, record: PartRecord, technology: str | None) -> float:
    """The largest generic ratio over LED current, 1.0 at the test current."""
    ratio = record.transfer.ratio
    test = ratio.current if ratio is not None and ratio.current is not None else generic.family(part.type).ratio_current
    if test is None:
        return 1.0
    if ratio is None or ratio.current is None:
        record = replace(record, transfer=replace(record.transfer, ratio=replace(ratio or Ratio(), current=test)))
    points = (0.5e-3, 1e-3, 2e-3, 5e-3, 10e-3, 20e-3, 50e-3)
    found = [generic.current_factor(record, technology, point) for point in points]
    return max((ends.high for ends in found if ends is not None), default=1.0)


def _n(value: float) -> str:
    text = show_number(value, 6)
    return f"({text})" if value < 0.0 else text
