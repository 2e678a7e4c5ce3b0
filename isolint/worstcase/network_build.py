"""A drive or load network made into a small circuit for the solver.

In: a walked `Network`, terms, a state of its inputs. Out: an `Assembly`, which gives the solver's network for any
choice of the uncertain numbers and any temperature. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, NamedTuple

from isolint.circuit import Circuit
from isolint.facts import ElementFacts
from isolint.interfaces.entities import Boundary, Part
from isolint.interfaces.entities import Network as Walked
from isolint.parts import Coil
from isolint.rows import Value, either
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.alternating import dropping_capacitors, reactance, stimulus_ends
from isolint.worstcase.companions import conducting, pair_key
from isolint.worstcase.current_limiters import current_limiter
from isolint.worstcase.devices import Bipolar, Diode, Mos, Switch, from_model
from isolint.worstcase.fact_terms import origin
from isolint.worstcase.leds import LedTerms
from isolint.worstcase.lookup import Lookup, table_of
from isolint.worstcase.parametric_network import REFERENCE_TEMPERATURE, Assembly
from isolint.worstcase.shunts import shunt_branch
from isolint.worstcase.solve import Solver
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated
from isolint.worstcase.unmodelled import closed_switch, unmodelled

Level = Literal[
    "high", "low", "hi-z", "on", "off", "leaking", "reversed", "positive", "negative", "off back", "leaking back"
]
State = Mapping[int, Level]
"""Level of each switching input of a network by net (or by element for switches, as -1 - element; by `pair_key` for the
outputs of other couplers, on unless it says that they are off).

Outputs are high, low or hi-z; lines on, off at their stated voltage, off and leaking, or reversed; an AC supply or line
stands at one of its peaks, such a line that is off or leaks also the other way round, "back".
"""

SMALLEST_OHMS = 1e-6
COPPER = 0.00393
COIL_TEMPERATURE = 25.0
MOST_ZENER_VOLTS = 75.0
"""A diode that breaks down above this is a rectifier, of which nothing is limited (from memory)."""


class Variant(NamedTuple):
    """How devices are idealised: `ideal` for the question whether anything limits the current.

    closed: transistors without a model that count as closed switches. across: diodes without a model across an LED
    that takes at least what they leave it, whatever they are. range_end: a shunt reference stands where it leaves the
    LED least.
    """

    ideal: bool = False
    closed: frozenset[int] = frozenset()
    across: frozenset[int] = frozenset()
    range_end: bool = False


REAL = Variant()


class Assembler:
    """Makes assemblies for the networks of one netlist."""

    def __init__(
        self,
        lookup: Lookup,
        led_terms: Callable[[Part], LedTerms],
        parts: Mapping[int, Part],
        settings: Setting,
        solver: Solver,
    ) -> None:
        self.lookup = lookup
        self.circuit: Circuit = lookup.circuit
        self.led_terms = led_terms
        self.parts = parts
        self.setting = settings
        self.solver = solver
        self.dropping: Mapping[int, float] = {}

    def assemble(
        self, walked: Walked, state: State, variant: Variant = REAL, skip: frozenset[int] = frozenset()
    ) -> Assembly:
        """All elements of a walked network, held nets included; `skip` leaves elements out that the caller replaces."""
        made = Assembly(self.solver.codes)
        self.dropping = dropping_capacitors(self.lookup, walked)
        for held in walked.boundary:
            self.hold(made, held, state, variant)
        for net in walked.inner:
            made.node(net, self.circuit.net_name(net))
        for element in walked.elements:
            if element not in skip and element not in self.parts:
                self._element(made, element, state, variant)
        for element, pins in walked.branches:
            self._branch(made, element, pins, variant)
        for pair in walked.pairs:
            if state.get(pair_key(pair), "on") == "on":
                conducting(made, self.circuit, self.parts, pair, variant.ideal)
        return made

    # -- held nets --------------------------------------------------------------------------------------------

    def hold(self, made: Assembly, held: Boundary, state: State, variant: Variant = REAL) -> None:
        """Tie a held net to what holds it; nets in the levels hi-z and leaking are left free."""
        name = self.lookup.source_name(held.net)
        level = state.get(held.net)
        if held.kind == "ground":
            made.nets[held.net] = 0
        elif level in ("hi-z", "leaking", "leaking back"):
            node = self._node(made, held.net)
            made.add(name, lambda vector, temperature: n.Blocked(f"{name} ({level})", (node,)))
        elif level in ("positive", "negative"):
            peak = made.term(self.lookup.peak(held.net))
            sign = 1.0 if level == "positive" else -1.0
            self._source(made, held.net, name, peak, lambda x: sign * x)
        elif level == "reversed":
            back = made.term(self.lookup.reversed_line(held.net))
            self._source(made, held.net, name, back)
        elif held.kind == "supply":
            index = made.term(self.lookup.supply(held.net, held))
            self._source(made, held.net, name, index)
        elif held.kind == "line" and self.lookup.is_alternating(held.net):
            crest = made.term(self.lookup.line_crest(held.net, False))
            turn = -1.0 if level == "off back" else 1.0
            self._source(made, held.net, name, crest, lambda x: turn * x)
        elif held.kind == "line":
            index = made.term(self.lookup.line(held.net, state.get(held.net) == "on"))
            self._source(made, held.net, name, index)
        elif held.kind == "output" and held.element >= 0:
            self._stimulus(made, held, name, state)
        elif held.kind == "output":
            self._port(made, held.net, name, state.get(held.net) == "high", variant)

    def _source(
        self, made: Assembly, net: int, name: str, index: int, volts: Callable[[float], float] = lambda x: x
    ) -> None:
        node = self._node(made, net)
        made.add(name, lambda vector, temperature: n.VoltageSource(name, node, 0, volts(vector[index])), index)

    def _node(self, made: Assembly, net: int) -> int:
        return made.node(net, self.circuit.net_name(net))

    def _stimulus(self, made: Assembly, held: Boundary, name: str, state: State) -> None:
        low, high = stimulus_ends(self.circuit, held.element)
        value = high if state.get(held.net) == "high" else low
        if self.circuit.pins(held.element)[0] != held.net:
            value = -value
        spread = self.lookup.tolerance(held.element)
        index = made.term(spread)
        self._source(made, held.net, name, index, lambda x: value * (1.0 + x))

    def _port(self, made: Assembly, net: int, name: str, high: bool, variant: Variant) -> None:
        model = self.lookup.output(net, high, self.setting)
        node = self._node(made, net)
        if model is None:
            made.add(name, lambda vector, temperature: n.Blocked(f"output {name} (off)", (node,)))
            return
        made.outputs[name] = (net, model)
        best = self.setting.high(model.best) if high else self.setting.low(model.best)
        if variant.ideal:
            made.add(name, lambda vector, temperature: n.VoltageSource(name, node, 0, best))
            return
        what = "high" if high else "low"
        share = stated(
            f'outputs."{self.circuit.net_name(net)}".{what}.share',
            f"output {name} {what}: guaranteed (0) to ideal (1)",
            "1",
            0.0,
            0.5,
            1.0,
            "stated levels",
        )
        index = made.term(share)

        def port(vector: Sequence[float], temperature: float) -> n.Branch:
            x = vector[index]
            if high and x <= 0.0:
                return n.Port(name, node, 0, table_of(model, high))
            table = tuple((amps, (1.0 - x) * volts + x * best) for amps, volts in table_of(model, high))
            return n.Port(name, node, 0, table)

        made.add(name, port, index)

    # -- elements ---------------------------------------------------------------------------------------------

    def _element(self, made: Assembly, element: int, state: State, variant: Variant) -> None:
        circuit = self.circuit
        letter, path = circuit.letter(element), circuit.path(element)
        if element in variant.closed:
            closed_switch(made, circuit, element, variant.ideal)
            return
        recognition = self.lookup.walker.recognition
        if element in recognition.shunts:
            on = state.get(-1 - element) == "on"
            shunt_branch(made, self.lookup, recognition, element, on, variant.ideal, variant.range_end)
            return
        nodes = [made.node(net, circuit.net_name(net)) for net in circuit.pins(element)]
        made.branch_of[element] = path
        tail = {key: value for key, value in circuit.tail(element).items() if isinstance(value, float)}
        if letter == "R":
            self._resistor(made, element, path, nodes)
        elif letter == "L":
            ohms = max(tail.get("rser", 0.0), SMALLEST_OHMS)
            made.add(path, lambda vector, temperature: n.Resistor(path, nodes[0], nodes[1], ohms))
        elif letter == "C":
            self._capacitor(made, element, path, nodes)
        elif letter == "V":
            self._voltage_source(made, element, path, nodes, state)
        elif letter == "I":
            amps = circuit.value(element)
            if amps is None:
                raise Lacking(f"current source {path} has no DC value")
            index = made.term(self.lookup.tolerance(element))
            made.add(
                path,
                lambda vector, temperature: n.CurrentSource(path, nodes[0], nodes[1], amps * (1.0 + vector[index])),
                index,
            )
        elif letter == "S":
            on = state.get(-1 - element) == "on"
            parameters = circuit.model_parameters(element)
            ohms, open_ohms = 0.0 if variant.ideal else parameters.get("ron", 1.0), parameters.get("roff", 1e12)
            made.add(
                path,
                lambda vector, temperature: n.SwitchBranch(
                    path, nodes[0], nodes[1], Switch(RON=ohms, ROFF=open_ohms, on=on)
                ),
            )
        elif letter in "DQM":
            self._device(made, element, letter, path, nodes, tail, variant)
        elif letter == "J":
            current_limiter(made, self.lookup, element, nodes, tail, variant.ideal)
        elif letter != "K":
            raise Lacking(f"{path} stands in the network and is no element that can be solved here")

    def _capacitor(self, made: Assembly, element: int, path: str, nodes: list[int]) -> None:
        """No direct current; at the AC supply's side of everything that rectifies its reactance, as a resistor."""
        hertz = self.dropping.get(element)
        parallel = self.circuit.tail(element).get("rpar")
        if hertz is None and isinstance(parallel, float) and parallel > 0.0:
            made.add(path, lambda vector, temperature: n.Resistor(path, nodes[0], nodes[1], parallel))
            return
        if hertz is None:
            made.add(path, lambda vector, temperature: n.Blocked(path, tuple(nodes)))
            return
        farads = self.circuit.value(element)
        if farads is None or farads <= 0.0:
            raise Lacking(f"capacitor {path} has no value")
        index = made.term(self.lookup.tolerance(element))
        made.add(
            path,
            lambda vector, temperature: n.Resistor(
                path, nodes[0], nodes[1], reactance(hertz, farads * (1.0 + vector[index]))
            ),
            index,
        )

    def _resistor(self, made: Assembly, element: int, path: str, nodes: list[int]) -> None:
        ohms = self.lookup.ohms(element)
        if ohms is None:
            raise self._valueless("resistor", element)
        if ohms < 0.0:
            raise Lacking(f"resistor {path} has a negative value")
        if ohms < SMALLEST_OHMS:
            made.add(path, lambda vector, temperature: n.Resistor(path, nodes[0], nodes[1], 0.0))
            return
        index = made.term(self.lookup.tolerance(element))
        tempco = self.lookup.tempco(element)
        drift = None if tempco is None else made.term(tempco)
        if drift is not None:
            made.drifts[drift] = index

        def resistor(vector: Sequence[float], temperature: float) -> n.Branch:
            factor = 1.0 + vector[index]
            if drift is not None:
                factor *= 1.0 + vector[drift] * (temperature - REFERENCE_TEMPERATURE)
            return n.Resistor(path, nodes[0], nodes[1], ohms * factor)

        made.add(path, resistor, *([index] if drift is None else [index, drift]), warm=drift is not None)

    def _valueless(self, what: str, element: int) -> Lacking:
        """What to say of a card whose value is not there or can't be worked out: why, and that the card is the cure."""
        path, problem = self.circuit.path(element), self.circuit.value_problem(element)
        because = f" ({problem.replace(' has no value: ', ': ', 1)})" if problem else ""
        return Lacking(
            f"{what} {path} has no value{because}",
            element=element,
            remedy=f"give {path} a number, or set every parameter of its expression",
        )

    def _voltage_source(self, made: Assembly, element: int, path: str, nodes: list[int], state: State) -> None:
        """A source between two nets of the network: 0 V is a wire, a moving one follows the state."""
        circuit = self.circuit
        if circuit.stimulus(element) is not None:
            low, high = stimulus_ends(circuit, element)
            volts = high if state.get(-1 - element) == "high" else low
        else:
            value = circuit.value(element)
            if value is None and circuit.value_text(element):
                raise self._valueless("source", element)
            volts = value or 0.0
        if volts == 0.0:
            made.add(path, lambda vector, temperature: n.VoltageSource(path, nodes[0], nodes[1], 0.0))
            return
        index = made.term(self.lookup.tolerance(element))
        made.add(
            path,
            lambda vector, temperature: n.VoltageSource(path, nodes[0], nodes[1], volts * (1.0 + vector[index])),
            index,
        )

    def _device(
        self,
        made: Assembly,
        element: int,
        letter: str,
        path: str,
        nodes: list[int],
        tail: Mapping[str, float],
        variant: Variant,
    ) -> None:
        model = self.circuit.model(element)
        if model is None:
            unmodelled(made, self.circuit, element, nodes, element in variant.across)
            return
        device = from_model(letter, model.type, self.circuit.model_parameters(element), tail)
        if device is None:
            raise Lacking(
                f"the model {self.circuit.model_name(element)} of {path} is of a type that can't be solved here"
            )
        if letter in "QM":
            first, control, last = nodes[:3]
        if isinstance(device, Bipolar):
            made.bipolars.append(element)
            if variant.ideal:
                gained = device._replace(BF=1e7, RB=0.0, RE=0.0, RC=0.0)
                made.add(path, lambda vector, temperature: n.BipolarBranch(path, first, control, last, gained))
                return
            index = made.term(self.gain(element, device))
            bipolar = device
            made.add(
                path,
                lambda vector, temperature: n.BipolarBranch(
                    path, first, control, last, bipolar._replace(BF=bipolar.BF * vector[index])
                ),
                index,
            )
        elif isinstance(device, Mos):
            made.mosfets.append(element)
            mos = device._replace(KP=max(device.KP, 1e3), RD=0.0, RS=0.0) if variant.ideal else device
            made.add(path, lambda vector, temperature: n.MosBranch(path, first, control, last, mos))
        elif isinstance(device, Switch):
            raise Lacking(f"{path} has a switch model on a card that is no switch")
        else:
            self._diode(made, element, path, nodes, device)

    def _diode(self, made: Assembly, element: int, path: str, nodes: list[int], diode: Diode) -> None:
        """A diode; of a Zener diode the breakdown varies, as far as somebody states it also that of a rectifier."""
        volts = diode.BV
        if volts is None or not (volts <= MOST_ZENER_VOLTS or self.lookup.facts.element(path).tolerance is not None):
            made.add(path, lambda vector, temperature: n.DiodeBranch(path, nodes[0], nodes[1], diode))
            return
        index = made.term(self.lookup.tolerance(element))
        made.add(
            path,
            lambda vector, temperature: n.DiodeBranch(
                path, nodes[0], nodes[1], diode._replace(BV=volts * (1.0 + vector[index]))
            ),
            index,
        )

    def gain(self, element: int, device: Bipolar) -> Term:
        """Current gain over the model's BF: half of it at worst, BF at the kindest, unless `gain_min` is stated."""
        path = self.circuit.path(element)
        row, fact = ElementFacts.gain_min, self.lookup.facts.element(path).gain_min
        title = f"gain of {path} over BF"
        if fact is not None:
            low = fact.value / device.BF
            ends = Interval(low, max(low, 2.0))
            return fact_terms.known(row, path, ends, origin(fact), title=title)._replace(nominal=max(low, 1.0))
        usual = either(0.5, 1.0, 2.0, "default BF/2 to 2 BF (common practice, no source)")
        return fact_terms.defaulted(row, path, usual, title=title, example=f"{device.BF / 2:g}")

    # -- branches of barrier parts ------------------------------------------------------------------------------

    def _branch(self, made: Assembly, element: int, pins: tuple[int, ...], variant: Variant) -> None:
        part = self.parts[element]
        nets = self.circuit.pins(element)
        roles = [part.roles[pin] for pin in pins]
        if "anode" in roles and len(pins) == 2:
            anode, cathode = (nets[pin] for pin in (pins if roles[0] == "anode" else pins[::-1]))
            self.led(made, part, anode, cathode, led_branch(part, pins), variant)
            if part.both_ways:
                self.led(made, part, cathode, anode, f"{led_branch(part, pins)} the other way", variant)
            return
        if "coil" in part.kind.inputs and len(pins) == 2:
            coil = None if part.record is None else part.record.coil
            if coil is None or coil.resistance is None:
                raise lacking_coil(self.lookup, part, Coil.resistance, "resistance")
            cold = coil.resistance
            drift = COPPER if coil.temperature_coefficient is None else coil.temperature_coefficient
            at = COIL_TEMPERATURE if coil.temperature is None else coil.temperature
            spread = coil.tolerance or Interval(0.0, 0.0)
            middle, key = min(max(0.0, spread.low), spread.high), f"parts.{part.model_name or part.path}.coil.tolerance"
            title, source = coil_tolerance(part), f"record {part.model_name}"
            index = made.term(stated(key, title, "1", spread.low, middle, spread.high, source))
            a, b = (made.node(nets[pin], self.circuit.net_name(nets[pin])) for pin in pins)
            made.branch_of[element] = part.path
            made.add(
                part.path,
                lambda vector, temperature: n.Resistor(
                    part.path, a, b, cold * (1.0 + vector[index]) * (1.0 + drift * (temperature - at))
                ),
                index,
                warm=True,
            )

    def led(self, made: Assembly, part: Part, anode: int, cathode: int, name: str, variant: Variant) -> None:
        """Add an LED of `part` between two nets. Each LED varies on its own, though one record may state them all."""
        terms = self.led_terms(part)
        own = name.removeprefix("LED of ")

        def place(term: Term) -> int:
            return made.term(term if own == part.path else term._replace(name=term.name.replace(part.path, own)))

        made.branch_of.setdefault(part.element, name)
        a = made.node(anode, self.circuit.net_name(anode))
        k = made.node(cathode, self.circuit.net_name(cathode))
        voltage = place(terms.forward_voltage)
        drift = place(terms.temperature_coefficient)
        made.drifts[drift] = voltage
        inner = None if terms.internal_resistor is None else place(terms.internal_resistor)

        def branch(vector: Sequence[float], temperature: float) -> n.Branch:
            ohms = 0.0 if inner is None else vector[inner]
            curve = terms.curve(vector[voltage], vector[drift], ideal=variant.ideal)
            return n.LedBranch(name, a, k, curve, ohms)

        made.add(name, branch, *([voltage, drift] if inner is None else [voltage, drift, inner]))


def lacking_coil(lookup: Lookup, part: Part, value: Value[Any], words: str) -> Lacking:
    """What is missing of a relay's coil, as the line of its record, or the record itself."""
    if part.record is None:
        fact = lookup.missing(ElementFacts.part, part.path, '"DEMO_RELAY"')
    else:
        fact = fact_terms.missing(part.record.file, value, part.record.name)
    return Lacking(f"the coil's {words} of {part.type} {part.path} is not known", [fact])


def coil_tolerance(part: Part) -> str:
    """The name of the term by which a coil's resistance differs from the nominal one."""
    return f"tolerance of coil {part.path}"


def led_branch(part: Part, pins: Sequence[int]) -> str:
    """The solver's name of an LED of another part, or of another channel of the same one."""
    if part.roles.count("anode") == 1:
        return part.path
    return f"{part.path} pins {'-'.join(str(pin + 1) for pin in pins)}"


def led_in(circuit: Circuit, part: Part, made: Assembly) -> tuple[str, int, int]:
    """The LED of a coupler in a network: its branch's name, nodes of anode and cathode; of several the first there."""
    nets = circuit.pins(part.element)
    for group in part.groups:
        roles = [part.roles[pin] for pin in group]
        if "anode" not in roles or "cathode" not in roles or part.both_ways:
            continue
        anode, cathode = (nets[group[roles.index(role)]] for role in ("anode", "cathode"))
        if anode in made.nets and cathode in made.nets:
            return led_branch(part, group), made.nets[anode], made.nets[cathode]
    raise Lacking(f"the LED of {part.path} can't be found in the network")
