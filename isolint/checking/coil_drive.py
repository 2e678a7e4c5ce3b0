"""What the coil of a relay asks of the outputs and transistors that drive it.

In: a context, a relay's coil, a setting. Out: a `CoilDrive`: currents of outputs, what transistors can and must carry,
voltages on outputs that are off. `Lacking` where a fact is missing. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.relay_coils import OneCoil, around, coil_states, record_of, warmth
from isolint.worstcase import network as n
from isolint.worstcase.corners import Extreme
from isolint.worstcase.drive import PortLoad
from isolint.worstcase.network_build import State
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.ports import BACK_AMPS, pin_limit
from isolint.worstcase.quantities import Bound, Quantity, over_temperature
from isolint.worstcase.solve import Point
from isolint.worstcase.switches import SwitchAnalyser, SwitchDrive
from isolint.worstcase.tangent import solved_extremes
from isolint.worstcase.uncertain import Lacking, Setting, Term, unique

_FLOAT = 1e11
_DRIVEN = 0.5
"""The share of the largest voltage across a coil from which a state counts as one that drives it."""


class FreePin(NamedTuple):
    """An output that is off: the highest voltage on its net against what its pin may see, volts."""

    net: int
    name: str
    words: str
    volts: Bound
    limit: Term
    terms: tuple[Term, ...]


class CoilDrive(NamedTuple):
    """What a coil asks in the state in which it gets most. words: that state."""

    words: str
    ports: tuple[PortLoad, ...]
    switches: tuple[SwitchDrive, ...]
    terms: tuple[Term, ...]


def coil_drive(context: Context, coil: OneCoil, setting: Setting) -> CoilDrive:
    """The drive of a coil whose copper is as cold as the ambient, at both ends of that; worked out once a setting."""
    known = context.kept(_known)
    if (coil.subject, setting) not in known:
        known[coil.subject, setting] = _solved_drive(context, coil, setting)
    return known[coil.subject, setting]


def _known(_: Context) -> dict[tuple[str, Setting], CoilDrive]:
    return {}


def _solved_drive(context: Context, coil: OneCoil, setting: Setting) -> CoilDrive:
    _, state = max(coil_states(context, coil, setting), key=lambda one: one[0])
    drives = context.analysis.drives(setting)
    made, _ = _with_coil(context, coil, state, setting)
    ports = list(made.outputs.items())
    judge = SwitchAnalyser(context.lookup, drives.assembler, setting, made)
    middle = _solved(context, made, made.nominal(setting), drives.nominal_temperature())
    bases, gates = judge.bipolars(), judge.mosfets(middle)

    def quantities(point: Point) -> list[float]:
        amps = abs(point.current(_name(coil)))
        return [amps, *(abs(point.current(name)) for name, _ in ports), *judge.values(point, bases, gates)]

    rows = _extremes(context, made, setting, quantities)
    current = over_temperature(0, quantities(middle)[0], rows)
    loads = tuple(
        PortLoad(net, context.net(net), state.get(net) == "high", _quantity(1 + i, middle.current(name), rows), model)
        for i, (name, (net, model)) in enumerate(ports)
    )
    levels = [term for _, (_, model) in ports for term in (model.best, model.supply) if term is not None]
    return CoilDrive(
        drives.state_words(state),
        loads,
        judge.drives(bases, gates, rows, 1 + len(ports), current),
        unique([*made.terms, context.lookup.ambient(), *levels]),
    )


def free_pins(context: Context, coil: OneCoil, setting: Setting) -> list[FreePin]:
    """The outputs around a coil in the states in which they are off or the coil pushes a current back into them.

    Each with the highest voltage that its net then has where it drives nothing.
    """
    found: dict[int, FreePin] = {}
    for _, state in coil_states(context, coil, setting):
        off = [net for net, level in state.items() if net >= 0 and level == "hi-z"]
        for net in (*off, *_pushed(context, coil, state, setting)):
            pin = _free_pin(context, coil, {**state, net: "hi-z"}, net, setting)
            if net not in found or pin.volts.value > found[net].volts.value:
                found[net] = pin
    return list(found.values())


def _pushed(context: Context, coil: OneCoil, state: State, setting: Setting) -> list[int]:
    """The outputs that drive a level and into which current flows back at nominal."""
    made, _ = _with_coil(context, coil, state, setting)
    ambient = context.analysis.drives(setting).nominal_temperature()
    point = _solved(context, made, made.nominal(setting), ambient)
    return [
        net
        for name, (net, _) in made.outputs.items()
        if (point.current(name) if state.get(net) == "low" else -point.current(name)) > BACK_AMPS
    ]


def _free_pin(context: Context, coil: OneCoil, state: State, net: int, setting: Setting) -> FreePin:
    made, _ = _with_coil(context, coil, state, setting)
    node = made.node(net, context.net(net))
    rows = _extremes(context, made, setting, lambda point: [point.voltage(node)])
    fact = context.facts.output(context.net(net))
    unpowered = fact is not None and fact.unpowered is not None and fact.unpowered.value
    limit = pin_limit(context.lookup, net, unpowered)
    terms = unique([*made.terms, context.lookup.ambient(), limit])
    words = context.analysis.drives(setting).state_words(state)
    return FreePin(net, context.net(net), words, over_temperature(0, 0.0, rows).high, limit, terms)


def _name(coil: OneCoil) -> str:
    return f"coil of {coil.subject}"


def _with_coil(context: Context, coil: OneCoil, state: State, setting: Setting) -> tuple[Assembly, tuple[int, int]]:
    """The network around a coil and the coil itself, its copper at the ambient; no node floats."""
    own, found = record_of(context, coil), around(context, coil, state, setting)
    made, nodes, place, cold = found.made, found.nodes, found.tolerance, own.resistance or 0.0
    made.add(
        _name(coil),
        lambda vector, ambient: n.Resistor(_name(coil), *nodes, cold * (1.0 + vector[place]) * warmth(own, ambient)),
        place,
        warm=True,
    )
    for node in range(1, len(made.nodes)):
        _hold(made, node)
    return made, nodes


def _hold(made: Assembly, node: int) -> None:
    made.add(f"leak {node}", lambda _vector, _ambient: n.Resistor(f"leak {node}", node, 0, _FLOAT))


def _solved(context: Context, made: Assembly, vector: Sequence[float], ambient: float) -> Point:
    try:
        return context.analysis.solver.solve(made.network(vector, ambient), ambient)
    except n.NotSolvable as error:
        raise Lacking(error.text) from None


def _extremes(
    context: Context, made: Assembly, setting: Setting, quantities: Callable[[Point], list[float]]
) -> list[tuple[float, tuple[Extreme, ...]]]:
    """Both ends of the quantities at both ends of the ambient."""
    found = []
    for ambient in dict.fromkeys(setting.range(context.lookup.ambient())):

        def at(vector: Sequence[float], ambient: float = ambient) -> list[float]:
            return quantities(_solved(context, made, vector, ambient))

        ends = solved_extremes(context.analysis.solver, made.ranges(setting, ambient), at)
        found.append((ambient, ends))
    return found


def _quantity(index: int, nominal: float, rows: list[tuple[float, tuple[Extreme, ...]]]) -> Quantity:
    return over_temperature(index, abs(nominal), rows)
