"""A switch that holds itself: whether its own current keeps it on, and which way.

In: a port group with a switch. Out: a `GroupOutput`. A law that its own current changes while nothing is lit is a
latch: both ways that of a triac, one way that of a thyristor. Other feedback may be a limit of current, and is asked
about.
"""

from __future__ import annotations

from isolint.measure.body import LEAKAGE_OHMS, Device
from isolint.measure.laws import evaluate
from isolint.recognition.led_groups import ends, is_diode
from isolint.recognition.port_group import Group, GroupOutput

_HOLDING_AMPERES = 0.5
"""More than any coupler's holding current, less than what destroys it."""

_VOLTS = (0.0, 5.0)
_MAINS_TERMINALS = frozenset((
    "mt", "mt1", "mt2", "t1", "t2", "main1", "main2", "terminal1", "terminal2", "tr1", "tr2", "a2", "m1", "m2",
))  # fmt: skip


def plain_or_held(group: Group) -> GroupOutput | None:
    """A switch across two ports."""
    if len(group.ports) != 2:
        return None
    switches = [
        device
        for device in group.devices
        if device.letter in "SW" and {group.through(net, ends) for net in device.nets} == set(group.ports)
    ]
    if not switches:
        switches = [device for device in group.devices if device.letter in "SW"]
        if not switches or "Q" in group.letters():
            return None
    first, second = group.ports
    ends_pins = {first: "terminal1", second: "terminal2"}
    if not _feeds_back(group):
        return GroupOutput("plain switch", ends_pins, why="its output is a plain switch")
    found = _held(group)
    if found is not None:
        return found
    if _is_named(group):
        return GroupOutput("switch that holds between terminals", ends_pins)
    return GroupOutput("switch that holds", ends_pins, why="its output is a switch that holds itself")


def _is_named(group: Group) -> bool:
    return all(group.name(port) in _MAINS_TERMINALS for port in group.ports)


def _feeds_back(group: Group) -> bool:
    """Whether the output acts on itself: a loop out of the group and back, or its own current controls it."""
    graph = group.graph
    if any(device.letter == "A" and "flop" in device.model for device in graph.body.devices):
        return True
    if any(group.component in graph.sources(device) for device in group.devices if device.is_controlled):
        return True
    return group.component in graph.reach(group.component).groups


def _held(group: Group) -> GroupOutput | None:
    """The triac or thyristor that the law of a current of its own makes; None where none tells."""
    ways = _ways(group)
    for device in group.graph.body.devices:
        own = [each for each in device.senses if group.component in group.graph.outputs(group.graph.body.devices[each])]
        if device.law is None or len(own) != 1:
            continue
        held = _directions(group, device, own[0])
        if held is None or not any(held):
            continue
        start = _port_before(group, group.graph.body.devices[own[0]])
        first, second = group.ports
        if all(ways) and start >= 0 and not all(held) and not _has_bridge(group):
            if _is_named(group):
                return None
            anode = start if held[0] else second if start == first else first
            return _thyristor(group, anode)
        if any(ways) and not all(ways):
            return _thyristor(group, first if ways[0] else second)
        if all(ways):
            return GroupOutput("switch held both ways", {first: "terminal1", second: "terminal2"})
    return None


def _thyristor(group: Group, anode: int) -> GroupOutput:
    return GroupOutput("switch held one way", {port: "scra" if port == anode else "scrk" for port in group.ports})


def _directions(group: Group, device: Device, own: int) -> tuple[bool, bool] | None:
    """Whether a law changes with a current of its own either way, nothing lit; None where it can't be computed."""
    assert device.law is not None
    if len(device.law.currents) != len(device.senses):
        return None
    names = dict(zip(device.law.currents, device.senses, strict=True))
    environment, functions = group.graph.body.circuit.surroundings(device.element)
    text = device.law.text
    for volts in _VOLTS:

        def value(amperes: float, volts: float = volts) -> float | None:
            return evaluate(
                text,
                lambda one, other: volts,
                lambda name: amperes if names.get(name) == own else 0.0,
                environment,
                functions,
            )

        rest, forward, backward = value(0.0), value(_HOLDING_AMPERES), value(-_HOLDING_AMPERES)
        if rest is None or forward is None or backward is None:
            return None
        if forward != rest or backward != rest:
            return forward != rest, backward != rest
    return None


def _ways(group: Group) -> tuple[bool, bool]:
    """Whether a current passes from the first port to the second, and back: switches either way, diodes one way."""
    first, second = (group.graph.body.ports[port] for port in group.ports)
    return second in _reached(group, first), first in _reached(group, second)


def _reached(group: Group, start: int, without: int = -1) -> set[int]:
    onward: dict[int, list[int]] = {}
    for device in group.devices:
        if len(device.nets) != 2 or device.number == without:
            continue
        if is_diode(device):
            anode, cathode = ends(device)
            onward.setdefault(anode, []).append(cathode)
        elif device.letter in "SWVL" or (device.letter == "R" and (device.value or 0.0) < LEAKAGE_OHMS):
            one, other = device.nets
            onward.setdefault(one, []).append(other)
            onward.setdefault(other, []).append(one)
    seen = {start}
    waiting = [start]
    for net in waiting:  # grows while it is walked
        for following in onward.get(net, ()):
            if following not in seen:
                seen.add(following)
                waiting.append(following)
    return seen


def _port_before(group: Group, meter: Device) -> int:
    """The port that lies at the first pin of what senses the current, without passing it; -1 for none or both."""
    reached = _reached(group, meter.pins[0], meter.number)
    found = [port for port in group.ports if group.graph.body.ports[port] in reached]
    return found[0] if len(found) == 1 else -1


def _has_bridge(group: Group) -> bool:
    return sum(device.letter == "D" for device in group.devices) >= 4
