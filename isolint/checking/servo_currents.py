"""What the servo loop of a linear coupler asks for: photodiode currents over the signal's range, LED current in reach.

In: a context, a linear coupler whose loop regulates, a setting. Out: currents with their corners and terms; `Lacking`
where a fact is missing. At balance both inputs of the amplifier stand at one voltage.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from isolint.checking.context import Context
from isolint.checking.servo_loop import Amplifier, Closed, amplifier, is_anode, others, reach
from isolint.facts import SignalFacts
from isolint.interfaces.entities import Boundary, Network, Part
from isolint.parts import records
from isolint.rows import Usual, Value
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.drive import FLOAT_OHMS
from isolint.worstcase.network_build import REAL
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.quantities import MOST_AMPS, Bound, highest, lowest
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

SUMMING = "summing net"


class ServoRange(NamedTuple):
    """Amperes that the servo diode is asked for over the signal's range: least and most."""

    least: Bound
    most: Bound
    elements: tuple[int, ...]
    terms: tuple[Term, ...]


def asked(context: Context, found: Closed, setting: Setting) -> ServoRange:
    """What flows in the servo diode at balance, below 0 where it can't balance the signal."""
    nets = reach(context, found.here)
    walked = _walked(context, nets)
    _check_signals(context, nets, found.here)
    made = context.analysis.drives(setting).assembler.assemble(walked, {})
    for net in walked.inner:
        _signal(context, made, net)
    here, other = made.node(found.here, context.net(found.here)), _at(context, made, found.other)
    made.add(SUMMING, lambda vector, temperature: n.VoltageSource(SUMMING, here, other, 0.0))
    sign = 1.0 if found.at_anode else -1.0

    def amps(vector: Sequence[float], temperature: float) -> float:
        point = context.analysis.solver.solve(made.network(vector, temperature), temperature)
        return sign * point.current(SUMMING)

    rows = _ends(context, made, setting, amps)
    return ServoRange(
        lowest(low for low, _ in rows), highest(high for _, high in rows), walked.elements, unique(made.terms)
    )


def in_reach(context: Context, part: Part, found: Closed, setting: Setting) -> tuple[Bound, tuple[Term, ...]]:
    """Amperes that the amplifier can drive through the LED at least, at the end of its swing."""
    loop, servo = found.loop, found.servo
    nets = reach(context, servo.led_anode) | reach(context, servo.led_cathode)
    walked = _walked(context, nets)
    assembler = context.analysis.drives(setting).assembler
    made = assembler.assemble(walked, {})
    name = f"LED of {part.path}"
    assembler.led(made, part, servo.led_anode, servo.led_cathode, name, REAL)
    rail = _at(context, made, loop.top if found.sources else loop.bottom)
    row = records.AmplifierValues.swing_high if found.sources else records.AmplifierValues.swing_low
    index = made.term(of_amplifier(context, loop, row))
    out, way = made.node(loop.out, context.net(loop.out)), -1.0 if found.sources else 1.0
    driver = f"output of {context.circuit.path(loop.element)}"
    made.add(driver, lambda vector, temperature: n.VoltageSource(driver, out, rail, way * vector[index]), index)

    def amps(vector: Sequence[float], temperature: float) -> float:
        return context.analysis.solver.solve(made.network(vector, temperature), temperature).current(name)

    try:
        rows = _ends(context, made, setting, amps)
    except n.Unlimited:
        return Bound(MOST_AMPS, (), context.lookup.ambient().nominal), unique(made.terms)
    return lowest(low for low, _ in rows), unique([*made.terms, context.lookup.ambient()])


def at_rail(context: Context, part: Part, found: Closed, setting: Setting) -> tuple[list[Bound], tuple[Term, ...]]:
    """Amperes in the LED at most, at each temperature, with the amplifier's output at its rail: at start, or when the
    servo diode is open. Raises `Unlimited` where nothing else limits them."""
    loop, servo = found.loop, found.servo
    nets = reach(context, servo.led_anode) | reach(context, servo.led_cathode)
    assembler = context.analysis.drives(setting).assembler
    made, name = assembler.assemble(_walked(context, nets), {}), f"LED of {part.path}"
    assembler.led(made, part, servo.led_anode, servo.led_cathode, name, REAL)
    rail = _at(context, made, loop.top if found.sources else loop.bottom)
    out, driver = made.node(loop.out, context.net(loop.out)), f"output of {context.circuit.path(loop.element)}"
    made.add(driver, lambda vector, temperature: n.VoltageSource(driver, out, rail, 0.0))

    def amps(vector: Sequence[float], temperature: float) -> float:
        return context.analysis.solver.solve(made.network(vector, temperature), temperature).current(name)

    return [high for _, high in _ends(context, made, setting, amps)], unique([*made.terms, context.lookup.ambient()])


def reversed_volts(
    context: Context, part: Part, found: Closed, setting: Setting
) -> tuple[list[Bound], tuple[Term, ...]]:
    """Volts at its cathode over its anode at most, at each temperature, with the amplifier at its other rail."""
    loop, servo = found.loop, found.servo
    nets = reach(context, servo.led_anode) | reach(context, servo.led_cathode)
    made = context.analysis.drives(setting).assembler.assemble(_walked(context, nets), {})
    a, k = (made.node(net, context.net(net)) for net in (servo.led_anode, servo.led_cathode))
    rail = _at(context, made, loop.bottom if found.sources else loop.top)
    out, driver = made.node(loop.out, context.net(loop.out)), f"output of {context.circuit.path(loop.element)}"
    made.add(driver, lambda vector, temperature: n.VoltageSource(driver, out, rail, 0.0))
    leak = n.Resistor(f"leakage of the LED of {part.path}", a, k, FLOAT_OHMS)

    def volts(vector: Sequence[float], temperature: float) -> float:
        point = context.analysis.solver.solve(made.network(vector, temperature, [leak]), temperature)
        return point.voltage(k) - point.voltage(a)

    return [high for _, high in _ends(context, made, setting, volts)], unique(made.terms)


def of_amplifier(context: Context, loop: Amplifier, row: Value[float]) -> Term:
    """A value of an amplifier as its record states it, else as usual."""
    record, path = context.record_of(loop.element), context.circuit.path(loop.element)
    name = record.name if record is not None else context.circuit.model_name(loop.element) or path
    title, value = row.title.format(path), None if record is None else getattr(record.amplifier, row.attribute)
    if value is not None:
        return fact_terms.known(row, name, value, f"record {name}", title=title)
    return fact_terms.defaulted(row, name, row.counts, title=title)


def of_diodes(part: Part, row: Value[Any], key: str) -> Term:
    """The end `key` (min, max) of a gain of the photodiodes as its record states it, else as usual."""
    spec = fact_terms.recorded(part, row)
    name, title = fact_terms.named(part), row.title.format(part.path)
    value = None if spec is None else getattr(spec, key)
    if value is not None:
        return fact_terms.known(row, name, value, f"record {name}", title=title)._replace(unit="1")
    usual = row.counts
    if spec is not None and spec.typ is not None:
        # A typical value is at best the end itself.
        ends = (usual.low, spec.typ) if key == "min" else (spec.typ, usual.high)
        low, high = min(ends), max(ends)
        usual = Usual(low, high, high, spec.typ, spec.typ, f"typical of record {name}")
    return fact_terms.defaulted(row, name, usual, title=title, unit="1")


def _walked(context: Context, nets: Iterable[int]) -> Network:
    """Resistors and inductors among some nets as a network, up to what holds nets."""
    circuit, held = context.circuit, context.lookup.walker.held
    known = frozenset(nets)
    elements = dict.fromkeys(
        element
        for net in sorted(known)
        if held(net) is None
        for element, _ in circuit.elements_at(net)
        if circuit.letter(element) in "RL"
    )
    boundary = tuple(found for net in sorted(known) if (found := held(net)) is not None)
    wrong = [found for found in boundary if found.kind not in ("ground", "supply")]
    if wrong:
        raise Lacking(f"net {context.net(wrong[0].net)} moves, and what its loop does then is not computed")
    return Network(tuple(elements), tuple(net for net in sorted(known) if held(net) is None), boundary)


def _check_signals(context: Context, nets: Iterable[int], here: int) -> None:
    """Raise `Lacking` where a net comes from elsewhere and nobody states over what it ranges."""
    circuit, held = context.circuit, context.lookup.walker.held
    open_ends = []
    for net in sorted(nets):
        if net == here or held(net) is not None:
            continue
        around = [element for element, _ in circuit.elements_at(net)]
        leads_on = len(around) < 2 or any(circuit.letter(element) not in "RLC" for element in around)
        facts = context.facts.signal(context.net(net))
        if leads_on and (facts is None or (facts.range is None and facts.current is None)):
            open_ends.append(net)
    if open_ends:
        names = ", ".join(map(context.net, open_ends))
        rows = [context.lookup.missing(SignalFacts.range, context.net(net)) for net in open_ends]
        raise Lacking(f"over which voltages net {names} ranges nobody states", rows)


def _signal(context: Context, made: Assembly, net: int) -> None:
    name = context.net(net)
    facts = context.facts.signal(name)
    if facts is None or (facts.range is None and facts.current is None):
        return
    node = made.node(net, name)
    if facts.range is not None:
        volts = made.term(context.lookup.term(SignalFacts.range, name))
        made.add(name, lambda vector, temperature: n.VoltageSource(f"signal {name}", node, 0, vector[volts]), volts)
        return
    amps = made.term(context.lookup.term(SignalFacts.current, name))
    made.add(name, lambda vector, temperature: n.CurrentSource(f"signal {name}", 0, node, vector[amps]), amps)


def _at(context: Context, made: Assembly, net: int) -> int:
    """The node of a net that is held, held there if the network has not met it."""
    if net not in made.nets:
        held = context.lookup.walker.held(net)
        if held is None or held.kind not in ("ground", "supply"):
            raise Lacking(f"net {context.net(net)} is not held at a stated voltage")
        context.analysis.drives().assembler.hold(made, Boundary(net, held.kind, held.element), {})
    return made.nets[net]


def _ends(context: Context, made: Assembly, setting: Setting, amps: Any) -> list[tuple[Bound, Bound]]:
    """Both ends of a current at each end of the ambient."""
    rows: list[tuple[Bound, Bound]] = []
    for t in context.analysis.drives(setting).temperatures():

        def evaluate(vector: Sequence[float], at: float = t) -> list[float]:
            return [amps(vector, at)]

        try:
            (ends,) = solved_extremes(context.analysis.solver, made.ranges(setting, t), evaluate)
        except n.Unlimited:
            raise
        except n.NotSolvable as error:
            raise Lacking(error.text) from None
        rows.append((Bound(ends.low, ends.low_corner, t), Bound(ends.high, ends.high_corner, t)))
    return rows


class Swing(NamedTuple):
    """What the amplifier at the output diode may do: volts between its other input and the end of its swing.

    ohms: the largest resistance round it.
    """

    room: Bound
    ohms: float
    terms: tuple[Term, ...]


def output_swing(context: Context, part: Part, setting: Setting) -> Swing | None:
    """The room of the amplifier that reads the output diode, None where no such amplifier with one resistor does."""
    circuit, held = context.circuit, context.lookup.walker.held
    nets = circuit.pins(part.element)
    groups = [group for group in part.groups if {part.roles[pin] for pin in group} == {"photodiode"}]
    free = [(nets[pin], pin) for group in groups[:1] for pin in group if held(nets[pin]) is None]
    if len(groups) != 1 or len(free) != 1:
        return None
    ((here, pin),) = free
    near = [found for element in others(context, [here], part) if (found := amplifier(context, element)) is not None]
    if len(near) != 1:
        return None
    (loop,) = near
    around = [e for e, _ in circuit.elements_at(here) if circuit.letter(e) == "R" and loop.out in circuit.pins(e)]
    ohms = context.lookup.ohms(around[0]) if len(around) == 1 else None
    if ohms is None or here != loop.minus:
        return None
    anode = is_anode(context, part, pin)
    if anode is None:
        return None
    # A current into the inverting input takes the output down, one out of it up.
    values = records.AmplifierValues
    rail, row = (loop.bottom, values.swing_low) if anode else (loop.top, values.swing_high)
    made = Assembly(context.analysis.solver.codes)
    other, end = _at(context, made, loop.plus), _at(context, made, rail)
    index = made.term(of_amplifier(context, loop, row))
    sign = 1.0 if anode else -1.0

    def room(vector: Sequence[float], temperature: float) -> float:
        point = context.analysis.solver.solve(made.network(vector, temperature), temperature)
        return sign * (point.voltage(other) - point.voltage(end)) - vector[index]

    tolerance = context.lookup.tolerance(around[0])
    rows = _ends(context, made, setting, room)
    most = ohms * (1.0 + setting.high(tolerance))
    return Swing(lowest(low for low, _ in rows), most, unique([*made.terms, tolerance]))
