"""The network of capacitors and large resistances between two sides, and what flows through it.

In: a context and two sides. Out: edges between nodes; admittances by nodal analysis in complex numbers. Node 0 is the
first side, 1 the other; third sides are left open, since what leads to them counts as a leg of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import product
from typing import Final, NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.netnames import is_earth_name, is_ground_name
from isolint.units import Interval

Value = complex | float
Node = tuple[str, int]
_Found = tuple[int, Node, Node, str, float]
MOST_VERTICES: Final = 8
"""Up to so many elements every corner of their values is looked at; beyond, a bound."""


class Edge(NamedTuple):
    """One element between two nodes. letter: C or R. value: farads or ohms."""

    element: int
    one: int
    other: int
    letter: str
    value: float


class RcNetwork(NamedTuple):
    """Edges between node 0 and node 1. nodes: how many. earth: nodes that are earth, or a ground, by their name."""

    edges: tuple[Edge, ...]
    nodes: int
    earth: frozenset[int]

    def merged(self, gone: int, kept: int) -> RcNetwork:
        """The same with one node shorted to another."""
        edges = [
            edge._replace(one=kept if edge.one == gone else edge.one, other=kept if edge.other == gone else edge.other)
            for edge in self.edges
        ]
        return self._replace(edges=tuple(edge for edge in edges if edge.one != edge.other))

    def without(self, node: int) -> RcNetwork:
        """The same without what hangs on a node."""
        return self._replace(edges=tuple(edge for edge in self.edges if node not in (edge.one, edge.other)))


def network_between(context: Context, sides: Sequence[str]) -> RcNetwork:
    """What lies between two sides: capacitors and resistances at or above the insulating limit, in any mix."""
    separation, circuit = context.interfaces.separation, context.circuit
    names = {side.name: index for index, side in enumerate(separation.sides)}
    ends: tuple[Node, Node] = (("side", names.get(sides[0], -1)), ("side", names.get(sides[1], -1)))
    number: dict[Node, int] = {ends[0]: 0, ends[1]: 1}
    own = [edge for edge in context.kept(_across) if all(key[0] == "net" or key in ends for key in edge[1:3])]
    edges = []
    earth: set[int] = set()
    for element, one, other, letter, value in _between(own, ends):
        for key in (one, other):
            number.setdefault(key, len(number))
        edges.append(Edge(element, number[one], number[other], letter, value))
        for key, net in zip((one, other), circuit.pins(element), strict=True):
            name = circuit.net_name(net)
            if key[0] == "net" and (is_earth_name(name) or is_ground_name(name)):
                earth.add(number[key])
    return RcNetwork(tuple(edges), len(number), frozenset(earth))


def _across(context: Context) -> list[_Found]:
    """All capacitors and resistors that do not lie on one side, each with the side or net of its pins."""
    separation, circuit = context.interfaces.separation, context.circuit
    ignored, side_of = set(separation.ignored), separation.side_of_net
    found: list[_Found] = []
    for element in circuit.elements_of("CR"):
        pins = circuit.pins(element)
        if len(pins) != 2:
            continue
        sides = [side_of.get(net) for net in pins]
        if sides[0] == sides[1] and sides[0] is not None:
            continue
        value = circuit.value(element)
        if element not in ignored and pins[0] != pins[1] and value is not None and value > 0.0:
            one, other = (
                ("net", net) if side is None else ("side", side) for net, side in zip(pins, sides, strict=True)
            )
            found.append((element, one, other, circuit.letter(element), value))
    return found


def _between(found: Sequence[_Found], ends: tuple[Node, Node]) -> list[_Found]:
    """The edges without loose ends; none where nothing leads from one end to the other."""
    at: dict[Node, set[int]] = {}
    for place, (_, one, other, _, _) in enumerate(found):
        at.setdefault(one, set()).add(place)
        at.setdefault(other, set()).add(place)
    loose = [node for node, touching in at.items() if len(touching) == 1 and node not in ends]
    gone: set[int] = set()
    while loose:
        node = loose.pop()
        if not at[node]:
            continue
        (place,) = at[node]
        gone.add(place)
        for each in found[place][1:3]:
            at[each].discard(place)
            if len(at[each]) == 1 and each not in ends:
                loose.append(each)
    kept = [edge for place, edge in enumerate(found) if place not in gone]
    reached, waiting = {ends[0]}, [ends[0]]
    while waiting:
        node = waiting.pop()
        for place in at.get(node, ()):
            for other in found[place][1:3]:
                if other not in reached:
                    reached.add(other)
                    waiting.append(other)
    return [edge for edge in kept if edge[1] in reached] if ends[1] in reached else []


def potentials(network: RcNetwork, admittance: Callable[[Edge], Value]) -> dict[int, complex]:
    """The potential of each node with node 0 at 1 V and node 1 at 0 V."""
    inner = sorted({node for edge in network.edges for node in (edge.one, edge.other)} - {0, 1})
    place = {node: index for index, node in enumerate(inner)}
    size = len(inner)
    rows = [[0j] * (size + 1) for _ in range(size)]
    for edge in network.edges:
        value = complex(admittance(edge))
        for node, other in ((edge.one, edge.other), (edge.other, edge.one)):
            if node in place:
                row = rows[place[node]]
                row[place[node]] += value
                if other in place:
                    row[place[other]] -= value
                elif other == 0:
                    row[size] += value
    solved = _solved(rows)
    return {0: 1 + 0j, 1: 0j, **{node: solved[index] for node, index in place.items()}}


def total(network: RcNetwork, admittance: Callable[[Edge], Value]) -> complex:
    """The admittance between node 0 and node 1."""
    volts = potentials(network, admittance)
    flow = 0j
    for edge in network.edges:
        for node, other in ((edge.one, edge.other), (edge.other, edge.one)):
            if node == 1:
                flow += complex(admittance(edge)) * volts[other]
    return flow


def _solved(rows: list[list[complex]]) -> list[complex]:
    """Gaussian elimination with pivoting; a node on which nothing hangs stays at 0."""
    size = len(rows)
    for column in range(size):
        pivot = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[pivot] = rows[pivot], rows[column]
        if abs(rows[column][column]) == 0.0:
            continue
        for row in range(size):
            if row != column and rows[row][column]:
                factor = rows[row][column] / rows[column][column]
                rows[row] = [a - factor * b for a, b in zip(rows[row], rows[column], strict=True)]
    return [row[size] / row[place] if row[place] else 0j for place, row in enumerate(rows)]


def largest_admittance(
    network: RcNetwork, hertz: float, spread: Mapping[int, Interval], *, nominal: bool = False
) -> float:
    """The largest admittance between the sides over all values of the elements, in siemens.

    spread: factors of each element's value. nominal: at their nominal values alone. Of more than eight elements that
    may vary it is a bound: twice the network of magnitudes, which a complex network never exceeds by more than sqrt2.
    """
    omega = 2.0 * math.pi * hertz

    def value(edge: Edge, factor: float) -> complex:
        size = edge.value * factor
        return complex(0.0, omega * size) if edge.letter == "C" else complex(1.0 / size, 0.0)

    if nominal:
        return abs(total(network, lambda edge: value(edge, 1.0)))
    free = [edge.element for edge in network.edges if not spread[edge.element].is_point]
    if len(free) > MOST_VERTICES:

        def magnitude(edge: Edge) -> float:
            ends = spread[edge.element]
            return max(abs(value(edge, ends.low)), abs(value(edge, ends.high)))

        return 2.0 * abs(total(network, magnitude))
    most = 0.0
    for corner in product((False, True), repeat=len(free)):
        chosen = dict(zip(free, corner, strict=True))

        def at_corner(edge: Edge, chosen: Mapping[int, bool] = chosen) -> complex:
            ends = spread[edge.element]
            return value(edge, ends.high if chosen.get(edge.element, False) else ends.low)

        most = max(most, abs(total(network, at_corner)))
    return most


def worst_share(network: RcNetwork, element: int, spread: Mapping[int, Interval]) -> float:
    """The largest share of the voltage between the sides that may lie across one element of a chain or network.

    Of capacitors by their susceptance, of resistances by their conductance: the smaller the admittance of an element
    and the larger that of the others, the more volts it takes.
    """

    def admittance(edge: Edge) -> float:
        ends = spread[edge.element]
        smallest = edge.element == element
        if edge.letter == "C":
            return edge.value * (ends.low if smallest else ends.high)
        return 1.0 / (edge.value * (ends.high if smallest else ends.low))

    volts = potentials(network, admittance)
    return max(
        (abs(volts[edge.one] - volts[edge.other]) for edge in network.edges if edge.element == element), default=0.0
    )
