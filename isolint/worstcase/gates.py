"""The gates of power transistors behind a driver's output: where they lie, through what, and what is between gate and
source.

In: a circuit with its parts. Out: `Driven` gates with the elements on the way. Knows nothing of rules.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from isolint.facts import ElementFacts
from isolint.interfaces.entities import Part, Recognition
from isolint.rows import Usual, least, point
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.devices import Mos, from_model
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.solve import Solver
from isolint.worstcase.uncertain import Lacking, Setting, Term

FULLY_ON = 10.0
"""Volts at which any MOS transistor that is not made for logic levels is fully on (common practice, no source)."""

GATE_RATING = (10.0, 20.0)
"""Volts either way that gates stand, from the weakest to the usual (from memory)."""

THRESHOLD_LEAST = 0.5
_WAY = frozenset("RDLV")
MOST = 40


class Driven(NamedTuple):
    """A gate that an output reaches. element: the transistor. net, source: its nets. way: the elements between the
    output and the gate. beside: what lies between gate and source. starts: the net of the output."""

    element: int
    net: int
    source: int
    way: tuple[int, ...]
    beside: tuple[int, ...]
    start: int


class DriverPin(NamedTuple):
    """An output pin of a driver with its net; whether it can turn a gate on, and off."""

    pin: int
    net: int
    on: bool
    off: bool


def outputs(lookup: Lookup, part: Part) -> list[DriverPin]:
    """The output pins of a driver; of a pair that is split the one sources and the other sinks."""
    nets = lookup.circuit.pins(part.element)
    found = [pin for pin, role in enumerate(part.roles) if role == "output"]
    names = {pin: part.record.pins[pin].casefold() if part.record is not None else "" for pin in found}
    plus = any(name.endswith("+") for name in names.values())
    minus = any(name.endswith("-") for name in names.values())
    split = plus and minus
    return [
        DriverPin(pin, nets[pin], not (split and names[pin].endswith("-")), not (split and names[pin].endswith("+")))
        for pin in found
    ]


def driven(lookup: Lookup, recognition: Recognition, part: Part, start: int, back: int = -1) -> list[Driven]:
    """The gates that a net reaches through R, D, L and sources of 0 V; a part counts as a transistor where a fact of
    its gate is stated. back: the net against which the output drives, where that is known."""
    circuit = lookup.circuit
    waiting, seen, way = deque([start]), {start}, dict[int, None]()
    gates: list[tuple[int, int, int]] = []
    while waiting and len(seen) < MOST:
        net = waiting.popleft()
        if net != start and (lookup.walker.held(net) is not None or net == back):
            continue
        for element, pin in circuit.elements_at(net):
            letter = circuit.letter(element)
            pins = circuit.pins(element)
            if letter == "M" and pin == 1:
                gates.append((element, net, pins[2]))
            elif letter in _WAY and element not in way:
                if letter == "V" and (circuit.value(element) or circuit.stimulus(element) is not None):
                    continue
                way[element] = None
                for other in pins[:2]:
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
            elif letter in "XU" and element != part.element and element not in recognition.parts:
                stated = lookup.facts.element(circuit.path(element))
                if stated.gate_full_on is not None or stated.gate_voltage is not None:
                    source = back if back >= 0 else next((far for far in pins[::-1] if far != net), net)
                    gates.append((element, net, source))
    found = []
    for element, net, source in dict.fromkeys(gates):
        nets = _reaching(lookup, start, net, way, source, back)
        on_way = tuple(each for each in way if set(circuit.pins(each)[:2]) <= nets)
        beside = tuple(
            each
            for each in dict.fromkeys(each for inner in nets for each, _ in circuit.elements_at(inner))
            if circuit.letter(each) in "RDQJMC"
            and each not in on_way
            and each != element
            and any(far in (source, back) for far in circuit.pins(each))
        )
        found.append(Driven(element, net, source, on_way, beside, start))
    return found


def _reaching(lookup: Lookup, start: int, gate: int, way: Mapping[int, None], source: int, back: int) -> set[int]:
    """The nets of the way between an output and a gate, without those of what hangs beside it."""
    circuit = lookup.circuit
    ends = {source, back}

    def spread(first: int) -> set[int]:
        waiting, seen = deque([first]), {first}
        while waiting:
            net = waiting.popleft()
            for element in way:
                pins = circuit.pins(element)[:2]
                for other in pins if net in pins else ():
                    if other not in seen and other not in ends and lookup.walker.held(other) is None:
                        seen.add(other)
                        waiting.append(other)
        return seen

    return (spread(start) & spread(gate)) | {start, gate}


def resistance(lookup: Lookup, solver: Solver, gate: Driven, setting: Setting, on: bool) -> tuple[float, list[Term]]:
    """Ohms from the output to the gate for the current that turns it on (or off): a diode that conducts counts none.

    Resistors at their lowest. Infinite where that current finds no way.
    """
    circuit = lookup.circuit
    terms: list[Term] = []
    nodes: dict[int, int] = {gate.start: 1}
    branches: list[n.Branch] = []
    if gate.start == gate.net:
        return 0.0, terms
    for element in gate.way:
        pins = circuit.pins(element)[:2]
        a, b = (nodes.setdefault(net, len(nodes) + 1) if net != gate.net else 0 for net in pins)
        name = circuit.path(element)
        if circuit.letter(element) == "R":
            ohms = lookup.ohms(element)
            if ohms is None:
                raise Lacking(f"resistor {name} has no value", element=element)
            spread = lookup.tolerance(element)
            terms.append(spread)
            branches.append(n.Resistor(name, a, b, ohms * (1.0 + setting.low(spread))))
        elif circuit.letter(element) != "D" or _conducts(lookup, gate, element, on):
            branches.append(n.Resistor(name, a, b, 0.0))
    branches.append(n.VoltageSource("test", 1, 0, 1.0))
    branches.extend(n.Resistor(f"leak {node}", node, 0, 1e12) for node in range(2, len(nodes) + 1))
    names = ("0", *(circuit.net_name(net) for net in nodes))
    try:
        amps = solver.solve(n.BranchNetwork(names, tuple(branches)), 25.0).current("test")
    except n.NotSolvable:
        return 0.0, terms
    return (1.0 / amps if amps > 1e-9 else float("inf")), terms


def _conducts(lookup: Lookup, gate: Driven, diode: int, on: bool) -> bool:
    """Whether a diode on the way lets the current pass that turns the gate on (or off)."""
    anode = lookup.circuit.pins(diode)[0]
    reach, seen = deque([gate.start]), {gate.start}
    while reach:
        net = reach.popleft()
        for element in gate.way:
            pins = lookup.circuit.pins(element)[:2]
            if element != diode and net in pins and lookup.circuit.letter(element) != "D":
                for other in pins:
                    if other not in seen and other != gate.net:
                        seen.add(other)
                        reach.append(other)
    return (anode in seen) == on


def threshold_of(lookup: Lookup, element: int) -> float | None:
    """The threshold of a transistor's model, volts, negative for p-channel; None where it has none."""
    circuit = lookup.circuit
    if circuit.letter(element) != "M":
        return None
    model = circuit.model(element)
    tail = {key: value for key, value in circuit.tail(element).items() if isinstance(value, float)}
    device = from_model("M", None if model is None else model.type, circuit.model_parameters(element), tail)
    if not isinstance(device, Mos):
        return None
    return device.polarity * abs(device.VTO)


def fully_on(lookup: Lookup, element: int) -> Term:
    """The gate voltage at which a transistor is fully on."""
    path, row = lookup.circuit.path(element), ElementFacts.gate_full_on
    threshold = threshold_of(lookup, element)
    kind = FULLY_ON if threshold is None else min(FULLY_ON, abs(threshold) + 1.0)
    text = "default 1 V above the threshold of the model to 10 V (common practice, no source)"
    return fact_terms.of(lookup.facts, row, path, Usual(kind, FULLY_ON, FULLY_ON, kind, kind, text))


def rating(lookup: Lookup, element: int, positive: bool) -> Term:
    """The voltage that a gate stands one way, a magnitude in volts."""
    path, row = lookup.circuit.path(element), ElementFacts.gate_voltage
    fact = lookup.facts.element(path).gate_voltage
    title = f"gate voltage of {path} that it stands {'above' if positive else 'below'} its source"
    if fact is not None:
        volts = fact.value.high if positive else -fact.value.low
        return fact_terms.known(row, path, max(volts, 0.0), fact_terms.origin(fact), title=title)
    usual = least(*GATE_RATING, "default 10 to 20 V either way (from memory)")
    return fact_terms.defaulted(row, path, usual, title=title)


def usual_rating(lookup: Lookup, element: int, positive: bool) -> Term:
    """The same of a gate that no gate driver drives: unstated the usual one counts outright."""
    if lookup.facts.element(lookup.circuit.path(element)).gate_voltage is not None:
        return rating(lookup, element, positive)
    path, row = lookup.circuit.path(element), ElementFacts.gate_voltage
    title = f"gate voltage of {path} that it stands {'above' if positive else 'below'} its source"
    usual = point(GATE_RATING[1], GATE_RATING[1], "default, usual of power transistors (from memory)")
    return fact_terms.defaulted(row, path, usual, title=title)


def surely_off(lookup: Lookup, element: int) -> Term:
    """The gate voltage up to which a transistor is surely off."""
    path, row = lookup.circuit.path(element), ElementFacts.gate_threshold_min
    threshold = threshold_of(lookup, element)
    kind = THRESHOLD_LEAST if threshold is None else max(THRESHOLD_LEAST, abs(threshold) / 2.0)
    text = "default 0.5 V to half the threshold of the model (from memory)"
    return fact_terms.of(lookup.facts, row, path, least(THRESHOLD_LEAST, kind, text))


def undeclared(lookup: Lookup, recognition: Recognition, part: Part, start: int) -> Iterator[int]:
    """Parts that an output reaches through resistors and of which nobody says whether they are transistors."""
    circuit = lookup.circuit
    nets = {start}
    for element, _ in circuit.elements_at(start):
        if circuit.letter(element) in "RLD":
            nets.update(net for net in circuit.pins(element)[:2] if lookup.walker.held(net) is None)
    for net in nets:
        for element, _ in circuit.elements_at(net):
            known = element == part.element or element in recognition.parts
            if circuit.letter(element) in "XUQJ" and not known and lookup.walker.held(net) is None:
                yield element
