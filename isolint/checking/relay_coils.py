"""The voltage across a relay's coil while it is to pull in, and while it is to release.

In: a context, a relay's coil, a setting. Out: `CoilVolts` at the state in which it gets most, or least, with the
temperature of its copper. `Lacking` where a fact is missing. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from isolint.checking.context import Context
from isolint.facts import ElementFacts, OutputFacts
from isolint.interfaces.entities import Channel, Network, Part
from isolint.parts import Coil
from isolint.rows import Row, Usual, Value
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.network_build import COIL_TEMPERATURE, COPPER, State, coil_tolerance
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import Quantity, over_temperature
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated, unique

_RISE = Usual(0.0, 20.0, 40.0, 0.0, 0.0, "default 0 to 40 K at the nominal voltage (from memory)")
_FLOAT = 1e11
_NO_VOLTS = 0.05


class OneCoil(NamedTuple):
    """A coil of a relay: its pins, and what lies around it. name: of one of several coils, else empty."""

    part: Part
    name: str
    pins: tuple[int, int]
    around: Network

    @property
    def subject(self) -> str:
        """It in words."""
        return f"{self.part.path} {self.name}".strip()


class CoilVolts(NamedTuple):
    """Volts across a coil in a state, as a magnitude, with what they rest on. copper: its temperature, degC."""

    volts: Quantity
    copper: float
    terms: tuple[Term, ...]
    words: str


def relay_coils(context: Context) -> Iterator[OneCoil]:
    """Every coil of a relay."""
    walker = context.lookup.walker
    for part in context.interfaces.recognition.parts.values():
        if "coil" not in part.kind.inputs:
            continue
        pins = [pin for pin, role in enumerate(part.roles) if role == "coil"]
        pairs = list(zip(pins[::2], pins[1::2], strict=False))
        for number, pair in enumerate(pairs, start=1):
            name = f"coil {number}" if len(pairs) > 1 else ""
            yield OneCoil(part, name, pair, walker.walk(part, pair, False))


def record_of(context: Context, coil: OneCoil) -> Coil:
    """What the record states of a coil; `Lacking` where there is none, or no resistance."""
    part = coil.part
    if part.record is None:
        missing = context.lookup.missing(ElementFacts.part, part.path, '"DEMO_RELAY"')
        raise Lacking(f"nothing is known of the coil of {part.path}", [missing])
    if part.record.coil.resistance is None:
        fact = fact_terms.missing(part.record.file, Coil.resistance, part.record.name)
        raise Lacking(f"the resistance of the coil of {part.path} is not known", [fact])
    return part.record.coil


def warmth(coil: Coil, copper: float) -> float:
    """The resistance at a temperature over that of the reference."""
    at = COIL_TEMPERATURE if coil.temperature is None else coil.temperature
    drift = COPPER if coil.temperature_coefficient is None else coil.temperature_coefficient
    return 1.0 + drift * (copper - at)


def nominal_voltage(context: Context, coil: OneCoil, row: Row[Any]) -> float:
    """The nominal voltage of a coil; `Lacking` with the line of `row` where none is stated."""
    own = record_of(context, coil)
    if own.voltage is None:
        record = coil.part.record
        assert record is not None
        fact = fact_terms.missing(record.file, row, record.name)
        # What is asked for is not what a default would have been taken from: both are missing.
        asked = "" if row is Coil.voltage else f"{row.title.format(coil.part.path)} is not stated, and "
        raise Lacking(f"{asked}the nominal voltage of the coil of {coil.part.path} is not known", [fact])
    return own.voltage


def of_nominal(
    context: Context, coil: OneCoil, row: Value[float], usual: Callable[[float], Usual], asked: Row[Any] | None = None
) -> Term:
    """A value of a coil as its record states it, else what is usual at its nominal voltage.

    `Lacking` where neither is stated, with the line of `asked`, else of the value itself.
    """
    if fact_terms.recorded(coil.part, row) is not None:
        return fact_terms.of_record(coil.part, row)
    return fact_terms.of_record(coil.part, row, usual(nominal_voltage(context, coil, asked or row)))


def _channel(context: Context, coil: OneCoil) -> Channel:
    nets = context.circuit.pins(coil.part.element)
    pins = {"anode": nets[coil.pins[0]], "cathode": nets[coil.pins[1]]}
    return Channel(coil.part, coil.name, pins, coil.around, Network((), (), ()))


class Around(NamedTuple):
    """A coil's network in one state without the coil: its two nodes, the place of the tolerance of its resistance."""

    made: Assembly
    nodes: tuple[int, int]
    tolerance: int


def around(context: Context, coil: OneCoil, state: State, setting: Setting) -> Around:
    """What lies around a coil in one state, the leakage of outputs that are off with it."""
    made = context.analysis.drives(setting).assembler.assemble(coil.around, state)
    nets = context.circuit.pins(coil.part.element)
    a, b = (made.node(nets[pin], context.net(nets[pin])) for pin in coil.pins)
    own = record_of(context, coil)
    spread = own.tolerance or Interval(0.0, 0.0)
    name = fact_terms.named(coil.part)
    term = stated(
        f"parts.{name}.coil.tolerance", coil_tolerance(coil.part), "1", spread.low, 0.0, spread.high, f"record {name}"
    )
    for held in coil.around.boundary:
        facts = context.facts.output(context.net(held.net)) if held.kind == "output" and held.element < 0 else None
        if facts is not None and state.get(held.net) == "hi-z":
            _leak(context, made, held.net)
    return Around(made, (a, b), made.term(term))


def _leak(context: Context, made: Assembly, net: int) -> None:
    """What an output that is off still lets flow: out of its net where it would sink, into it where it would source."""
    fact = context.facts.output(context.net(net))
    drive = "push-pull" if fact is None or fact.drive is None else fact.drive.value
    index, node = made.term(context.lookup.off_leakage(net)), made.node(net, context.net(net))
    ends = (0, node) if drive == "high-side" else (node, 0)
    name = f"off leakage of output {context.net(net)}"
    made.add(name, lambda vector, temperature: n.CurrentSource(name, *ends, vector[index]), index)


def _volts(
    context: Context, coil: OneCoil, state: State, setting: Setting, copper: float, ambient: float, high: bool
) -> tuple[Quantity, Assembly]:
    own, solve = record_of(context, coil), around(context, coil, state, setting)
    made, solver = solve.made, context.analysis.solver
    cold = own.resistance or 0.0
    factor = warmth(own, copper)

    def at(vector: Sequence[float]) -> list[float]:
        ohms = cold * (1.0 + vector[solve.tolerance]) * factor
        coil_branch = n.Resistor(f"coil of {coil.subject}", *solve.nodes, ohms)
        leaks = [n.Resistor(f"leak {node}", node, 0, _FLOAT) for node in range(1, len(made.nodes))]
        try:
            point = solver.solve(made.network(vector, ambient, [coil_branch, *leaks]), ambient)
        except n.NotSolvable as error:
            raise Lacking(error.text) from None
        return [abs(point.voltage(solve.nodes[0]) - point.voltage(solve.nodes[1]))]

    middle = at(made.nominal(setting))
    ends = solved_extremes(solver, made.ranges(setting, ambient), at, sought="high" if high else "low")
    return over_temperature(0, middle[0], [(ambient, ends)]), made


def coil_states(context: Context, coil: OneCoil, setting: Setting) -> list[tuple[float, State]]:
    """The states of what switches a coil, each with its nominal voltage."""
    for own, clamped in context.analysis.coils():
        if own.element == coil.part.element and own.name == coil.name and clamped.wrong >= 0:
            diode = context.circuit.path(clamped.wrong)
            raise Lacking(f"diode {diode} at its coil is the wrong way round", (), "clamp")
    for held in coil.around.boundary:
        if context.lookup.is_alternating(held.net):
            raise Lacking(f"the coil of {coil.subject} lies at an AC supply: what it gets then is not judged")
    drives = context.analysis.drives(setting)
    ambient = context.lookup.ambient().nominal
    voltages: list[tuple[float, State]] = []
    for state in drives.states(_channel(context, coil)):
        volts, _ = _volts(context, coil, state, setting, ambient, ambient, False)
        voltages.append((volts.nominal, state))
    if max(volts for volts, _ in voltages) < _NO_VOLTS:
        loose = [held.net for held in coil.around.boundary if held.kind == "loose"]
        facts = [context.lookup.missing(OutputFacts.supply, context.net(net)) for net in loose]
        raise Lacking(f"nothing in this netlist gives the coil of {coil.subject} a voltage in any state", facts)
    return voltages


def pulling(context: Context, coil: OneCoil, setting: Setting, high: bool = False) -> CoilVolts:
    """The voltage of a coil in the state in which it gets most, its copper as hot as ambient and its own current make
    it; the high end cold-started at the highest ambient where `high`."""
    states = coil_states(context, coil, setting)
    _, state = max(states, key=lambda one: one[0])
    own = record_of(context, coil)
    ambient = setting.high(context.lookup.ambient())
    rise = _rise(coil)
    copper = ambient
    for _ in range(1 if high else 6):
        volts, made = _volts(context, coil, state, setting, copper, ambient, high)
        if high:
            break
        copper = ambient + _warmer(own, rise, volts.low.value, copper, setting)
    terms = unique([*made.terms, *([] if high else [rise]), context.lookup.ambient()])
    return CoilVolts(volts, copper, terms, context.analysis.drives(setting).state_words(state))


def _rise(coil: OneCoil) -> Term:
    name = fact_terms.named(coil.part)
    row = Coil.thermal_resistance
    own = fact_terms.recorded(coil.part, row)
    if own is not None:
        return fact_terms.known(row, name, own, f"record {name}", title=row.title.format(coil.part.path))
    title = f"how much warmer the coil of {coil.part.path} gets at its nominal voltage"
    return fact_terms.defaulted(row, name, _RISE, title=title, unit="K")


def _warmer(own: Coil, rise: Term, volts: float, copper: float, setting: Setting) -> float:
    """Kelvins by which a coil's own current heats it at a voltage."""
    ohms = (own.resistance or 1.0) * warmth(own, copper)
    if rise.unit == "K/W":
        return setting.high(rise) * volts * volts / ohms
    share = 1.0 if own.voltage is None else volts / own.voltage
    return setting.high(rise) * share * share


def releasing(context: Context, coil: OneCoil, setting: Setting) -> CoilVolts | None:
    """The voltage of a coil in the state in which it gets least; None where nothing switches it in this netlist."""
    states = coil_states(context, coil, setting)
    least, state = min(states, key=lambda one: one[0])
    if len(states) < 2 or least >= max(states, key=lambda one: one[0])[0] * (1.0 - 1e-9):
        return None
    own = record_of(context, coil)
    reference = COIL_TEMPERATURE if own.temperature is None else own.temperature
    found = []
    for ambient in dict.fromkeys(setting.range(context.lookup.ambient())):
        volts, made = _volts(context, coil, state, setting, reference, ambient, True)
        found.append((volts, made))
    volts, made = max(found, key=lambda one: one[0].high.value)
    words = context.analysis.drives(setting).state_words(state)
    return CoilVolts(volts, reference, unique([*made.terms, context.lookup.ambient()]), words)
