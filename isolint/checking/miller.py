"""What the edge of a drain does to a gate that is to stay off: the current through the capacitance between both.

In: a context. Out: `Attack`s, each gate behind a driver for which capacitance and edge are stated, and the voltage to
which its gate is lifted in a setting. `Lacking` where a fact is missing. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from isolint.checking.barrier_strength import walls
from isolint.checking.context import Context
from isolint.checking.driver_outputs import DriverOutput, driver_outputs
from isolint.checking.gate_levels import GateDrive, lower_rail
from isolint.checking.slew import edge_of
from isolint.facts import BarrierFacts, ElementFacts, SignalFacts
from isolint.parts import Output
from isolint.rows import most
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.coils import device_of
from isolint.worstcase.devices import Diode
from isolint.worstcase.figures import Figure
from isolint.worstcase.uncertain import Lacking, Setting, Term, stated

_SINK = most(0.0, 2.0, "default 0 to 2 ohm (from memory)")
_WIRE = 1e-6
_LEAST = 1e-9


class DrainEdge(NamedTuple):
    """How fast the drain moves, with the term that says so, and how far, volts, None where nobody states it."""

    term: Term
    swing: float | None


class Attack(NamedTuple):
    """A gate that an edge lifts. clamped: whether a clamp pin of its driver lies at it. others: the drives of all gates
    of the same output, whose currents flow through it together."""

    output: DriverOutput
    drive: GateDrive
    edge: DrainEdge
    clamped: bool
    others: tuple[GateDrive, ...]


class Lift(NamedTuple):
    """The voltage between gate and source during the edge, what it is made of, and what it rests on."""

    volts: Figure
    parts: tuple[Figure, ...]
    terms: tuple[Term, ...]


def attacks(context: Context) -> Iterator[Attack]:
    """Every gate behind a driver of which somebody states the capacitance and, of its drain or barrier, the edge."""
    for output in driver_outputs(context, "driver"):
        asked = [drive for drive in output.drives if drive.off and _farads(context, drive) is not None]
        for drive in asked:
            edge = _edge(context, drive)
            if edge is not None:
                yield Attack(output, drive, edge, _clamped(context, drive), tuple(d for d in output.drives if d.off))


def _farads(context: Context, drive: GateDrive) -> float | None:
    fact = context.facts.of(ElementFacts.miller_capacitance, context.circuit.path(drive.gate.element))
    return None if fact is None else float(fact.value)


def _edge(context: Context, drive: GateDrive) -> DrainEdge | None:
    """The edge that is stated of the nets of a transistor, else the steepest of the barriers that its driver spans."""
    found: list[DrainEdge] = []
    for net in dict.fromkeys(context.circuit.pins(drive.gate.element)):
        fact = context.facts.of(SignalFacts.slew, context.net(net))
        if fact is not None and net != drive.gate.net:
            name = context.net(net)
            found.append(DrainEdge(fact_terms.known(SignalFacts.slew, name, fact.value, fact_terms.origin(fact)), None))
    if found:
        return max(found, key=lambda edge: edge.term.high)
    for wall in walls(context):
        steep = edge_of(wall) if drive.part.element in wall.elements else None
        if steep is not None:
            key = wall.pair.key(BarrierFacts.slew.key)
            title = f"slew rate between {' and '.join(wall.pair.sides)}"
            term = stated(key, title, "V/s", steep.kindest, steep.worst, steep.worst, steep.words)
            if steep.kindest < steep.worst:
                line = wall.pair.missing(BarrierFacts.slew).example
                term = term._replace(kind_high=steep.kindest, stated=False, example=line)
            found.append(DrainEdge(term, wall.pair.number(BarrierFacts.swing)))
    return max(found, key=lambda edge: edge.term.high, default=None)


def _clamped(context: Context, drive: GateDrive) -> bool:
    nets = context.circuit.pins(drive.part.element)
    return any(role == "clamp" and nets[pin] == drive.gate.net for pin, role in enumerate(drive.part.roles))


def lift(context: Context, attack: Attack, setting: Setting) -> Lift:
    """To which voltage the edge lifts the gate."""
    drive, path = attack.drive, context.circuit.path(attack.drive.gate.element)
    slew = Figure("S", setting.high(attack.edge.term), "V/s", attack.edge.term.name, source=attack.edge.term.origin)
    capacitance = _capacitance(context, drive)
    amps = (capacitance * slew).called("I_M", "A", f"current through the Miller capacitance of {path}")
    sink = fact_terms.of_record(attack.drive.part, Output.sink_resistance, _SINK)
    way, spreads = _way(context, attack, setting, setting.high(sink), amps.si, slew.si)
    inside = context.facts.of(ElementFacts.gate_resistance, path)
    ohms = Figure("R_off", way / max(amps.si, 1e-15), "ohm", f"what lies from the gate of {path} to the lower rail")
    inner = Figure("R_g", 0.0 if inside is None else inside.value, "ohm", f"resistance inside the gate of {path}")
    rise = (amps * (ohms + inner)).called("V_M", "V", "rise of the gate during the edge")
    most_volts = _shared(context, attack, capacitance, setting)
    if most_volts is not None and most_volts.si < rise.si:
        rise = most_volts
    rail, terms = lower_rail(context, drive, setting)
    volts = (rail + rise).called("V_GS", "V", "voltage between gate and source during the edge", at=rail.at)
    return Lift(volts, (amps, ohms, rise), (attack.edge.term, sink, *spreads, *terms))


def _capacitance(context: Context, drive: GateDrive) -> Figure:
    path = context.circuit.path(drive.gate.element)
    fact = context.facts.of(ElementFacts.miller_capacitance, path)
    if fact is None:
        missing = context.lookup.missing(ElementFacts.miller_capacitance, path)
        text = f"{path} hangs on the same output, and its current through the Miller capacitance is not known"
        raise Lacking(text, [missing])
    return Figure("C_GD", fact.value, "F", f"Miller capacitance of {path}", source=fact_terms.origin(fact))


def beside(context: Context, drive: GateDrive) -> list[int]:
    """The capacitors between gate and source, which share the charge."""
    return [each for each in drive.gate.beside if context.circuit.letter(each) == "C"]


def _shared(context: Context, attack: Attack, capacitance: Figure, setting: Setting) -> Figure | None:
    """What the whole swing moves at most where a capacitor lies between gate and source."""
    farads = 0.0
    for element in beside(context, attack.drive):
        if attack.drive.gate.net in context.circuit.pins(element):
            spread = context.lookup.tolerance(element)
            farads += (context.circuit.value(element) or 0.0) * (1.0 + setting.low(spread))
    if farads <= 0.0 or attack.edge.swing is None:
        return None
    swing = Figure("dV", attack.edge.swing, "V", "swing")
    share = capacitance * swing / Figure("C_GS", farads, "F", "capacitors between gate and source", end="min")
    return share.called("V_M", "V", "rise of the gate during the edge")


# -- the way of the current -------------------------------------------------------------------------------------------


def _way(
    context: Context, attack: Attack, setting: Setting, sink: float, amps: float, slew: float
) -> tuple[float, list[Term]]:
    """Volts from a gate to the lower rail while the currents of all gates of the output flow; resistors at their
    highest."""
    circuit, terms, branches = context.circuit, list[Term](), list[n.Branch]()
    start = attack.output.net
    nodes: dict[int, int] = {start: 1}
    gate = attack.drive.gate
    together = _sharing(attack)
    for element in dict.fromkeys(each for drive in together for each in drive.gate.way):
        a, b = (nodes.setdefault(net, len(nodes) + 1) for net in circuit.pins(element)[:2])
        branches.extend(_branch(context, element, a, b, setting, terms))
    for drive in together:
        node = nodes.setdefault(drive.gate.net, len(nodes) + 1)
        given = amps if drive is attack.drive else _capacitance(context, drive).si * slew
        branches.append(n.CurrentSource(f"gate {circuit.path(drive.gate.element)}", 0, node, given))
    for element in gate.beside:
        if circuit.letter(element) == "R":
            near = [nodes[net] for net in circuit.pins(element) if net in nodes]
            if len(near) == 1:
                branches.extend(_branch(context, element, near[0], 0, setting, terms))
    branches.append(n.Resistor("output", 1, 0, max(sink, _WIRE)))
    branches.extend(n.Resistor(f"leak {node}", node, 0, 1e9) for node in range(2, len(nodes) + 1))
    names = ("0", *(circuit.net_name(net) for net in nodes))
    try:
        point = context.analysis.solver.solve(n.BranchNetwork(names, tuple(branches)), 25.0)
    except n.NotSolvable as reason:
        raise Lacking(f"the way from the gate of {circuit.path(gate.element)} can't be computed") from reason
    return point.voltage(nodes[gate.net]), terms


def _sharing(attack: Attack) -> Sequence[GateDrive]:
    """The drives whose current flows at the same time: all gates of one output, as they are switched together."""
    return list({drive.gate.element: drive for drive in (attack.drive, *attack.others)}.values())


def _branch(context: Context, element: int, a: int, b: int, setting: Setting, terms: list[Term]) -> Iterable[n.Branch]:
    circuit, name = context.circuit, context.circuit.path(element)
    if circuit.letter(element) == "R":
        ohms = context.lookup.ohms(element)
        if ohms is None:
            raise Lacking(f"resistor {name} has no value", element=element)
        spread = context.lookup.tolerance(element)
        terms.append(spread)
        return (n.Resistor(name, a, b, max(ohms * (1.0 + setting.high(spread)), _WIRE)),)
    if circuit.letter(element) != "D":
        return (n.Resistor(name, a, b, _WIRE),)
    device = device_of(circuit, element)
    if not isinstance(device, Diode):
        raise Lacking(f"diode {name} has no model that can be computed", element=element)
    return (n.DiodeBranch(name, a, b, device),)


def unsure(context: Context, attack: Attack) -> Lacking | None:
    """Why a gate that is lifted too far may be held all the same: what else lies at it, None where nothing does."""
    circuit, gate = context.circuit, attack.drive.gate
    gates = {drive.gate.element for drive in attack.others}
    others = [each for each in gate.beside if circuit.letter(each) in "QJM" and each not in gates]
    if others:
        names = ", ".join(map(circuit.path, others))
        return Lacking(
            f"{names} may hold the gate of {circuit.path(gate.element)} while off, and how well is not computed"
        )
    shared = beside(context, attack.drive)
    if attack.edge.swing is not None or not shared:
        return None
    facts = [
        wall.pair.missing(BarrierFacts.swing) for wall in walls(context) if attack.drive.part.element in wall.elements
    ]
    names = ", ".join(map(circuit.path, shared))
    return Lacking(
        f"{names} at its gate takes a share of the charge, and how far the drain swings nobody states", facts
    )
