"""Output stages with a supply: which port is output, supply, ground or enable.

In: a port group of three ports or more. Out: a `GroupOutput`, or None. A port that is the lower end of one device
and the upper end of another is the output of a push-pull stage; a stage that only pulls down is a logic output.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from isolint.measure.body import Device
from isolint.recognition.led_groups import ends
from isolint.recognition.port_group import Group, GroupOutput, named_role
from isolint.recognition.signals import Graph, is_wire
from isolint.recognition.typical import lit
from isolint.types.form.constructions import Make

DRIVER_OHMS = 20.0
_SUPPLY_VOLTS = 15.0
_LEVEL_CURRENTS = (0.0, 1e-4, 2e-4, 5e-4, 1e-3, 2e-3, 3e-3, 5e-3, 7e-3, 1e-2, 1.5e-2, 2e-2, 3e-2)
"""Supply and LED currents at which an output is looked at."""

_MOST_LEGS = 40


class Leg(NamedTuple):
    """A device between two ports. directed: whether the device itself says which end is the upper one."""

    upper: int
    lower: int
    device: Device
    directed: bool


def stage(group: Group) -> GroupOutput | None:
    """The pins of a stage with a supply; None where nothing pulls at a port."""
    found = [leg for device in group.devices if (leg := _leg(group, device)) is not None]
    pulls = [leg for leg in found if leg.device.letter in "QMJ"] or found
    transistors = [leg for leg in found if leg.device.letter in "QMJ"]
    switches = [leg for leg in found if leg.device.letter in "SW"]
    for legs in (transistors, switches + transistors, [leg for leg in found if leg.device.letter in "GFB"]):
        middle = _middle(legs)
        if middle is not None:
            return _push_pull(group, *middle)
    if transistors:
        return _pull_down(group, transistors)
    if switches:
        return _switched(group, switches)
    driven = [leg for leg in pulls if leg.device.is_voltage_source or leg.device.letter == "A"]
    if driven:
        return _voltage(group, driven)
    currents = [leg for leg in pulls if leg.device.is_current_source and group.lit(leg.device)]
    if currents:
        return _sunk(group, currents)
    return None


def _leg(group: Group, device: Device) -> Leg | None:
    if device.letter in "QJ" and len(device.pins) >= 3:
        first, last = device.pins[0], device.pins[2]
        if device.kind in ("pnp", "pjf"):
            first, last = last, first
        directed = True
    elif device.letter == "M" and len(device.pins) >= 3:
        first, last = device.pins[0], device.pins[2]
        if device.kind.startswith("p"):
            first, last = last, first
        directed = True
    elif device.letter in "SW" or device.is_current_source or device.is_voltage_source:
        if len(device.nets) != 2:
            return None
        first, last = device.nets
        directed = device.letter not in "SW"
    elif device.letter == "A" and len(device.nets) >= 2:
        first, last = device.nets[0], device.nets[-1]
        directed = True
    else:
        return None
    if device.letter in "QJM":
        upper, lower = group.at(first), group.at(last)
    else:
        upper, lower = group.through(first, ends), group.through(last, ends)
        upper = group.through(first, lambda diode: ends(diode)[::-1]) if upper < 0 else upper
        lower = group.through(last, lambda diode: ends(diode)[::-1]) if lower < 0 else lower
    if -1 in (upper, lower) or upper == lower:
        return None
    return Leg(upper, lower, device, directed)


def _middle(legs: list[Leg]) -> tuple[Leg, Leg, list[Leg]] | None:
    """A leg from above and one from below that meet at one port, with all legs there."""
    legs = legs[:_MOST_LEGS]
    for above in legs:
        for below in legs:
            if above.lower == below.upper and above.upper != below.lower:
                at = [leg for leg in legs if above.lower in (leg.upper, leg.lower)]
                return above, below, at
            # Switches have no direction of their own: the order on the card may be turned.
            if not above.directed and not below.directed and above.device is not below.device:
                shared = {above.upper, above.lower} & {below.upper, below.lower}
                if len(shared) == 1 and above.upper in shared and below.upper in shared:
                    turned = Leg(above.lower, above.upper, above.device, False)
                    return turned, below, [above, below]
                if len(shared) == 1 and above.lower in shared and below.lower in shared:
                    turned = Leg(below.lower, below.upper, below.device, False)
                    return above, turned, [above, below]
    return None


def _push_pull(group: Group, above: Leg, below: Leg, legs: list[Leg]) -> GroupOutput:
    output = above.lower
    pins = {output: "out", above.upper: "vcc", below.lower: "gnd"}
    doubtful: tuple[int, ...] = ()
    if not (above.directed or below.directed) and not _rails_agree(group, above.upper, below.lower):
        doubtful = (above.upper, below.lower)
    pins, left = _rest(group, pins)
    ohms = [_series(group, leg, output) for leg in legs]
    known = [value for value in ohms if value > 0.0]
    if not known:
        inner = [leg.device.parameters.get("ron", 0.0) for leg in legs if leg.device.letter in "SW"]
        if len(inner) == len(legs) and min(inner) > DRIVER_OHMS:
            return GroupOutput("push-pull into resistors", pins, (*doubtful, *left))
        why = "nothing tells a driver from a logic output"
        return GroupOutput("push-pull", pins, (*doubtful, *left), (), why)
    small = max(known) <= DRIVER_OHMS
    make: Make = "push-pull into small resistors" if small else "push-pull into resistors"
    return GroupOutput(make, pins, (*doubtful, *left))


def _rails_agree(group: Group, upper: int, lower: int) -> bool:
    """Whether names or a diode say that a rail is the upper one."""
    if named_role(group, upper) == "supply" or named_role(group, lower) == "ground":
        return True
    for device in group.devices:
        if device.letter == "D":
            anode, cathode = (group.at(net) for net in ends(device))
            if cathode == upper or anode == lower:
                return True
    return False


def _series(group: Group, leg: Leg, output: int) -> float:
    """The resistors below 1 kohm on the wire from a leg to the output port, or inside a controlled source's leg."""
    graph = group.graph
    target = graph.body.ports[output]
    starts = [net for net in leg.device.nets if graph.same_wire(net, target)]
    total: dict[int, float] = dict.fromkeys(starts, 0.0)
    waiting = list(total)
    for net in waiting:  # grows while it is walked
        if net == target:
            return total[net]
        for device in graph.touching(net):
            if is_wire(device) and device.letter in "RVL":
                for other in device.nets:
                    if other not in total:
                        total[other] = total[net] + (device.value or 0.0 if device.letter == "R" else 0.0)
                        waiting.append(other)
    return 0.0


def _rest(group: Group, pins: dict[int, str]) -> tuple[dict[int, str], tuple[int, ...]]:
    """The pins of the ports that are left, by their names or as a second output; with those that nothing tells."""
    pins = dict(pins)
    left = []
    for port in group.ports:
        if port in pins:
            continue
        twin = _twin(group, port, pins)
        named = named_role(group, port)
        if twin:
            pins[port] = twin
        elif named == "enable":
            pins[port] = "en"
        else:
            left.append(port)
    for port in left:
        pins[port] = "en" if len(left) == 1 else pins.get(port, "")
    return {port: pin for port, pin in pins.items() if pin}, tuple(left)


def _twin(group: Group, port: int, pins: dict[int, str]) -> str:
    """The pin of a port to which another is joined by less than 1 ohm."""
    return next((pins[other] for other in twins(group.graph, port) if other in pins), "")


def twins(graph: Graph, port: int) -> list[int]:
    """The ports that less than 1 ohm joins to a port."""
    ports = graph.body.ports
    seen = {ports[port]}
    waiting = [ports[port]]
    for net in waiting:  # grows while it is walked
        for device in graph.touching(net):
            joins = (device.letter == "R" and device.value is not None and abs(device.value) < 1.0) or (
                device.letter == "V" and not device.value and device.law is None
            )
            if joins:
                for other in device.nets:
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
    return [other for other in range(len(ports)) if other != port and ports[other] in seen]


def _pull_down(group: Group, legs: list[Leg]) -> GroupOutput | None:
    """Only transistors that pull down: an open output, with a supply and perhaps an enable."""
    uppers = list(dict.fromkeys(leg.upper for leg in legs))
    lowers = list(dict.fromkeys(leg.lower for leg in legs))
    if len(lowers) != 1 or len(uppers) != 1:
        return None
    output, ground = uppers[0], lowers[0]
    bases = {group.at(leg.device.pins[1]) for leg in legs} - {-1, output, ground}
    left = [port for port in group.ports if port not in (output, ground)]
    based = [port for port in left if port in bases]
    if based and len(left) == len(based) == 1:
        pins = {output: "collector", ground: "emitter", based[0]: "base"}
        return GroupOutput("based transistor", pins, why="its base is a pin and something stands before it")
    return _with_supply(group, {output: "out", ground: "gnd"}, left, "pull-down")


def _with_supply(group: Group, pins: dict[int, str], left: list[int], make: Make) -> GroupOutput:
    pins = dict(pins)
    for port in list(left):
        twin = _twin(group, port, pins)
        if twin:
            pins[port] = twin
            left.remove(port)
    if len(left) == 1:
        return GroupOutput(make, {**pins, left[0]: "vcc"})
    roles = {port: named_role(group, port) for port in left}
    if sorted(roles.values()) == ["enable", "supply"]:
        named = {port: "vcc" if role == "supply" else "en" for port, role in roles.items()}
        return GroupOutput(make, {**pins, **named})
    if len(left) == 2:
        for enable, supply in (left, left[::-1]):
            if _is_enable(group, enable, supply) and not _is_enable(group, supply, enable):
                return GroupOutput(make, {**pins, supply: "vcc", enable: "en"})
    return GroupOutput(make, pins, tuple(left))


def _is_enable(group: Group, port: int, supply: int) -> bool:
    """Whether a port is only listened to, and pulled to nothing but the supply, which feeds something else too."""
    graph, ports = group.graph, group.graph.body.ports
    if not any(ports[port] in pair for device in graph.body.devices for pair in device.pairs):
        return False
    pulls = [device for device in graph.touching(ports[port]) if device.letter != "C"]
    feeds = [device for device in graph.touching(ports[supply]) if device.letter != "C" and device not in pulls]
    pulled = all(device.letter in "RD" and ports[supply] in device.nets for device in pulls)
    return bool(feeds) and pulled and any(device.letter == "R" for device in pulls)


def _switched(group: Group, legs: list[Leg]) -> GroupOutput | None:
    """One switch between two of three ports: an open output, if names or a diode tell its lower end."""
    pairs = {frozenset((leg.upper, leg.lower)) for leg in legs}
    if len(pairs) != 1:
        return None
    leg = legs[0]
    output, ground = leg.upper, leg.lower
    if named_role(group, output) == "ground" or named_role(group, ground) == "output":
        output, ground = ground, output
    told = named_role(group, ground) == "ground" or named_role(group, output) == "output"
    left = [port for port in group.ports if port not in (output, ground)]
    found = _with_supply(group, {output: "out", ground: "gnd"}, left, "pull-down switch")
    why = "its output is a plain switch"
    if told:
        return found._replace(why=why)
    return found._replace(make="switch beside a supply", doubtful=group.ports, why=why)


def _voltage(group: Group, legs: list[Leg]) -> GroupOutput:
    """Only a voltage source through a resistor: output and ground are its ends."""
    leg = legs[0]
    pins = {leg.upper: "out", leg.lower: "gnd"}
    left = [port for port in group.ports if port not in pins]
    found = _with_supply(group, pins, left, "controlled voltage")
    if not _is_level(group, leg, found.pins):
        return found._replace(why="its output is a controlled voltage")
    if _series(group, leg, leg.upper) > DRIVER_OHMS:
        return found._replace(make="level through a resistor")
    return found._replace(make="push-pull", why="nothing tells a driver from a logic output")


def _is_level(group: Group, leg: Leg, pins: Mapping[int, str]) -> bool:
    """Whether the voltage of a source is one of two, whatever the LED's current; False where it can't be told."""
    ports = group.graph.body.ports
    volts = {"gnd": 0.0, "out": 0.0}
    held = {ports[port]: volts.get(pin, _SUPPLY_VOLTS) for port, pin in pins.items()}
    found = [lit(group.graph, group.led, leg.device, current, held) for current in _LEVEL_CURRENTS]
    known = {round(value, 3) for value in found if value is not None}
    if None in found:
        reached = group.led.reach.lit
        gates = (device for device in group.graph.body.devices if device.letter == "A" and device.is_controlled)
        return any(not reached.isdisjoint(group.graph.outputs(gate)) for gate in gates)
    return len(known) == 2


def _sunk(group: Group, legs: list[Leg]) -> GroupOutput | None:
    """Only a current of the light between two of three ports."""
    pairs = {frozenset((leg.upper, leg.lower)) for leg in legs}
    if len(pairs) != 1:
        return None
    leg = legs[0]
    left = tuple(port for port in group.ports if port not in (leg.upper, leg.lower))
    pins = {leg.upper: "collector", leg.lower: "emitter"}
    return GroupOutput("current beside a supply", pins, left, (), "its output is a current")
