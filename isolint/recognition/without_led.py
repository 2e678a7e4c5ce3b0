"""Barrier parts without an LED: transformers, relays, isolated supplies, isolators.

In: a signal graph without LEDs. Out: a `StructureVerdict`. Coupled coils of different sides, signals both ways, a
coil that moves a contact, or, where a type number, a word or the names of the ports say so too, two sides with a
signal between.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from isolint.measure.body import ZERO, Device
from isolint.measure.laws import evaluate
from isolint.recognition.answer import ORDINARY, StructureVerdict, none
from isolint.recognition.isolators import isolator
from isolint.recognition.makes import types_of
from isolint.recognition.series import Hint
from isolint.recognition.signals import Graph
from isolint.types.form.constructions import Make

_ACTIVE = frozenset("QMJAXSWD")
_CONTACT = frozenset("SWRCLV")
_LINE_HENRIES = 200e-9
_EQUAL = 0.05
_MOST_COILS = 60
_COIL_OHMS = 20e3
_LOSS = 1.5
"""How far the ratios of voltage and current of an ideal transformer may lie apart."""


def without_led(graph: Graph, ask: Callable[[], Hint | None]) -> StructureVerdict:
    """The first of transformer, two-way converter, relay and isolator that fits."""
    for way in (_coils, _both_ways, _relay):
        found = way(graph)
        if found is not None:
            return found
    return isolator(graph, ask) or none("nothing in it is lit, and no signal crosses as in a barrier part")


def _sides(graph: Graph) -> tuple[tuple[int, ...], ...]:
    return tuple(sorted(graph.groups))


def made(graph: Graph, make: Make, why: str = "") -> StructureVerdict:
    """A part made so: answered where one type is and nothing is doubtful (why), else asked with what it may be."""
    kinds = types_of(make)
    choices = (*kinds, ORDINARY) if why or len(kinds) > 1 else ()
    pins = tuple(_free(graph, port) for port in range(len(graph.body.ports)))
    return StructureVerdict(
        "asked" if choices else "answered", kinds[0], choices, pins, _sides(graph), why=why, make=make
    )


def _free(graph: Graph, port: int) -> str:
    net = graph.body.ports[port]
    lone = not graph.touching(net) and not graph.listeners.get(graph.component(net))
    return "nc" if lone and graph.component(net) not in graph.edges else ""


# -- a: coupled coils ------------------------------------------------------------------------------------------------


def _coils(graph: Graph) -> StructureVerdict | None:
    devices = graph.body.devices
    coupled = [devices[index] for index in sorted(graph.coupled)]
    sides: dict[int, list[Device]] = {}
    tied = False
    for coil in coupled[:_MOST_COILS]:
        tied = tied or ZERO in coil.pins
        for component in graph.outputs(coil):
            if graph.ports(component):
                sides.setdefault(component, []).append(coil)
    sides = {component: coils for component, coils in sides.items() if len(graph.ports(component)) > 1}
    if len(sides) < 2 or not _joined_by_coupling(graph, sides):
        return None
    inside = {device.letter for component in sides for device in graph.devices(component)}
    if inside & _ACTIVE:
        why = "coupled coils with active parts"
        return made(graph, "coils with active parts", why)
    values = [coil.value for coils in sides.values() for coil in coils]
    known = [value for value in values if value is not None]
    if known and max(known) < _LINE_HENRIES:
        return none("its coils are those of a connector or a line")
    if len(known) < len(values):
        return made(graph, "coupled coils", "a transformer or a choke: an inductance is not known")
    if tied:
        return made(graph, "coupled coils", "a winding is tied to node 0")
    if _same_windings(graph, sides):
        return made(graph, "coupled coils", "equal windings: a transformer or a common-mode choke")
    return made(graph, "coupled coils")


def _joined_by_coupling(graph: Graph, sides: dict[int, list[Device]]) -> bool:
    at = {coil.number: component for component, coils in sides.items() for coil in coils}
    for device in graph.body.devices:
        if device.letter == "K" and len({at[index] for index in device.senses if index in at}) > 1:
            return True
    return False


def _same_windings(graph: Graph, sides: dict[int, list[Device]]) -> bool:
    lists = [sorted(coil.value or 0.0 for coil in coils) for coils in sides.values()]
    pairs = all(len(graph.ports(component)) == 2 for component in sides)
    first = lists[0]
    return pairs and all(
        len(each) == len(first) and all(abs(a - b) <= _EQUAL * max(a, b) for a, b in zip(each, first, strict=True))
        for each in lists
    )


# -- b: signals both ways --------------------------------------------------------------------------------------------


def _both_ways(graph: Graph) -> StructureVerdict | None:
    """Voltage one way and current back, as ideal transformers and averaged converters have it."""
    wide = {component for component in graph.group_components if len(graph.ports(component)) >= 2}
    for first in (component for component in graph.group_components if component in wide):
        reached = [other for other in graph.reach(first).groups if other != first and other in wide]
        for second in (other for other in reached if first in graph.reach(other).groups):
            if _kinds(graph, first, second) and len(graph.ports(first)) > 3:
                continue
            forward, backward = _kinds(graph, first, second), _kinds(graph, second, first)
            volts = [device for device in forward if device.is_voltage_source]
            currents = [device for device in backward if device.is_current_source]
            if not volts or not currents:
                continue
            return _two_way(graph, first, second, volts, currents)
    return None


def _kinds(graph: Graph, source: int, target: int) -> list[Device]:
    """The devices in a side that a signal of another side controls."""
    lit = graph.reach(source).lit
    graph.steps += len(graph.members.get(target, ()))
    if graph.exhausted:
        return []
    return [device for device in graph.devices(target) if device.is_controlled and graph.is_driven_from(device, lit)]


def _two_way(
    graph: Graph, first: int, second: int, volts: Sequence[Device], currents: Sequence[Device]
) -> StructureVerdict | None:
    sources = [*volts, *currents]
    devices = [*graph.devices(first), *graph.devices(second)]
    letters = {device.letter for device in devices}
    tied = any(
        ZERO in device.pins[:2] for device in devices if device.letter not in "C" and device.letter in "RLVIEGFHBD"
    )
    if letters & frozenset("QMJ") or tied:
        return none("signals go both ways, with active parts or a tie to node 0")
    inner = [device for device in graph.body.devices if device.law is not None]
    straight = all(device.law is None or device.law.is_straight for device in (*sources, *inner))
    straight = straight and _is_ideal(graph, volts, currents)
    if straight and not letters & _ACTIVE and all("poly" not in _tail(graph, device) for device in sources):
        return made(graph, "coupled coils")
    bridged = any(
        device.letter == "C" and {graph.component(net) for net in device.pins[:2]} >= {first, second}
        for device in graph.body.devices
    )
    if "D" in letters and bridged:
        return made(graph, "isolated converter")
    return made(graph, "power both ways", "power goes over, and a current comes back")


def _is_ideal(graph: Graph, volts: Sequence[Device], currents: Sequence[Device]) -> bool:
    """Whether nothing is added to what goes over, and one source each way have one ratio, so that no power is lost."""
    gains = [[_gain(graph, device) for device in each] for each in (volts, currents)]
    if any(gain is not None and gain[0] for each in gains for gain in each):
        return False
    if len(volts) > 1 or len(currents) > 1 or gains[0][0] is None or gains[1][0] is None:
        return True
    one, other = abs(gains[0][0][1]), abs(gains[1][0][1])
    return max(one, other) <= _LOSS * min(one, other)


def _gain(graph: Graph, device: Device) -> tuple[float, float] | None:
    """What a source gives at nothing, and how much more at a volt or an ampere; None where it can't be told."""
    if device.law is None:
        return None if device.value is None else (0.0, device.value)
    environment, functions = graph.body.circuit.surroundings(device.element)
    text = device.law.text
    rest, full = (
        evaluate(text, lambda one, other, at=at: at, lambda name, at=at: at, environment, functions)  # type: ignore[misc]
        for at in (0.0, 1.0)
    )
    return None if rest is None or full is None else (rest, full - rest)


def _tail(graph: Graph, device: Device) -> dict[str, float | str]:
    return graph.body.circuit.tail(device.element)


# -- c: relays -------------------------------------------------------------------------------------------------------


def _relay(graph: Graph) -> StructureVerdict | None:
    """A coil of two ports that moves contacts."""
    for component in graph.group_components:
        letters = {device.letter for device in graph.devices(component)}
        if len(graph.ports(component)) != 2 or not letters & frozenset("RL") or letters & frozenset("QMJAXSW"):
            continue
        if any(graph.foreign(device, component) for device in graph.devices(component) if device.is_controlled):
            continue
        moved = graph.reach(component).groups
        contacts = [at for at in moved if _is_contact(graph, at, "L" in letters)]
        if not contacts or len(contacts) < len(moved):
            continue
        # A large resistor alone is an input that is only listened to; a coil carries a current.
        if not _has_coil(graph, component):
            continue
        pins = {}
        for number, port in enumerate(graph.ports(component), start=1):
            pins[port] = f"coil{number}"
        for pole, contact in enumerate(contacts, start=1):
            _name_contacts(graph, contact, str(pole) if len(contacts) > 1 else "", pins)
        every = tuple(pins.get(port) or _free(graph, port) for port in range(len(graph.body.ports)))
        lawful = any(_is_lawful(graph, device, at) for at in contacts for device in graph.devices(at))
        if all(every):
            why = "its contacts are resistances by their law" if lawful else ""
            return made(graph, "coil and contact", why)._replace(pins=every)
        open_pins = tuple(port for port, pin in enumerate(every) if not pin)
        asked = made(graph, "coil and contact", "its contacts can't be told")
        return asked._replace(choices=types_of("coil and contact"), pins=every, doubtful=open_pins)
    return None


def _has_coil(graph: Graph, component: int) -> bool:
    """Whether coils or resistors of less than 20 kohm alone lead from one port to the other."""
    start, end = (graph.body.ports[port] for port in graph.ports(component))
    conducting = (
        device
        for device in graph.devices(component)
        if device.letter in "LV" or (device.letter == "R" and device.value is not None and device.value < _COIL_OHMS)
    )
    ways = graph.neighbours(conducting)
    seen = {start}
    waiting = [start]
    for net in waiting:  # grows while it is walked
        for other, _ in ways.get(net, ()):
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return end in seen


def _is_contact(graph: Graph, component: int, lawful: bool) -> bool:
    """Whether a group is made of switches; lawful: or of resistances by their law, as a coil moves them."""
    devices = graph.devices(component)
    moved = [device for device in devices if device.letter in "SW" or (lawful and _is_lawful(graph, device, component))]
    rest = {device.letter for device in devices if device not in moved}
    return bool(moved) and rest <= _CONTACT and len(graph.ports(component)) > 1


def _is_lawful(graph: Graph, device: Device, component: int) -> bool:
    """Whether a device is a resistance by its law, which something elsewhere moves."""
    if device.law is None or len(device.nets) != 2 or not graph.foreign(device, component):
        return False
    own = any(set(pair) == set(device.nets) for pair in device.pairs)
    return device.letter == "R" or (device.is_current_source and own)


def _name_contacts(graph: Graph, component: int, pole: str, pins: dict[int, str]) -> None:
    ports = graph.ports(component)
    if len(ports) == 2:
        pins[ports[0]], pins[ports[1]] = f"com{pole}", f"no{pole}"
        return
    count: dict[int, int] = {}
    for device in graph.devices(component):
        if device.letter in "SW" or _is_lawful(graph, device, component):
            for net in device.nets:
                port = graph.port_at(net)
                count[port] = count.get(port, 0) + 1
    common = max(ports, key=lambda port: count.get(port, 0))
    pins[common] = f"com{pole}"
    for number, port in enumerate((port for port in ports if port != common), start=1):
        pins[port] = f"contact{pole}{'ab'[number - 1] if number < 3 else number}"
