"""What lies between two sides without joining them: resistances at or above the limit, capacitors."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from isolint.interfaces.conduction import RESISTOR, Links
from isolint.interfaces.resistance import Network
from isolint.interfaces.values import Bridge


def find_bridges(
    links: Links, side_of_net: Mapping[int, int], names: Sequence[str], removed: Collection[int], without: int = -1
) -> tuple[Bridge, ...]:
    """All bridges in the order of the sides' names, then of the elements.

    Each resistor network between sides is one bridge a pair of sides, reduced to one resistance with third sides and
    loose ends left open; what is not a resistor counts 0.
    """
    found = [*_resistive(links, side_of_net, names, removed, without), *_capacitive(links, side_of_net, names)]
    return tuple(sorted(found, key=lambda bridge: (bridge.sides, bridge.kind, bridge.elements)))


def _resistive(
    links: Links, side_of_net: Mapping[int, int], names: Sequence[str], removed: Collection[int], without: int
) -> list[Bridge]:
    if len(names) < 2:
        return []
    at: dict[int, list[int]] = {}
    crossing: list[int] = []
    for link in range(len(links)):
        if link in removed:
            continue
        nets = links.nets(link)
        if without in nets:
            continue
        sides = {side_of_net.get(net) for net in nets}
        if len(sides) > 1 or None in sides:
            crossing.append(link)
            for net in nets:
                if net not in side_of_net:
                    at.setdefault(net, []).append(link)
    seen: set[int] = set()
    found: list[Bridge] = []
    for start in crossing:
        if start in seen:
            continue
        seen.add(start)
        component: list[int] = []
        waiting = [start]
        while waiting:
            link = waiting.pop()
            component.append(link)
            for net in links.nets(link):
                # Each net is left once, however many elements touch it.
                for other in at.pop(net, ()):
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
        found.extend(_between_sides(links, sorted(component), side_of_net, names))
    return found


def _between_sides(
    links: Links, component: Sequence[int], side_of_net: Mapping[int, int], names: Sequence[str]
) -> list[Bridge]:
    sides = sorted({side_of_net[net] for link in component for net in links.nets(link) if net in side_of_net})
    if len(sides) < 2:
        return []
    parent: dict[int, int] = {}

    def of(net: int) -> int:
        node = -1 - side_of_net[net] if net in side_of_net else net
        while (above := parent.setdefault(node, node)) != node:
            node = above
        return node

    network = Network()
    resistors = [link for link in component if links.kinds[link] == RESISTOR and links.ohms[link] > 0.0]
    for link in component:
        if links.kinds[link] != RESISTOR or links.ohms[link] == 0.0:
            first, *rest = map(of, links.nets(link))
            for node in rest:
                parent[max(of(node), of(first))] = min(of(node), of(first))
    for link in resistors:
        one, other = map(of, links.nets(link))
        network.add(one, other, 1.0 / links.ohms[link])
    elements = tuple(dict.fromkeys(links.elements[link] for link in resistors))
    found: list[Bridge] = []
    for position, one in enumerate(sides):
        for other in sides[position + 1 :]:
            ohms = network.effective(-1 - one, -1 - other)
            if ohms < math.inf:
                found.append(Bridge((names[one], names[other]), elements, "resistance", ohms))
    return found


def _capacitive(links: Links, side_of_net: Mapping[int, int], names: Sequence[str]) -> list[Bridge]:
    circuit = links.circuit
    found: list[Bridge] = []
    for element in circuit.elements():
        if circuit.letter(element) == "C":
            sides = sorted({side_of_net[net] for net in circuit.pins(element) if net in side_of_net})
            if len(sides) == 2:
                one, other = sides
                found.append(Bridge((names[one], names[other]), (element,), "capacitance", circuit.value(element)))
    return found
