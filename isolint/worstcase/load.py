"""The load of one channel: what its output must carry so that whatever reads it sees a valid level.

In: a channel, terms, a setting. Out: a `Load` with the required output current and the output voltage left at it, per
temperature. The coupler's output is taken out and replaced by a current that is turned up until the receiver's level
is reached.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from isolint.facts import InputFacts
from isolint.interfaces.beside import ends_of
from isolint.interfaces.entities import Channel, Pair, Part, Recognition
from isolint.units import show
from isolint.worstcase import network as n
from isolint.worstcase.devices import from_model
from isolint.worstcase.each_temperature import extremes_at_each
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Assembler, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, Quantity, over_temperature, steady
from isolint.worstcase.readings import Reading, readings
from isolint.worstcase.receiver_goals import Goal, Reached, goal_of, turn_up
from isolint.worstcase.receivers import Receiver
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique
from isolint.worstcase.watch import Sources

OUTPUT = "coupler output"
LEAKAGE = "leakage of"
PROBES = (10e-6, 100e-6, 1e-3, 10e-3)
"""Output currents by which the way is found in which an output moves what reads it: what a resistor at a base or to a
negative supply takes all the time must be exceeded before a transistor behind it turns on."""

MOVED_VOLTS = 5e-3

ABOVE_RANGE = 1.0
"""Volts above its control range to which a source inside a pin is taken to pull it, where nobody states its supply."""

STEEP = 1e-4
"""The part of its current within which a source inside a pin gives way at its supply."""


class LoadRow(NamedTuple):
    """Required output current and the output voltage left at it, at one temperature."""

    temperature: float
    required: Bound
    voltage: Bound


class Load(NamedTuple):
    """What the output of a channel must do, in one setting. Currents in amperes, voltages in volts.

    standing: the channel with those outputs beside it that conduct meanwhile.
    """

    receiver: Receiver
    required: Quantity
    voltage: Quantity
    rows: tuple[LoadRow, ...]
    terms: tuple[Term, ...]
    assembly: Assembly
    standing: Channel


class Beside(NamedTuple):
    """What is known of couplers beside a channel.

    always_on: whether an output always conducts while the channel's LED is driven. asked: what the LED of a part asks
    for to be lit, or to be off, as `next_led`. judged: whether the channel of that LED knows the output that moves it.
    in_series, off_with: outputs in series with a channel's own that have resistors across, and those of them that are
    off whenever it is.
    """

    always_on: Callable[[Channel, Pair], bool]
    asked: Callable[[Channel, Part, bool], tuple[float, bool]]
    judged: Callable[[Channel, Part], bool]
    in_series: Callable[[Channel], Sequence[Pair]]
    off_with: Callable[[Channel], Sequence[Pair]]


class LoadAnalyser:
    """Analyses load networks of one netlist in one setting."""

    def __init__(
        self,
        lookup: Lookup,
        assembler: Assembler,
        recognition: Recognition,
        setting: Setting,
        temperatures: tuple[float, ...],
        beside: Beside,
    ) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.assembler = assembler
        self.recognition = recognition
        self.setting = setting
        self.temperatures = temperatures
        self._voltages: dict[tuple[str, tuple[Pair, ...], int], tuple[tuple[float, float], Sources]] = {}
        self._readings: dict[str, tuple[list[Reading], Sources]] = {}
        self.solver = assembler.solver
        self.beside = beside

    # -- is there a load --------------------------------------------------------------------------------------

    def fed(self, channel: Channel) -> bool:
        """Whether direct current flows through the output when it conducts: something feeds it, something takes it."""
        alternating = [
            held.net
            for held in channel.load.boundary
            if held.kind in ("supply", "line") and self.lookup.is_alternating(held.net)
        ]
        steady = tuple(held for held in channel.load.boundary if held.net not in alternating)
        quiet = channel._replace(load=channel.load._replace(boundary=steady))
        made = self.assembled(quiet, skip=frozenset(alternating))
        collector, emitter = self.ends(channel)
        a, b = made.node(collector, "output"), made.node(emitter, "return")
        vector = made.nominal(self.setting)
        for sign in (1.0, -1.0) if alternating else (1.0,):
            held = [
                (self.lookup.source_name(net), made.node(net, "AC"), sign * self.lookup.peak(net).nominal)
                for net in alternating
            ]
            peaks = [n.VoltageSource(name, node, 0, volts) for name, node, volts in held]
            closed = n.Resistor(OUTPUT, a, b, 1.0)
            try:
                point = self.solver.solve(
                    made.network(vector, 25.0, [closed, *peaks, *self.leaks(made, channel)]), 25.0
                )
            except n.NotSolvable:
                continue
            if abs(point.current(OUTPUT)) > 1e-9:
                return True
        return False

    def ends(self, channel: Channel) -> tuple[int, int]:
        """The nets between which the output conducts: collector and emitter, or output and ground."""
        ends = ends_of(channel)
        if ends is None:
            raise Lacking("its record does not say between which pins its output conducts")
        return ends

    def assembled(self, channel: Channel, state: State | None = None, skip: frozenset[int] = frozenset()) -> Assembly:
        """The load network without the output itself, its inputs in `state` (low and off where it says nothing).

        skip: held nets that the caller holds itself.
        """
        if not channel.load.complete:
            raise Lacking("its load network is too large to be followed")
        made = self.assembler.assemble(channel.load, state or {})
        for net in self.ends(channel):
            # The walk starts at the output pins; a ground pin may stand on a net that it never met.
            held = self.lookup.walker.held(net)
            if held is not None and net not in made.nets and net not in skip:
                self.assembler.hold(made, held, state or {})
        for held in channel.load.boundary:
            facts = self.lookup.input(held.net) if held.kind == "input" else None
            if facts is not None and facts.pull_up is not None:
                self._pull_up(made, held.net, facts)
            if facts is not None and facts.source_current is not None:
                self._source(made, held.net, facts)
        return made

    def _source(self, made: Assembly, net: int, facts: InputFacts) -> None:
        """A current source inside a controller's pin, up to its supply; where nobody states that, above its range."""
        name = self.circuit.net_name(net)
        index = made.term(self.lookup.term(InputFacts.source_current, name))
        node, source = made.node(net, name), f"source of input {name}"
        supply = None if facts.supply is None else made.term(self.lookup.supply_named(facts.supply.value))
        top = ABOVE_RANGE + (0.0 if facts.control_range is None else facts.control_range.value.high)

        def branch(vector: Sequence[float], temperature: float) -> n.Branch:
            volts, amps = top if supply is None else vector[supply], vector[index]
            return n.Port(
                source, node, 0, ((-1.0, volts + 1.0), (amps * (1.0 - STEEP) - STEEP * 1e-6, volts), (amps, 0.0))
            )

        made.add(source, branch, *([index] if supply is None else [index, supply]))

    def _pull_up(self, made: Assembly, net: int, facts: InputFacts) -> None:
        name = self.circuit.net_name(net)
        if facts.supply is None or facts.pull_up is None:
            text = f"input {name} has a pull-up, but its supply is not stated"
            raise Lacking(text, [self.lookup.missing(InputFacts.supply, name)])
        supply = made.term(self.lookup.supply_named(facts.supply.value))
        pull = self.lookup.term(InputFacts.pull_up, name)
        index = made.term(pull)
        node = made.node(net, name)
        inner = len(made.nodes)
        made.nodes.append(f"supply of input {name}")
        feed, resistor = f"supply of input {name}", f"pull-up of input {name}"
        made.add(feed, lambda vector, temperature: n.VoltageSource(feed, inner, 0, vector[supply]), supply)
        made.add(resistor, lambda vector, temperature: n.Resistor(resistor, inner, node, vector[index]), index)

    # -- receivers --------------------------------------------------------------------------------------------

    def receivers(self, channel: Channel) -> list[Receiver]:
        """Everything that reads the output; `Lacking` when a part on it is not explained or nothing is known."""
        return list(dict.fromkeys(receiver for _, receiver in self.readings(channel)))

    def readings(self, channel: Channel) -> list[Reading]:
        """What reads the output, each with the channel as it stands then: which outputs beside it conduct."""
        return self.lookup.watch.kept(self._readings, channel.subject, lambda: list(readings(self, channel)))

    def device(self, element: int) -> object:
        """The device that a Q or M card describes, None where no equation here does."""
        model = self.circuit.model(element)
        tail = {key: value for key, value in self.circuit.tail(element).items() if isinstance(value, float)}
        return from_model(
            self.circuit.letter(element),
            None if model is None else model.type,
            self.circuit.model_parameters(element),
            tail,
        )

    def voltage_pair(self, channel: Channel, net: int) -> tuple[float, float]:
        """Nominal voltage of a net with the output off, and with the first of `PROBES` through it that moves it."""
        key = (channel.subject, channel.load.pairs, net)
        return self.lookup.watch.kept(self._voltages, key, lambda: self._voltage_pair(channel, net))

    def _voltage_pair(self, channel: Channel, net: int) -> tuple[float, float]:
        made = self.assembled(channel)
        vector = made.nominal(self.setting)

        def volts(amps: float) -> float:
            return self.solved(made, channel, vector, 25.0, amps, ()).voltage(made.nets[net])

        off = volts(0.0)
        moved = volts(PROBES[0])
        for amps in PROBES[1:]:
            if abs(moved - off) >= MOVED_VOLTS:
                break
            try:
                other = volts(amps)
            except Lacking:
                # More than the load can carry says nothing.
                break
            moved = other if abs(other - off) > abs(moved - off) else moved
        return off, moved

    def solved(
        self,
        made: Assembly,
        channel: Channel,
        vector: Sequence[float],
        temperature: float,
        amps: float,
        extra: Sequence[n.Branch],
    ) -> Point:
        collector, emitter = self.ends(channel)
        a, b = made.node(collector, "collector"), made.node(emitter, "emitter")
        source = n.CurrentSource(OUTPUT, a, b, amps)
        try:
            network = made.network(vector, temperature, [*extra, source, *self.leaks(made, channel)])
            return self.solver.solve(network, temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None

    def leaks(self, made: Assembly, channel: Channel) -> list[n.Resistor]:
        """A gate, an open base or a cut-off output would float: leakage far below every current that is judged."""
        loose = [held.net for held in channel.load.boundary if held.kind == "loose"]
        between = [
            self.circuit.pins(pair.element)[pin] for pair in channel.load.pairs for pin in (pair.first, pair.last)
        ]
        nodes = dict.fromkeys(made.nets[net] for net in (*self.ends(channel), *loose, *between))
        return [n.Resistor(f"{LEAKAGE} {made.nodes[node]}", node, 0, 1e12) for node in nodes if node]

    # -- required current -------------------------------------------------------------------------------------

    def analyse(self, channel: Channel) -> Load:
        """The largest current that any receiver asks for, with the output voltage left."""
        try:
            loads = [self._for(standing, receiver) for standing, receiver in self.readings(channel)]
        except Lacking:
            if self.fed(channel):
                raise
            raise Lacking("its output has no load", blocked_by="load") from None
        return max(loads, key=lambda load: steady(load.required.high.value))

    def _for(self, channel: Channel, receiver: Receiver) -> Load:
        made = self.assembled(channel)
        currents = self.input_currents(made, channel, receiver)
        goal = goal_of(self.lookup, self.assembler, self.recognition, made, receiver)
        collector, emitter = self.ends(channel)
        own_end = self._reads_own_end(channel, receiver)
        near: list[Reached] = []

        def evaluate(vector: Sequence[float], temperature: float) -> list[float]:
            held = self._held(made, channel, vector, temperature, receiver, currents) if own_end else None
            if held is None:
                reached = self._reach(made, channel, vector, temperature, goal, currents, near)
                near[:1] = [reached]
                held = reached.point, reached.amps
            point, amps = held
            return [amps, point.voltage(made.nets[collector]) - point.voltage(made.nets[emitter])]

        nominal_at = self.lookup.ambient().nominal
        middle = evaluate(made.nominal(self.setting), nominal_at)
        over = temperatures(self.lookup, channel.part, self.setting)
        found = extremes_at_each(self.solver, made, self.setting, over, evaluate)
        required, voltage = (over_temperature(index, middle[index], found) for index in (0, 1))
        rows = tuple(
            LoadRow(t, Bound(need.high, need.high_corner, t), Bound(left.low, left.low_corner, t))
            for t, (need, left) in found
        )
        return Load(
            receiver,
            required,
            voltage,
            rows,
            unique([*made.terms, *receiver.terms, self.lookup.ambient()]),
            made,
            channel,
        )

    def at(self, channel: Channel, load: Load, bound: Bound) -> tuple[n.BranchNetwork, Point]:
        """The solved load network at one corner, the output's current in it as branch `OUTPUT`."""
        from isolint.worstcase.drive import vector_of

        channel = load.standing
        made = self.assembled(channel)
        currents = self.input_currents(made, channel, load.receiver)
        goal = goal_of(self.lookup, self.assembler, self.recognition, made, load.receiver)
        vector = vector_of(made, bound.at)
        amps = self._reach(made, channel, vector, bound.temperature, goal, currents, []).amps
        trimmed = made if not goal.replaces else made.without(goal.replaces)
        collector, emitter = self.ends(channel)
        a, b = trimmed.node(collector, "collector"), trimmed.node(emitter, "emitter")
        extra = [*currents(vector), *goal.extra, n.CurrentSource(OUTPUT, a, b, amps)]
        network = trimmed.network(vector, bound.temperature, [*extra, *self.leaks(trimmed, channel)])
        return network, solve(network, bound.temperature)

    def input_currents(
        self, made: Assembly, channel: Channel, receiver: Receiver
    ) -> Callable[[Sequence[float]], list[n.Branch]]:
        """Currents of the stated inputs: out of them at a low level of the receiver, into them at a high one."""
        entries: list[tuple[int, int, str]] = []
        for held in channel.load.boundary:
            if held.kind != "input":
                continue
            name = self.circuit.net_name(held.net)
            row = InputFacts.low_current if receiver.inverted else InputFacts.high_current
            facts = self.lookup.input(held.net)
            if facts is not None and facts.control_range is not None and self.lookup.facts.of(row, name) is None:
                # What a controller's pin gives is its pull-up or source, which is stated by itself.
                continue
            term = self.lookup.term(row, name)
            title = term.name
            entries.append((made.term(term), made.node(held.net, name), title))

        def branches(vector: Sequence[float]) -> list[n.Branch]:
            ends = [(0, node) if receiver.inverted else (node, 0) for _, node, _ in entries]
            return [
                n.CurrentSource(title, a, b, vector[index])
                for (index, _, title), (a, b) in zip(entries, ends, strict=True)
            ]

        return branches

    def _reads_own_end(self, channel: Channel, receiver: Receiver) -> bool:
        """Whether a logic input reads the moving end of the output while its other end is held."""
        collector, emitter = self.ends(channel)
        own, other = (collector, emitter) if receiver.inverted else (emitter, collector)
        return receiver.kind == "input" and receiver.net == own != other and self.lookup.walker.held(other) is not None

    def _held(
        self,
        made: Assembly,
        channel: Channel,
        vector: Sequence[float],
        temperature: float,
        receiver: Receiver,
        currents: Callable[[Sequence[float]], list[n.Branch]],
    ) -> tuple[Point, float] | None:
        """The point with the output's net held at the level, and the current that takes; None where it takes none."""
        source = n.VoltageSource(OUTPUT, made.nets[receiver.net], 0, receiver.level)
        branches = [*currents(vector), source, *self.leaks(made, channel)]
        try:
            point = self.solver.solve(made.network(vector, temperature, branches), temperature)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None
        amps = point.current(OUTPUT) * (-1.0 if receiver.inverted else 1.0)
        return (point, amps) if amps > 0.0 else None

    def _reach(
        self,
        made: Assembly,
        channel: Channel,
        vector: Sequence[float],
        temperature: float,
        goal: Goal,
        currents: Callable[[Sequence[float]], list[n.Branch]],
        near: Sequence[Reached],
    ) -> Reached:
        """The smallest output current at which the goal is met, with the operating point there.

        near: what was reached with other values, or nothing.
        """
        trimmed = made if not goal.replaces else made.without(goal.replaces)
        extra = [*currents(vector), *goal.extra]

        def gap(amps: float) -> tuple[Point, float]:
            point = self.solved(trimmed, channel, vector, temperature, amps, extra)
            return point, goal.excess(point, vector)

        return turn_up(gap, near[0] if near else None)

    # -- controllers ------------------------------------------------------------------------------------------------

    def holding(self, channel: Channel, net: int, volts: float) -> Load:
        """The load of an output that holds the pin of a controller at `volts`; raises `Lacking`."""
        off, moved = self.voltage_pair(channel, net)
        if abs(moved - off) < 1e-6:
            raise Lacking(f"the output does not move net {self.circuit.net_name(net)}", blocked_by="load")
        words = f"input {self.circuit.net_name(net)} at {show(volts, 'V')}"
        return self._for(channel, Receiver("input", net, -1, moved < off, volts, words))

    def standing_at(self, channel: Channel, net: int, amps: Callable[[float], float]) -> list[tuple[Bound, Bound]]:
        """Lowest and highest volts of a net at each temperature, while the output passes so many amperes there."""
        made = self.assembled(channel)
        node = made.node(net, self.circuit.net_name(net))
        currents = self.input_currents(made, channel, Receiver("input", net, -1, False, 0.0, ""))

        def evaluate(temperature: float, vector: Sequence[float]) -> list[float]:
            point = self.solved(made, channel, vector, temperature, amps(temperature), currents(vector))
            return [point.voltage(node)]

        found: list[tuple[Bound, Bound]] = []
        for t in temperatures(self.lookup, channel.part, self.setting):
            (ends,) = solved_extremes(self.solver, made.ranges(self.setting, t), partial(evaluate, t))
            found.append((Bound(ends.low, ends.low_corner, t), Bound(ends.high, ends.high_corner, t)))
        return found

    # -- logic outputs ----------------------------------------------------------------------------------------

    def sink(self, channel: Channel, volts: float) -> Load:
        """The load of a logic output that holds its net at `volts`."""
        return self._for(channel, Receiver("input", channel.pins["output"], -1, True, volts, "output low"))
