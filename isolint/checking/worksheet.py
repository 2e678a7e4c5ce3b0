"""The calculation sheet of a channel: every line is `name = formula = numbers = result unit` and can be redone by hand.

In: a context and a channel. Out: titled sections of lines. Formulas use SI numbers; `ln` is the natural logarithm. Where a quantity can't be
computed the section says why.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Sequence

from isolint.checking.context import Context
from isolint.checking.evidence import line, margin_line, number, product_line
from isolint.interfaces.values import Channel
from isolint.results import WorksheetLine, WorksheetSection
from isolint.worstcase import network as n
from isolint.worstcase.assembly import Assembly
from isolint.worstcase.devices import LedPiece, thermal_voltage
from isolint.worstcase.drive import Drive, vector_of
from isolint.worstcase.load import OUTPUT, Load
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.terms import Lacking

SERIES_SHARE = 0.5
TRANSISTORS = ("phototransistor", "photodarlington")


def sheet(context: Context, channel: Channel) -> tuple[WorksheetSection, ...]:
    """All sections of one channel: drive nominal, at both ends, sources, load, transfer."""
    part = channel.part
    title = f"{channel.subject} ({context.place(part.element)}): {part.type} {part.model_name}, recognised by {part.recognised_by}"
    head = [
        ("drive network", channel.drive.elements),
        ("load network", channel.load.elements),
    ]
    found = "; ".join(f"{name}: {', '.join(map(context.named, elements)) or 'none'}" for name, elements in head)
    sections = [WorksheetSection(f"{title}; {found}", ())]
    try:
        drive = context.analysis.drive(channel)
    except Lacking as reason:
        return (*sections, WorksheetSection(f"{channel.subject} drive: not judged: {reason.reason}", ()))
    sections.extend(_drive(context, channel, drive))
    if part.type not in TRANSISTORS or context.use_of(channel):
        return tuple(sections)
    try:
        load = context.analysis.load(channel)
        sections.append(_load(context, channel, load))
        sections.append(_transfer(context, channel))
    except Lacking as reason:
        sections.append(WorksheetSection(f"{channel.subject} load: not judged: {reason.reason}", ()))
    return tuple(sections)


# -- drive ------------------------------------------------------------------------------------------------------


def _drive(context: Context, channel: Channel, drive: Drive) -> Iterator[WorksheetSection]:
    nominal_at = context.lookup.ambient().nominal
    nominal = tuple(term.nominal for term in drive.assembly.terms)
    cases = [
        (f"drive, nominal, {nominal_at:g} degC", nominal, nominal_at),
        (f"drive, smallest LED current: {drive.current.low.corner}", vector_of(drive.assembly, drive.current.low.at), drive.current.low.temperature),
        (f"drive, largest LED current: {drive.current.high.corner}", vector_of(drive.assembly, drive.current.high.at), drive.current.high.temperature),
    ]
    for title, vector, temperature in cases:
        network = drive.assembly.network(vector, temperature)
        point = solve(network, temperature)
        lines = [*_term_lines(drive.assembly, vector, temperature), *_loop_lines(network, point, drive.led, temperature)]
        yield WorksheetSection(f"{channel.subject} {title}; on when {drive.on_words}", tuple(lines))
    sources: list[WorksheetLine] = []
    for port in drive.ports:
        if port.model.limit is not None and port.current.high.value > 0.0:
            most = port.current.high.value
            text = line(f"headroom of {_plain(port.name)}", "guaranteed / I_max", f"{number(port.model.limit)} / {number(most)}", port.model.limit / most, "1")
            sources.append(WorksheetLine(text, f"wanted {context.lookup.drive_headroom():.2f}"))
    for switch in drive.switches:
        path = context.circuit.path(switch.element)
        if switch.kind == "bjt":
            text = line(f"IC_available of {path}", "BF_min * IB_min", f"{number(switch.gain)} * {number(switch.base_current)}", switch.available, "A")
            sources.append(WorksheetLine(text, switch.corner))
        text = line(f"headroom of {path}", "available / required", f"{number(switch.available)} / {number(switch.required)}", switch.available / switch.required, "1")
        sources.append(WorksheetLine(text))
    if sources:
        yield WorksheetSection(f"{channel.subject} sources in the on state", tuple(sources))


def _plain(name: str) -> str:
    """A name that can stand in front of `=`."""
    return name.replace("=", "_")


def _term_lines(made: Assembly, vector: Sequence[float], temperature: float) -> Iterator[WorksheetLine]:
    """How each resistor and supply gets its value at this corner."""
    by_key = {term.key: value for term, value in zip(made.terms, vector, strict=True)}
    for term in made.terms:
        if term.key.startswith("supplies.") or term.name.startswith(("line ", "supply ")):
            value = by_key[term.key]
            text = line(_plain(f"V({term.name.split(' ')[1]})"), "nominal + deviation", f"{number(term.nominal)} + {_signed(value - term.nominal)}", value, "V")
            yield WorksheetLine(text, term.origin)
    for maker in made.makers:
        branch = maker(vector, temperature)
        if isinstance(branch, n.Resistor):
            yield from _resistor_line(made, branch, by_key, temperature)


def _resistor_line(made: Assembly, branch: n.Resistor, by_key: dict[str, float], temperature: float) -> Iterator[WorksheetLine]:
    key = f'elements."{branch.name}".tolerance'
    term = next((term for term in made.terms if term.key == key), None)
    if term is None or branch.ohms <= 0.0:
        return
    deviation = by_key[key]
    drift = by_key.get(f'elements."{branch.name}".tempco')
    factor = (1.0 + deviation) * (1.0 if drift is None else 1.0 + drift * (temperature - 25.0))
    formula = "nominal * (1 + tolerance)"
    numbers = f"{number(branch.ohms / factor)} * (1 + {_signed(deviation)})"
    if drift is not None:
        formula += " * (1 + tempco * (T - 25))"
        numbers += f" * (1 + {_signed(drift)} * ({number(temperature)} - 25))"
    yield WorksheetLine(line(branch.name, formula, numbers, branch.ohms, "ohm"), term.origin)


def _signed(value: float) -> str:
    return f"({number(value)})" if value < 0 else number(value)


def _loop_lines(network: n.Network, point: Point, led: str, temperature: float) -> Iterator[WorksheetLine]:
    """Each element of the LED's loop with its drop, then the loop's sum."""
    current = point.current(led)
    if current <= 1e-9:
        yield WorksheetLine(line("IF", "LED current", number(max(current, 0.0)), max(current, 0.0), "A"), "the LED does not conduct")
        return
    path = _loop(network, point, led, current)
    drops: list[tuple[str, float]] = []
    for branch, forwards in path:
        found = _drop(branch, forwards, network, point, temperature, current)
        if found is not None:
            text, name, volts, origin = found
            yield WorksheetLine(text, origin)
            drops.append((name, volts))
    first, last = _ends(network, path)
    start, end = point.voltage(first), point.voltage(last)
    names = " - ".join([f"V({network.nodes[first]})", *(name for name, _ in drops), f"V({network.nodes[last]})"])
    numbers = " - ".join(_exact(value) for value in (start, *(volts for _, volts in drops), end))
    rest = start - sum(volts for _, volts in drops) - end
    yield WorksheetLine(f"loop = {_plain(names)} = {numbers} = {number(round(rest, 6) + 0.0)} V", "closes within 0.1 % of the source voltage")


def _exact(value: float) -> str:
    return f"({value:.7g})" if value < 0 else f"{value:.7g}"


Leg = tuple[n.Branch, bool]


def _loop(network: n.Network, point: Point, led: str, current: float) -> list[Leg]:
    """The branches from the node where the LED's current comes from to the one where it goes, the LED between."""
    own = next(branch for branch in network.branches if branch.name == led)
    assert isinstance(own, n.Led)
    before = _walk(network, point, own.anode, current, led, incoming=True)
    after = _walk(network, point, own.cathode, current, led, incoming=False)
    return [*reversed(before), (own, True), *after]


def _walk(network: n.Network, point: Point, start: int, current: float, led: str, incoming: bool) -> list[Leg]:
    """Follow the larger part of the current from a node until a source or the reference holds it."""
    held = {0} | {branch.a for branch in network.branches if isinstance(branch, n.VoltageSource | n.Port) and (branch.b if isinstance(branch, n.VoltageSource) else branch.ref) == 0}
    came: dict[int, tuple[int, Leg] | None] = {start: None}
    waiting = deque([start])
    while waiting:
        node = waiting.popleft()
        if node in held:
            legs: list[Leg] = []
            at: int = node
            step = came[at]
            while step is not None:
                at, leg = step
                legs.append(leg)
                step = came[at]
            return list(reversed(legs))
        for branch in network.branches:
            for a, b, amps in _edges(branch, point):
                if branch.name == led or abs(amps) < SERIES_SHARE * current:
                    continue
                # amps counts a to b; the walk against the current goes from b to a.
                into, other = (b, a) if amps > 0 else (a, b)
                step_from, step_to = (into, other) if incoming else (other, into)
                if step_from == node and step_to not in came:
                    came[step_to] = (node, (branch, amps > 0))
                    waiting.append(step_to)
    return []


def _edges(branch: n.Branch, point: Point) -> list[tuple[int, int, float]]:
    match branch:
        case n.Resistor() | n.CurrentSource() | n.SwitchBranch():
            return [(branch.a, branch.b, point.current(branch.name))]
        case n.VoltageSource() if branch.b != 0:
            return [(branch.a, branch.b, -point.current(branch.name))]
        case n.Led() | n.DiodeBranch():
            return [(branch.anode, branch.cathode, point.current(branch.name))]
        case n.BipolarBranch():
            return [(branch.collector, branch.emitter, point.current(branch.name, "collector"))]
        case n.MosBranch():
            return [(branch.drain, branch.source, point.current(branch.name, "drain"))]
        case _:
            return []


def _ends(network: n.Network, path: Sequence[Leg]) -> tuple[int, int]:
    def nodes(leg: Leg) -> tuple[int, int]:
        branch, forwards = leg
        found = n.nodes_of(branch)
        pair = (found[0], found[2]) if isinstance(branch, n.BipolarBranch | n.MosBranch) else (found[0], found[1])
        return pair if forwards else (pair[1], pair[0])

    return nodes(path[0])[0], nodes(path[-1])[1]


def _drop(
    branch: n.Branch, forwards: bool, network: n.Network, point: Point, temperature: float, current: float
) -> tuple[str, str, float, str] | None:
    """The line of one element of the loop, the name and volts of its drop in the direction of the LED's current."""
    sign = 1.0 if forwards else -1.0
    if isinstance(branch, n.Led):
        amps = point.current(branch.name)
        piece = next(piece for piece in branch.curve.pieces(temperature, branch.series_ohms) if math.log(amps) <= piece.upper)
        volts = point.voltage(branch.anode) - point.voltage(branch.cathode)
        name = "VF" if branch.name.startswith("LED of") else f"VF({branch.name})"
        return _led_line(name, branch, piece, amps, volts, temperature), name, volts, "LED curve"
    if isinstance(branch, n.Resistor):
        amps = point.current(branch.name) * sign
        name = f"V({branch.name})"
        text = line(name, f"I({branch.name}) * {branch.name}", f"{_exact(amps)} * {_exact(branch.ohms)}", amps * branch.ohms, "V")
        return text, name, amps * branch.ohms, ""
    found = n.nodes_of(branch)
    pair = (found[0], found[2]) if isinstance(branch, n.BipolarBranch | n.MosBranch) else (found[0], found[1])
    a, b = pair if forwards else (pair[1], pair[0])
    volts = point.voltage(a) - point.voltage(b)
    name = f"V({branch.name})"
    nodes = (network.nodes[a], network.nodes[b])
    text = line(name, f"V({_plain(nodes[0])}) - V({_plain(nodes[1])})", f"{_exact(point.voltage(a))} - {_signed7(point.voltage(b))}", volts, "V")
    return text, name, volts, "solved"


def _signed7(value: float) -> str:
    return f"({value:.7g})" if value < 0 else f"{value:.7g}"


def _led_line(name: str, branch: n.Led, piece: LedPiece, amps: float, volts: float, temperature: float) -> str:
    curve = branch.curve
    base, drift = curve.forward_voltage, curve.temperature_coefficient
    at = curve.at
    plain = f"{number(base)} + {_signed(drift)} * ({number(temperature)} - 25)"
    vt = thermal_voltage(temperature)
    series = f" + {number(branch.series_ohms)} * {_exact(amps)}" if branch.series_ohms else ""
    series_name = " + R_internal * IF" if branch.series_ohms else ""
    if curve.floor and math.log(amps) <= math.log(at):
        return line(name, f"VF0 + k * (T - 25){series_name}", f"{plain}{series}", volts, "V")
    emission = piece.slope / vt
    ohms = piece.ohms - branch.series_ohms
    formula = f"VF0 + n * Vt * ln(IF / I0) + Rs * (IF - I0) + k * (T - 25){series_name}"
    numbers = (
        f"{number(base)} + {number(emission)} * {number(vt)} * ln({_exact(amps)} / {number(at)}) + "
        f"{number(ohms)} * ({_exact(amps)} - {number(at)}) + {_signed(drift)} * ({number(temperature)} - 25){series}"
    )
    return line(name, formula, numbers, volts, "V")


# -- load and transfer --------------------------------------------------------------------------------------------


def _load(context: Context, channel: Channel, load: Load) -> WorksheetSection:
    """The currents that meet at the output's pin when the receiver's level is held, at the corner that asks for most."""
    bound = load.required.high
    network, point = context.analysis.loads().at(channel, load, bound)
    vector = vector_of(load.assembly, bound.at)
    lines = list(_term_lines(load.assembly, vector, bound.temperature))
    output = next(branch for branch in network.branches if branch.name == OUTPUT)
    assert isinstance(output, n.CurrentSource)
    # Sum where the load hangs: at the collector, or at the emitter of a follower whose collector is held.
    collector = channel.pins.get("collector", channel.pins.get("output", -1))
    follower = collector not in channel.load.inner
    node, into = (output.b, -1.0) if follower else (output.a, 1.0)
    names: list[str] = []
    values: list[float] = []
    for branch in network.branches:
        if branch.name == OUTPUT or branch.name.startswith("leakage of"):
            continue
        for a, b, amps in _edges(branch, point):
            if node not in (a, b) or a == b:
                continue
            # Counted into the collector, or out of the emitter.
            value = (-amps if a == node else amps) * into
            if abs(value) < 1e-12:
                continue
            name = f"I({_plain(branch.name)})"
            names.append(name)
            values.append(value)
            if isinstance(branch, n.Resistor) and branch.ohms > 0.0:
                first, second = (b, a) if (a == node) == (into > 0) else (a, b)
                text = line(
                    name, f"(V({_plain(network.nodes[first])}) - V({_plain(network.nodes[second])})) / {branch.name}",
                    f"({_exact(point.voltage(first))} - {_signed7(point.voltage(second))}) / {_exact(branch.ohms)}", value, "A",
                )  # fmt: skip
            else:
                text = line(name, "solved", _exact(value), value, "A")
            lines.append(WorksheetLine(text))
    total = sum(values)
    lines.append(WorksheetLine(line("IC_required", " + ".join(names) or "0", " + ".join(map(_exact, values)) or "0", total, "A"), bound.corner))
    return WorksheetSection(f"{channel.subject} load, {load.receiver.words}: {bound.corner}", tuple(lines))


def _transfer(context: Context, channel: Channel) -> WorksheetSection:
    found = context.analysis.transfer(channel)
    worst = found.worst
    lines = [
        WorksheetLine(line(factor.symbol, factor.name.replace("=", "_"), number(factor.value), factor.value, "1"), factor.origin)
        for factor in worst.available.factors
    ]
    lines.append(WorksheetLine(product_line(worst.available), f"bound by {worst.available.bound}; {worst.led_corner}"))
    lines.append(WorksheetLine(margin_line(worst.available.current, worst.required), f"wanted {context.lookup.transfer_margin():.2f}; load: {worst.required_corner}"))
    return WorksheetSection(f"{channel.subject} transfer at {worst.temperature:g} degC, {worst.voltage:.3g} V left across the output", tuple(lines))

