"""Which port groups are LEDs: a diode between two ports that nothing drives and whose light something senses.

In: a signal graph. Out: `LedPorts` values. Direction and forward voltage come from the diodes on the way from port to
port.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from isolint.measure.body import LEAKAGE_OHMS, Device
from isolint.measure.laws import evaluate
from isolint.recognition.signals import Graph, Reach

LED_LIKE = (0.85, 4.0)
"""Volts at 10 mA; silicon clamps have 0.6 to 0.7."""

TEST_CURRENT = 10e-3
THERMAL = 25.85e-3
_LIMITS = (LEAKAGE_OHMS, 10e3, 1e3)
_NO_LED = frozenset("AXSW")
_REGULATES = frozenset("MJ")
"""What may regulate the current of an LED in front of it; more often it is no LED at all."""

_WITH_TRANSISTORS = frozenset("QVRCL")
_ANODES = frozenset((
    "a", "an", "anode", "anod", "ano", "led+", "leda", "da", "la", "a1", "a2", "ac1", "ac2", "ina+", "if+",
    "p+", "ledp",
))  # fmt: skip
_CATHODES = frozenset((
    "k", "c", "ca", "cathode", "cath", "kat", "cat", "led-", "ledk", "ledc", "dk", "dc", "lk", "k1", "k2", "c1",
    "c2", "if-", "ledn",
))  # fmt: skip

Way = tuple[tuple[Device, float], ...]
"""Devices on the way from one port to the other, each with +1 where it is passed from its first pin to its second."""

Sensing = Literal["current", "voltage", "weak", ""]


class LedPorts(NamedTuple):
    """A port pair that gives light.

    ports: anode, cathode. both_ways: an input for alternating current. like: whether its forward voltage or the names
    of its ports are an LED's. sensing: "current" and "voltage" (over a part of it) are strong, "weak" is the voltage
    of the two ports. reach: what its light reaches. drop: forward voltage at 10 mA without resistors, None where it
    can't be told. way: from anode to cathode. alone: whether no other diode shares its current. regulated: whether
    field-effect transistors stand before it, so that it is asked about.
    """

    ports: tuple[int, int]
    component: int
    both_ways: bool
    like: bool
    sensing: Sensing
    reach: Reach
    drop: float | None
    way: Way
    alone: bool
    regulated: bool = False

    @property
    def is_sure(self) -> bool:
        """Whether nothing but an LED is made and sensed so."""
        return self.sensing != "weak" and not self.regulated


def drop_of(device: Device, current: float = TEST_CURRENT) -> float | None:
    """The forward voltage of a junction at a current, without its series resistance."""
    stated = device.parameters.get("vfwd")
    if stated is not None and device.letter == "D":
        return device.series * stated
    saturation = device.parameters.get("is", 1e-14)
    emission = device.parameters.get("nf" if device.letter == "Q" else "n", 1.0)
    if not saturation > 0.0 or not math.isfinite(saturation) or emission <= 0.0:
        return None
    return device.series * emission * THERMAL * math.log(current / saturation + 1.0)


def is_diode(device: Device) -> bool:
    """A diode, a transistor with base and collector joined, or a source that is a diode by its law."""
    if device.letter == "D":
        return True
    if device.letter == "Q":
        return len(device.pins) >= 3 and device.pins[0] == device.pins[1]
    return False


def ends(device: Device) -> tuple[int, int]:
    """Anode and cathode of a junction (base and emitter of a transistor)."""
    if device.letter != "Q":
        return device.pins[0], device.pins[1]
    base, emitter = device.pins[1], device.pins[2]
    return (emitter, base) if device.kind == "pnp" else (base, emitter)


def find_leds(graph: Graph) -> list[LedPorts]:
    """The LEDs of a body in the order of their ports."""
    found = []
    for component in graph.group_components:
        led = _led(graph, component)
        if led is not None:
            found.append(led)
    return found


def pair_of(graph: Graph, component: int) -> tuple[int, int] | None:
    """The two different ports of a group of exactly two, else None (ports of one name are one)."""
    distinct = list({graph.body.ports[port]: port for port in reversed(graph.ports(component))}.values())
    return (distinct[1], distinct[0]) if len(distinct) == 2 else None


def _led(graph: Graph, component: int) -> LedPorts | None:
    pair = pair_of(graph, component)
    if pair is None or not graph.edges.get(component):
        return None
    devices = graph.devices(component)
    laws = _law_diodes(graph, devices)
    transistor = _transistor_led(graph, devices)
    if not transistor and not laws and not any(map(is_diode, devices)):
        return None
    if any(device.letter in _NO_LED for device in devices) or _is_driven(graph, component, pair, devices):
        return None
    sensed = _sensed(graph, component)
    ways = _ways(graph, pair, devices, laws, transistor, sensed)
    if ways is None:
        return None
    reach = graph.reach(component)
    forward, backward = ways
    one_way = not (forward and backward)
    if one_way:
        ports, taken = (pair, forward) if forward else (pair[::-1], backward)
        both = False
    else:
        ports, taken, both = _of_two(pair, forward, backward, laws, sensed)
    drop = _total(taken, laws)
    like = (drop is not None and LED_LIKE[0] <= drop <= LED_LIKE[1]) or _named(graph, ports, both)
    sensing = _sensing(graph, component, pair, like, one_way)
    regulated = any(device.letter in _REGULATES for device in devices)
    if not sensing or (transistor and sensing != "current") or (regulated and not (sensing == "current" and like)):
        return None
    junctions = sum(device.letter not in "VRLMJ" for device, _ in taken)
    others = sum(device.letter in "DQ" or device.number in laws for device in devices)
    return LedPorts(ports, component, both, like, sensing, reach, drop, taken, junctions == others, regulated)


def unsensed_led(graph: Graph, component: int, named: bool) -> LedPorts | None:
    """An LED by its diodes alone, where nothing senses its light; named: the part's name vouches for an LED."""
    pair, devices = pair_of(graph, component), graph.devices(component)
    if pair is None or not any(map(is_diode, devices)) or any(device.letter not in "DRVLC" for device in devices):
        return None
    ways = _ways(graph, pair, devices, {}, False, set())
    if ways is None:
        return None
    forward, backward = ways
    if forward and backward:
        ports, taken, both = _of_two(pair, forward, backward, {}, set())
    else:
        ports, taken, both = (pair, forward, False) if forward else (pair[::-1], backward, False)
    drop = _total(taken, {})
    like = (drop is not None and LED_LIKE[0] <= drop <= LED_LIKE[1]) or _named(graph, ports, both)
    if not like and not named:
        return None
    return LedPorts(ports, component, both, like, "", Reach((), frozenset()), drop, taken, alone=True)


def _transistor_led(graph: Graph, devices: list[Device]) -> bool:
    """Whether the component is an LED made of transistors' emitter junctions, whose collectors only feed sources."""
    transistors = [device for device in devices if device.letter == "Q" and not is_diode(device)]
    if not transistors or not all(device.letter in _WITH_TRANSISTORS for device in devices):
        return False
    for device in transistors:
        others = [other for other in graph.touching(device.pins[0]) if other.number != device.number]
        if not others or any(other.letter not in "VCR" for other in others):
            return False
    return True


def _law_diodes(graph: Graph, devices: list[Device]) -> Mapping[int, tuple[bool, float]]:
    """Sources that are diodes by their law: (whether they conduct from the first pin on, volts at 10 mA)."""
    found: dict[int, tuple[bool, float]] = {}
    for device in devices:
        if not device.is_current_source or device.law is None or len(device.nets) != 2:
            continue
        own = set(device.nets)
        if not device.pairs or any(set(pair) != own for pair in device.pairs) or device.senses:
            continue
        bend = _bend(graph, device)
        if bend is not None:
            found[device.number] = bend
    return found


def law_value(graph: Graph, device: Device, volts: Mapping[int, float], current: float | None = None) -> float | None:
    """The value of a device's law where nets have these voltages and every current is the one given."""
    assert device.law is not None
    named = dict(zip(device.law.pairs, device.pairs, strict=False))

    def voltage(one: str, other: str) -> float | None:
        pair = named.get((one, other))
        if pair is None or any(net not in volts for net in pair):
            return None
        return volts[pair[0]] - volts[pair[1]]

    environment, functions = graph.body.circuit.surroundings(device.element)
    return evaluate(device.law.text, voltage, lambda name: current, environment, functions)


def _bend(graph: Graph, device: Device) -> tuple[bool, float] | None:
    one, other = device.nets

    def current(volts: float) -> float:
        value = law_value(graph, device, {one: volts, other: 0.0})
        return 0.0 if value is None else value

    for straight in (True, False):
        sign = 1.0 if straight else -1.0
        if sign * current(sign * 4.0) >= TEST_CURRENT and abs(current(-sign * 4.0)) < TEST_CURRENT / 10:
            return straight, _solve(lambda volts, sign=sign: sign * current(sign * volts))  # type: ignore[misc]
    return None


def _solve(current: Callable[[float], float]) -> float:
    low, high = 0.0, 4.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (low, middle) if current(middle) >= TEST_CURRENT else (middle, high)
    return high


def _is_driven(graph: Graph, component: int, pair: tuple[int, int], devices: list[Device]) -> bool:
    """Whether a signal from elsewhere drives the pair: then it is an output, a winding or a converter's input.

    A driven element in a dead branch does no harm: without the driven ones one of its ends reaches no port.
    """
    if any(device.number in graph.coupled for device in devices if device.letter == "L"):
        return True
    for line in devices:
        # A line that ends in a group carries that group's signals back; one that ends inside only delays.
        if line.letter in "TO" and any(graph.ports(other) for other in graph.outputs(line) if other != component):
            return True
    driven = [device for device in devices if device.is_controlled and graph.foreign(device, component)]
    if not driven:
        return False
    drives = {device.number for device in driven}
    view = graph.neighbours(device for device in devices if device.number not in drives)
    alive = set(_spread(view, [graph.body.ports[port] for port in pair]))
    return any(len(device.nets) > 1 and all(net in alive for net in device.nets) for device in driven)


def _spread(view: Mapping[int, list[tuple[int, Device]]], start: list[int]) -> Iterator[int]:
    seen = dict.fromkeys(start)
    waiting = list(seen)
    for net in waiting:  # grows while it is walked
        yield net
        for other, _ in view.get(net, ()):
            if other not in seen:
                seen[other] = None
                waiting.append(other)


def _ways(
    graph: Graph,
    pair: tuple[int, int],
    devices: list[Device],
    laws: Mapping[int, tuple[bool, float]],
    transistor: bool,
    sensed: set[int],
) -> tuple[Way, Way] | None:
    """The way through diodes from the first port to the second, and back; () where there is none, None for neither.

    Resistors beside the diode may join the ports: then those of 10 kohm and more, of 1 kohm and more do not count, at
    last those that lie across a diode.
    """
    first, second = (graph.body.ports[port] for port in pair)
    for limit in (*_LIMITS, 0.0):
        plain: dict[int, list[tuple[int, Device, float]]] = {}
        gates: dict[int, list[tuple[int, Device, float]]] = {}
        for device in devices:
            if device.letter in _REGULATES or (len(device.nets) == 2 and _is_plain(device, limit)):
                one, other = device.pins[:2] if device.letter not in _REGULATES else device.pins[:3:2]
                plain.setdefault(one, []).append((other, device, 1.0))
                plain.setdefault(other, []).append((one, device, -1.0))
            elif is_diode(device) or (transistor and device.letter == "Q"):
                anode, cathode = ends(device)
                gates.setdefault(anode, []).append((cathode, device, 1.0))
            elif device.number in laws:
                one, other = device.pins[:2] if laws[device.number][0] else device.pins[1::-1]
                gates.setdefault(one, []).append((other, device, 1.0))
        if not limit:
            _add_unshunted(plain, gates, devices)
        if _way(plain, {}, first, second) is not None:
            continue
        forward, backward = _way(plain, gates, first, second), _way(plain, gates, second, first)
        if not limit:
            # What is sensed must be the diode's current, not that of a resistor whose clamp the diode is.
            forward, backward = (
                way if way and any(device.number in sensed for device, _ in way) else None
                for way in (forward, backward)
            )
        if forward or backward:
            return forward or (), backward or ()
    return None


def _add_unshunted(
    plain: dict[int, list[tuple[int, Device, float]]],
    gates: Mapping[int, list[tuple[int, Device, float]]],
    devices: Sequence[Device],
) -> None:
    """Add the resistors that no diode lies across: what flows in those that one does is beside the light."""
    wires = {net: list(found) for net, found in plain.items()}
    for device in devices:
        if device.letter != "R" or len(device.nets) != 2:
            continue
        one, other = device.pins[:2]
        if _way(wires, gates, one, other) is None and _way(wires, gates, other, one) is None:
            plain.setdefault(one, []).append((other, device, 1.0))
            plain.setdefault(other, []).append((one, device, -1.0))


def _is_plain(device: Device, limit: float) -> bool:
    """Whether a current passes either way: wires, resistors below a limit, sources of a voltage of the LED's own."""
    if device.letter == "R":
        return device.value is None or device.value < limit
    return device.letter in "VL" or device.is_voltage_source


def _way(
    plain: Mapping[int, list[tuple[int, Device, float]]],
    gates: Mapping[int, list[tuple[int, Device, float]]],
    start: int,
    end: int,
) -> Way | None:
    """The way with the fewest devices, None where there is none."""
    came: dict[int, tuple[int, Device, float] | None] = {start: None}
    waiting = [start]
    for net in waiting:  # grows while it is walked
        if net == end:
            break
        for other, device, sign in (*plain.get(net, ()), *gates.get(net, ())):
            if other not in came:
                came[other] = (net, device, sign)
                waiting.append(other)
    if end not in came:
        return None
    way: list[tuple[Device, float]] = []
    step = came[end]
    while step is not None:
        way.append((step[1], step[2]))
        step = came[step[0]]
    return tuple(reversed(way))


def _total(way: Way, laws: Mapping[int, tuple[bool, float]]) -> float | None:
    """The forward voltage at 10 mA of all junctions and held voltages on the way, resistors left out."""
    total = 0.0
    for device, sign in way:
        if device.is_voltage_source:
            return None
        if device.letter == "V":
            total += sign * (device.value or 0.0)
        elif device.number in laws:
            total += laws[device.number][1]
        elif device.letter in "DQ":
            drop = drop_of(device)
            if drop is None:
                return None
            total += drop
    return total


def _of_two(
    pair: tuple[int, int],
    forward: Way,
    backward: Way,
    laws: Mapping[int, tuple[bool, float]],
    sensed: set[int],
) -> tuple[tuple[int, int], Way, bool]:
    """(ports, the way of the LED, whether it is an input for alternating current) of a pair with a diode each way."""
    kinds = [{device.model or device.name for device, _ in way if is_diode(device)} for way in (forward, backward)]
    if kinds[0] == kinds[1]:
        return pair, forward, True
    hit = [any(device.number in sensed for device, _ in way) for way in (forward, backward)]
    if hit[0] != hit[1]:
        return (pair, forward, False) if hit[0] else (pair[::-1], backward, False)
    drops = [_total(way, laws) or 0.0 for way in (forward, backward)]
    return (pair, forward, False) if drops[0] >= drops[1] else (pair[::-1], backward, False)


def _listeners(graph: Graph, component: int) -> Iterator[Device]:
    """The devices elsewhere that something of a component controls."""
    for index in graph.listeners.get(component, ()):
        device = graph.body.devices[index]
        if component not in graph.outputs(device):
            yield device


def _sensed(graph: Graph, component: int) -> set[int]:
    """The devices of a component whose current controls something elsewhere."""
    own = {device.number for device in graph.devices(component)}
    return {sensed for device in _listeners(graph, component) for sensed in device.senses if sensed in own}


def _sensing(graph: Graph, component: int, pair: tuple[int, int], like: bool, one_way: bool) -> Sensing:
    nets = {graph.body.ports[port] for port in pair}
    found: Sensing = ""
    own = {device.number for device in graph.devices(component)}
    for device in _listeners(graph, component):
        if any(sensed in own for sensed in device.senses):
            if any(graph.component(net) == component for pair in device.pairs for net in pair):
                continue  # current times voltage is heat, not light
            return "current"
        for one, other in device.pairs:
            if graph.component(one) != component or graph.component(other) != component or one == other:
                continue
            if {one, other} != nets:
                found = "voltage" if like else (found or "weak")
            elif like and one_way:
                found = found or "weak"
    for line in graph.devices(component):
        if line.letter in "TO" and len(graph.outputs(line)) > 1:
            own_pair = next(join for join in line.joins if graph.component(join[0]) == component)
            strong = like and set(own_pair) != nets and len(own_pair) == 2
            found = "voltage" if strong else found or ("weak" if like and one_way else "")
    return found


def _named(graph: Graph, ports: tuple[int, int], both: bool) -> bool:
    anode, cathode = (graph.body.names[port].lower() for port in ports)
    if both:
        return {anode, cathode} <= _ANODES | _CATHODES and anode != cathode
    return anode in _ANODES and cathode in _CATHODES
