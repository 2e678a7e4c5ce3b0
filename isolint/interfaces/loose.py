"""Couplers drawn as loose cards on a sheet: an LED, and a source or switch that its current moves elsewhere.

In: a circuit, what was recognised. Out: what is to be asked. Nobody can tell such cards from a measurement by their
letters, so they are asked about and never judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice

from isolint.circuit import Circuit
from isolint.interfaces.entities import Part, Unknown
from isolint.interfaces.pinguess import type_line
from isolint.measure.body import MAX_DEVICES, ZERO, Body, Device, body_of
from isolint.recognition.led_groups import LED_LIKE, drop_of
from isolint.recognition.signals import Graph

_MOVED = frozenset("FGWSB")
_FEEDS = frozenset("VQMJXU")


def loose_couplers(circuit: Circuit, parts: Mapping[int, Part], settled: frozenset[int]) -> Iterator[Unknown]:
    """The controlled cards of sheets of at most 1,500 cards that an LED moves on another side of it.

    parts: what was recognised; it joins nothing here. settled: elements that are declared, of which nothing is asked.
    """
    letters = circuit.letters()
    if "D" not in letters or _MOVED.isdisjoint(letters):
        return
    members = list(islice((element for element in circuit.elements() if element not in parts), MAX_DEVICES + 1))
    if len(members) > MAX_DEVICES:
        return
    body = body_of(circuit, members)
    graph = Graph(body)
    touched = _touched(body)
    for device in body.devices:
        if device.element in settled or not (device.letter in "WS" or device.is_current_source):
            continue
        led = next((led for led in _leds(body, touched, device) if _moves_elsewhere(graph, device, led)), None)
        if led is not None:
            path = circuit.path(device.element)
            text = (
                f"the current of the LED {led.name} moves it, and no conductor joins the two: a coupler in loose cards"
            )
            yield Unknown(device.element, path, text, type_line(path, ()))


def _touched(body: Body) -> Mapping[int, list[Device]]:
    """The diodes at each net."""
    found: dict[int, list[Device]] = {}
    for device in body.devices:
        if device.letter == "D":
            for net in device.nets:
                found.setdefault(net, []).append(device)
    return found


def _leds(body: Body, touched: Mapping[int, list[Device]], device: Device) -> Iterator[Device]:
    """The LEDs whose current, or whose own voltage, controls a card."""
    for number in device.senses:
        sensed = body.devices[number]
        near = [sensed] if sensed.letter == "D" else [led for net in sensed.nets for led in touched.get(net, ())]
        yield from filter(_is_led, near if sensed.letter in "DV" else ())
    for pair in device.pairs:
        ends = {*pair} - {ZERO}
        yield from (led for net in ends for led in touched.get(net, ()) if {*led.nets} == ends and _is_led(led))


def _is_led(device: Device) -> bool:
    drop = drop_of(device)
    return drop is not None and LED_LIKE[0] <= drop <= LED_LIKE[1]


def _moves_elsewhere(graph: Graph, device: Device, led: Device) -> bool:
    """Whether a card acts in another part of the sheet than the LED's, in one that something feeds."""
    own = {*graph.outputs(led)}
    return any(
        component != ZERO and component not in own and any(other.letter in _FEEDS for other in graph.devices(component))
        for component in graph.outputs(device)
    )
