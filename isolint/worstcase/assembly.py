"""A drive or load network made into a small circuit for the solver.

In: a walked `Network`, terms, a state of its inputs. Out: an `Assembly`, which gives the solver's network for any choice of the
uncertain numbers and any temperature. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from isolint.circuit import Circuit
from isolint.interfaces.values import Boundary, Part
from isolint.interfaces.values import Network as Walked
from isolint.worstcase import network as n
from isolint.worstcase.corners import Range
from isolint.worstcase.devices import Bipolar, Mos, Switch, from_model
from isolint.worstcase.leds import LedTerms
from isolint.worstcase.lookup import Lookup, OutputModel
from isolint.worstcase.terms import Lacking, Setting, Term, stated

Level = Literal["high", "low", "on", "off"]
State = Mapping[int, Level]
"""Level of each switching input of a network by net (or by element for switches, as -1 - element)."""

SMALLEST_OHMS = 1e-6
COPPER = 0.00393

Maker = Callable[[Sequence[float], float], n.Branch | None]


@dataclass(slots=True)
class Assembly:
    """Branches as functions of the uncertain numbers.

    terms: the uncertain numbers; a vector holds one value each. nets: solver node by net. makers: give a branch for a vector and a
    temperature. sources: elements and nets that feed it, by branch name. outputs: models of the outputs in use, by branch name.
    """

    nodes: list[str] = field(default_factory=lambda: ["0"])
    nets: dict[int, int] = field(default_factory=dict)
    terms: list[Term] = field(default_factory=list)
    makers: list[Maker] = field(default_factory=list)
    outputs: dict[str, tuple[int, OutputModel]] = field(default_factory=dict)
    branch_of: dict[int, str] = field(default_factory=dict)
    bipolars: list[int] = field(default_factory=list)
    mosfets: list[int] = field(default_factory=list)

    def node(self, net: int, name: str) -> int:
        """The solver's node for a net, made when it is new."""
        if net not in self.nets:
            self.nets[net] = len(self.nodes)
            self.nodes.append(name)
        return self.nets[net]

    def term(self, term: Term) -> int:
        """The place of a term in the vectors, made when it is new."""
        for index, known in enumerate(self.terms):
            if known.key == term.key:
                return index
        self.terms.append(term)
        return len(self.terms) - 1

    def ranges(self, setting: Setting) -> list[Range]:
        """The intervals of all terms in a setting."""
        return [
            Range(term.name, low, min(max(term.nominal, low), high), high)
            for term in self.terms
            for low, high in (setting.range(term),)
        ]

    def network(self, vector: Sequence[float], temperature: float, extra: Sequence[n.Branch] = ()) -> n.Network:
        """The solver's network at one choice of the uncertain numbers and one temperature."""
        made = (maker(vector, temperature) for maker in self.makers)
        return n.Network(tuple(self.nodes), (*(branch for branch in made if branch is not None), *extra))


@dataclass(frozen=True, slots=True)
class Variant:
    """How devices are idealised: `ideal` for the question whether anything limits the current."""

    ideal: bool = False


class Assembler:
    """Makes assemblies for the networks of one netlist."""

    def __init__(
        self, lookup: Lookup, led_terms: Callable[[Part], LedTerms], parts: Mapping[int, Part], settings: Setting
    ) -> None:
        self.lookup = lookup
        self.circuit: Circuit = lookup.circuit
        self.led_terms = led_terms
        self.parts = parts
        self.setting = settings

    def assemble(
        self, walked: Walked, state: State, variant: Variant = Variant(), skip: frozenset[int] = frozenset()
    ) -> Assembly:  # noqa: B008
        """All elements of a walked network, held nets included; `skip` leaves elements out that the caller replaces."""
        made = Assembly()
        for held in walked.boundary:
            self.hold(made, held, state, variant)
        for net in walked.inner:
            made.node(net, self.circuit.net_name(net))
        for element in walked.elements:
            if element not in skip and element not in self.parts:
                self._element(made, element, state, variant)
        for element, pins in walked.branches:
            self._branch(made, element, pins, variant)
        return made

    # -- held nets --------------------------------------------------------------------------------------------

    def hold(self, made: Assembly, held: Boundary, state: State, variant: Variant = Variant()) -> None:  # noqa: B008
        """Tie a held net to what holds it."""
        name = self.circuit.net_name(held.net)
        if held.kind == "ground":
            made.nets[held.net] = 0
        elif held.kind == "supply":
            index = made.term(self.lookup.supply(held.net, held))
            self._source(made, held.net, name, lambda vector: vector[index])
        elif held.kind == "line":
            index = made.term(self.lookup.line(held.net, state.get(held.net) == "on"))
            self._source(made, held.net, name, lambda vector: vector[index])
        elif held.kind == "output" and held.element >= 0:
            self._stimulus(made, held, name, state)
        elif held.kind == "output":
            self._port(made, held.net, name, state.get(held.net) == "high", variant)

    def _source(self, made: Assembly, net: int, name: str, volts: Callable[[Sequence[float]], float]) -> None:
        node = made.node(net, name)
        made.makers.append(lambda vector, temperature: n.VoltageSource(name, node, 0, volts(vector)))

    def _stimulus(self, made: Assembly, held: Boundary, name: str, state: State) -> None:
        low, high = stimulus_ends(self.circuit, held.element)
        value = high if state.get(held.net) == "high" else low
        if self.circuit.pins(held.element)[0] != held.net:
            value = -value
        spread = self.lookup.tolerance(held.element)
        index = made.term(spread)
        self._source(made, held.net, name, lambda vector: value * (1.0 + vector[index]))

    def _port(self, made: Assembly, net: int, name: str, high: bool, variant: Variant) -> None:
        model = self.lookup.output(net, high)
        node = made.node(net, name)
        if model is None:
            made.makers.append(lambda vector, temperature: n.Blocked(f"output {name} (off)", (node,)))
            return
        made.outputs[name] = (net, model)
        best = self.setting.high(model.best) if high else self.setting.low(model.best)
        if variant.ideal:
            made.makers.append(lambda vector, temperature: n.VoltageSource(name, node, 0, best))
            return
        what = "high" if high else "low"
        share = stated(
            f'outputs."{name}".{what}.share',
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
                return n.Port(name, node, 0, model.worst)
            table = tuple((amps, (1.0 - x) * volts + x * best) for amps, volts in model.worst)
            return n.Port(name, node, 0, table)

        made.makers.append(port)

    # -- elements ---------------------------------------------------------------------------------------------

    def _element(self, made: Assembly, element: int, state: State, variant: Variant) -> None:
        circuit = self.circuit
        letter, path = circuit.letter(element), circuit.path(element)
        nodes = [made.node(net, circuit.net_name(net)) for net in circuit.pins(element)]
        made.branch_of[element] = path
        tail = {key: value for key, value in circuit.tail(element).items() if isinstance(value, float)}
        if letter == "R":
            self._resistor(made, element, path, nodes, tail)
        elif letter == "L":
            ohms = max(tail.get("rser", 0.0), SMALLEST_OHMS)
            made.makers.append(lambda vector, temperature: n.Resistor(path, nodes[0], nodes[1], ohms))
        elif letter == "C":
            made.makers.append(lambda vector, temperature: n.Blocked(path, tuple(nodes)))
        elif letter == "V":
            volts = circuit.value(element) or 0.0
            made.makers.append(lambda vector, temperature: n.VoltageSource(path, nodes[0], nodes[1], volts))
        elif letter == "I":
            amps = circuit.value(element)
            if amps is None:
                raise Lacking(f"current source {path} has no DC value")
            index = made.term(self.lookup.tolerance(element))
            made.makers.append(
                lambda vector, temperature: n.CurrentSource(path, nodes[0], nodes[1], amps * (1.0 + vector[index]))
            )
        elif letter == "S":
            on = state.get(-1 - element) == "on"
            ohms = circuit.model_parameters(element).get("ron", 1.0)
            made.makers.append(
                lambda vector, temperature: n.SwitchBranch(path, nodes[0], nodes[1], Switch(RON=ohms, on=on))
            )
        elif letter in "DQM":
            self._device(made, element, letter, path, nodes, tail, variant)
        elif letter != "K":
            raise Lacking(f"{path} stands in the network and is no element that can be solved here")

    def _resistor(self, made: Assembly, element: int, path: str, nodes: list[int], tail: Mapping[str, float]) -> None:
        ohms = self.lookup.ohms(element)
        if ohms is None:
            text = self.circuit.value_text(element)
            raise Lacking(f"resistor {path} has no value" + (f" ({text} can't be evaluated)" if text else ""))
        if abs(ohms) < SMALLEST_OHMS:
            made.makers.append(lambda vector, temperature: n.Resistor(path, nodes[0], nodes[1], 0.0))
            return
        index = made.term(self.lookup.tolerance(element))
        tempco = self.lookup.tempco(element)
        drift = None if tempco is None else made.term(tempco)

        def resistor(vector: Sequence[float], temperature: float) -> n.Branch:
            factor = 1.0 + vector[index]
            if drift is not None:
                factor *= 1.0 + vector[drift] * (temperature - 25.0)
            return n.Resistor(path, nodes[0], nodes[1], ohms * factor)

        made.makers.append(resistor)

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
        device = from_model(letter, None if model is None else model.type, self.circuit.model_parameters(element), tail)
        if device is None:
            raise Lacking(
                f"the model {self.circuit.model_name(element)} of {path} is of a type that can't be solved here"
            )
        if letter in "QM":
            first, control, last = nodes[:3]
        if isinstance(device, Bipolar):
            made.bipolars.append(element)
            if variant.ideal:
                gained = replace(device, BF=1e7, RB=0.0, RE=0.0, RC=0.0)
                made.makers.append(lambda vector, temperature: n.BipolarBranch(path, first, control, last, gained))
                return
            index = made.term(self.gain(element, device))
            bipolar = device
            made.makers.append(
                lambda vector, temperature: n.BipolarBranch(
                    path, first, control, last, replace(bipolar, BF=bipolar.BF * vector[index])
                )
            )
        elif isinstance(device, Mos):
            made.mosfets.append(element)
            mos = replace(device, KP=max(device.KP, 1e3), RD=0.0, RS=0.0) if variant.ideal else device
            made.makers.append(lambda vector, temperature: n.MosBranch(path, first, control, last, mos))
        elif isinstance(device, Switch):
            raise Lacking(f"{path} has a switch model on a card that is no switch")
        else:
            diode = device
            made.makers.append(lambda vector, temperature: n.DiodeBranch(path, nodes[0], nodes[1], diode))

    def gain(self, element: int, device: Bipolar) -> Term:
        """Current gain over the model's BF: half of it at worst, BF at the kindest, unless `gain_min` is stated."""
        path = self.circuit.path(element)
        key = f'elements."{path}".gain_min'
        fact = self.lookup.facts.element(path).gain_min
        if fact is not None:
            low = min(fact.value / device.BF, 1.0)
            return stated(key, f"gain of {path} over BF", "1", low, 1.0, 2.0, f"{fact.file}: {fact.key}")
        example = f'[elements."{path}"]\ngain_min = {device.BF / 2:g}'
        return Term(
            key,
            f"gain of {path} over BF",
            "1",
            0.5,
            1.0,
            2.0,
            1.0,
            1.0,
            False,
            "default BF/2 to 2 BF (common practice, no source)",
            example,
        )

    # -- branches of barrier parts ------------------------------------------------------------------------------

    def _branch(self, made: Assembly, element: int, pins: tuple[int, ...], variant: Variant) -> None:
        part = self.parts[element]
        nets = self.circuit.pins(element)
        roles = [part.roles[pin] for pin in pins]
        if "anode" in roles and "cathode" in roles:
            self.led(
                made, part, nets[pins[roles.index("anode")]], nets[pins[roles.index("cathode")]], part.path, variant
            )
            return
        if part.type == "relay" and len(pins) == 2:
            coil = None if part.record is None else part.record.coil
            if coil is None or coil.resistance is None:
                raise Lacking(f"the coil resistance of {part.path} is not known")
            ohms = coil.resistance
            a, b = (made.node(nets[pin], self.circuit.net_name(nets[pin])) for pin in pins)
            made.branch_of[element] = part.path
            made.makers.append(
                lambda vector, temperature: n.Resistor(part.path, a, b, ohms * (1.0 + COPPER * (temperature - 20.0)))
            )

    def led(self, made: Assembly, part: Part, anode: int, cathode: int, name: str, variant: Variant) -> None:
        """Add an LED of `part` between two nets."""
        terms = self.led_terms(part)
        made.branch_of.setdefault(part.element, name)
        a = made.node(anode, self.circuit.net_name(anode))
        k = made.node(cathode, self.circuit.net_name(cathode))
        voltage = made.term(terms.forward_voltage)
        drift = made.term(terms.temperature_coefficient)
        inner = None if terms.internal_resistor is None else made.term(terms.internal_resistor)

        def branch(vector: Sequence[float], temperature: float) -> n.Branch:
            ohms = 0.0 if inner is None else vector[inner]
            curve = terms.curve(vector[voltage], vector[drift], ideal=variant.ideal)
            return n.Led(name, a, k, curve, ohms)

        made.makers.append(branch)


def stimulus_ends(circuit: Circuit, element: int) -> tuple[float, float]:
    """The lowest and highest value of a moving source: both levels of PULSE, all of PWL, offset and amplitude of SIN."""
    stimulus = circuit.stimulus(element)
    kind, numbers = ("", ()) if stimulus is None else stimulus
    if kind in ("PULSE", "EXP") and len(numbers) >= 2:
        return min(numbers[:2]), max(numbers[:2])
    if kind == "PWL" and len(numbers) >= 2:
        values = numbers[1::2]
        return min(values), max(values)
    if kind == "SIN" and len(numbers) >= 2:
        return numbers[0] - abs(numbers[1]), numbers[0] + abs(numbers[1])
    raise Lacking(f"the extremes of source {circuit.path(element)} can't be told from its card")
