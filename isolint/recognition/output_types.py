"""What the output of an LED is: the type and the pins of a port group that light reaches.

In: a signal graph, an LED and a group. Out: a `GroupOutput`. The first pattern that fits decides: a latch, a
resistance, two transistors of a switch, a lit base, a supplied stage, switches, a bare current.
"""

from __future__ import annotations

from collections.abc import Mapping

from isolint.measure.body import ZERO, Device
from isolint.recognition.currents import bare_current, resistance
from isolint.recognition.holding import plain_or_held
from isolint.recognition.led_groups import ends, is_diode
from isolint.recognition.port_group import Group, GroupOutput
from isolint.recognition.stages import stage
from isolint.types.form.constructions import Make

_QUIET_OHMS = 100e3
_WIRE_OHMS = 1e3


def type_of(group: Group) -> GroupOutput:
    """The first pattern that fits."""
    for pattern in (_latch, resistance, _mosfets, _lit_base, _stage, _unlit_base, plain_or_held, bare_current):
        found = pattern(group)
        if found is not None:
            return found
    return GroupOutput(None, doubtful=group.ports, why="its output is of an unknown make")


# -- a: latches ------------------------------------------------------------------------------------------------------


def _npn(device: Device) -> bool:
    return device.letter == "Q" and device.kind != "pnp" and not is_diode(device)


def _pnp(device: Device) -> bool:
    return device.letter == "Q" and device.kind == "pnp" and not is_diode(device)


def _latch(group: Group) -> GroupOutput | None:
    """A pnp and an npn, the collector of each at the base of the other: one is a thyristor, two are a triac."""
    graph = group.graph
    by_ends = {(graph.wire(q.pins[0]), graph.wire(q.pins[1])): q for q in group.devices if _npn(q)}
    latches = [
        (pnp, npn)
        for pnp in group.devices
        if _pnp(pnp) and (npn := by_ends.get((graph.wire(pnp.pins[1]), graph.wire(pnp.pins[0])))) is not None
    ]
    if not latches:
        return None
    latch_models = {device.number for pair in latches for device in pair}
    bridge = sum(device.letter == "D" for device in group.devices) >= 4 and _is_bridge(group)
    if len(latches) >= 2 or bridge:
        mains = [port for port in group.ports if not _is_gate(group, port, latch_models)] or list(group.ports)
        if len(mains) == 2:
            return _complete(group, GroupOutput("two latches", {mains[0]: "terminal1", mains[1]: "terminal2"}), "gate")
        return GroupOutput("two latches", {}, group.ports)
    pnp, npn = latches[0]
    anode = group.through(pnp.pins[2], lambda diode: ends(diode)[::-1])
    cathode = group.through(npn.pins[2], ends)
    pins = {anode: "scra", cathode: "scrk"}
    pins.pop(-1, None)
    return _complete(group, GroupOutput("latch", pins), "gate")


def _is_bridge(group: Group) -> bool:
    """Whether each of two ports has diodes towards it and away from it."""
    anodes = {group.at(ends(device)[0]) for device in group.devices if is_diode(device)}
    cathodes = {group.at(ends(device)[1]) for device in group.devices if is_diode(device)}
    return len((anodes & cathodes) - {-1}) >= 2


def _is_gate(group: Group, port: int, latch: set[int]) -> bool:
    """Whether a port lies at a base of a latch only."""
    bases = {group.at(device.pins[1]) for device in group.devices if device.number in latch}
    emitters = {group.at(device.pins[2]) for device in group.devices if device.number in latch}
    return port in bases and port not in emitters


def _complete(group: Group, output: GroupOutput, one_left: str = "") -> GroupOutput:
    """The pins of the ports that are left: one takes a name, unfound ones are doubtful."""
    pins = dict(output.pins)
    left = [port for port in group.ports if port not in pins]
    if one_left and len(left) == 1 and len(set(pins.values())) >= 2:
        pins[left[0]] = one_left
        left = []
    return output._replace(pins=pins, doubtful=(*output.doubtful, *left))


# -- b: field-effect transistors ---------------------------------------------------------------------------------------


def _mosfets(group: Group) -> GroupOutput | None:
    graph = group.graph
    transistors = [device for device in group.devices if device.letter == "M"]
    if len(transistors) == 2 and 2 <= len(group.ports) <= 3 and not any(map(_npn, group.devices)):
        one, other = transistors
        drains = (group.at(one.pins[0]), group.at(other.pins[0]))
        if graph.same_wire(one.pins[2], other.pins[2]) and -1 not in drains and drains[0] != drains[1]:
            source = group.at(one.pins[2])
            if source not in drains:
                found = GroupOutput("switched transistors", {drains[0]: "drain1", drains[1]: "drain2"})
                if source >= 0:
                    return _complete(group, found._replace(pins={**found.pins, source: "source"}))
                return _complete(group, found)
    if len(transistors) == 1 and len(group.ports) == 2 and not any(d.letter == "Q" for d in group.devices):
        drain, source = group.at(transistors[0].pins[0]), group.at(transistors[0].pins[2])
        if -1 not in (drain, source) and drain != source:
            if transistors[0].kind.startswith("p"):
                drain, source = source, drain
            return GroupOutput("switched transistors", {drain: "drain", source: "source"})
    return None


# -- c: a lit base ---------------------------------------------------------------------------------------------------


def _lit_base(group: Group) -> GroupOutput | None:
    """A current of the light into the base of an npn: a phototransistor, with a second npn behind it a darlington."""
    graph = group.graph
    by_base: dict[int, Device] = {}
    for device in group.devices:
        if _npn(device):
            by_base.setdefault(graph.wire(device.pins[1]), device)
    for source in group.devices:
        if not source.is_current_source or not group.lit(source):
            continue
        for position in (1, 0):
            base = source.pins[position]
            first = by_base.get(graph.wire(base))
            if first is None or ZERO in (base,):
                continue
            found = _transistor(group, source, source.pins[1 - position], first, by_base)
            if found is not None:
                return found
    return None


def _transistor(
    group: Group, source: Device, from_net: int, first: Device, by_base: Mapping[int, Device]
) -> GroupOutput | None:
    graph = group.graph
    chain = [first]
    while len(chain) < 4:
        following = by_base.get(graph.wire(chain[-1].pins[2]))
        if following is None or following in chain:
            break
        chain.append(following)
    collector, emitter = group.at(chain[-1].pins[0]), group.at(chain[-1].pins[2])
    if -1 in (collector, emitter) or collector == emitter:
        return None
    pins = {collector: "collector", emitter: "emitter"}
    for device in chain:
        base = group.at(device.pins[1])
        if base >= 0 and base not in pins:
            pins[base] = "base"
            break
    left = [port for port in group.ports if port not in pins]
    if len(left) == 1 and _is_photodiode_supply(group, left[0], source, from_net, chain):
        pins[left[0]] = "vcc"
        left = []
    if left and not (
        graph.same_wire(from_net, chain[-1].pins[0])
        and all(graph.component(graph.body.ports[port]) != group.component for port in left)
    ):
        return None
    why = "what a port that only controls its light is for can't be told" if left else ""
    make: Make = "lit darlington" if len(chain) > 1 else "lit transistor"
    return GroupOutput(make, pins, tuple(left), (source, *chain), why)


def _is_photodiode_supply(group: Group, port: int, source: Device, from_net: int, chain: list[Device]) -> bool:
    """Whether a port only feeds the photocurrent, or the collector of a first transistor that the output has not."""
    graph, net = group.graph, group.graph.body.ports[port]
    own = {source.number, *(device.number for device in chain[:-1])}
    feeds = graph.same_wire(from_net, net) or any(graph.same_wire(device.pins[0], net) for device in chain[:-1])
    if not feeds:
        return False
    for device in group.devices:
        if device.number in own or not any(graph.same_wire(other, net) for other in device.nets):
            continue
        quiet = device.letter == "R" and device.value is not None and not _WIRE_OHMS <= device.value < _QUIET_OHMS
        if device.letter not in "DCVL" and not quiet:
            return False
    return True


# -- d: a stage with a supply ----------------------------------------------------------------------------------------


def _stage(group: Group) -> GroupOutput | None:
    return stage(group) if len(group.ports) >= 3 else None


# -- e: transistors between two ports ----------------------------------------------------------------


def _unlit_base(group: Group) -> GroupOutput | None:
    """A transistor between two ports whose base is not lit directly."""
    if len(group.ports) != 2:
        return None
    for device in group.devices:
        if _npn(device) or _pnp(device):
            upper, lower = (device.pins[2], device.pins[0]) if _pnp(device) else (device.pins[0], device.pins[2])
            collector, emitter = group.at(upper), group.at(lower)
            if -1 not in (collector, emitter) and collector != emitter:
                pins = {collector: "collector", emitter: "emitter"}
                return GroupOutput("unlit base", pins, why="something stands between the light and the base")
    return None
