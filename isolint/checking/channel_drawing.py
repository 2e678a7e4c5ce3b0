"""A channel as it can be drawn: its drive and load networks with what each net and element carries.

In: a context and a channel. Out: plain records. The drive is shown at nominal, the load where it asks for most. What
can't be solved is drawn without numbers, and says why.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.checking.calculation import loaded
from isolint.checking.context import Context
from isolint.checking.load_drawing import INPUT, hanging
from isolint.checking.preconditions import use_of
from isolint.drawn import ChannelSheet, DrawnElement, NetLevel, NetworkSheet
from isolint.errors import FAULTS, itself_failed
from isolint.interfaces.entities import Channel
from isolint.units import show
from isolint.worstcase import network as n
from isolint.worstcase.budget import OverBudget
from isolint.worstcase.load import OUTPUT
from isolint.worstcase.network import NotSolvable
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.solve import Point, solve
from isolint.worstcase.uncertain import Lacking

_UNITS = {"R": "ohm", "C": "F", "L": "H", "V": "V", "I": "A"}
_PINS: dict[type, str] = {n.BipolarBranch: "collector", n.MosBranch: "drain"}


def channel_sheet(context: Context, channel: Channel) -> ChannelSheet:
    """What is drawn of a channel."""
    part = channel.part
    drive, currents = _drive(context, channel)
    return ChannelSheet(
        channel.subject,
        part.type,
        part.model_name,
        context.place(part.element),
        drive,
        _load(context, channel),
        currents,
    )


def _drive(context: Context, channel: Channel) -> tuple[NetworkSheet, tuple[float, ...]]:
    ends = [(role, net) for role, net in channel.pins.items() if role in INPUT]
    elements = channel.drive.elements
    try:
        drive = context.analysis.drive(channel)
        made, at = drive.assembly, context.lookup.ambient().nominal
        point = solve(made.network(tuple(term.nominal for term in made.terms), at), at)
    except (Lacking, OverBudget) as reason:
        return _network(context, elements, channel, "led", ends, why=reason.reason), ()
    except NotSolvable as reason:
        return _network(context, elements, channel, "led", ends, why=reason.text), ()
    except FAULTS as error:
        return _network(context, elements, channel, "led", ends, why=itself_failed(error)), ()
    found = _network(
        context, elements, channel, "led", ends, (made, point), f"nominal, {at:g} degC; on when {drive.on_words}"
    )
    found = _with_current(found, _current(point, drive.led))
    return found, (drive.current.low.value, drive.current.nominal, drive.current.high.value)


def _load(context: Context, channel: Channel) -> NetworkSheet:
    ends = [(role, net) for role, net in channel.pins.items() if role not in INPUT]
    elements = channel.load.elements
    use = use_of(context, channel)
    if use:
        return _network(context, elements, channel, "output", ends, why=f"its output is used as {use}, not as a switch")
    try:
        if not channel.part.kind.output.conducts:
            return _hanging(context, channel)
        load = loaded(context, channel)
        if load is None:
            why = "its record guarantees no low level, so its current is not known"
            return _network(context, elements, channel, "output", ends, why=why)
        bound = load.required.high
        _, point = context.analysis.loads().at(channel, load, bound)
    except (Lacking, OverBudget) as reason:
        return _network(context, elements, channel, "output", ends, why=reason.reason)
    except NotSolvable as reason:
        return _network(context, elements, channel, "output", ends, why=reason.text)
    except FAULTS as error:
        return _network(context, elements, channel, "output", ends, why=itself_failed(error))
    corner = f"{load.receiver.words}: {bound.corner}"
    found = _network(context, elements, channel, "output", ends, (load.assembly, point), corner)
    return _with_current(found, _current(point, OUTPUT))


def _hanging(context: Context, channel: Channel) -> NetworkSheet:
    """What an output switches or drives, with the loads that only the settings know, before the output."""
    found = hanging(context, channel)
    ends = [("", net) for net in found.ends]
    sheet = _network(context, found.elements, channel, "output", ends, corner=found.words)
    *others, own = sheet.elements
    known = {level.name for level in sheet.nets}
    beyond = dict.fromkeys(net for load in found.loads for net in load.nets if net not in known)
    return sheet._replace(
        nets=(*sheet.nets, *(NetLevel(net, None) for net in beyond)), elements=(*others, *found.loads, own)
    )


def _network(
    context: Context,
    elements: Sequence[int],
    channel: Channel,
    end: str,
    ends: Sequence[tuple[str, int]],
    solved: tuple[Assembly, Point] | None = None,
    corner: str = "",
    why: str = "",
) -> NetworkSheet:
    """The elements of a network and the end of the coupler that lies in it, as last."""
    circuit = context.circuit
    drawn = [
        DrawnElement(
            circuit.path(element),
            circuit.letter(element),
            _said(context, element),
            tuple(context.net(net) for net in circuit.pins(element)),
            None if solved is None else _current(solved[1], solved[0].branch_of.get(element, "")),
        )
        for element in elements
        if element != channel.part.element
    ]
    own = DrawnElement(channel.subject, end, channel.part.model_name, tuple(context.net(net) for _, net in ends))
    nets = dict.fromkeys(net for each in elements if each != channel.part.element for net in circuit.pins(each))
    nets.update(dict.fromkeys(net for _, net in ends))
    levels = dict.fromkeys(map(context.net, nets)) if solved is None else _levels(context, nets, *solved)
    return NetworkSheet(tuple(NetLevel(*each) for each in levels.items()), (*drawn, own), corner, why)


def _said(context: Context, element: int) -> str:
    """The model or value of an element."""
    circuit = context.circuit
    model, value, unit = circuit.model_name(element), circuit.value(element), _UNITS.get(circuit.letter(element), "")
    if unit and value is not None:
        return show(value, unit)
    return model or circuit.value_text(element)


def _levels(context: Context, nets: dict[int, None], made: Assembly, point: Point) -> dict[str, float | None]:
    return {context.net(net): point.voltage(made.nets[net]) if net in made.nets else None for net in nets}


def _with_current(sheet: NetworkSheet, amps: float | None) -> NetworkSheet:
    *others, own = sheet.elements
    return sheet._replace(elements=(*others, own._replace(amps=amps)))


def _current(point: Point, name: str) -> float | None:
    """The current of a branch; of a transistor that of its collector or drain; None where there is none of the name."""
    for branch, amps in zip(point.network.branches, point.amps, strict=True):
        if branch.name == name:
            pin = _PINS.get(type(branch))
            return point.current(name, pin) if pin is not None else amps[0] if len(amps) == 1 else None
    return None
