"""The calculation sheet of a channel: every line is `name = formula = numbers = result unit` and can be redone by hand.

In: a context and a channel. Out: titled sections of lines. Formulas use SI numbers; `ln` is the natural logarithm.
Where a quantity can't be computed the section says why.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.context import Context
from isolint.checking.evidence import line, margin_line, product_line
from isolint.checking.loop import BELOW_NOTICE, exact, into_node, loop_lines, ohm_line, plain, value_lines
from isolint.checking.preconditions import use_of
from isolint.checking.time_sheet import time_sections
from isolint.errors import FAULTS, itself_failed
from isolint.interfaces.entities import Channel
from isolint.results import WorksheetLine, WorksheetSection
from isolint.worstcase import network as n
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.drive import Drive, PortLoad, SwitchDrive, vector_of
from isolint.worstcase.factors import Factor
from isolint.worstcase.load import LEAKAGE, OUTPUT, Load
from isolint.worstcase.solve import solve
from isolint.worstcase.uncertain import Lacking

LAST_DIGIT = 1e-7
"""What a sum comes to at most, over the largest of what is added, that no digit of its printed numbers tells from 0."""


def sheet(context: Context, channel: Channel) -> tuple[WorksheetSection, ...]:
    """All sections of one channel: drive nominal, at both ends, sources, load, transfer."""
    part = channel.part
    head = (
        f"{channel.subject} ({context.place(part.element)}): {part.type} "
        f"{part.model_name}, recognised by {part.recognised_by}"
    )
    networks = (("drive network", channel.drive.elements), ("load network", channel.load.elements))
    found = "; ".join(f"{name}: {', '.join(map(context.named, elements)) or 'none'}" for name, elements in networks)
    sections = [WorksheetSection(f"{head}; {found}", ())]
    for what, make in (("drive", _drive), ("load", _load), ("transfer", _transfer)):
        try:
            sections.extend(make(context, channel))
        except (Lacking, OverBudget) as reason:
            sections.append(WorksheetSection(f"{channel.subject} {what}: not judged: {reason.reason}", ()))
        except FAULTS as error:
            failed = f"{channel.subject} {what}: {itself_failed(error)}"
            sections.append(WorksheetSection(failed, (), failed))
    try:
        sections.extend(time_sections(context, channel))
    except OverBudget as reason:
        sections.append(WorksheetSection(f"{channel.subject} time: not known: {reason.reason}", ()))
    except FAULTS as error:
        failed = f"{channel.subject} time: {itself_failed(error)}"
        sections.append(WorksheetSection(failed, (), failed))
    return tuple(sections)


# -- drive ------------------------------------------------------------------------------------------------------


def _drive(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    drive = context.analysis.drive(channel)
    made, current = drive.assembly, drive.current
    nominal_at = context.lookup.ambient().nominal
    cases = [
        (f"drive, nominal, {nominal_at:g} degC", tuple(term.nominal for term in made.terms), nominal_at),
        (
            f"drive, smallest LED current: {current.low.corner}",
            vector_of(made, current.low.at),
            current.low.temperature,
        ),
        (
            f"drive, largest LED current: {current.high.corner}",
            vector_of(made, current.high.at),
            current.high.temperature,
        ),
    ]
    for title, vector, temperature in cases:
        network = made.network(vector, temperature)
        point = solve(network, temperature)
        lines = [
            *value_lines(made, vector, network, point, temperature),
            *loop_lines(network, point, drive.led, temperature),
        ]
        yield WorksheetSection(f"{channel.subject} {title}; on when {drive.on_words}", tuple(lines))
    sources = list(_sources(context, drive))
    if sources:
        yield WorksheetSection(f"{channel.subject} sources in the on state", tuple(sources))


def _sources(context: Context, drive: Drive) -> Iterator[WorksheetLine]:
    for port in drive.ports:
        if port.model.limit is not None and port.current.high.value > BELOW_NOTICE:
            yield _port(context, port, port.model.limit)
    for switch in drive.switches:
        yield from _switch(context, switch)


def _port(context: Context, port: PortLoad, limit: float) -> WorksheetLine:
    most = port.current.high.value
    text = line(
        f"headroom of {plain(port.name)}", "guaranteed / I_max", f"{exact(limit)} / {exact(most)}", limit / most, "1"
    )
    return WorksheetLine(text, f"wanted {context.lookup.drive_headroom():.2f}; {port.current.high.corner}")


def _switch(context: Context, switch: SwitchDrive) -> Iterator[WorksheetLine]:
    path = plain(context.circuit.path(switch.element))
    if switch.kind == "bjt":
        numbers = f"{exact(switch.gain)} * {exact(switch.base_current)}"
        yield WorksheetLine(
            line(f"IC_available of {path}", "BF_min * IB_min", numbers, switch.available, "A"), switch.corner
        )
    if switch.required > 0.0:
        numbers = f"{exact(switch.available)} / {exact(switch.required)}"
        text = line(f"headroom of {path}", "available / required", numbers, switch.available / switch.required, "1")
        yield WorksheetLine(text, "" if switch.kind == "bjt" else switch.corner)


# -- load and transfer ------------------------------------------------------------------------------------------


def _load(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    """The currents that meet at the output's pin at the receiver's level, at the corner that asks for most."""
    use = use_of(context, channel)
    if use:
        yield WorksheetSection(f"{channel.subject} load: not judged: its output is used as {use}, not as a switch", ())
        return
    load = loaded(context, channel)
    if load is None:
        return
    bound = load.required.high
    network, point = context.analysis.loads().at(channel, load, bound)
    lines = list(value_lines(load.assembly, vector_of(load.assembly, bound.at), network, point, bound.temperature))
    output = next(branch for branch in network.branches if branch.name == OUTPUT)
    assert isinstance(output, n.CurrentSource)
    # Counted into the collector, or out of the emitter of a follower.
    node, into = (output.a, 1.0) if output.a not in _fixed(network) else (output.b, -1.0)
    names: list[str] = []
    values: list[float] = []
    for branch in network.branches:
        amps = None if branch.name == OUTPUT or branch.name.startswith(LEAKAGE) else into_node(branch, point, node)
        if amps is None or abs(amps) < BELOW_NOTICE:
            continue
        name = f"I({plain(branch.name)})"
        names.append(name)
        values.append(amps * into)
        if isinstance(branch, n.Resistor) and branch.ohms > 0.0:
            text = ohm_line(network, point, branch, name, amps * into)
        else:
            text = line(name, "solved", exact(amps * into), amps * into, "A")
        lines.append(WorksheetLine(text))
    total = sum(values)
    if abs(total) <= LAST_DIGIT * max(map(abs, values), default=0.0):
        # What is left of currents that cancel is rounding: no digit of it stands in the numbers.
        total = 0.0
    symbol = "IC_required" if channel.part.kind.output.conducts == "transistor" else "IOL"
    text = line(symbol, " + ".join(names) or "none", " + ".join(map(exact, values)) or "0", total, "A")
    lines.append(WorksheetLine(text, bound.corner))
    most = _guaranteed(channel)
    if channel.part.kind.output.conducts != "transistor" and most is not None and total > 0.0:
        text = line("margin", "guaranteed / IOL", f"{exact(most[1])} / {exact(total)}", most[1] / total, "1")
        lines.append(WorksheetLine(text, "current at which its low level is guaranteed"))
    yield WorksheetSection(f"{channel.subject} load, {load.receiver.words}: {bound.corner}", tuple(lines))


def loaded(context: Context, channel: Channel) -> Load | None:
    """The load of a channel; of a logic output at its guaranteed low level, None where it states none.

    None of other outputs, of which no load network is walked.
    """
    if channel.part.kind.output.conducts == "transistor":
        return context.analysis.load(channel)
    if not channel.part.kind.output.conducts:
        return None
    level = _guaranteed(channel)
    return None if level is None or "output" not in channel.pins else context.analysis.sink(channel, level[0])


def _guaranteed(channel: Channel) -> tuple[float, float] | None:
    """Low level of a logic output, and the current up to which it is guaranteed."""
    record = channel.part.record
    level = None if record is None else record.output.low_level
    return None if level is None or level.max is None or level.at is None else (level.max, level.at)


def _fixed(network: n.BranchNetwork) -> set[int]:
    return {0} | {branch.a for branch in network.branches if isinstance(branch, n.VoltageSource) and branch.b == 0}


def _transfer(context: Context, channel: Channel) -> Iterator[WorksheetSection]:
    if channel.part.kind.output.conducts != "transistor" or use_of(context, channel):
        return
    worst = context.analysis.transfer(channel).worst
    lines = [found for factor in worst.available.factors for found in _factor(factor)]
    lines.append(WorksheetLine(product_line(worst.available), f"bound by {worst.available.bound}; {worst.led_corner}"))
    if worst.required > 0.0:
        wanted = f"wanted {context.lookup.transfer_margin():.2f}; load: {worst.required_corner}"
        lines.append(WorksheetLine(margin_line(worst.available.current, worst.required), wanted))
    title = f"{channel.subject} transfer at {worst.temperature:g} degC, {worst.voltage:.3g} V left across the output"
    yield WorksheetSection(title, tuple(lines))


def _factor(factor: Factor) -> Iterator[WorksheetLine]:
    """A factor after the factors that its formula names."""
    for step in factor.steps:
        yield from _factor(step)
    formula, numbers = factor.formula or "value", factor.numbers or exact(factor.value)
    yield WorksheetLine(line(factor.symbol, formula, numbers, factor.value, "1"), f"{factor.name}; {factor.origin}")
