"""All states of a drive network: LED current and voltage, port currents and free pins of each, at worst case.

In: a channel, terms, a setting. Out: one `StateRun` a combination of input levels, the on state marked. Outputs in
high impedance and open lines leak here, up to what their own supply can push.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import product
from typing import NamedTuple

from isolint.facts import OutputFacts
from isolint.interfaces.entities import Channel, Pair
from isolint.results import MissingFact
from isolint.worstcase import network as n
from isolint.worstcase.companions import pair_key, pair_words
from isolint.worstcase.devices import Diode
from isolint.worstcase.drive import DriveAnalyser, hold_floating, led_name
from isolint.worstcase.leakage import LeakAnalyser
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, highest, lowest
from isolint.worstcase.solve import Point
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated, unique

CLAMP = Diode()
"""Ends a leakage where its source has no voltage left."""

MOST_RUNS = 729
CREST = 2.0**0.5
"""The crest of a sine over its rms value."""

PEAKS = ("positive", "negative")
_LEAKING: Mapping[Level, Level] = {"off": "leaking", "off back": "leaking back"}


class Span(NamedTuple):
    """Both ends of a quantity at one temperature, SI units."""

    low: Bound
    high: Bound


class StateRow(NamedTuple):
    """One state at one temperature: LED current and forward voltage.

    Current out of each port, voltage of each free pin; none where it was asked for the LED alone.
    """

    temperature: float
    current: Span
    voltage: Span
    ports: Mapping[str, Span]
    pins: Mapping[int, Span]


class StateRun(NamedTuple):
    """One combination of input levels. is_on: it is the on state, or the same at the other peak of an AC supply.

    high: of each port whether it is high. nets: the net of each port. Amperes, volts against the reference.
    """

    state: State
    words: str
    is_on: bool
    rows: tuple[StateRow, ...]
    high: Mapping[str, bool]
    nets: Mapping[str, int]
    terms: tuple[Term, ...]

    @property
    def most_current(self) -> Bound:
        """The largest LED current over temperature."""
        return highest(row.current.high for row in self.rows)

    @property
    def least_current(self) -> Bound:
        """The smallest LED current over temperature."""
        return lowest(row.current.low for row in self.rows)

    @property
    def most_voltage(self) -> Bound:
        """The largest forward voltage of the LED over temperature."""
        return highest(row.voltage.high for row in self.rows)

    @property
    def least_voltage(self) -> Bound:
        """The smallest (most negative) forward voltage of the LED over temperature."""
        return lowest(row.voltage.low for row in self.rows)

    def port(self, name: str) -> tuple[Bound, Bound]:
        """Smallest and largest current out of a port over temperature."""
        spans = [row.ports[name] for row in self.rows]
        return lowest(s.low for s in spans), highest(s.high for s in spans)

    def pin(self, net: int) -> Bound:
        """Highest voltage of a free pin over temperature."""
        return highest(row.pins[net].high for row in self.rows)


class StateAnalyser:
    """Goes through the states of the drive networks of one netlist in one setting."""

    def __init__(self, lookup: Lookup, drives: DriveAnalyser, setting: Setting) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.drives = drives
        self.setting = setting

    # -- which states -----------------------------------------------------------------------------------------

    def switches(self, channel: Channel) -> bool:
        """Whether anything in the drive network switches; the two peaks of an AC supply alone do not."""
        return any(levels[0] not in PEAKS for _, levels in self.drives.inputs(channel))

    def every(self, channel: Channel) -> list[State]:
        """All states; a line that is off stands at its stated voltage or, where it leaks, is fed by its leakage."""
        found: list[State] = []
        for state in self.drives.states(channel):
            leaking = [
                net for net, level in state.items() if level in _LEAKING and net >= 0 and self._leakage(net) is not None
            ]
            for chosen in product((False, True), repeat=len(leaking)):
                levels: dict[int, Level] = dict(state)
                levels.update({net: _LEAKING[state[net]] for net, leaks in zip(leaking, chosen, strict=True) if leaks})
                found.append(levels)
        if len(found) > MOST_RUNS:
            raise Lacking(f"its drive network has {len(found)} states, more than {MOST_RUNS} are not judged")
        return found

    def runs(self, channel: Channel, led_alone: bool = False) -> tuple[StateRun, ...]:
        """Every state at worst case but the on state, which the drive itself knows.

        With several ports that one too, first. led_alone: without what ports and free pins carry and see.
        """
        on = self.drives.on_state(channel)
        states = self.every(channel)
        ports = sum(held.kind == "output" and held.element < 0 for held in channel.drive.boundary)
        marked = [(state, _same_but_peaks(state, on)) for state in states]
        wanted = [pair for pair in marked if ports > 1 or not pair[1]]
        wanted.sort(key=lambda pair: not pair[1])
        return tuple(self.run(channel, state, is_on, led_alone) for state, is_on in wanted)

    def _leakage(self, net: int) -> Term | None:
        """What an open line leaks, amperes; None where it is not stated or 0."""
        name = self.circuit.net_name(net)
        fact = self.lookup.facts.line(name)
        if fact is None or fact.leakage is None or fact.leakage.value <= 0.0:
            return None
        most = fact.leakage.value
        return stated(
            f'lines."{name}".leakage',
            f"leakage of line {name}",
            "A",
            0.0,
            0.0,
            most,
            f"{fact.leakage.file}: {fact.leakage.key}",
        )

    # -- one state --------------------------------------------------------------------------------------------

    def assemble(self, channel: Channel, state: State) -> Assembly:
        """The drive network in a state, with what leaks in it."""
        made = self.drives.assemble(channel, state)
        for net, level in state.items():
            if level == "hi-z":
                self._leaking_output(made, net)
            elif level in ("leaking", "leaking back"):
                self._leaking_line(made, net, level == "leaking back")
        for pair in channel.drive.pairs:
            if state.get(pair_key(pair)) == "off":
                self._leaking_coupler(made, pair)
        for role in ("anode", "cathode"):
            net = channel.pins[role]
            if self.lookup.walker.held(net) is None or state.get(net) in ("hi-z", "leaking", "leaking back"):
                hold_floating(made, f"float of {role}", made.node(net, self.circuit.net_name(net)))
        return made

    def run(self, channel: Channel, state: State, is_on: bool = False, led_alone: bool = False) -> StateRun:
        """One state over temperature."""
        made = self.assemble(channel, state)
        ports = [] if led_alone else list(made.outputs)
        pins = [net for net, level in state.items() if level == "hi-z" and not led_alone]
        led = led_name(channel)
        anode, cathode = made.nets[channel.pins["anode"]], made.nets[channel.pins["cathode"]]
        both_ways = channel.both_ways

        def quantities(point: Point) -> list[float]:
            volts = point.voltage(anode) - point.voltage(cathode)
            values = [max(point.current(led), 0.0), abs(volts) if both_ways else volts]
            values.extend(point.current(name) for name in ports)
            values.extend(point.voltage(made.nets[net]) for net in pins)
            return values

        rows = []
        for t, spans in self._over_temperature(channel, made, quantities):
            first = 2 + len(ports)
            rows.append(
                StateRow(
                    t,
                    spans[0],
                    spans[1],
                    dict(zip(ports, spans[2:first], strict=True)),
                    dict(zip(pins, spans[first:], strict=True)),
                )
            )
        high = {name: state.get(net) == "high" for name, (net, _) in made.outputs.items()}
        bests = [model.best for _, model in made.outputs.values()]
        terms = unique([*made.terms, *bests, self.lookup.ambient()])
        nets = {name: net for name, (net, _) in made.outputs.items()}
        return StateRun(state, self.drives.state_words(state), is_on, tuple(rows), high, nets, terms)

    def _over_temperature(
        self, channel: Channel, made: Assembly, quantities: Callable[[Point], list[float]]
    ) -> list[tuple[float, list[Span]]]:
        found: list[tuple[float, list[Span]]] = []
        for temperature in self.drives.temperatures():

            def evaluate(vector: Sequence[float], t: float = temperature) -> list[float]:
                return quantities(self.drives.solver.solve(made.network(vector, t), t))

            try:
                ends = solved_extremes(
                    self.drives.solver, made.ranges(self.setting, temperature), evaluate, careful=False
                )
            except n.Unlimited as error:
                raise Lacking(error.text, blocked_by="drive") from None
            except n.NotSolvable as error:
                raise Lacking(error.text, self._hints(channel)) from None
            found.append(
                (
                    temperature,
                    [
                        Span(Bound(e.low, e.low_corner, temperature), Bound(e.high, e.high_corner, temperature))
                        for e in ends
                    ],
                )
            )
        return found

    def _hints(self, channel: Channel) -> list[MissingFact]:
        return [self.lookup.missing_line(held.net) for held in channel.drive.boundary if held.kind == "loose"]

    # -- leakage ----------------------------------------------------------------------------------------------

    def _leaking_output(self, made: Assembly, net: int) -> None:
        """An output in high impedance: open-drain leaks to its reference.

        High-side from its supply, an unpowered one to its reference.
        """
        name = self.circuit.net_name(net)
        fact = self.lookup.facts.output(name)
        drive = "push-pull" if fact is None or fact.drive is None else fact.drive.value
        index = made.term(self.lookup.off_leakage(net))
        node = made.node(net, name)
        title = f"leakage of output {name}"
        if drive != "high-side":
            made.add(title, lambda vector, temperature: n.CurrentSource(title, node, 0, vector[index]), index)
            clamp = f"{title}, not below 0 V"
            made.add(clamp, lambda vector, temperature: n.DiodeBranch(clamp, 0, node, CLAMP))
            return
        if fact is None or fact.supply is None:
            lacking = self.lookup.missing(OutputFacts.supply, name, '"V24"')
            raise Lacking(f"output {name} has no stated supply", [lacking])
        self._pushed(made, node, title, index, self.lookup.supply_named(fact.supply.value))

    def _leaking_line(self, made: Assembly, net: int, back: bool) -> None:
        """An open line: its leakage flows in, up to the voltage that it has when it is on; at the crest of both where
        it alternates, out of the network in its other half wave (`back`).
        """
        name = self.circuit.net_name(net)
        leakage = self._leakage(net)
        assert leakage is not None
        node, title = made.node(net, name), f"leakage of line {name}"
        if not self.lookup.is_alternating(net):
            self._pushed(made, node, title, made.term(leakage), self.lookup.line(net, True))
            return
        self._pushed(made, node, title, made.term(leakage), self.lookup.line_crest(net, True), CREST, back)

    def _leaking_coupler(self, made: Assembly, pair: Pair) -> None:
        """The dark current of a coupler that is off, no further than to where nothing is left across it."""
        parts = self.drives.assembler.parts
        part, leaks, setting = parts[pair.element], LeakAnalyser(self.lookup, self.setting), self.setting
        nets = self.circuit.pins(pair.element)
        a, b = (made.node(nets[pin], self.circuit.net_name(nets[pin])) for pin in pair[1:])
        title = f"dark current of {pair_words(self.circuit, parts, pair)}"
        for term in leaks.dark(part, setting.high(self.lookup.ambient())).terms:
            made.term(term)
        made.add(
            title,
            lambda vector, temperature: n.CurrentSource(title, a, b, leaks.dark(part, temperature).amps),
            warm=True,
        )
        clamp = f"{title}, not below 0 V"
        made.add(clamp, lambda vector, temperature: n.DiodeBranch(clamp, b, a, CLAMP))

    def _pushed(
        self, made: Assembly, node: int, title: str, index: int, supply: Term, times: float = 1.0, back: bool = False
    ) -> None:
        """A current into a node that stops where the node reaches its supply; `back`: out of it, down to that below 0.

        times: what the stated current counts with.
        """
        top = made.term(supply)
        rail = len(made.nodes)
        made.nodes.append(f"supply of {title}")
        feed, clamp = f"supply of {title}", f"{title}, not above its supply"
        sign = -1.0 if back else 1.0
        a, b = (node, rail) if back else (rail, node)
        made.add(feed, lambda vector, temperature: n.VoltageSource(feed, rail, 0, sign * vector[top]), top)
        made.add(title, lambda vector, temperature: n.CurrentSource(title, a, b, times * vector[index]), index)
        made.add(clamp, lambda vector, temperature: n.DiodeBranch(clamp, b, a, CLAMP))


def _same_but_peaks(state: State, on: State) -> bool:
    """Whether two states differ at most in the half wave of an AC supply."""
    return all(level == on.get(net) or (level in PEAKS and on.get(net) in PEAKS) for net, level in state.items())
