"""What lies between two sides without joining them: resistances at or above the limit, capacitors."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import RESISTOR, Links
from isolint.interfaces.entities import Bridge, Edge
from isolint.interfaces.reduction import Reduction
from isolint.interfaces.resistance import ResistorNetwork

_ONE_BY_ONE = 64
"""Up to so many elements of a bridge, each is shorted in turn."""

_MOST_SHORTED = 100_000
"""Where more elements would be looked at to short each of a network for every two of its sides, none is shorted."""

_EACH_ALONE = 12
"""Of more sides on one network all pairs are reduced together."""


def find_bridges(
    links: Links,
    side_of_net: Mapping[int, int],
    names: Sequence[str],
    removed: Collection[int],
    islands: Islands,
    ignored: Collection[int] = (),
    without: Collection[int] = (),
    reduction: Reduction | None = None,
) -> tuple[Bridge, ...]:
    """All bridges in the order of the sides' names, then of the elements.

    Each network between sides is one bridge a pair of sides, reduced to one value with third sides and loose ends left
    open; what is not a resistor counts 0. islands: what conducts, for nets that lie on no side. ignored: elements that
    exist in the simulation only. without: nets that join nothing. reduction: which elements have no links.
    """
    if len(names) < 2:
        return ()
    found = [
        *_resistive(links, side_of_net, names, removed, without),
        *_capacitive(links, side_of_net, names, islands, ignored, without, reduction),
    ]
    return tuple(sorted(found, key=lambda bridge: (bridge.sides, bridge.kind, bridge.elements)))


# -- resistances ---------------------------------------------------------------------------------------------------


def _resistive(
    links: Links,
    side_of_net: Mapping[int, int],
    names: Sequence[str],
    removed: Collection[int],
    without: Collection[int],
) -> list[Bridge]:
    side = side_of_net.get
    at: dict[int, list[int]] = {}
    crossing: list[int] = []
    for link, (first, second) in enumerate(zip(links.first, links.second, strict=True)):
        own = side(first)
        if own is not None and second >= 0 and own == side(second):
            continue
        nets = links.nets(link)
        if link in removed or (without and not set(nets).isdisjoint(without)):
            continue
        if own is None or any(side(net) != own for net in nets[1:]):
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
        found.extend(_of_resistors(links, sorted(component), side_of_net, names))
    return found


def _of_resistors(
    links: Links, component: Sequence[int], side_of_net: Mapping[int, int], names: Sequence[str]
) -> list[Bridge]:
    sides = sorted({side_of_net[net] for link in component for net in links.nets(link) if net in side_of_net})
    if len(sides) < 2:
        return []
    wires = Islands.sparse()

    def node_of(net: int) -> int:
        return -1 - side_of_net[net] if net in side_of_net else net

    resistors = [link for link in component if links.kinds[link] == RESISTOR and links.ohms[link] > 0.0]
    for link in component:
        if links.kinds[link] != RESISTOR or links.ohms[link] == 0.0:
            first, *rest = map(node_of, links.nets(link))
            for node in rest:
                wires.join(first, node)

    def of(net: int) -> int:
        return wires.of(node_of(net))

    edges = [(links.elements[link], of(links.nets(link)[0]), of(links.nets(link)[1])) for link in resistors]
    ohms = {links.elements[link]: links.ohms[link] for link in resistors}
    elements = tuple(dict.fromkeys(element for element, _, _ in edges))
    found: list[Bridge] = []
    pairs = _pairs(sides, names)
    network = _network(edges, lambda element: 1.0 / ohms[element])
    many = network.between_all([-1 - side for side in sides]) if len(sides) > _EACH_ALONE else None
    each = len(pairs) * len(edges) ** 2 <= _MOST_SHORTED
    for ends, pair in pairs:
        value = network.effective(*ends) if many is None else many[ends]
        if value < math.inf:
            shorted = _shorted(edges, ends, lambda element: 1.0 / ohms[element]) if each else None
            made = _numbered(edges, ends)
            found.append(Bridge(pair, elements, "resistance", value, made, shorted=shorted))
    return found


# -- capacitors ----------------------------------------------------------------------------------------------------


def _capacitive(
    links: Links,
    side_of_net: Mapping[int, int],
    names: Sequence[str],
    islands: Islands,
    ignored: Collection[int],
    without: Collection[int],
    reduction: Reduction | None,
) -> list[Bridge]:
    circuit = links.circuit
    side = side_of_net.get
    left_out = set(ignored)
    edges: list[Edge] = []

    def of(net: int) -> int:
        found = side(net)
        if found is not None:
            return -1 - found
        return islands.of(net)

    def same(one: int, other: int) -> bool:
        found = side(one)
        return found is not None and found == side(other) and one not in without and other not in without

    for element in circuit.elements_of("C") if reduction is None else reduction.capacitors(same):
        if element in left_out:
            continue
        pins = circuit.pins(element)
        if len(pins) == 2 and same(*pins):
            continue
        if len(pins) != 2 or (without and not set(pins).isdisjoint(without)):
            continue
        one, other = map(of, pins)
        if one != other:
            edges.append((element, one, other))
    found: list[Bridge] = []
    for component in _components(edges):
        sides = sorted({-1 - node for _, *nodes in component for node in nodes if node < 0})
        for ends, pair in _pairs(sides, names):
            between = _between(component, ends)
            if between:
                found.append(_of_capacitors(links, between, ends, pair))
    return found


def _of_capacitors(links: Links, edges: Sequence[Edge], ends: tuple[int, int], pair: tuple[str, str]) -> Bridge:
    farads = {element: links.circuit.value(element) for element, _, _ in edges}
    known = {element: value for element, value in farads.items() if value is not None and value > 0.0}
    value = shorted = None
    if len(known) == len(farads):
        value = series(edges, ends, known)
        inverse = _shorted(edges, ends, known.__getitem__)
        shorted = None if inverse is None else 1.0 / inverse if inverse > 0.0 else math.inf
    made = _numbered(edges, ends)
    return Bridge(pair, tuple(sorted(farads)), "capacitance", value, made, shorted=shorted)


def series(edges: Iterable[Edge], ends: tuple[int, int], farads: Mapping[int, float]) -> float:
    """The farads between two nodes with all the others floating; 0 where nothing leads across."""
    inverse = _network(edges, farads.__getitem__).effective(*ends)
    return 1.0 / inverse if inverse > 0.0 else math.inf


def _components(edges: Sequence[Edge]) -> list[list[Edge]]:
    """Edges in groups that meet in a node of no side."""
    at: dict[int, list[int]] = {}
    for position, (_, *nodes) in enumerate(edges):
        for node in nodes:
            if node >= 0:
                at.setdefault(node, []).append(position)
    seen: set[int] = set()
    found: list[list[Edge]] = []
    for start in range(len(edges)):
        if start in seen:
            continue
        seen.add(start)
        waiting = [start]
        component: list[int] = []
        while waiting:
            position = waiting.pop()
            component.append(position)
            for node in edges[position][1:]:
                for other in at.pop(node, ()):
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
        found.append([edges[position] for position in sorted(component)])
    return found


def _between(component: Iterable[Edge], ends: tuple[int, int]) -> list[Edge]:
    """The edges that may lie on a way from one end to the other: without third sides and loose ends."""
    left = [edge for edge in component if all(node >= 0 or node in ends for node in edge[1:])]
    at: dict[int, set[int]] = {}
    for position, (_, *nodes) in enumerate(left):
        for node in nodes:
            at.setdefault(node, set()).add(position)
    waiting = [node for node, touching in at.items() if len(touching) == 1 and node not in ends]
    gone: set[int] = set()
    while waiting:
        (position,) = at[waiting.pop()] or (-1,)
        if position < 0:
            continue
        gone.add(position)
        for node in left[position][1:]:
            at[node].discard(position)
            if len(at[node]) == 1 and node not in ends:
                waiting.append(node)
    kept = [edge for position, edge in enumerate(left) if position not in gone]
    touched = {node for _, *nodes in kept for node in nodes}
    return kept if set(ends) <= touched else []


# -- what both have in common --------------------------------------------------------------------------------------


def _pairs(sides: Sequence[int], names: Sequence[str]) -> list[tuple[tuple[int, int], tuple[str, str]]]:
    """The nodes and names of each two sides."""
    return [
        ((-1 - one, -1 - other), (names[one], names[other]))
        for position, one in enumerate(sides)
        for other in sides[position + 1 :]
    ]


def _network(edges: Iterable[Edge], conductance: Callable[[int], float]) -> ResistorNetwork:
    network = ResistorNetwork()
    for element, one, other in edges:
        network.add(one, other, conductance(element))
    return network


def _shorted(edges: Sequence[Edge], ends: tuple[int, int], conductance: Callable[[int], float]) -> float | None:
    """The smallest resistance between two nodes with one element shorted; None where there are too many elements."""
    if len(edges) > _ONE_BY_ONE:
        return None
    found = math.inf
    for position, (_, kept, gone) in enumerate(edges):
        # A side stands for the node that is merged with it.
        first, second = (gone, kept) if gone in ends else (kept, gone)
        if second in ends:
            return 0.0
        rest = [edge for other, edge in enumerate(edges) if other != position]
        network = _network(rest, conductance)
        network.merge(first, second)
        found = min(found, network.effective(*ends))
    return found


def _numbered(edges: Sequence[Edge], ends: tuple[int, int]) -> tuple[Edge, ...]:
    """Edges with nodes numbered from the first end, 0, and the other, 1."""
    number = {ends[0]: 0, ends[1]: 1}
    for _, one, other in edges:
        for node in (one, other):
            number.setdefault(node, len(number))
    return tuple((element, number[one], number[other]) for element, one, other in edges)
