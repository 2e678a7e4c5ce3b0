"""A field input as its line sees it: LED and line currents at a voltage or a current of the line, at worst case.

In: a channel, one of its lines, a setting. Out: `StateRow`s as for a state of the drive, with the current of the
line. Everything that hangs on the line counts, not only what leads to the LED.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.interfaces.entities import Channel
from isolint.worstcase import network as n
from isolint.worstcase.drive import DriveAnalyser, hold_floating, led_name, vector_of
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import State, Variant
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Bound, highest, lowest
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.states import CLAMP, Span, StateRow, StateRun
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, unique

SOURCE = "voltage at the line"
MOST_VOLTS = 30.0
STEPS = 40


class LineRun(NamedTuple):
    """A line at one voltage or current: the LED as in a state of the drive, and what the line gives, amperes."""

    run: StateRun
    least: Bound
    most: Bound


class LineAnalyser:
    """One line of one channel in one setting; `state` holds the levels of the drive's other inputs."""

    def __init__(
        self, lookup: Lookup, drives: DriveAnalyser, channel: Channel, line: int, state: State, setting: Setting
    ) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.drives = drives
        self.channel = channel
        self.line = line
        self.setting = setting
        self.made = self._assemble({net: level for net, level in state.items() if net != line})

    def _assemble(self, state: State) -> Assembly:
        walked = self.lookup.walker.around(self.line)
        if not walked.complete:
            raise Lacking("what hangs on its line is too large to be followed")
        parts = self.drives.assembler.parts
        leds = [
            (element, pins)
            for element, pins in walked.branches
            if "anode" in {parts[element].roles[pin] for pin in pins}
        ]
        rest = tuple(pair for pair in walked.branches if pair not in leds)
        made = self.drives.assembler.assemble(walked._replace(branches=rest), state)
        for element, pins in leds:
            nets = self.circuit.pins(element)
            roles = {parts[element].roles[pin]: nets[pin] for pin in pins}
            mine = element == self.channel.part.element and roles["anode"] == self.channel.pins["anode"]
            name = (
                led_name(self.channel)
                if mine
                else f"LED of {parts[element].path} at {self.circuit.net_name(roles['anode'])}"
            )
            self.drives.assembler.led(made, parts[element], roles["anode"], roles["cathode"], name, Variant())
        for role in ("anode", "cathode"):
            node = made.node(self.channel.pins[role], self.circuit.net_name(self.channel.pins[role]))
            hold_floating(made, f"float of {role}", node)
        return made

    def at_volts(self, volts: float, words: str) -> LineRun:
        """The line held at a voltage."""
        node = self.made.node(self.line, self.circuit.net_name(self.line))
        return self._run([n.VoltageSource(SOURCE, node, 0, volts)], words, lambda point: point.current(SOURCE))

    def at_amps(self, amps: float, words: str) -> LineRun:
        """A current fed into the line, up to the highest voltage of a 24 V line."""
        node = self.made.node(self.line, self.circuit.net_name(self.line))
        rail = len(self.made.nodes)
        extra: list[n.Branch] = [
            n.CurrentSource(SOURCE, 0, node, amps),
            n.DiodeBranch("limit of the line", node, rail, CLAMP),
            n.VoltageSource("highest voltage of the line", rail, 0, MOST_VOLTS),
        ]
        return self._run(extra, words, lambda point: point.current(SOURCE), ("highest voltage of the line",))

    def _run(
        self, extra: Sequence[n.Branch], words: str, current: Callable[[Point], float], more_nodes: tuple[str, ...] = ()
    ) -> LineRun:
        led = led_name(self.channel)
        anode, cathode = (self.made.nets[self.channel.pins[role]] for role in ("anode", "cathode"))
        rows: list[StateRow] = []
        line: list[Span] = []
        for temperature in self.drives.temperatures():

            def evaluate(vector: Sequence[float], t: float = temperature) -> list[float]:
                point = self.drives.solver.solve(self._network(vector, t, extra, more_nodes), t)
                return [max(point.current(led), 0.0), point.voltage(anode) - point.voltage(cathode), current(point)]

            try:
                ends = solved_extremes(self.drives.solver, self.made.ranges(self.setting, temperature), evaluate)
            except n.Unlimited as error:
                raise Lacking(error.text, blocked_by="drive") from None
            except n.NotSolvable as error:
                raise Lacking(error.text) from None
            spans = [
                Span(Bound(e.low, e.low_corner, temperature), Bound(e.high, e.high_corner, temperature)) for e in ends
            ]
            rows.append(StateRow(temperature, spans[0], spans[1], {}, {}))
            line.append(spans[2])
        terms = unique([*self.made.terms, self.lookup.ambient()])
        run = StateRun({}, words, False, tuple(rows), {}, {}, terms)
        least = lowest(span.low for span in line)
        most = highest(span.high for span in line)
        return LineRun(run, least, most)

    def _network(
        self, vector: Sequence[float], temperature: float, extra: Sequence[n.Branch], more_nodes: tuple[str, ...]
    ) -> n.BranchNetwork:
        network = self.made.network(vector, temperature, extra)
        return network._replace(nodes=(*network.nodes, *more_nodes))

    def volts_for(self, corner: Bound, holds: Callable[[float, float], bool], low: float, high: float) -> float | None:
        """The line voltage between two at which `holds` (of LED current and voltage) turns from false to true.

        At one corner; None if it never does.
        """
        vector = vector_of(self.made, corner.at)
        led = led_name(self.channel)
        anode, cathode = (self.made.nets[self.channel.pins[role]] for role in ("anode", "cathode"))
        node = self.made.node(self.line, self.circuit.net_name(self.line))

        def reached(volts: float) -> bool:
            extra = [n.VoltageSource(SOURCE, node, 0, volts)]
            point = solve(self.made.network(vector, corner.temperature, extra), corner.temperature)
            return holds(max(point.current(led), 0.0), point.voltage(anode) - point.voltage(cathode))

        try:
            if reached(low):
                return low
            if not reached(high):
                return None
            for _ in range(STEPS):
                middle = (low + high) / 2.0
                if reached(middle):
                    high = middle
                else:
                    low = middle
        except n.NotSolvable:
            return None
        return high
