"""The most negative voltage across an LED, over all states and extremes of its drive.

In: a channel, terms, a setting. Out: a `Reverse`. Lines count with their reversed connection, AC supplies and moving
sources with both peaks. A diode in series that blocks takes the voltage: its leakage is below that of the LED.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

from isolint.interfaces.entities import Channel, Part
from isolint.parts import Led, generic
from isolint.results import MissingFact
from isolint.rows import least
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.clamps import Clamping
from isolint.worstcase.coils import FoundCoil
from isolint.worstcase.drive import Drive, DriveAnalyser, hold_floating
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import NO_CURRENT, Bound, steady
from isolint.worstcase.release import Release, open_outputs, releases, releasing
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.states import MOST_RUNS, StateRun
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

BLOCKING_AMPS = 10e-6
"""A diode with less saturation current than this blocks better than an LED in reverse (from memory)."""

LED_LEAKAGE_OHMS = 1e10
BLOCKED_IS = 1e-15
# With these an LED that hangs behind a blocking diode sees next to nothing; every real resistance is far below.


class Reverse(NamedTuple):
    """Reverse voltage (volts, positive backwards) at its worst with the state.

    `blocking`: elements of diodes that take it instead.
    """

    volts: float
    bound: Bound
    words: str
    blocking: tuple[int, ...]
    terms: tuple[Term, ...]


def reverse_limit(part: Part) -> Term:
    """What an LED takes in reverse, volts: record, else the usual range of its type."""
    return fact_terms.of_part(part, Led.reverse_voltage_max, least, generic.family(part.type).reverse_voltage_max)


class ReverseAnalyser:
    """Reverse voltages of the LEDs of one netlist in one setting."""

    def __init__(
        self, lookup: Lookup, drives: DriveAnalyser, setting: Setting, coils: Sequence[tuple[FoundCoil, Clamping]] = ()
    ) -> None:
        self.coils = coils
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.drives = drives
        self.setting = setting

    def every(self, channel: Channel) -> list[State]:
        """All states, each line also reversed where that is stated."""
        found: list[State] = []
        seen: set[tuple[tuple[int, str], ...]] = set()
        for state in self.drives.states(channel):
            turned = [net for net in state if net >= 0 and self._can_turn(net)]
            for chosen in product((False, True), repeat=len(turned)):
                levels: dict[int, Level] = dict(state)
                levels.update({net: "reversed" for net, reversed_ in zip(turned, chosen, strict=True) if reversed_})
                key = _key(levels)
                if key not in seen:
                    seen.add(key)
                    found.append(levels)
        if len(found) > MOST_RUNS:
            raise Lacking(f"its drive network has {len(found)} states, more than {MOST_RUNS} are not judged")
        return found

    def _can_turn(self, net: int) -> bool:
        fact = self.lookup.facts.line(self.circuit.net_name(net))
        return fact is not None and fact.reverse is not None and fact.reverse.value > 0.0

    def analyse(self, channel: Channel, drive: Drive, runs: Sequence[StateRun]) -> Reverse:
        """The worst state; `Lacking` when a fact is missing or a network has no solution.

        drive, runs: of the same channel and setting; a state that they know already is not solved again.
        """
        known = {
            _key(run.state): run for run in runs if not {"hi-z", "leaking", "leaking back"} & set(run.state.values())
        }
        found: list[Reverse] = []
        for state in self.every(channel):
            run = known.get(_key(state))
            if state == drive.on and drive.current.low.value > NO_CURRENT:
                # Current flows forwards at every corner.
                found.append(Reverse(0.0, drive.current.low._replace(value=0.0), drive.on_words, (), drive.terms))
            elif run is not None and -run.least_voltage.value < reverse_limit(channel.part).low:
                found.append(Reverse(max(-run.least_voltage.value, 0.0), run.least_voltage, run.words, (), run.terms))
            else:
                found.append(self._state(channel, state))
        found.extend(self._released(channel, release, drive) for release in self._releases(channel))
        worst = max(found, key=lambda item: steady(item.volts))
        return worst._replace(
            terms=unique([*worst.terms, *(term for item in found for term in item.terms), self.lookup.ambient()])
        )

    def _releases(self, channel: Channel) -> list[Release]:
        return releases(self.lookup, self.coils, channel.drive)

    def _released(self, channel: Channel, release: Release, drive: Drive) -> Reverse:
        """The LED beside a coil that has just been switched off."""
        made = self.drives.assemble(channel, open_outputs(release, drive.on))
        return self._judged(channel, releasing(self.lookup, made, release), release.words)

    def _state(self, channel: Channel, state: State) -> Reverse:
        return self._judged(channel, self.drives.assemble(channel, state), self.drives.state_words(state))

    def _judged(self, channel: Channel, made: Assembly, words: str) -> Reverse:
        for role in ("anode", "cathode"):
            node = made.node(channel.pins[role], self.circuit.net_name(channel.pins[role]))
            hold_floating(made, f"float of {role}", node)
        bound = self._lowest(channel, made, frozenset())
        plain = Reverse(max(-bound.value, 0.0), bound, words, (), tuple(made.terms))
        if plain.volts < reverse_limit(channel.part).low:
            return plain
        blocking = self._blocking(channel, made, bound)
        if not blocking:
            return plain
        names = frozenset(self.circuit.path(element) for element in blocking)
        bound = self._lowest(channel, made, names)
        return Reverse(max(-bound.value, 0.0), bound, words, blocking, tuple(made.terms))

    def _lowest(self, channel: Channel, made: Assembly, blocking: frozenset[str]) -> Bound:
        """The lowest forward voltage; with diodes that block the LED counts with its own larger leakage."""
        anode, cathode = made.nets[channel.pins["anode"]], made.nets[channel.pins["cathode"]]
        best: Bound | None = None
        for temperature in self.drives.temperatures():

            def evaluate(vector: Sequence[float], t: float = temperature) -> list[float]:
                network = _with_blocking(made.network(vector, t), blocking, anode, cathode)
                point = self.drives.solver.solve(network, t)
                return [point.voltage(anode) - point.voltage(cathode)]

            try:
                (ends,) = solved_extremes(
                    self.drives.solver, made.ranges(self.setting, temperature), evaluate, sought="low"
                )
            except n.Unlimited as error:
                raise Lacking(error.text, blocked_by="drive") from None
            except n.NotSolvable as error:
                raise Lacking(error.text, self._hints(channel)) from None
            if best is None or steady(ends.low) < steady(best.value):
                best = Bound(ends.low, ends.low_corner, temperature)
        assert best is not None
        return best

    def _blocking(self, channel: Channel, made: Assembly, bound: Bound) -> tuple[int, ...]:
        """Diodes that stand in reverse there and leak less than an LED."""
        named = dict(bound.at)
        vector = [named.get(term.name, term.nominal) for term in made.terms]
        network = made.network(vector, bound.temperature)
        point: Point = solve(network, bound.temperature)
        by_name = {
            self.circuit.path(element): element
            for element in channel.drive.elements
            if self.circuit.letter(element) == "D"
        }
        found = []
        for branch in network.branches:
            if not isinstance(branch, n.DiodeBranch) or branch.name not in by_name:
                continue
            device = branch.device
            forward = device.BV is not None and -bound.value > device.BV
            conducts = point.current(branch.name) > BLOCKING_AMPS
            if not conducts and not forward and device.saturation(bound.temperature) < BLOCKING_AMPS:
                found.append(by_name[branch.name])
        return tuple(found)

    def _hints(self, channel: Channel) -> list[MissingFact]:
        return [self.lookup.missing_line(held.net) for held in channel.drive.boundary if held.kind == "loose"]


def _key(state: State) -> tuple[tuple[int, str], ...]:
    return tuple(sorted(state.items()))


def _with_blocking(network: n.BranchNetwork, names: frozenset[str], anode: int, cathode: int) -> n.BranchNetwork:
    if not names:
        return network
    branches = [
        branch._replace(device=branch.device._replace(IS=BLOCKED_IS))
        if isinstance(branch, n.DiodeBranch) and branch.name in names
        else branch
        for branch in network.branches
    ]
    leakage = n.Resistor("reverse leakage of the LED", anode, cathode, LED_LEAKAGE_OHMS)
    return n.BranchNetwork(network.nodes, (*branches, leakage))
