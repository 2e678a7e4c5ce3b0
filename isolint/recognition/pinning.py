"""Pin names and port groups of a part whose LEDs and outputs are known.

In: a signal graph, LEDs and the pins of their outputs by port. Out: a name for each port and the port groups.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.recognition.led_groups import LedPorts
from isolint.recognition.signals import Graph
from isolint.recognition.stages import twins


def pins_of(
    graph: Graph, leds: Sequence[LedPorts], outputs: Sequence[Mapping[int, str]], numbered: bool = False
) -> tuple[str, ...]:
    """The pin of each port, "" where nothing tells; numbered: with the number of its channel."""
    names: dict[int, str] = {}
    for number, (led, output) in enumerate(zip(leds, outputs, strict=True), start=1):
        mark = str(number) if numbered else ""
        anode, cathode = led.ports
        names[anode] = f"anode{mark}"
        names[cathode] = f"cathode{mark}"
        for port, pin in output.items():
            names.setdefault(port, f"{pin}{mark}" if pin not in ("vcc", "gnd") or not _shared(port, outputs) else pin)
    body = graph.body
    # A port of a name that stands twice is the same net.
    first = {net: port for port, net in reversed(list(enumerate(body.ports)))}
    return tuple(
        names.get(port) or names.get(first[net]) or ("nc" if _is_free(graph, port) else _like(graph, port, names))
        for port, net in enumerate(body.ports)
    )


def _shared(port: int, outputs: Sequence[Mapping[int, str]]) -> bool:
    return sum(port in output for output in outputs) > 1


def _like(graph: Graph, port: int, names: dict[int, str]) -> str:
    """The pin of a port that less than 1 ohm joins to this one."""
    return next((names[other] for other in twins(graph, port) if other in names), "")


def _is_free(graph: Graph, port: int) -> bool:
    """Whether nothing touches a port but capacitors and large resistors, and nothing listens to it."""
    net = graph.body.ports[port]
    if graph.listeners.get(graph.component(net)):
        return False
    return not graph.touching(net)


def groups_of(
    graph: Graph, leds: Sequence[LedPorts], outputs: Sequence[tuple[int, ...]], pins: Sequence[str]
) -> tuple[tuple[int, ...], ...]:
    """Port groups of the part: each LED, each output, each port that is not connected."""
    groups: list[tuple[int, ...]] = []
    taken: set[int] = set()
    ports = graph.body.ports
    for wanted in (*(led.ports for led in leds), *dict.fromkeys(outputs)):
        nets = {ports[port] for port in wanted}
        group = tuple(port for port, net in enumerate(ports) if net in nets and port not in taken)
        if group:
            groups.append(group)
            taken.update(group)
    left: dict[int, list[int]] = {}
    for port, net in enumerate(ports):
        if port not in taken:
            left.setdefault(-1 - port if pins[port] == "nc" else graph.component(net), []).append(port)
    return tuple(sorted((*groups, *map(tuple, left.values()))))
