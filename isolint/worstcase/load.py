"""The load of one channel: what its output must carry so that whatever reads it sees a valid level.

In: a channel, terms, a setting. Out: a `Load` with the required output current and the output voltage left at it, per temperature.
The coupler's output is taken out and replaced by a current that is turned up until the receiver's level is reached.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from isolint.facts import InputFacts
from isolint.interfaces.values import Channel, Recognition
from isolint.worstcase import network as n
from isolint.worstcase.assembly import Assembler, Assembly
from isolint.worstcase.corners import Extreme, extremes
from isolint.worstcase.devices import Bipolar, Diode, Mos, from_model
from isolint.worstcase.drive import Bound, Quantity
from isolint.worstcase.lookup import Lookup, origin
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.terms import Lacking, Setting, Term, stated, unique

OUTPUT = "coupler output"
LEAKAGE = "leakage of"
BASE_OFF_VOLTS = 0.4
MOST_AMPS = 10.0
INPUT_CURRENT_DEFAULT = 10e-6

ReceiverKind = Literal["input", "bjt", "mos", "coil"]


@dataclass(frozen=True, slots=True)
class Receiver:
    """Something that reads a channel's output.

    net: where it reads (-1 for a coil). element: the BJT, MOS or relay, -1 for a logic input. inverted: the coupler pulls it low or
    switches it off. level: volts to be reached (amperes for a coil and for the base current of a BJT 0). words: for messages.
    """

    kind: ReceiverKind
    net: int
    element: int
    inverted: bool
    level: float
    words: str


@dataclass(frozen=True, slots=True)
class LoadRow:
    """Required output current and the output voltage left at it, at one temperature."""

    temperature: float
    required: Bound
    voltage: Bound


@dataclass(frozen=True, slots=True)
class Load:
    """What the output of a channel must do, in one setting. Currents in amperes, voltages in volts."""

    receiver: Receiver
    required: Quantity
    voltage: Quantity
    rows: tuple[LoadRow, ...]
    terms: tuple[Term, ...]
    assembly: Assembly


class LoadAnalyser:
    """Analyses load networks of one netlist in one setting."""

    def __init__(self, lookup: Lookup, assembler: Assembler, recognition: Recognition, setting: Setting, temperatures: tuple[float, ...]) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.assembler = assembler
        self.recognition = recognition
        self.setting = setting
        self.temperatures = temperatures

    # -- is there a load --------------------------------------------------------------------------------------

    def fed(self, channel: Channel) -> bool:
        """Whether direct current can flow through the output when it conducts: something feeds it and something takes it."""
        made = self._assembled(channel)
        collector, emitter = self._ends(channel)
        a, b = made.node(collector, "output"), made.node(emitter, "return")
        vector = [item.nominal for item in made.ranges(self.setting)]
        try:
            closed = n.Resistor(OUTPUT, a, b, 1.0)
            point = solve(made.network(vector, 25.0, [closed, *self._leaks(made, channel)]), 25.0)
        except n.Unlimited:
            return False
        except n.NotSolvable:
            return False
        return abs(point.current(OUTPUT)) > 1e-9

    def _ends(self, channel: Channel) -> tuple[int, int]:
        """The nets between which the output conducts: collector and emitter, or output and ground."""
        pins = channel.pins
        if "collector" in pins and "emitter" in pins:
            return pins["collector"], pins["emitter"]
        if "output" in pins and "ground" in pins:
            return pins["output"], pins["ground"]
        raise Lacking("its record does not say between which pins its output conducts")

    def _assembled(self, channel: Channel) -> Assembly:
        if not channel.load.complete:
            raise Lacking("its load network is too large to be followed")
        made = self.assembler.assemble(channel.load, {})
        for net in self._ends(channel):
            # The walk starts at the output pins; a ground pin may stand on a net that it never met.
            held = self.lookup.walker.held(net)
            if held is not None and net not in made.nets:
                self.assembler.hold(made, held, {})
        for held in channel.load.boundary:
            facts = self.lookup.input(held.net) if held.kind == "input" else None
            if facts is not None and facts.pull_up is not None:
                self._pull_up(made, held.net, facts)
        return made

    def _pull_up(self, made: Assembly, net: int, facts: InputFacts) -> None:
        name = self.circuit.net_name(net)
        if facts.supply is None or facts.pull_up is None:
            text = f"input {name} has a pull-up, but its supply is not stated"
            raise Lacking(text, [self.lookup.missing(f'inputs."{name}".supply', f'[inputs."{name}"]\nsupply = "V3V3"')])
        supply = made.term(self.lookup.supply_named(facts.supply.value))
        ends = facts.pull_up.value
        pull = stated(f'inputs."{name}".pull_up', f"pull-up of input {name}", "ohm", ends.low, (ends.low + ends.high) / 2, ends.high, origin(facts.pull_up))
        index = made.term(pull)
        node = made.node(net, name)
        inner = len(made.nodes)
        made.nodes.append(f"supply of input {name}")
        made.makers.append(lambda vector, temperature: n.VoltageSource(f"supply of input {name}", inner, 0, vector[supply]))
        made.makers.append(lambda vector, temperature: n.Resistor(f"pull-up of input {name}", inner, node, vector[index]))

    # -- receivers --------------------------------------------------------------------------------------------

    def receivers(self, channel: Channel) -> list[Receiver]:
        """Everything that reads the output; `Lacking` when a part on it is not explained or nothing is known."""
        found: list[Receiver] = []
        for held in channel.load.boundary:
            if held.kind == "input":
                found.append(self._logic_input(channel, held.net))
            elif held.kind == "part" and held.element not in self.recognition.parts and len(self.circuit.pins(held.element)) > 1:
                name = self.circuit.net_name(held.net)
                text = f"net {name} goes to {self.circuit.path(held.element)}, and nobody says what reads it there"
                raise Lacking(text, [self._input_fact(name)])
        inner = set(channel.load.inner)
        for element in channel.load.elements:
            letter = self.circuit.letter(element)
            if element in self.recognition.parts or letter not in "QM":
                continue
            control = self.circuit.pins(element)[1]
            if control in inner:
                found.append(self._transistor(channel, element, "bjt" if letter == "Q" else "mos", control))
        for element, _ in channel.load.branches:
            part = self.recognition.parts[element]
            # A coil behind a transistor is that transistor's load, not the coupler's.
            if part.type == "relay" and not any(receiver.kind == "bjt" or receiver.kind == "mos" for receiver in found):
                found.append(self._coil(element))
        if not found:
            nets = [net for role, net in channel.pins.items() if role in ("collector", "emitter", "output") and net in inner]
            name = self.circuit.net_name(nets[0]) if nets else "its output"
            raise Lacking(f"nobody says what reads net {name}", [self._input_fact(name)])
        return found

    def _input_fact(self, name: str):  # type: ignore[no-untyped-def]
        example = f'[inputs."{name}"]\nsupply = "V3V3"\nlow_max = "0.8 V"\nhigh_min = "2.0 V"'
        return self.lookup.missing(f'inputs."{name}".low_max', example)

    def _logic_input(self, channel: Channel, net: int) -> Receiver:
        name = self.circuit.net_name(net)
        facts = self.lookup.input(net)
        assert facts is not None
        inverted = self._falls(channel, net)
        fact, key = (facts.low_max, "low_max") if inverted else (facts.high_min, "high_min")
        if fact is None:
            example = f'[inputs."{name}"]\n{key} = "{"0.8 V" if inverted else "2.0 V"}"'
            raise Lacking(f"the {'low' if inverted else 'high'} level that input {name} needs is not stated", [self.lookup.missing(f'inputs."{name}".{key}', example)])
        return Receiver("input", net, -1, inverted, fact.value, f"input {name} {'low' if inverted else 'high'}")

    def _transistor(self, channel: Channel, element: int, kind: ReceiverKind, net: int) -> Receiver:
        path = self.circuit.path(element)
        device = self._device(element)
        low, high = self._voltage_pair(channel, net)
        polarity = device.polarity if isinstance(device, Bipolar | Mos) else 1
        turns_off = (high - low) * polarity < 0.0
        if kind == "bjt":
            return Receiver(kind, net, element, turns_off, BASE_OFF_VOLTS if turns_off else 0.0, f"transistor {path} {'off' if turns_off else 'on'}")
        if not isinstance(device, Mos):
            raise Lacking(f"the model of {path} can't be solved here")
        fact = self.lookup.facts.element(path).gate_full_on
        on = abs(device.VTO) + 1.0 if fact is None else fact.value
        return Receiver(kind, net, element, turns_off, abs(device.VTO) / 2 if turns_off else on, f"gate of {path} {'off' if turns_off else 'on'}")

    def _coil(self, element: int) -> Receiver:
        part = self.recognition.parts[element]
        coil = None if part.record is None else part.record.coil
        if coil is None or coil.pull_in is None or coil.resistance is None:
            raise Lacking(f"the pull-in voltage of relay {part.path} is not known")
        return Receiver("coil", -1, element, False, coil.pull_in / coil.resistance, f"coil of {part.path} pulled in")

    def _device(self, element: int) -> object:
        model = self.circuit.model(element)
        tail = {key: value for key, value in self.circuit.tail(element).items() if isinstance(value, float)}
        return from_model(self.circuit.letter(element), None if model is None else model.type, self.circuit.model_parameters(element), tail)

    def _falls(self, channel: Channel, net: int) -> bool:
        """Whether the voltage of a net falls when the output conducts."""
        without, with_current = self._voltage_pair(channel, net)
        if abs(with_current - without) < 1e-12:
            raise Lacking(f"the output does not move net {self.circuit.net_name(net)}", blocked_by="load-missing")
        return with_current < without

    def _voltage_pair(self, channel: Channel, net: int) -> tuple[float, float]:
        """Nominal voltage of a net with the output off and with 10 uA through it."""
        made = self._assembled(channel)
        vector = [item.nominal for item in made.ranges(self.setting)]
        values = [self._solved(made, channel, vector, 25.0, amps, ()).voltage(made.nets[net]) for amps in (0.0, 10e-6)]
        return values[0], values[1]

    def _solved(self, made: Assembly, channel: Channel, vector: Sequence[float], temperature: float, amps: float, extra: Sequence[n.Branch]) -> Point:
        collector, emitter = self._ends(channel)
        a, b = made.node(collector, "collector"), made.node(emitter, "emitter")
        source = n.CurrentSource(OUTPUT, a, b, amps)
        try:
            return solve(made.network(vector, temperature, [*extra, source, *self._leaks(made, channel)]), temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None

    def _leaks(self, made: Assembly, channel: Channel) -> list[n.Resistor]:
        """A gate, an open base or a cut-off output would float: leakage far below every current that is judged."""
        loose = [held.net for held in channel.load.boundary if held.kind == "loose"]
        nodes = dict.fromkeys(made.nets[net] for net in (*self._ends(channel), *loose))
        return [n.Resistor(f"{LEAKAGE} {made.nodes[node]}", node, 0, 1e12) for node in nodes if node]

    # -- required current -------------------------------------------------------------------------------------

    def analyse(self, channel: Channel) -> Load:
        """The largest current that any receiver asks for, with the output voltage left."""
        loads = [self._for(channel, receiver) for receiver in self.receivers(channel)]
        return max(loads, key=lambda load: load.required.high.value)

    def _for(self, channel: Channel, receiver: Receiver) -> Load:
        made = self._assembled(channel)
        currents = self._input_currents(made, channel, receiver)
        goal = self._goal(made, receiver)
        collector, emitter = self._ends(channel)

        def evaluate(vector: Sequence[float], temperature: float) -> list[float]:
            point, amps = self._reach(made, channel, vector, temperature, goal, currents)
            return [amps, point.voltage(made.nets[collector]) - point.voltage(made.nets[emitter])]

        nominal_at = self.lookup.ambient().nominal
        middle = evaluate([item.nominal for item in made.ranges(self.setting)], nominal_at)
        ends = [(t, extremes(made.ranges(self.setting), lambda vector, t=t: evaluate(vector, t))) for t in self.temperatures]  # type: ignore[misc]
        rows = tuple(LoadRow(t, _bound(t, e[0], True), _bound(t, e[1], False)) for t, e in ends)
        required = Quantity(middle[0], min((_bound(t, e[0], False) for t, e in ends), key=lambda b: b.value), max((row.required for row in rows), key=lambda b: b.value))
        voltage = Quantity(middle[1], min((row.voltage for row in rows), key=lambda b: b.value), max((_bound(t, e[1], True) for t, e in ends), key=lambda b: b.value))
        return Load(receiver, required, voltage, rows, unique([*made.terms, self.lookup.ambient()]), made)

    def at(self, channel: Channel, load: Load, bound: Bound) -> tuple[n.Network, Point]:
        """The solved load network at one corner, the output's current in it as branch `OUTPUT`."""
        from isolint.worstcase.drive import vector_of

        made = self._assembled(channel)
        currents = self._input_currents(made, channel, load.receiver)
        goal = self._goal(made, load.receiver)
        vector = vector_of(made, bound.at)
        _, amps = self._reach(made, channel, vector, bound.temperature, goal, currents)
        trimmed = made if not goal.replaces else _without(made, goal.replaces)
        collector, emitter = self._ends(channel)
        a, b = trimmed.node(collector, "collector"), trimmed.node(emitter, "emitter")
        extra = [*currents(vector), *goal.extra, n.CurrentSource(OUTPUT, a, b, amps)]
        network = trimmed.network(vector, bound.temperature, [*extra, *self._leaks(trimmed, channel)])
        return network, solve(network, bound.temperature)

    def _input_currents(self, made: Assembly, channel: Channel, receiver: Receiver) -> Callable[[Sequence[float]], list[n.Branch]]:
        """Currents of all stated inputs on the load: out of them when the receiver's level is low, into them when high."""
        entries: list[tuple[int, int, str]] = []
        for held in channel.load.boundary:
            if held.kind != "input":
                continue
            name = self.circuit.net_name(held.net)
            facts = self.lookup.input(held.net)
            key = "low_current" if receiver.inverted else "high_current"
            fact = None if facts is None else (facts.low_current if receiver.inverted else facts.high_current)
            title = f"{'low' if receiver.inverted else 'high'} current of input {name}"
            if fact is not None:
                term = stated(f'inputs."{name}".{key}', title, "A", fact.value, fact.value, fact.value, origin(fact))
            else:
                example = f'[inputs."{name}"]\n{key} = "1 uA"'
                term = Term(f'inputs."{name}".{key}', title, "A", 0.0, 0.0, INPUT_CURRENT_DEFAULT, 0.0, 0.0, False, "default 0 to 10 uA (from memory)", example)
            entries.append((made.term(term), made.node(held.net, name), title))

        def branches(vector: Sequence[float]) -> list[n.Branch]:
            ends = [(0, node) if receiver.inverted else (node, 0) for _, node, _ in entries]
            return [n.CurrentSource(title, a, b, vector[index]) for (index, _, title), (a, b) in zip(entries, ends, strict=True)]

        return branches

    def _goal(self, made: Assembly, receiver: Receiver) -> Goal:
        if receiver.kind == "coil":
            name = self.recognition.parts[receiver.element].path
            return Goal(lambda point, vector: abs(point.current(name)) - receiver.level)
        if receiver.kind == "input":
            node = made.nets[receiver.net]
            return Goal(lambda point, vector: (receiver.level - point.voltage(node)) * (1.0 if receiver.inverted else -1.0))
        path = self.circuit.path(receiver.element)
        pins = [made.nets[net] for net in self.circuit.pins(receiver.element)[:3]]
        device = self._device(receiver.element)
        if receiver.kind == "mos" and isinstance(device, Mos):
            sign = device.polarity * (-1.0 if receiver.inverted else 1.0)
            level = receiver.level * (-1.0 if receiver.inverted else 1.0)
            return Goal(lambda point, vector: sign * (point.voltage(pins[1]) - point.voltage(pins[2])) - level)
        if not isinstance(device, Bipolar):
            raise Lacking(f"the model of {path} can't be solved here")
        junction = Diode(IS=device.IS / device.BF, N=device.NF)
        ends = (pins[1], pins[2]) if device.polarity > 0 else (pins[2], pins[1])
        base = n.DiodeBranch(f"base of {path}", ends[0], ends[1], junction)
        if receiver.inverted:
            return Goal(lambda point, vector: receiver.level - abs(point.voltage(pins[1]) - point.voltage(pins[2])), path, (base,))
        closed = n.Resistor(f"{path} closed", pins[0], pins[2], 1e-3)
        gain = made.term(self.assembler.gain(receiver.element, device))
        nominal = device.BF
        return Goal(
            lambda point, vector: point.current(base.name) - abs(point.current(closed.name)) / (nominal * vector[gain]), path, (base, closed)
        )

    def _reach(
        self, made: Assembly, channel: Channel, vector: Sequence[float], temperature: float, goal: Goal, currents: Callable[[Sequence[float]], list[n.Branch]]
    ) -> tuple[Point, float]:
        """The smallest output current at which the goal is met, with the operating point there."""
        trimmed = made if not goal.replaces else _without(made, goal.replaces)
        extra = [*currents(vector), *goal.extra]

        def gap(amps: float) -> tuple[Point, float]:
            point = self._solved(trimmed, channel, vector, temperature, amps, extra)
            return point, goal.excess(point, vector)

        point, low_gap = gap(0.0)
        if low_gap >= 0.0:
            return point, 0.0
        low, high = 0.0, 1e-4
        point, high_gap = gap(high)
        while high_gap < 0.0:
            # In a linear network the straight line through two points already meets the goal.
            guess = _line(low, low_gap, high, high_gap)
            low, low_gap = high, high_gap
            high = min(max(guess * (1.0 + 1e-9), 1.01 * high), 64.0 * high) if guess > high else 4.0 * high
            if high > MOST_AMPS:
                raise Lacking("no output current brings what reads it to its level")
            point, high_gap = gap(high)
        for _ in range(60):
            if high - low <= 1e-9 * high or high_gap <= 1e-12:
                break
            middle = _line(low, low_gap, high, high_gap)
            middle = min(max(middle, low + 1e-3 * (high - low)), high - 1e-3 * (high - low))
            middle_point, middle_gap = gap(middle)
            if abs(middle_gap) < 1e-12:
                return middle_point, middle
            if middle_gap < 0.0:
                low, low_gap = middle, middle_gap
            else:
                high, high_gap, point = middle, middle_gap, middle_point
        return point, high

    # -- logic outputs ----------------------------------------------------------------------------------------

    def sink_current(self, channel: Channel, volts: float) -> tuple[Quantity, tuple[Term, ...]]:
        """Current into a logic output that holds its net at `volts`, amperes, with the terms used."""
        receiver = Receiver("input", channel.pins["output"], -1, True, volts, "output low")
        load = self._for(channel, receiver)
        return load.required, load.terms


@dataclass(frozen=True, slots=True)
class Goal:
    """What a receiver asks for: `excess` is zero or more when it is met. Branch `replaces` gives way to `extra`."""

    excess: Callable[[Point, Sequence[float]], float]
    replaces: str = ""
    extra: tuple[n.Branch, ...] = ()


def _without(made: Assembly, name: str) -> Assembly:
    """The same assembly without one branch."""
    makers = [_dropping(maker, name) for maker in made.makers]
    return Assembly(made.nodes, made.nets, made.terms, makers, made.outputs, made.branch_of, made.bipolars, made.mosfets)


def _dropping(maker: Callable[[Sequence[float], float], n.Branch | None], name: str) -> Callable[[Sequence[float], float], n.Branch | None]:
    def made(vector: Sequence[float], temperature: float) -> n.Branch | None:
        branch = maker(vector, temperature)
        return None if branch is not None and branch.name == name else branch

    return made


def _line(x0: float, y0: float, x1: float, y1: float) -> float:
    """Where the straight line through two points crosses zero."""
    return x1 if y1 == y0 else x0 - y0 * (x1 - x0) / (y1 - y0)


def _bound(temperature: float, extreme: Extreme, high: bool) -> Bound:
    if high:
        return Bound(extreme.high, extreme.high_corner, temperature)
    return Bound(extreme.low, extreme.low_corner, temperature)
