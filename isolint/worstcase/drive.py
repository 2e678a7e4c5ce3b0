"""The drive of one channel: which input state is on, and LED, port and switch currents at worst case.

In: a channel, terms, a setting. Out: a `Drive` with intervals and their corners. Corners are taken at one
temperature, then the worst over temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from isolint.facts import OutputFacts, SupplyFacts
from isolint.interfaces.entities import Boundary, Channel
from isolint.positions.spoken import is_connector, reference_letters
from isolint.results import MissingFact
from isolint.worstcase.alternating import Fed, Stored
from isolint.worstcase.companions import input_name, pair_key
from isolint.worstcase.corners import Extreme, Sought
from isolint.worstcase.lookup import Lookup, OutputModel
from isolint.worstcase.network import BranchNetwork, NotSolvable, Resistor, Unlimited
from isolint.worstcase.network_build import REAL, Assembler, Level, State, Variant
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import NO_CURRENT, over_temperature
from isolint.worstcase.quantities import Bound as Bound
from isolint.worstcase.quantities import Quantity as Quantity
from isolint.worstcase.shunts import shunt_of, unclear_shunt, unfed
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.switches import SwitchAnalyser
from isolint.worstcase.switches import SwitchDrive as SwitchDrive
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique
from isolint.worstcase.unmodelled import refuse_breakdown
from isolint.worstcase.watch import Sources

if TYPE_CHECKING:
    from isolint.worstcase.waves import Wave

MOST_INPUTS = 6
FEW_OUTPUTS = 2
"""Up to so many outputs every value is tried where a current is steep at one end and flat at the other."""

UNLIMITED = float("inf")
FLOAT_OHMS = 1e9
_LEVEL_WORDS = {
    "positive": "at its positive peak",
    "negative": "at its negative peak",
    "leaking": "off and leaking",
    "off back": "off at its negative peak",
    "leaking back": "off and leaking backwards",
}


class PortLoad(NamedTuple):
    """A logic output that feeds the drive network in the on state; `current` is what it gives or takes."""

    net: int
    name: str
    high: bool
    current: Quantity
    model: OutputModel


class AtTemperature(NamedTuple):
    """LED current in the on state at one temperature, in amperes."""

    temperature: float
    low: Bound
    high: Bound


class Drive(NamedTuple):
    """What the drive of a channel does in its on state, in one setting. power: the most that its LED takes, watts.

    stored: what holds its current up between the crests of a rectified sine: its LED has direct current with ripple.
    fed: what a dropping capacitor feeds it, a row a temperature. unsure: a capacitor whose effect is not judged, so
    that nothing but its crest is known, "" for none.
    """

    on: State
    on_words: str
    states: int
    current: Quantity
    power: Bound
    by_temperature: tuple[AtTemperature, ...]
    ports: tuple[PortLoad, ...]
    switches: tuple[SwitchDrive, ...]
    terms: tuple[Term, ...]
    assembly: Assembly
    led: str
    fixed: bool
    stored: Stored | None = None
    fed: tuple[Fed, ...] = ()
    unsure: str = ""

    def point(self, bound: Bound) -> tuple[BranchNetwork, Point]:
        """The solved network at one end of the LED current."""
        network = self.assembly.network(vector_of(self.assembly, bound.at), bound.temperature)
        return network, solve(network, bound.temperature)


class DriveAnalyser:
    """Analyses drive networks of one netlist in one setting."""

    def __init__(self, lookup: Lookup, assembler: Assembler, setting: Setting) -> None:
        self.lookup = lookup
        self.circuit = lookup.circuit
        self.assembler = assembler
        self.setting = setting
        self.solver = assembler.solver
        self.periods: dict[Hashable, tuple[Wave, Sources]] = {}
        """What was found over a period at a corner, by whoever steps through it."""
        self._currents: dict[tuple[str, int, tuple[tuple[int, str], ...], Variant], tuple[float, Sources]] = {}

    def temperatures(self, channel: Channel | None = None) -> tuple[float, ...]:
        """Both ends of the ambient; of a channel also where its part's ratio bends between them."""
        return temperatures(self.lookup, None if channel is None else channel.part, self.setting)

    def nominal_temperature(self) -> float:
        """25 degC, or the nearest ambient."""
        return self.lookup.ambient().nominal

    # -- states -----------------------------------------------------------------------------------------------

    def inputs(self, channel: Channel) -> list[tuple[int, tuple[Level, ...]]]:
        """Switching inputs of a drive network with their levels; an AC supply has its two peaks."""
        found: list[tuple[int, tuple[Level, ...]]] = []
        for held in channel.drive.boundary:
            if held.kind == "output":
                found.append((held.net, self._output_levels(held)))
            elif held.kind == "line" and self.lookup.is_alternating(held.net):
                found.append((held.net, ("off", "off back", "negative", "positive")))
            elif held.kind == "line":
                found.append((held.net, ("off", "on")))
            elif held.kind == "supply" and self.lookup.is_alternating(held.net):
                found.append((held.net, ("negative", "positive")))
        for element in channel.drive.elements:
            if self.circuit.letter(element) == "S":
                found.append((-1 - element, ("off", "on")))
            elif self.circuit.letter(element) == "V" and self.circuit.stimulus(element) is not None:
                found.append((-1 - element, ("low", "high")))
        shunt = shunt_of(self.lookup, channel)
        if shunt is not None:
            found.append((-1 - shunt.element, ("off", "on")))
        found.extend((pair_key(pair), ("off", "on")) for pair in channel.drive.pairs)
        return found

    def _output_levels(self, held: Boundary) -> tuple[Level, ...]:
        """Levels of an output: hi-z in the place of the level that it does not drive; an unpowered one drives none."""
        fact = self.lookup.facts.output(self.circuit.net_name(held.net)) if held.element < 0 else None
        drive = "push-pull" if fact is None or fact.drive is None else fact.drive.value
        levels: dict[str, tuple[Level, ...]] = {"open-drain": ("low", "hi-z"), "high-side": ("hi-z", "high")}
        found = levels.get(drive, ("low", "high"))
        if fact is not None and fact.unpowered is not None and fact.unpowered.value and "hi-z" not in found:
            return (*found, "hi-z")
        return found

    def _possible(self, state: State) -> bool:
        """Whether at most one output of each exclusive set is active: low for an open-drain output, else high."""
        active: set[str] = set()
        for net, level in state.items():
            fact = self.lookup.facts.output(self.circuit.net_name(net)) if net >= 0 else None
            if fact is None or fact.exclusive is None:
                continue
            drive = "push-pull" if fact.drive is None else fact.drive.value
            if level == ("low" if drive == "open-drain" else "high"):
                name = fact.exclusive.value.casefold()
                if name in active:
                    return False
                active.add(name)
        return True

    def state_words(self, state: State) -> str:
        """A state in words: `/DRIVE_A high, /DRIVE_B low`."""
        words = []
        for key, level in state.items():
            name = input_name(self.circuit, self.assembler.parts, key)
            words.append(f"{name} {_LEVEL_WORDS.get(level, level)}")
        return ", ".join(words) or "supply present"

    def states(self, channel: Channel) -> list[State]:
        """All possible combinations of inputs; `Lacking` where more than six have more than six could have, or when the
        network leads into the unknown."""
        self._check_boundary(channel)
        inputs = self.inputs(channel)
        every: list[State] = [{}]
        for key, levels in inputs:
            longer: list[State] = [{**state, key: level} for state in every for level in levels]
            every = [state for state in longer if self._possible(state)]
            if len(inputs) > MOST_INPUTS and len(every) > 2**MOST_INPUTS:
                raise Lacking(
                    f"its drive network has {len(inputs)} switching inputs, more than {MOST_INPUTS} are not judged "
                    "unless few of them can be active together",
                    exclusive_facts(self.lookup, channel.drive.boundary),
                )
        return every

    def assemble(self, channel: Channel, state: State, variant: Variant = REAL) -> Assembly:
        """The channel's drive network in one state, its own LED included."""
        anode, cathode = self._ends_of_led(channel, state, variant)
        return self._assembled(channel, state, variant, anode, cathode)

    def _assembled(self, channel: Channel, state: State, variant: Variant, anode: int, cathode: int) -> Assembly:
        made = self.assembler.assemble(channel.drive, state, variant)
        self.assembler.led(made, channel.part, anode, cathode, led_name(channel), variant)
        # Between outputs that are off, or with an end on nothing, a net would float.
        ends = {self.circuit.pins(pair.element)[pin] for pair in channel.drive.pairs for pin in (pair.first, pair.last)}
        for net in channel.drive.inner:
            if net in ends:
                hold_floating(made, f"float of net {self.circuit.net_name(net)}", made.nets[net])
        return made

    def _ends_of_led(self, channel: Channel, state: State, variant: Variant) -> tuple[int, int]:
        """Anode and cathode of the LED that counts in a state: of two antiparallel ones the one that is lit more.

        The other one has the forward voltage of the first in reverse and carries nothing.
        """
        ends = channel.pins["anode"], channel.pins["cathode"]
        if not channel.both_ways:
            return ends
        turned = ends[::-1]
        forward, back = (self._one_way(channel, state, variant, *way) for way in (ends, turned))
        return ends if forward >= back else turned

    def led_current(self, channel: Channel, state: State, variant: Variant = REAL) -> float:
        """Nominal LED current in one state, amperes; infinite when nothing limits it."""
        anode, cathode = self._ends_of_led(channel, state, variant)
        return self._one_way(channel, state, variant, anode, cathode)

    def _one_way(self, channel: Channel, state: State, variant: Variant, anode: int, cathode: int) -> float:
        key = (channel.subject, anode, tuple(sorted(state.items())), variant)
        return self.lookup.watch.kept(
            self._currents, key, lambda: self._led_current(channel, state, variant, anode, cathode)
        )

    def _led_current(self, channel: Channel, state: State, variant: Variant, anode: int, cathode: int) -> float:
        made = self._assembled(channel, state, variant, anode, cathode)
        vector = made.nominal(self.setting)
        temperature = self.nominal_temperature()
        try:
            return self.solver.solve(made.network(vector, temperature), temperature).current(led_name(channel))
        except Unlimited:
            return UNLIMITED
        except NotSolvable as error:
            raise Lacking(error.text, self._hints(channel)) from None

    def on_state(self, channel: Channel, variant: Variant = REAL) -> State:
        """The combination of inputs with most LED current."""
        states = self.states(channel)
        if len(states) == 1:
            return states[0]
        return max(states, key=lambda state: self.led_current(channel, state, variant))

    def _check_boundary(self, channel: Channel) -> None:
        """Refuse networks that lead into parts or nets that nobody explained."""
        if not channel.drive.complete:
            raise Lacking("its drive network is too large to be followed")
        if channel.loop:
            way = " drives ".join((*channel.loop, channel.subject))
            raise Lacking(f"it feeds itself ({way}): what a latch of couplers does is not judged")
        open_ends = [
            held for held in channel.drive.boundary if held.kind == "part" and self.lookup.input(held.net) is None
        ]
        # Behind a connector lies a line of the field, whatever else touches the same net.
        for held in sorted(open_ends, key=lambda held: not self._is_connector(held)):
            name, other = self.circuit.net_name(held.net), self.circuit.path(held.element)
            shunt = unclear_shunt(self.lookup, channel, held.element)
            if shunt is not None:
                raise shunt
            text = f"net {name} of its drive goes to {other}, and nobody says what drives it"
            if self._is_connector(held):
                raise Lacking(f"{text} from outside", [self.lookup.missing_line(held.net)])
            if self._is_supplied(held):
                text = f"net {name} of its drive supplies {other}, and nobody says at which voltage"
                more = (SupplyFacts.tolerance, SupplyFacts.ground)
                raise Lacking(text, [self.lookup.missing(SupplyFacts.voltage, name, "", *more)])
            rows = (OutputFacts.high, OutputFacts.low, OutputFacts.source_max)
            raise Lacking(text, [self.lookup.missing(OutputFacts.supply, name, "", *rows)])

    def _check_fed(self, channel: Channel, point: Point) -> None:
        """Refuse a drive without current that nothing on the board feeds."""
        if point.current(led_name(channel)) >= NO_CURRENT:
            return
        if any(held.kind == "loose" for held in channel.drive.boundary):
            nets, facts = unfed(self.lookup, channel)
            names = ", ".join(map(self.circuit.net_name, nets))
            raise Lacking(f"nothing in this netlist drives net {names}", facts)

    def _is_supplied(self, held: Boundary) -> bool:
        """Whether a barrier part takes its supply from a net, so that it drives none there."""
        part = self.assembler.parts.get(held.element)
        ends = enumerate(self.circuit.pins(held.element))
        return part is not None and {part.roles[pin] for pin, net in ends if net == held.net} == {"supply"}

    def _is_connector(self, held: Boundary) -> bool:
        circuit = self.circuit
        return is_connector(reference_letters(circuit.name(held.element), circuit.letter(held.element)))

    def _hints(self, channel: Channel) -> list[MissingFact]:
        return [self.lookup.missing_line(held.net) for held in channel.drive.boundary if held.kind == "loose"]

    # -- questions --------------------------------------------------------------------------------------------

    def bound_without_limits(self, channel: Channel, closed: frozenset[int] = frozenset()) -> float:
        """Largest LED current with ideal ports, switches and LED, in amperes; infinite when nothing limits it.

        closed: transistors without a model that count as closed switches.
        """
        variant = Variant(ideal=True, closed=closed)
        return max(self.led_current(channel, state, variant) for state in self.states(channel))

    def reversed_current(self, channel: Channel) -> float:
        """Largest nominal current that would flow with the LED turned round, in amperes, over all states."""
        swapped = dict(channel.pins, anode=channel.pins["cathode"], cathode=channel.pins["anode"])
        other = Channel(channel.part, channel.name, swapped, channel.drive, channel.load)
        return max(self.led_current(other, state) for state in self.states(other))

    def analyse(self, channel: Channel, variant: Variant = REAL) -> Drive:
        """The whole drive in its on state; `Lacking` when a fact is missing or the network has no solution."""
        on = self.on_state(channel, variant)
        made = self.assemble(channel, on, variant)
        led = led_name(channel)
        nominal = made.nominal(self.setting)
        at = self.nominal_temperature()
        try:
            middle = self.solver.solve(made.network(nominal, at), at)
            self._check_fed(channel, middle)
            ports = list(made.outputs.items())
            judge = SwitchAnalyser(self.lookup, self.assembler, self.setting, made)
            bases, gates = judge.bipolars(), judge.mosfets(middle)

            anode, cathode = (made.nets[net] for net in self._ends_of_led(channel, on, variant))

            def quantities(point: Point) -> list[float]:
                own = point.current(led)
                currents = [own, *(abs(point.current(name)) for name, _ in ports)]
                watts = own * (point.voltage(anode) - point.voltage(cathode))
                return [*currents, *judge.values(point, bases, gates), watts]

            per_temperature = [(t, self._ends(made, quantities, t, middle)) for t in self.temperatures(channel)]
            current = over_temperature(0, middle.current(led), per_temperature)
            power = over_temperature(-1, 0.0, per_temperature).high
            loads = tuple(
                PortLoad(
                    net,
                    self.circuit.net_name(net),
                    on.get(net) == "high",
                    over_temperature(1 + i, abs(middle.current(name)), per_temperature),
                    model,
                )
                for i, (name, (net, model)) in enumerate(ports)
            )
            switches = judge.drives(bases, gates, per_temperature, 1 + len(ports), current)
        except Unlimited as error:
            raise Lacking(error.text, blocked_by="drive") from None
        except NotSolvable as error:
            raise Lacking(error.text, self._hints(channel)) from None
        self._check_range(loads)
        levels = [term for _, (_, model) in ports for term in (model.best, model.supply) if term is not None]
        terms = unique([*made.terms, self.lookup.ambient(), *levels])
        fixed = not self.inputs(channel) and not bases and not gates
        return Drive(
            on=on,
            on_words=self.state_words(on),
            states=len(self.states(channel)),
            current=current,
            power=power,
            by_temperature=_by_temperature(per_temperature),
            ports=loads,
            switches=switches,
            terms=terms,
            assembly=made,
            led=led,
            fixed=fixed,
        )

    def _ends(
        self, made: Assembly, quantities: Callable[[Point], list[float]], temperature: float, start: Point
    ) -> tuple[Extreme, ...]:
        """Both ends of each quantity at one temperature, of the last one (power) the high end."""

        def evaluate(vector: Sequence[float]) -> list[float]:
            point = self.solver.solve(made.network(vector, temperature), temperature)
            refuse_breakdown(made, point.voltages)
            return quantities(point)

        sought: list[Sought] = ["both"] * (len(quantities(start)) - 1)
        return solved_extremes(
            self.solver,
            made.ranges(self.setting, temperature),
            evaluate,
            sought=[*sought, "high"],
            careful=len(made.outputs) <= FEW_OUTPUTS,
        )

    def _check_range(self, loads: tuple[PortLoad, ...]) -> None:
        """Beyond its guaranteed operating current a port's level is not known."""
        for load in loads:
            limit = load.model.limit
            if limit is None and load.current.low.value > load.model.guaranteed_at:
                row = OutputFacts.source_max if load.high else OutputFacts.sink_max
                text = (
                    f"output {load.name} gives more than the "
                    f"{load.model.guaranteed_at * 1e3:g} mA at which its level is guaranteed"
                )
                raise Lacking(text, [self.lookup.missing(row, load.name)])


def exclusive_facts(lookup: Lookup, boundary: Iterable[Boundary]) -> tuple[MissingFact, ...]:
    """The facts that would leave out most states: outputs of which at most one is active; none for a single one."""
    names = [lookup.circuit.net_name(held.net) for held in boundary if held.kind == "output" and held.element < 0]
    stated = [lookup.facts.output(name) for name in names]
    left = [name for name, fact in zip(names, stated, strict=True) if fact is None or fact.exclusive is None]
    if len(left) < 2:
        return ()
    return tuple(lookup.missing(OutputFacts.exclusive, name, '"rows"') for name in left)


def hold_floating(made: Assembly, name: str, node: int) -> None:
    """Add a leakage far below every current that is judged, so that a pin that nothing holds has a voltage."""
    if node:
        made.add(name, lambda vector, temperature: Resistor(name, node, 0, FLOAT_OHMS))


def _by_temperature(found: Iterable[tuple[float, tuple[Extreme, ...]]]) -> tuple[AtTemperature, ...]:
    """The bounds of the LED current, which is the first of the quantities, at each temperature."""
    return tuple(
        AtTemperature(t, Bound(ends[0].low, ends[0].low_corner, t), Bound(ends[0].high, ends[0].high_corner, t))
        for t, ends in found
    )


def led_name(channel: Channel) -> str:
    """The solver's name of the channel's own LED."""
    return f"LED of {channel.subject}"


def vector_of(made: Assembly, corner: Sequence[tuple[str, float]]) -> tuple[float, ...]:
    """The whole vector of a corner: terms that it does not name are nominal."""
    named = dict(corner)
    return tuple(named.get(term.name, term.nominal) for term in made.terms)
