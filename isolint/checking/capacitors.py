"""Capacitors over a barrier: what each network of them bears, and the current that all of them let through."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.entities import Bridge, Edge
from isolint.standards.bridging import share
from isolint.units import Interval

_MERGED = -1


class Strength(NamedTuple):
    """What the weakest way through a network of capacitors bears of a barrier (1 is all of it), and that way.

    low counts a capacitor without a class as nothing, high as the best.
    """

    low: float
    high: float
    way: tuple[int, ...]


def class_of(context: Context, element: int) -> str:
    """The stated class of a capacitor, "" without one."""
    fact = context.facts.element(context.circuit.path(element)).class_
    return "" if fact is None else fact.value


def rating_of(context: Context, element: int) -> float | None:
    """The stated rated voltage, rms."""
    fact = context.facts.element(context.circuit.path(element)).voltage
    return None if fact is None else fact.value


def strength(context: Context, bridge: Bridge, grade: str, volts: float | None) -> Strength:
    """What the weakest way through a bridge bears; volts: rms volts of the mains, None where they are not known."""

    def bears(element: int) -> Interval:
        name = class_of(context, element)
        return share(grade, name, volts) if name else Interval(0.0, 1.0)

    each = {element: bears(element) for element in bridge.elements}
    low, way = _weakest(bridge.edges, lambda element: each[element].low)
    high, _ = _weakest(bridge.edges, lambda element: each[element].high)
    return Strength(low, high, way)


def _weakest(edges: Sequence[Edge], weight: Callable[[int], float]) -> tuple[float, tuple[int, ...]]:
    """The way from node 0 to node 1 with the least weight in all."""
    at: dict[int, list[Edge]] = {}
    for edge in edges:
        for node in edge[1:]:
            at.setdefault(node, []).append(edge)
    heap: list[tuple[float, int, int, tuple[int, ...]]] = [(0.0, 0, 0, ())]
    done: set[int] = set()
    while heap:
        total, steps, node, way = heapq.heappop(heap)
        if node == 1:
            return total, way
        if node in done:
            continue
        done.add(node)
        for element, one, other in at.get(node, ()):
            following = other if one == node else one
            if following not in done:
                heapq.heappush(heap, (total + weight(element), steps + 1, following, (*way, element)))
    return 0.0, ()
