"""Random networks of capacitors and resistances between two nodes, and what a linear algebra library says of them."""

from __future__ import annotations

import math
from itertools import pairwise, product
from random import Random

import numpy as np
from scipy import linalg

from isolint.checking.bridge_network import Edge, RcNetwork
from isolint.units import Interval

HERTZ = 60.0


def network(seed: int, most: int = 7) -> RcNetwork:
    """A connected network: a chain over all inner nodes, then edges anywhere."""
    random = Random(seed)
    inner = random.randint(0, 3)
    nodes = [0, *range(2, 2 + inner), 1]
    ends = list(pairwise(nodes))
    while len(ends) < min(most, inner + 1 + random.randint(0, 3)):
        one, other = random.sample(nodes, 2)
        ends.append((one, other))
    edges = []
    for element, (one, other) in enumerate(ends):
        letter = random.choice("CR")
        value = 10.0 ** random.uniform(-10.0, -8.0) if letter == "C" else 10.0 ** random.uniform(6.0, 7.5)
        edges.append(Edge(element, one, other, letter, value))
    return RcNetwork(tuple(edges), 2 + inner, frozenset())


def spread(seed: int, rc: RcNetwork) -> dict[int, Interval]:
    """Factors of the values."""
    random = Random(-seed - 1)
    return {edge.element: Interval(1.0 - random.uniform(0.0, 0.2), 1.0 + random.uniform(0.0, 0.2)) for edge in rc.edges}


def admittance(rc: RcNetwork, factors: dict[int, float], hertz: float = HERTZ) -> float:
    """The magnitude of the admittance between node 0 and node 1, by the matrix of all nodes but node 1."""
    matrix = np.zeros((rc.nodes, rc.nodes), dtype=complex)
    for edge in rc.edges:
        value = edge.value * factors[edge.element]
        siemens = 2j * math.pi * hertz * value if edge.letter == "C" else 1.0 / value
        for one, other in ((edge.one, edge.other), (edge.other, edge.one)):
            matrix[one, one] += siemens
            matrix[one, other] -= siemens
    kept = [node for node in range(rc.nodes) if node != 1]
    amperes = np.zeros(len(kept), dtype=complex)
    amperes[kept.index(0)] = 1.0
    volts = linalg.solve(matrix[np.ix_(kept, kept)], amperes)
    return float(1.0 / abs(volts[kept.index(0)]))


def largest(rc: RcNetwork, factors: dict[int, Interval]) -> float:
    """The largest of all corners of the values."""
    elements = [edge.element for edge in rc.edges]
    corners = product(*((factors[element].low, factors[element].high) for element in elements))
    return max(admittance(rc, dict(zip(elements, corner, strict=True))) for corner in corners)
