"""Everything found in one netlist as text, one thing a line, for tests and for looking at."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.circuit import Circuit
from isolint.interfaces import sides
from isolint.interfaces.entities import Boundary, Channel, Interfaces, Network, Recognition


def dump(interfaces: Interfaces, circuit: Circuit) -> str:
    """Couplers with their networks, other parts, doubts, then the sides.

    `(coupler XU1 phototransistor in=LED_A,GND out=OUT,GNDF @board.cir:3)`; the output of a transistor type is its
    collector and emitter, of a logic type output and ground.
    """
    lines = [line for channel in interfaces.channels for line in channel_lines(channel, circuit)]
    lines += recognition_lines(interfaces.recognition, circuit)
    separation = sides.dump(interfaces.separation, circuit)
    return "\n".join([*lines, separation] if separation else lines)


def channel_lines(channel: Channel, circuit: Circuit) -> Iterator[str]:
    """The coupler's line, and one line for each of its networks."""
    ends = (("anode", "cathode"), ("collector", "output", "emitter", "ground", "base"))
    words = [f"(coupler {channel.subject} {channel.part.type}"]
    for word, roles in zip(("in", "out"), ends, strict=True):
        nets = [circuit.net_name(channel.pins[role]) for role in roles if role in channel.pins]
        words.append(f"{word}={','.join(nets)}")
    place = circuit.place(channel.part.element)
    yield f"{' '.join(words)} @{place.file}:{place.line})"
    yield f"  (drive {network_text(channel.drive, circuit)})"
    yield f"  (load {network_text(channel.load, circuit)})"


def network_text(network: Network, circuit: Circuit) -> str:
    """Elements in the order found, then what bounds the network: `R1 D1: supply +5V, ground GND`."""
    elements = " ".join(circuit.path(element) for element in network.elements) or "-"
    ends = [_boundary_text(boundary, circuit) for boundary in network.boundary]
    ends += [f"output of {circuit.path(pair.element)}" for pair in network.pairs]
    held = ", ".join(ends) or "-"
    return f"{elements}: {held}" + ("" if network.complete else " (given up)")


def _boundary_text(boundary: Boundary, circuit: Circuit) -> str:
    by = f" by {circuit.path(boundary.element)}" if boundary.element >= 0 else ""
    return f"{boundary.kind} {circuit.net_name(boundary.net)}{by}"


def recognition_lines(recognition: Recognition, circuit: Circuit) -> Iterator[str]:
    """Parts with their pins by group, then what is ordinary, unknown, suspected or contradictory."""
    for element, part in recognition.parts.items():
        nets = circuit.pins(element)
        groups = (
            ",".join(f"{part.roles[pin] or pin + 1}={circuit.net_name(nets[pin])}" for pin in group)
            for group in part.groups
        )
        yield f"(part {part.path} {part.type} by {part.recognised_by}: {' | '.join(groups)})"
    for element in sorted(recognition.ordinary):
        yield f"(ordinary {circuit.path(element)})"
    for unknown in recognition.unknown.values():
        yield f"(unknown {unknown.path}: {unknown.reason})"
    for suspect in recognition.suspects:
        yield f"(suspect {suspect.path} {suspect.suspected_type}: {suspect.reason})"
    for found in recognition.contradictions:
        yield f"(contradiction {found.path}: {found.text})"
