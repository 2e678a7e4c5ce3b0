"""What must hold of a channel before a number about it means anything; raises `Lacking` where it does not."""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.interfaces.beside import ENDS
from isolint.interfaces.entities import Channel
from isolint.interfaces.pinsets import pin_sets
from isolint.interfaces.unused import is_spare
from isolint.units import show
from isolint.worstcase.drive import Drive
from isolint.worstcase.quantities import NO_CURRENT
from isolint.worstcase.shunts import seems_to_feed_back, stated_use, unfed
from isolint.worstcase.uncertain import Lacking


def level_holds(context: Context, channel: Channel) -> Drive:
    """The drive of a channel whose sources hold what they promise.

    `Lacking` where a port's level or a switch's drop is not known.
    """
    drive = context.analysis.drive(channel)
    for port in drive.ports:
        limit = port.model.limit
        if limit is not None and port.current.low.value > limit:
            text = (
                f"output {port.name} gives at least {show(port.current.low.value, 'A')}, its level is "
                f"guaranteed up to {show(limit, 'A')}"
            )
            raise Lacking(text, blocked_by="port")
    for switch in drive.switches:
        if switch.available < switch.required:
            raise Lacking(f"transistor {context.circuit.path(switch.element)} is not fully on", blocked_by="port")
    return drive


def driven(context: Context, channel: Channel) -> float:
    """Largest nominal LED current over all states, amperes.

    `Lacking` where it is none and a net of the drive leads nowhere.
    """
    drives = context.analysis.drives()
    forward = max(drives.led_current(channel, state) for state in drives.states(channel))
    loose = [held for held in channel.drive.boundary if held.kind == "loose"]
    if forward <= NO_CURRENT and loose:
        nets, facts = unfed(context.lookup, channel)
        names = ", ".join(map(context.net, nets))
        raise Lacking(f"nothing in this netlist drives net {names}", facts)
    return forward


def use_of(context: Context, channel: Channel) -> str:
    """What the output is used for where it is no switch: `linear` or `feedback`, else empty.

    As stated of its net, or of the pin of a controller that it moves; a shunt reference in the loop of the LED, or what
    may be one, tells feedback by itself.
    """
    stated = stated_use(context.lookup, channel)
    if stated:
        return stated
    return "feedback" if seems_to_feed_back(context.lookup, channel) else ""


def opposed(context: Context, channel: Channel) -> Channel | None:
    """The channel whose LED lies across the same two nets the other way round and conducts, where this one never does.

    Their outputs are in parallel: such a pair takes either polarity, whatever the drive has of it.
    """
    if not channel.pins.keys() >= ENDS:
        return None
    wanted = {**channel.pins, "anode": channel.pins["cathode"], "cathode": channel.pins["anode"]}
    others = context.analysis.neighbours().with_pins(wanted)
    if not others or driven(context, channel) > NO_CURRENT:
        return None
    return next((other for other in others if driven(context, other) > NO_CURRENT), None)


def guarded(context: Context, channel: Channel) -> Channel | None:
    """The channel that the LED of this one guards against reverse voltage: it conducts, across the same two nets the
    other way round, and nothing is on this one's output."""
    if not channel.pins.keys() >= ENDS:
        return None
    circuit = context.circuit
    pins = next((pins for name, pins in pin_sets(channel.part) if name == channel.name), None)
    if pins is None or not is_spare(circuit, context.lookup.walker, channel.part, pins):
        return None
    near = [element for element, _ in circuit.elements_at(channel.pins["anode"])]
    turned = {"anode": channel.pins["cathode"], "cathode": channel.pins["anode"]}
    for other in context.analysis.neighbours().of_parts(near):
        if {role: other.pins.get(role, -1) for role in turned} == turned and driven(context, other) > NO_CURRENT:
            return other if driven(context, channel) <= NO_CURRENT else None
    return None
