"""What hangs on an output that no receiver reads, as it can be drawn: loads that are switched, gates that are driven.

In: a context and a channel whose load network the solver does not follow. Out: the elements to draw, the loads that the
settings state there, and a line that says what the rules make of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.gate_levels import GateDrive, drives, highest, lowest_on
from isolint.checking.switched import Switched, across, current, looked_at, switches
from isolint.drawn import DrawnElement
from isolint.interfaces.entities import Channel
from isolint.units import show
from isolint.worstcase.uncertain import WORST, Lacking

INPUT = ("anode", "cathode")
MOST_PINS = 8
"""A part of more pins is no load: what it does there is not drawn."""


class Hanging(NamedTuple):
    """elements: of the netlist. loads: those that only the settings know. words: what is said of them, or why not.
    ends: nets of the output."""

    elements: tuple[int, ...]
    loads: tuple[DrawnElement, ...]
    words: str
    ends: tuple[int, ...]


def hanging(context: Context, channel: Channel) -> Hanging:
    """What hangs on an output; raises `Lacking`."""
    if switches(context, channel):
        return _switched(context, channel)
    if {"gate", "array"} & set(channel.part.kind.owns):
        return _gates(context, channel)
    nets = [net for role, net in channel.pins.items() if role not in INPUT]
    said = "its levels are judged by its record, no current is solved"
    return Hanging(_at(context, channel, nets), (), said, tuple(nets))


def _at(context: Context, channel: Channel, nets: Iterable[int]) -> tuple[int, ...]:
    """The elements at nets that nothing holds, but for the coupler itself."""
    circuit = context.circuit
    found = dict.fromkeys(
        element
        for net in nets
        if context.lookup.walker.held(net) is None
        for element, _ in circuit.elements_at(net)
        if element != channel.part.element and len(circuit.pins(element)) <= MOST_PINS
    )
    return tuple(found)


# -- switches -----------------------------------------------------------------------------------------------------


def _switched(context: Context, channel: Channel) -> Hanging:
    found = looked_at(context, channel)
    nets = dict.fromkeys([*found.ends, *found.reached[0], *found.reached[1]])
    elements, said = _at(context, channel, nets), "; ".join(_said(context, found))
    return Hanging(elements, tuple(_loads(context, found)), said, found.ends)


def _loads(context: Context, found: Switched) -> Iterator[DrawnElement]:
    for net in found.loads:
        name = context.net(net)
        load = context.facts.load(name)
        if load is not None:
            far = () if load.return_ is None else (load.return_.value,)
            yield DrawnElement(f"load {name}", "load", load.kind.value if load.kind is not None else "", (name, *far))


def _said(context: Context, found: Switched) -> Iterator[str]:
    """What lies across it while it is open, and what it carries while it is closed, each at the worst."""
    volts = across(context, found, WORST)
    if volts is None:
        yield "nothing feeds what it switches"
        return
    peak = " peak" if volts.alternating else ""
    fed = f" from {' and '.join(volts.names)}" if volts.names else ""
    yield f"open: {show(volts.high, 'V')}{peak} across it at most{fed}"
    try:
        least, most, _ = current(context, found, WORST)
    except Lacking as reason:
        yield reason.reason
        return
    yield f"closed: its load takes {show(least, 'A')} to {show(most, 'A')}{' rms' if volts.alternating else ''}"


# -- gates --------------------------------------------------------------------------------------------------------


def _gates(context: Context, channel: Channel) -> Hanging:
    own = tuple(net for role, net in channel.pins.items() if role not in INPUT)
    driven = [each for each in drives(context, [channel.part]) if each.channels or each.gate.start in own]
    elements = [e for each in driven for e in (*each.gate.way, *each.gate.beside, each.gate.element)]
    said = [line for each in driven for line in _levels(context, each)]
    ends = next(((each.gate.start, each.back) for each in driven if each.channels), own)
    return Hanging(tuple(dict.fromkeys(elements)), (), "; ".join(said) or "it drives no gate of this netlist", ends)


def _levels(context: Context, drive: GateDrive) -> Iterator[str]:
    """The voltage between gate and source while it is on, at both ends."""
    name = context.circuit.path(drive.gate.element)
    try:
        least = lowest_on(context, drive, WORST).volts.si if drive.on else None
        most = highest(context, drive, WORST, True).volts.si
    except Lacking as reason:
        yield f"gate of {name}: {reason.reason}"
        return
    on = "" if least is None else f"{show(least, 'V')} at least while on, "
    yield f"gate of {name}: {on}{show(most, 'V')} at most"
