"""Channels: each input of a coupler paired with its output, with the networks around both."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.circuit import Circuit
from isolint.interfaces.cascades import with_companions
from isolint.interfaces.entities import Boundary, Channel, Network, Part, Recognition
from isolint.interfaces.pinsets import pin_sets
from isolint.interfaces.unused import unused_channels
from isolint.interfaces.walk import Walker

_LOADED = ("collector", "emitter", "base", "output", "ground", "enable")
"""Roles of the pins from which the load network is walked: between two of them the output conducts."""

_NO_LOAD = Network((), (), ())


def find_channels(circuit: Circuit, recognition: Recognition, walker: Walker) -> tuple[Channel, ...]:
    """All channels of all couplers whose input is an LED, in the order of the cards."""
    found: list[Channel] = []
    for part in recognition.parts.values():
        if part.kind.switched:
            found.extend(_channels_of(circuit, part, walker))
    return with_companions(circuit, found)


def find_unused(recognition: Recognition, channels: Iterable[Channel]) -> tuple[str, ...]:
    """The subjects of the channels that `find_channels` left out as unused."""
    made = {(channel.part.element, channel.name) for channel in channels}
    found: list[str] = []
    for part in recognition.parts.values():
        if part.kind.switched:
            names = sorted(name for name, _ in pin_sets(part) if (part.element, name) not in made)
            found.extend(f"{part.path} channel {name}" if name else part.path for name in names)
    return tuple(found)


def _channels_of(circuit: Circuit, part: Part, walker: Walker) -> list[Channel]:
    nets = circuit.pins(part.element)
    channels: list[Channel] = []
    unused = unused_channels(circuit, walker, part)
    for name, pins in pin_sets(part):
        if name in unused:
            continue
        output = tuple(pins[role] for role in _LOADED if role in pins)
        drive = walker.walk(part, (pins["anode"], pins["cathode"]), receivers=False)
        if walker.floats(drive):
            # A loop of its own round a source: any node may be taken for 0 V.
            drive = drive._replace(boundary=(Boundary(nets[pins["cathode"]], "ground"), *drive.boundary))
        load = walker.walk(part, output, receivers=True) if part.kind.output.conducts else _NO_LOAD
        channels.append(Channel(part, name, {role: nets[index] for role, index in pins.items()}, drive, load))
    return channels
