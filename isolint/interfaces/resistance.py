"""Resistor networks reduced by series, parallel and star-mesh steps (Kron reduction), without numpy.

Nodes are any integers, edges are conductances in siemens. All terms are positive, so nothing cancels.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Sequence

MAX_DEGREE = 24
"""A node with more neighbours is not replaced by a mesh but counts as one with its closest neighbour, which can only
lower the resistances: what conducts is never taken for isolated."""


class ResistorNetwork:
    """A resistor network that can be reduced in place."""

    def __init__(self) -> None:
        self.edges: dict[int, dict[int, float]] = {}

    def add(self, one: int, other: int, conductance: float) -> None:
        """Put a conductance between two nodes, parallel to what is there."""
        if one == other:
            return
        for here, there in ((one, other), (other, one)):
            row = self.edges.setdefault(here, {})
            row[there] = row.get(there, 0.0) + conductance

    def take(self, node: int) -> dict[int, float]:
        """Remove a node and give its edges."""
        row = self.edges.pop(node, {})
        for other in row:
            del self.edges[other][node]
        return row

    def merge(self, kept: int, gone: int) -> None:
        """Short two nodes; `kept` stands for both."""
        for other, conductance in self.take(gone).items():
            self.add(kept, other, conductance)

    def eliminate(self, nodes: Iterable[int], max_degree: int = MAX_DEGREE, leave: bool = False) -> None:
        """Remove inner nodes, those with fewest neighbours first, so that resistances between the others stay.

        leave: let a node with more neighbours than `max_degree` stand.
        """
        edges = self.edges
        inner = {node for node in nodes if node in edges}
        heap = [(len(edges[node]), node) for node in inner]
        heapq.heapify(heap)
        while heap:
            degree, node = heapq.heappop(heap)
            if node not in inner:
                continue
            if len(edges[node]) != degree:
                heapq.heappush(heap, (len(edges[node]), node))
                continue
            inner.discard(node)
            if leave and degree > max_degree:
                continue
            row = self.take(node)
            if degree > max_degree:
                closest = min(row, key=lambda other: (-row[other], other))
                for other, conductance in row.items():
                    self.add(closest, other, conductance)
            elif degree > 1:
                total = math.fsum(row.values())
                around = list(row.items())
                for position, (one, first) in enumerate(around):
                    share = first / total
                    for other, second in around[position + 1 :]:
                        self.add(one, other, share * second)
            for other in row:
                if other in inner:
                    heapq.heappush(heap, (len(edges[other]), other))

    def between_all(self, nodes: Sequence[int]) -> dict[tuple[int, int], float]:
        """Ohms between each two of many nodes, the one that stands first named first; infinite where nothing conducts.

        Halves of the nodes are eliminated once for all pairs of the others, so that it takes little more than a step a
        pair.
        """
        found: dict[tuple[int, int], float] = {}
        work = [(self._onto(nodes), tuple(nodes))]
        while work:
            network, left = work.pop()
            if len(left) > 1:
                half = len(left) // 2
                network._between(left[:half], left[half:], found)
                work += [(network._onto(half_of), half_of) for half_of in (left[:half], left[half:])]
        return found

    def _between(self, ones: Sequence[int], others: Sequence[int], found: dict[tuple[int, int], float]) -> None:
        """Ohms between each of some nodes and each of others."""
        if len(ones) == len(others) == 1:
            conductance = self.edges.get(ones[0], {}).get(others[0], 0.0)
            found[ones[0], others[0]] = 1.0 / conductance if conductance > 0.0 else math.inf
            return
        for some in _halves(ones):
            for rest in _halves(others):
                self._onto((*some, *rest))._between(some, rest, found)

    def _onto(self, nodes: Sequence[int]) -> ResistorNetwork:
        """The same resistances between these nodes, with as few others as can be."""
        copy = ResistorNetwork()
        copy.edges = {node: dict(row) for node, row in self.edges.items()}
        kept = set(nodes)
        # A node with many neighbours has fewer of them where fewer nodes are left.
        copy.eliminate([node for node in copy.edges if node not in kept], leave=len(nodes) > 2)
        return copy

    def component(self, node: int) -> list[int]:
        """The nodes that conduct to `node`, itself first."""
        seen = {node: None}
        waiting = [node]
        while waiting:
            for other in self.edges.get(waiting.pop(), ()):
                if other not in seen:
                    seen[other] = None
                    waiting.append(other)
        return list(seen)

    def effective(self, one: int, other: int) -> float:
        """Ohms between two nodes with all the others floating; infinite where nothing conducts, 0 for a node itself."""
        if one == other:
            return 0.0
        nodes = self.component(one)
        if other not in nodes:
            return math.inf
        copy = ResistorNetwork()
        copy.edges = {node: dict(self.edges[node]) for node in nodes}
        copy.eliminate(node for node in nodes if node not in (one, other))
        conductance = copy.edges.get(one, {}).get(other, 0.0)
        return 1.0 / conductance if conductance > 0.0 else math.inf


def _halves(nodes: Sequence[int]) -> list[Sequence[int]]:
    half = len(nodes) // 2
    return [part for part in (nodes[:half], nodes[half:]) if part]
