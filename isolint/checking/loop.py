"""A solved network as lines to be redone by hand: how each value stands at its corner, the loop through the LED.

In: a network, its operating point, the terms of its assembly. Out: worksheet lines `name = formula = numbers = result
unit`.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Sequence

from isolint.checking.evidence import line
from isolint.results import WorksheetLine
from isolint.worstcase import network as n
from isolint.worstcase.devices import LedPiece, thermal_voltage
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import WORST, Term

SERIES_SHARE = 0.5
DARK_AMPS = 1e-9
BELOW_NOTICE = 1e-12
NO_VOLTS = 1e-6

Leg = tuple[n.Branch, bool]
"""A branch of the loop, and whether the LED's current runs through it in the direction that its class names."""


def exact(value: float) -> str:
    """A number inside a formula: seven digits, in parentheses where it is negative."""
    return f"({value:.7g})" if value < 0 else f"{value:.7g}"


def plain(name: str) -> str:
    """A name that can stand in a formula: without `=` and parentheses."""
    return name.replace("=", "_").replace("(", "[").replace(")", "]")


# -- values at a corner -----------------------------------------------------------------------------------------


def value_lines(
    made: Assembly, vector: Sequence[float], network: n.BranchNetwork, point: Point, temperature: float
) -> Iterator[WorksheetLine]:
    """How each supply, output and resistor gets its value at this corner."""
    terms = {term.name: (term, value) for term, value in zip(made.terms, vector, strict=True)}
    for term, value in terms.values():
        if term.name.startswith(("line ", "supply ", "peak of supply ")):
            name = term.name.removeprefix("peak of ").split(" ")[1]
            numbers = f"{exact(term.nominal)} + {exact(value - term.nominal)}"
            text = line(f"V({plain(name)})", "nominal + deviation", numbers, value, "V")
            yield WorksheetLine(text, term.origin)
    for branch in network.branches:
        if isinstance(branch, n.Port) and branch.name in made.outputs:
            yield from _port_lines(made, branch, point, terms)
        elif isinstance(branch, n.Port):
            yield _drop_of_output(network, point, branch)
        elif isinstance(branch, n.Resistor) and branch.ohms > 0.0:
            yield from _resistor_lines(branch, terms, temperature)


def _port_lines(
    made: Assembly, branch: n.Port, point: Point, terms: dict[str, tuple[Term, float]]
) -> Iterator[WorksheetLine]:
    """The level of an output: guaranteed at its current, mixed with that of an output without resistance."""
    model = made.outputs[branch.name][1]
    share = next((pair for name, pair in terms.items() if name.startswith(f"output {branch.name} ")), None)
    amps, volts = abs(point.current(branch.name)), point.voltage(branch.a)
    if share is None:
        return
    x = share[1]
    (_, level), *_ = [row for row in model.worst if abs(row[0]) == model.guaranteed_at] or model.worst
    guaranteed, name = level, plain(branch.name)
    best = WORST.high(model.best) if model.supply is not None else WORST.low(model.best)
    step: WorksheetLine | None = None
    if x < 1.0 and amps > model.guaranteed_at and len(model.worst) > 2:
        far = max(model.worst, key=lambda row: abs(row[0]))
        ohms = (far[1] - level) / (abs(far[0]) - model.guaranteed_at)
        guaranteed = level + ohms * (amps - model.guaranteed_at)
        numbers = f"{exact(level)} + {exact(ohms)} * ({exact(amps)} - {exact(model.guaranteed_at)})"
        text = line(f"V_guaranteed({name})", "V_at + slope * (I - I_at)", numbers, guaranteed, "V")
        step = WorksheetLine(text, "above its test current")
    value = (1.0 - x) * guaranteed + x * best
    if abs(value - volts) > NO_VOLTS:
        # A current is pushed back into the output.
        yield WorksheetLine(line(f"V({name})", "solved", exact(round(volts, 9) + 0.0), round(volts, 9) + 0.0, "V"))
        return
    if step is not None:
        yield step
    if x in (0.0, 1.0):
        formula = "ideal" if x else "guaranteed"
        numbers, origin = exact(value), "without resistance" if x else "stated level"
    else:
        formula, origin = "(1 - share) * guaranteed + share * ideal", "between both ends"
        numbers = f"(1 - {exact(x)}) * {exact(guaranteed)} + {exact(x)} * {exact(best)}"
    yield WorksheetLine(line(f"V({name})", formula, numbers, value, "V"), origin)


def _drop_of_output(network: n.BranchNetwork, point: Point, branch: n.Port) -> WorksheetLine:
    """What is left across the output of another coupler that conducts."""
    a, b = point.voltage(branch.a), point.voltage(branch.ref)
    names = f"{_volts(network, branch.a)} - {_volts(network, branch.ref)}"
    text = line(f"VCE({plain(branch.name)})", names, f"{exact(a)} - {exact(b)}", a - b, "V")
    return WorksheetLine(text, "what its record guarantees, or its family")


def _resistor_lines(
    branch: n.Resistor, terms: dict[str, tuple[Term, float]], temperature: float
) -> Iterator[WorksheetLine]:
    own = terms.get(branch.name)
    if own is not None:
        text = line(
            plain(branch.name),
            "nominal + deviation",
            f"{exact(own[0].nominal)} + {exact(branch.ohms - own[0].nominal)}",
            branch.ohms,
            "ohm",
        )
        yield WorksheetLine(text, own[0].origin)
        return
    found = terms.get(f"tolerance of {branch.name}")
    if found is None:
        return
    term, deviation = found
    drift = terms.get(f"tempco of {branch.name}")
    factor = (1.0 + deviation) * (1.0 if drift is None else 1.0 + drift[1] * (temperature - 25.0))
    formula = "nominal * (1 + tolerance)"
    numbers = f"{exact(branch.ohms / factor)} * (1 + {exact(deviation)})"
    if drift is not None:
        formula += " * (1 + tempco * (T - 25))"
        numbers += f" * (1 + {exact(drift[1])} * ({exact(temperature)} - 25))"
    yield WorksheetLine(line(plain(branch.name), formula, numbers, branch.ohms, "ohm"), term.origin)


# -- the loop ---------------------------------------------------------------------------------------------------


def loop_lines(network: n.BranchNetwork, point: Point, led: str, temperature: float) -> Iterator[WorksheetLine]:
    """The LED's current, each element of its loop with its drop, then the loop's sum."""
    current = point.current(led)
    if current <= DARK_AMPS:
        amps = current if current > BELOW_NOTICE else 0.0
        yield WorksheetLine(line("IF", "solved", exact(amps), amps, "A"), "the LED does not conduct")
        return
    yield from _current_lines(network, point, led)
    drops: list[tuple[str, float]] = []
    path = _loop(network, point, led, current)
    for branch, forwards in path:
        text, name, volts, origin = _drop(branch, forwards, network, point, temperature)
        yield WorksheetLine(text, origin)
        drops.append((name, volts))
    first, last = _ends(path)
    start, end = point.voltage(first), point.voltage(last)
    names = " - ".join([_volts(network, first), *(name for name, _ in drops), _volts(network, last)])
    numbers = " - ".join(exact(value) for value in (start, *(volts for _, volts in drops), end))
    rest = start - sum(volts for _, volts in drops) - end
    yield WorksheetLine(
        line("loop", names, numbers, round(rest, 6) + 0.0, "V"), "the drops add up to the source's voltage"
    )


def _volts(network: n.BranchNetwork, node: int) -> str:
    return f"V({plain(network.nodes[node])})"


def _current_lines(network: n.BranchNetwork, point: Point, led: str) -> Iterator[WorksheetLine]:
    """The LED's current as the sum of all other currents into its anode; nothing where a source stands there."""
    own = next(branch for branch in network.branches if branch.name == led)
    assert isinstance(own, n.LedBranch)
    node = own.anode if own.anode not in held_nodes(network) else own.cathode
    into = 1.0 if node == own.anode else -1.0
    if node in held_nodes(network):
        return
    found: list[tuple[str, float]] = []
    for branch in network.branches:
        if branch.name == led or branch.name.startswith(("leakage of", "float of")):
            continue
        amps = into_node(branch, point, node)
        if amps is not None and abs(amps) >= BELOW_NOTICE:
            found.append((f"I({plain(branch.name)})", amps * into))
            yield from _current_line(network, point, branch, found[-1])
    if found:
        total = sum(amps for _, amps in found)
        text = line(
            "IF", " + ".join(name for name, _ in found), " + ".join(exact(amps) for _, amps in found), total, "A"
        )
        yield WorksheetLine(text, f"all currents at {plain(network.nodes[node])}")


def _current_line(
    network: n.BranchNetwork, point: Point, branch: n.Branch, found: tuple[str, float]
) -> Iterator[WorksheetLine]:
    name, amps = found
    if isinstance(branch, n.Resistor) and branch.ohms > 0.0:
        yield WorksheetLine(ohm_line(network, point, branch, name, amps))
    else:
        yield WorksheetLine(line(name, "solved", exact(amps), amps, "A"))


def ohm_line(network: n.BranchNetwork, point: Point, branch: n.Resistor, name: str, amps: float) -> str:
    """The current of a resistor from the voltages at its ends, in the direction in which `amps` counts."""
    own = point.current(branch.name)
    a, b = (branch.a, branch.b) if own * amps >= 0.0 else (branch.b, branch.a)
    if exact(point.voltage(a)) == exact(point.voltage(b)):
        # The digits of the voltages don't tell so small a current.
        return line(name, "solved", exact(amps), amps, "A")
    return line(
        name,
        f"({_volts(network, a)} - {_volts(network, b)}) / {plain(branch.name)}",
        f"({exact(point.voltage(a))} - {exact(point.voltage(b))}) / {exact(branch.ohms)}",
        amps,
        "A",
    )


def into_node(branch: n.Branch, point: Point, node: int) -> float | None:
    """The current that a branch delivers into a node; None for a branch that does not touch it."""
    nodes = n.nodes_of(branch)
    if node not in nodes or isinstance(branch, n.Blocked):
        return None
    if isinstance(branch, n.BipolarBranch | n.MosBranch):
        pins = ("collector", "base", "emitter") if isinstance(branch, n.BipolarBranch) else ("drain", "gate", "source")
        return -sum(point.current(branch.name, pin) for pin, at in zip(pins, nodes, strict=True) if at == node)
    if nodes[0] == nodes[1]:
        return 0.0
    delivered = point.current(branch.name)
    if isinstance(branch, n.VoltageSource | n.Port):
        return delivered if nodes[0] == node else -delivered
    return -delivered if nodes[0] == node else delivered


def held_nodes(network: n.BranchNetwork) -> set[int]:
    """The reference and every node that a source or output holds against it."""
    held = {0}
    for branch in network.branches:
        if (isinstance(branch, n.VoltageSource) and branch.b == 0) or (isinstance(branch, n.Port) and branch.ref == 0):
            held.add(branch.a)
    return held


def _loop(network: n.BranchNetwork, point: Point, led: str, current: float) -> list[Leg]:
    """The branches from the node where the LED's current comes from to the one where it goes, the LED between."""
    own = next(branch for branch in network.branches if branch.name == led)
    assert isinstance(own, n.LedBranch)
    before = _walk(network, point, own.anode, current, led, incoming=True)
    after = _walk(network, point, own.cathode, current, led, incoming=False)
    return [*reversed(before), (own, True), *after]


def _walk(network: n.BranchNetwork, point: Point, start: int, current: float, led: str, incoming: bool) -> list[Leg]:
    """Follow the larger part of the current from a node until a source or the reference holds it."""
    held = held_nodes(network)
    came: dict[int, tuple[int, Leg] | None] = {start: None}
    waiting = deque([start])
    while waiting:
        node = waiting.popleft()
        if node in held:
            legs: list[Leg] = []
            step = came[node]
            while step is not None:
                at, leg = step
                legs.append(leg)
                step = came[at]
            return list(reversed(legs))
        for branch in network.branches:
            for a, b, amps in _edges(branch, point):
                if branch.name == led or abs(amps) < SERIES_SHARE * current:
                    continue
                source, sink = (a, b) if amps > 0 else (b, a)
                here, there = (sink, source) if incoming else (source, sink)
                if here == node and there not in came:
                    came[there] = (node, (branch, amps > 0))
                    waiting.append(there)
    return []


def _edges(branch: n.Branch, point: Point) -> list[tuple[int, int, float]]:
    match branch:
        case n.Resistor() | n.CurrentSource() | n.SwitchBranch():
            return [(branch.a, branch.b, point.current(branch.name))]
        case n.Port() if branch.ref != 0:
            return [(branch.a, branch.ref, -point.current(branch.name))]
        case n.VoltageSource() if branch.b != 0:
            return [(branch.a, branch.b, -point.current(branch.name))]
        case n.LedBranch() | n.DiodeBranch():
            return [(branch.anode, branch.cathode, point.current(branch.name))]
        case n.BipolarBranch():
            return [(branch.collector, branch.emitter, point.current(branch.name, "collector"))]
        case n.MosBranch():
            return [(branch.drain, branch.source, point.current(branch.name, "drain"))]
        case _:
            return []


def _pair(branch: n.Branch) -> tuple[int, int]:
    nodes = n.nodes_of(branch)
    return (nodes[0], nodes[2]) if isinstance(branch, n.BipolarBranch | n.MosBranch) else (nodes[0], nodes[1])


def _ends(path: Sequence[Leg]) -> tuple[int, int]:
    first, last = (_pair(branch)[:: 1 if forwards else -1] for branch, forwards in (path[0], path[-1]))
    return first[0], last[1]


def _drop(
    branch: n.Branch, forwards: bool, network: n.BranchNetwork, point: Point, temperature: float
) -> tuple[str, str, float, str]:
    """The line of one element of the loop, the name and volts of its drop in the direction of the LED's current."""
    if isinstance(branch, n.LedBranch):
        amps = point.current(branch.name)
        pieces = branch.curve.pieces(temperature, branch.series_ohms)
        piece = next(piece for piece in pieces if math.log(amps) <= piece.upper)
        volts = point.voltage(branch.anode) - point.voltage(branch.cathode)
        name = "VF" if branch.name.startswith("LED of") else f"VF({plain(branch.name)})"
        return _led_line(name, branch, piece, amps, volts, temperature), name, volts, "LED curve"
    name = f"V({plain(branch.name)})"
    if isinstance(branch, n.Resistor) and branch.ohms > 0.0:
        amps = point.current(branch.name) * (1.0 if forwards else -1.0)
        volts = amps * branch.ohms
        names = f"I({plain(branch.name)}) * {plain(branch.name)}"
        return line(name, names, f"{exact(amps)} * {exact(branch.ohms)}", volts, "V"), name, volts, ""
    a, b = _pair(branch)[:: 1 if forwards else -1]
    volts = point.voltage(a) - point.voltage(b)
    names = f"{_volts(network, a)} - {_volts(network, b)}"
    text = line(name, names, f"{exact(point.voltage(a))} - {exact(point.voltage(b))}", volts, "V")
    return text, name, volts, "solved"


def _led_line(name: str, branch: n.LedBranch, piece: LedPiece, amps: float, volts: float, temperature: float) -> str:
    curve = branch.curve
    base, drift, at = exact(curve.forward_voltage), exact(curve.temperature_coefficient), exact(curve.at)
    change = f"{drift} * ({exact(temperature)} - 25)"
    series, series_name = "", ""
    if branch.series_ohms:
        series, series_name = f" + {exact(branch.series_ohms)} * {exact(amps)}", " + R_internal * IF"
    if curve.floor and amps <= curve.at:
        return line(name, f"VF0 + k * (T - 25){series_name}", f"{base} + {change}{series}", volts, "V")
    vt = thermal_voltage(temperature)
    emission, ohms = piece.slope / vt, piece.ohms - branch.series_ohms
    formula = f"VF0 + n * Vt * ln(IF / I0) + Rs * (IF - I0) + k * (T - 25){series_name}"
    numbers = (
        f"{base} + {exact(emission)} * {exact(vt)} * ln({exact(amps)} / {at}) + "
        f"{exact(ohms)} * ({exact(amps)} - {at}) + {change}{series}"
    )
    return line(name, formula, numbers, volts, "V")
