"""Channels: each input of a coupler paired with its output, with the networks around both."""

from __future__ import annotations

from collections.abc import Mapping

from isolint.circuit import Circuit
from isolint.interfaces.recognise import COUPLER_TYPES
from isolint.interfaces.values import Channel, Part, Recognition
from isolint.interfaces.walk import Walker
from isolint.parts import role_of


def find_channels(circuit: Circuit, recognition: Recognition, walker: Walker) -> tuple[Channel, ...]:
    """All channels of all couplers whose input is an LED, in the order of the cards."""
    found: list[Channel] = []
    for part in recognition.parts.values():
        if part.type in COUPLER_TYPES:
            found.extend(_channels_of(circuit, part, walker))
    return tuple(found)


def _channels_of(circuit: Circuit, part: Part, walker: Walker) -> list[Channel]:
    nets = circuit.pins(part.element)
    channels: list[Channel] = []
    for name, pins in _pin_sets(part):
        led = tuple(pins[role] for role in ("anode", "cathode") if role in pins)
        output = tuple(index for role, index in pins.items() if role in ("collector", "emitter", "base", "output", "enable"))
        if len(led) < 2 or not output:
            continue
        drive = walker.walk(part, led, receivers=False)
        load = walker.walk(part, output, receivers=True)
        channels.append(Channel(part, name, {role: nets[index] for role, index in pins.items()}, drive, load))
    return channels


def _pin_sets(part: Part) -> list[tuple[str, Mapping[str, int]]]:
    """(channel name, pin index by role) for each channel."""
    record = part.record
    if record is not None and record.channels:
        by_name = {pin.lower(): index for index, pin in enumerate(record.pins)}
        sets: list[tuple[str, Mapping[str, int]]] = []
        for number, channel in enumerate(record.channels, start=1):
            pins: dict[str, int] = {}
            for pin in (*channel.input, *channel.output):
                pins[role_of(pin, part.type)] = by_name[pin.lower()]
            for role in ("supply", "ground"):
                shared = [index for index, other in enumerate(part.roles) if other == role]
                if role not in pins and shared:
                    pins[role] = shared[0]
            label = channel.name or str(number)
            sets.append((label if len(record.channels) > 1 else "", pins))
        return sets
    if part.roles.count("anode") <= 1:
        return [("", {role: index for index, role in enumerate(part.roles) if role})]
    return _paired(part)


def _paired(part: Part) -> list[tuple[str, Mapping[str, int]]]:
    """Several LEDs without stated channels: LED groups and output groups are paired in the order of the pins."""
    leds = [group for group in part.groups if any(part.roles[pin] == "anode" for pin in group)]
    outputs = [group for group in part.groups if any(part.roles[pin] in ("collector", "output") for pin in group)]
    sets: list[tuple[str, Mapping[str, int]]] = []
    if len(leds) == len(outputs):
        for number, (led, output) in enumerate(zip(leds, outputs, strict=True), start=1):
            sets.append((str(number), {part.roles[pin]: pin for pin in (*led, *output)}))
        return sets
    # One output group with several outputs, as in a dual logic coupler: outputs in the order of the pins.
    singles = [index for index, role in enumerate(part.roles) if role in ("collector", "output")]
    common = {role: index for index, role in enumerate(part.roles) if role in ("supply", "ground", "emitter")}
    for number, (led, index) in enumerate(zip(leds, singles, strict=False), start=1):
        sets.append((str(number), {**common, **{part.roles[pin]: pin for pin in led}, part.roles[index]: index}))
    return sets
