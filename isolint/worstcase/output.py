"""What a coupler's output has to stand: its voltage when it is off, its current when it is on, and the levels it gives
to inputs.

In: a channel, its load network, a setting. Out: `Stress`es with both ends and the state in which each was found. Off
means no current through the output, on means no voltage across it. Knows nothing of ratings; those are in `limits`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from itertools import product
from typing import NamedTuple

from isolint.interfaces.entities import Boundary, Channel
from isolint.parts import records
from isolint.worstcase import network as n
from isolint.worstcase.clamps import Clamp, Clamping
from isolint.worstcase.coils import FoundCoil
from isolint.worstcase.companions import input_name, pair_key
from isolint.worstcase.devices import Diode
from isolint.worstcase.drive import Bound, Quantity
from isolint.worstcase.each_temperature import extremes_at_each
from isolint.worstcase.load import OUTPUT, LoadAnalyser
from isolint.worstcase.network_build import Level, State
from isolint.worstcase.parametric_network import Assembly, Make
from isolint.worstcase.quantities import steady
from isolint.worstcase.release import Release, open_outputs, releases, releasing
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking, Term, unique

MOST_INPUTS = 6
CLOSED_OHMS = 1e-3
CLOSED_BESIDE = 0.1
"""Ohms of an output that conducts between others: where those are off nothing but leakage tells its voltage."""

INTERNAL_CLAMP = Diode(IS=1e-9, N=1.9)
"""A clamp inside a relay is taken for a silicon rectifier."""

NOISE = 1e-9
"""Volts and amperes below which a change is none: what rounding moves at an open output."""

Evaluate = Callable[[Assembly, Sequence[float], float], list[float]]


class Stress(NamedTuple):
    """One quantity over all states of the load network; `low_state` and `high_state` say where each end was found."""

    quantity: Quantity
    low_state: str
    high_state: str
    terms: tuple[Term, ...]

    @property
    def low(self) -> float:
        """The lowest value, SI units."""
        return self.quantity.low.value

    @property
    def high(self) -> float:
        """The highest value, SI units."""
        return self.quantity.high.value

    @property
    def high_corner(self) -> str:
        """The corner of the high end with its state."""
        return _with_state(self.quantity.high.corner, self.high_state)

    @property
    def low_corner(self) -> str:
        """The corner of the low end with its state."""
        return _with_state(self.quantity.low.corner, self.low_state)


def closed_ohms(channel: Channel) -> float:
    """The resistance that stands for an output with no voltage across it."""
    return CLOSED_BESIDE if channel.load.pairs else CLOSED_OHMS


class Kick(NamedTuple):
    """A coil that this output interrupts, with what takes its current."""

    coil: FoundCoil
    clamp: Clamp


class _LoadState(NamedTuple):
    """One state of a load network: levels of its switching inputs and the sign of each AC supply."""

    state: State
    phases: Mapping[int, float]
    words: str


class OutputAnalyser:
    """Analyses what the outputs of one netlist stand, in the setting of its load analyser."""

    def __init__(
        self,
        loads: LoadAnalyser,
        coils: Sequence[tuple[FoundCoil, Clamping]],
        around: Sequence[tuple[FoundCoil, Clamping]] = (),
    ) -> None:
        """coils: those that a coupler switches. around: all whose voltage at switch-off others see."""
        self.around = around
        self.loads = loads
        self.lookup = loads.lookup
        self.circuit = loads.circuit
        self.coils = coils

    # -- states -----------------------------------------------------------------------------------------------

    def _cases(self, channel: Channel) -> list[_LoadState]:
        """All combinations of the switching inputs of a load network; `Lacking` where there are too many."""
        choices: list[tuple[int, tuple[Level, Level]]] = []
        alternating: list[int] = []
        for held in self._boundary(channel):
            if held.kind == "output":
                choices.append((held.net, ("low", "high")))
            elif held.kind in ("supply", "line") and self.lookup.is_alternating(held.net):
                alternating.append(held.net)
            elif held.kind == "line":
                choices.append((held.net, ("off", "on")))
        switches = [element for element in channel.load.elements if self.circuit.letter(element) == "S"]
        choices.extend((-1 - element, ("off", "on")) for element in switches)
        choices.extend((pair_key(pair), ("off", "on")) for pair in channel.load.pairs)
        if len(choices) + len(alternating) > MOST_INPUTS:
            raise Lacking(
                f"its load network has {len(choices)} switching inputs, more than {MOST_INPUTS} are not judged"
            )
        cases = []
        for levels in product(*(pair for _, pair in choices)):
            state = dict(zip((key for key, _ in choices), levels, strict=True))
            said = [f"{self._name(key)} {level}" for key, level in state.items()]
            for signs in product((1.0, -1.0), repeat=len(alternating)):
                phases = dict(zip(alternating, signs, strict=True))
                peaks = [
                    f"{self.circuit.net_name(net)} at its {'positive' if sign > 0 else 'negative'} peak"
                    for net, sign in phases.items()
                ]
                cases.append(_LoadState(state, phases, ", ".join([*said, *peaks])))
        return cases

    def _boundary(self, channel: Channel) -> list[Boundary]:
        """What holds the nets of the load network, the output's own pins included."""
        own = (self.lookup.walker.held(net) for net in self.loads.ends(channel))
        return list(dict.fromkeys((*channel.load.boundary, *(held for held in own if held is not None))))

    def _name(self, key: int) -> str:
        return input_name(self.circuit, self.loads.recognition.parts, key)

    def assembled(self, channel: Channel, case: _LoadState) -> Assembly:
        """The load network in one state, AC supplies held at a peak."""
        if not case.phases:
            return self.loads.assembled(channel, case.state)
        held = tuple(item for item in channel.load.boundary if item.net not in case.phases)
        made = self.loads.assembled(
            channel._replace(load=channel.load._replace(boundary=held)), case.state, frozenset(case.phases)
        )
        for net, sign in case.phases.items():
            name = self.lookup.source_name(net)
            index, node = made.term(self.lookup.peak(net)), made.node(net, self.circuit.net_name(net))
            made.add(name, _peak_source(name, node, index, sign), index)
        return made

    # -- evaluation -------------------------------------------------------------------------------------------

    def _over_cases(
        self,
        channel: Channel,
        prepare: Callable[[_LoadState], tuple[Assembly, Evaluate]],
        cases: Sequence[_LoadState] | None = None,
    ) -> list[Stress]:
        """Both ends of each quantity over states (all where none are given), temperatures and corners."""
        nominal_at = self.lookup.ambient().nominal
        setting = self.loads.setting
        found: list[list[tuple[str, float, Bound, Bound]]] = []
        terms: list[Term] = []
        for case in self._cases(channel) if cases is None else cases:
            made, evaluate = prepare(case)
            try:
                middle = evaluate(made, made.nominal(setting), nominal_at)
                over = extremes_at_each(
                    self.loads.solver, made, setting, self.loads.temperatures, partial(evaluate, made), NOISE
                )
                for temperature, ends in over:
                    while len(found) < len(ends):
                        found.append([])
                    for rows, end, value in zip(found, ends, middle, strict=True):
                        low = Bound(end.low, end.low_corner, temperature)
                        rows.append((case.words, value, low, Bound(end.high, end.high_corner, temperature)))
            except n.NotSolvable as error:
                raise Lacking(error.text) from None
            terms.extend(made.terms)
        shared = unique([*terms, self.lookup.ambient()])
        return [_stress(rows, shared) for rows in found]

    def _point(
        self, made: Assembly, channel: Channel, vector: Sequence[float], temperature: float, extra: Sequence[n.Branch]
    ) -> Point:
        network = made.network(vector, temperature, [*extra, *self.loads.leaks(made, channel)])
        return self.loads.solver.solve(network, temperature)

    def _nodes(self, made: Assembly, channel: Channel) -> tuple[int, int]:
        first, second = self.loads.ends(channel)
        return made.node(first, self.circuit.net_name(first)), made.node(second, self.circuit.net_name(second))

    # -- questions --------------------------------------------------------------------------------------------

    def off_voltage(self, channel: Channel, off: Sequence[int] = ()) -> Stress:
        """Volts from collector (or output) to emitter (or ground) with no current through the output, coils at rest.

        off: keys of outputs beside it that are off whenever it is.
        """

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            point = self._point(made, channel, vector, temperature, ())
            return [point.voltage(a) - point.voltage(b)]

        cases = [case for case in self._cases(channel) if all(case.state.get(key) != "on" for key in off)]
        return self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate), cases)[0]

    def closed_current(self, channel: Channel) -> Stress:
        """Amperes through the output with no voltage across it, from collector to emitter."""

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            closed = n.Resistor(OUTPUT, a, b, closed_ohms(channel))
            return [self._point(made, channel, vector, temperature, [closed]).current(OUTPUT)]

        return self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate))[0]

    def left_at(self, channel: Channel, amps: float) -> Stress:
        """Volts across the output while it carries a current, less than its load would give to a closed switch."""

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            point = self._point(made, channel, vector, temperature, [n.CurrentSource(OUTPUT, a, b, amps)])
            return [point.voltage(a) - point.voltage(b)]

        return self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate))[0]

    def carried_at(self, channel: Channel, volts: float) -> Stress:
        """Amperes that the load gives to an output with some volts across it; they fall as these rise."""

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            source = n.VoltageSource(OUTPUT, a, b, volts)
            return [-self._point(made, channel, vector, temperature, [source]).current(OUTPUT)]

        return self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate))[0]

    def level(self, channel: Channel, net: int) -> Stress:
        """Volts of a net against its reference, the output off or on."""

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            node = made.node(net, self.circuit.net_name(net))
            off = self._point(made, channel, vector, temperature, ()).voltage(node)
            closed = n.Resistor(OUTPUT, a, b, closed_ohms(channel))
            on = self._point(made, channel, vector, temperature, [closed]).voltage(node)
            return [off, on]

        off, on = self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate))
        return max(
            off._replace(high_state=_joined("output off", off.high_state)),
            on._replace(high_state=_joined("output on", on.high_state)),
            key=lambda item: item.high,
        )

    def between(self, channel: Channel, plus: int, minus: int) -> tuple[Stress, Stress]:
        """Volts from one net of the load to another with the output off, and with it on."""

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            a, b = self._nodes(made, channel)
            first, second = (made.node(net, self.circuit.net_name(net)) for net in (plus, minus))
            off = self._point(made, channel, vector, temperature, ())
            closed = n.Resistor(OUTPUT, a, b, closed_ohms(channel))
            on = self._point(made, channel, vector, temperature, [closed])
            return [point.voltage(first) - point.voltage(second) for point in (off, on)]

        off, on = (
            stress._replace(low_state=_joined(words, stress.low_state), high_state=_joined(words, stress.high_state))
            for words, stress in zip(
                ("output off", "output on"),
                self._over_cases(channel, lambda case: (self.assembled(channel, case), evaluate)),
                strict=True,
            )
        )
        return off, on

    def released(self, channel: Channel, net: int | None = None) -> list[Stress]:
        """Volts at the moment when each coil beside an output has been switched off, the output itself off.

        Across the output, or of `net` against its reference. A coil that the output interrupts itself is in it for a
        net alone: across the output `kick_voltage` tells more. `Lacking` where a coil has no sound clamp.
        """
        found = []
        for release in releases(self.lookup, self.around, channel.load):
            switches = {item.element for item in release.coil.interrupters}
            if net is None and channel.part.element in switches:
                continue
            off = {pair_key(pair) for pair in channel.load.pairs if pair.element in switches}
            cases = [
                case._replace(words=_joined(release.words, case.words))
                for case in self._cases(channel)
                if all(case.state.get(key) != "on" for key in off)
            ]
            prepare = partial(self._released, channel, release, net)
            found.extend(self._over_cases(channel, prepare, cases) if cases else [])
        return found

    def _released(
        self, channel: Channel, release: Release, net: int | None, case: _LoadState
    ) -> tuple[Assembly, Evaluate]:
        """A state of the load network with one of its coils letting go, and what is read in it."""
        opened = case._replace(state=open_outputs(release, case.state))
        made = releasing(self.lookup, self.assembled(channel, opened), release)

        def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
            point = self._point(made, channel, vector, temperature, ())
            if net is not None:
                return [point.voltage(made.node(net, self.circuit.net_name(net)))]
            a, b = self._nodes(made, channel)
            return [point.voltage(a) - point.voltage(b)]

        return made, evaluate

    def kicks(self, channel: Channel) -> list[Kick]:
        """The coils that this output itself interrupts; `Lacking` where one has no sound clamp."""
        found = []
        own = set(self.loads.ends(channel))
        for coil, clamping in self.coils:
            if any(item.element == channel.part.element and item.net in own for item in coil.interrupters):
                if clamping.clamp is None:
                    raise Lacking(f"coil {coil.path} has no clamp", blocked_by="clamp")
                found.append(Kick(coil, clamping.clamp))
        return found

    def kick_voltage(self, channel: Channel, kicks: Sequence[Kick]) -> Stress:
        """Volts across the output at the moment when it has interrupted its coils, which carry on with their current.

        Clamps that conduct steadily are solved; what an RC network leaves is bounded by I R + I sqrt(L / C) above the
        off voltage.
        """
        for kick in kicks:
            if kick.clamp.kind == "rc" and kick.coil.henries is None:
                raise Lacking(
                    f"how high the RC network lets {kick.coil.path} rise depends on its inductance, which is not known",
                    kick.coil.missing(records.Coil.inductance),
                )

        def prepare(case: _LoadState) -> tuple[Assembly, Evaluate]:
            whole = self.assembled(channel, case)
            released = whole
            for kick in kicks:
                if kick.clamp.kind != "rc" and kick.coil.clamp_volts is None:
                    released = released.without(kick.coil.path)

            def evaluate(made: Assembly, vector: Sequence[float], temperature: float) -> list[float]:
                a, b = self._nodes(whole, channel)
                on = self._point(whole, channel, vector, temperature, [n.Resistor(OUTPUT, a, b, closed_ohms(channel))])
                extra: list[n.Branch] = []
                rise = 0.0
                for kick in kicks:
                    coil = kick.coil
                    plus, minus = (whole.node(net, self.circuit.net_name(net)) for net in (coil.plus, coil.minus))
                    amps = abs(on.current(coil.path))
                    if kick.clamp.kind == "rc":
                        rise = max(
                            rise,
                            amps * kick.clamp.ohms
                            + amps * math.sqrt((coil.henries or 0.0) / (kick.clamp.farads or 1.0)),
                        )
                        continue
                    if coil.clamp_volts is not None:
                        rise = max(rise, coil.clamp_volts)
                        continue
                    extra.append(n.CurrentSource(f"current of {coil.path}", plus, minus, amps))
                    if kick.clamp.kind == "internal":
                        extra.append(n.DiodeBranch(f"clamp of {coil.path}", minus, plus, INTERNAL_CLAMP))
                point = self._point(released, channel, vector, temperature, extra)
                return [point.voltage(a) - point.voltage(b) + rise]

            return released, evaluate

        return self._over_cases(channel, prepare)[0]


def _peak_source(name: str, node: int, index: int, factor: float) -> Make:
    return lambda vector, temperature: n.VoltageSource(name, node, 0, factor * vector[index])


def _stress(rows: Sequence[tuple[str, float, Bound, Bound]], terms: tuple[Term, ...]) -> Stress:
    low = min(rows, key=lambda row: steady(row[2].value))
    high = max(rows, key=lambda row: steady(row[3].value))
    return Stress(Quantity(high[1], low[2], high[3]), low[0], high[0], terms)


def _with_state(corner: str, state: str) -> str:
    return f"{corner}; {state}" if state else corner


def _joined(first: str, second: str) -> str:
    return f"{first}, {second}" if second else first
