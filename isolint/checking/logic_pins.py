"""The logic inputs of barrier parts: what holds each, and at which levels.

In: a context, a pin, a setting. Out: `LogicPin`s, what holds their nets, `Levels` with both ends. `Lacking` where a
fact is missing. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.facts import OutputFacts
from isolint.interfaces.entities import Boundary, Channel, Network, Part
from isolint.parts import Input
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.each_temperature import extremes_at_each
from isolint.worstcase.network_build import State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Quantity, over_temperature
from isolint.worstcase.supply_pins import supply_pins
from isolint.worstcase.temperatures import temperatures
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

_ROLES = ("input", "enable")
_LEAK = 1e11


class LogicPin(NamedTuple):
    """A logic input of a part. supply, ground: nets of its own side, -1 where pins do not tell them."""

    part: Part
    pin: int
    name: str
    net: int
    supply: int
    ground: int
    around: Network


class InputLevel(NamedTuple):
    """Volts at an input in the state in which it is lowest, or highest."""

    volts: Quantity
    terms: tuple[Term, ...]
    words: str


class HeldInput(NamedTuple):
    """What holds an input. kind: held; pulled inside; assumed, by a part nobody asked about; unknown; floating; open,
    in a state of what drives it."""

    kind: Literal["held", "assumed", "unknown", "floating"]
    by: str = ""
    element: int = -1


def logic_pins(context: Context) -> Iterator[LogicPin]:
    """Every logic input of the parts that have supplies of their own."""
    walker = context.lookup.walker
    for part in context.interfaces.recognition.parts.values():
        if "supplies" not in part.kind.owns or part.kind.output.feeds or "windings" in part.kind.owns:
            continue
        nets = context.circuit.pins(part.element)
        rails = list(supply_pins(part))
        for pin, role in enumerate(part.roles):
            if role not in _ROLES or pin >= len(nets):
                continue
            group = next((group for group in part.groups if pin in group), ())
            own = next((rail for rail in rails if rail.pin in group), None)
            name = part.record.pins[pin] if part.record is not None else f"pin {pin + 1}"
            supply, ground = (-1, -1) if own is None else (nets[own.pin], nets[own.back])
            around = walker.walk(part, (pin,), False)
            yield LogicPin(part, pin, name, nets[pin], supply, ground, around)


def held(context: Context, pin: LogicPin) -> HeldInput:
    """What holds an input at a level: its own pull-up or pull-down where nothing else surely does."""
    found = held_outside(context, pin)
    pulled = fact_terms.recorded(pin.part, Input.pull)
    return HeldInput("held", f"its own pull-{pulled}") if found.kind != "held" and pulled in ("up", "down") else found


def held_outside(context: Context, pin: LogicPin) -> HeldInput:
    """As `held`, whatever is inside the part."""
    own = context.lookup.walker.held(pin.net)
    boundary = [*((own,) if own is not None else ()), *pin.around.boundary]
    rails = [end for end in boundary if end.kind in ("supply", "ground", "line")]
    steady = [end for end in rails if not _only_by_capacitor(context, pin, end)]
    outputs = [end for end in boundary if end.kind == "output"]
    whole = [end for end in outputs if _drives_both(context, end)]
    for end in (*whole, *steady):
        return HeldInput("held", context.net(end.net))
    parts = [end for end in boundary if end.kind == "part" and end.element != pin.part.element]
    for end in parts:
        found = _part_holds(context, end)
        if found is not None:
            return found
    if outputs:
        return HeldInput("floating", f"only output {context.net(outputs[0].net)}, which is off in one of its states")
    if pin.around.pairs:
        return HeldInput("floating", f"only {context.circuit.path(pin.around.pairs[0].element)}, which conducts or not")
    return HeldInput("floating")


def _only_by_capacitor(context: Context, pin: LogicPin, end: Boundary) -> bool:
    """Whether a held net is met by capacitors alone."""
    if end.net == pin.net:
        return False
    around = [
        element
        for element in pin.around.elements
        if end.net in context.circuit.pins(element) and context.circuit.letter(element) != "C"
    ]
    return not around and not pin.around.branches


def _drives_both(context: Context, end: Boundary) -> bool:
    fact = context.facts.output(context.net(end.net)) if end.element < 0 else None
    plain = fact is None or fact.drive is None or fact.drive.value == "push-pull"
    return plain and not (fact is not None and fact.unpowered is not None and fact.unpowered.value)


def _part_holds(context: Context, end: Boundary) -> HeldInput | None:
    recognition, path = context.interfaces.recognition, context.circuit.path(end.element)
    part = recognition.parts.get(end.element)
    if part is not None:
        pins = context.circuit.pins(end.element)
        roles = {part.roles[pin] for pin, net in enumerate(pins) if net == end.net and pin < len(part.roles)}
        return HeldInput("held", path, end.element) if "output" in roles or "status" in roles else None
    if end.element in recognition.ordinary:
        return HeldInput("assumed", path, end.element)
    return HeldInput("unknown", path, end.element)


# -- levels -----------------------------------------------------------------------------------------------------------


def levels(context: Context, pin: LogicPin, setting: Setting) -> tuple[InputLevel, InputLevel]:
    """The lowest and the highest level of an input, over the states of what drives it."""
    drives = context.analysis.drives(setting)
    around = pin.around
    own = context.lookup.walker.held(pin.net)
    if own is not None and own not in around.boundary:
        around = around._replace(boundary=(*around.boundary, own))
    around = around._replace(boundary=tuple(end for end in around.boundary if not _is_coupler(context, end)))
    coupled = next((end for end in pin.around.boundary if _is_coupler(context, end) and _gives(context, end)), None)
    if coupled is not None:
        name = context.net(coupled.net)
        text = f"{context.circuit.path(coupled.element)} drives net {name}, and nobody states its levels"
        raise Lacking(text, [context.lookup.missing(OutputFacts.high, name, "", OutputFacts.low)])
    pseudo = Channel(pin.part, pin.name, {"anode": pin.net, "cathode": pin.net}, around, Network((), (), ()))
    states = drives.states(pseudo)
    found = [(_nominal(context, pin, around, state, setting), state) for state in states]
    lowest, highest = min(found, key=lambda one: one[0]), max(found, key=lambda one: one[0])
    return (
        _level(context, pin, around, lowest[1], setting, False),
        _level(context, pin, around, highest[1], setting, True),
    )


def driven_from(context: Context, pin: LogicPin) -> set[str]:
    """The supplies of all that gives an input a high level, in folded case; an empty name where one is not told."""
    own = context.lookup.walker.held(pin.net)
    found = set()
    for end in (*((own,) if own is not None else ()), *pin.around.boundary):
        if end.kind == "supply":
            found.add(context.net(end.net).casefold())
        elif end.kind == "output":
            fact = context.facts.output(context.net(end.net)) if end.element < 0 else None
            if fact is not None and fact.drive is not None and fact.drive.value == "open-drain":
                continue
            found.add("" if fact is None or fact.supply is None else fact.supply.value.casefold())
        elif end.kind in ("line", "part"):
            found.add("")
    return found


def _is_coupler(context: Context, end: Boundary) -> bool:
    return end.kind == "part" and end.element in context.interfaces.recognition.parts


def _gives(context: Context, end: Boundary) -> bool:
    found = _part_holds(context, end)
    return found is not None and found.kind == "held"


def _assembled(
    context: Context, pin: LogicPin, around: Network, state: State, setting: Setting, high: bool
) -> tuple[Assembly, list[int]]:
    made = context.analysis.drives(setting).assembler.assemble(around, state)
    node = made.node(pin.net, context.net(pin.net))
    term = _current(pin)
    index = made.term(term)
    ends = (node, 0) if high else (0, node)
    name = f"input current of {pin.part.path} at {pin.name}"
    if node:
        made.add(name, lambda vector, temperature: n.CurrentSource(name, *ends, vector[index]), index)
    return made, [node]


def _current(pin: LogicPin) -> Term:
    term = fact_terms.of_record(pin.part, Input.current)
    return term._replace(low=0.0, kind_low=0.0) if term.stated else term


def _solved(context: Context, made: Assembly, node: int, vector: Sequence[float], temperature: float) -> list[float]:
    leaks = [n.Resistor(f"leak {each}", each, 0, _LEAK) for each in range(1, len(made.nodes))]
    try:
        point = context.analysis.solver.solve(made.network(vector, temperature, leaks), temperature)
    except n.NotSolvable as error:
        raise Lacking(error.text) from None
    return [point.voltage(node)]


def _nominal(context: Context, pin: LogicPin, around: Network, state: State, setting: Setting) -> float:
    made, (node,) = _assembled(context, pin, around, state, setting, True)
    return _solved(context, made, node, made.nominal(setting), context.lookup.ambient().nominal)[0]


def _level(context: Context, pin: LogicPin, around: Network, state: State, setting: Setting, high: bool) -> InputLevel:
    made, (node,) = _assembled(context, pin, around, state, setting, high)
    middle = _solved(context, made, node, made.nominal(setting), context.lookup.ambient().nominal)

    def at(vector: Sequence[float], temperature: float) -> list[float]:
        return _solved(context, made, node, vector, temperature)

    over = temperatures(context.lookup, None, setting)
    found = extremes_at_each(context.analysis.solver, made, setting, over, at)
    levels_of = [term for _, model in made.outputs.values() for term in (model.best, model.supply) if term is not None]
    terms = unique([*made.terms, *levels_of, context.lookup.ambient()])
    words = context.analysis.drives(setting).state_words(state)
    return InputLevel(over_temperature(0, middle[0], found), terms, words)
