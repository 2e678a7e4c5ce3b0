"""The conducting graph of the islands in which sides meet: what leads from one side to another, and the shortest way.

Built only for a netlist that fails.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.interfaces.conduction import FACT, LOW, RESISTOR, UNKNOWN, Links
from isolint.interfaces.entities import Step
from isolint.interfaces.resistance import ResistorNetwork

LOW_OHMS = 10.0
"""Below this resistance two references count as tied (design rule of this check)."""


class LinkGraph(NamedTuple):
    """Links and nets of the islands concerned. `rank` orders links by name, so that nothing depends on the order of
    cards."""

    links: Links
    at: dict[int, list[int]]
    rank: dict[int, int]


def make_graph(links: Links, chosen: Callable[[int], bool]) -> LinkGraph:
    """The graph of all links whose nets satisfy `chosen`."""
    circuit = links.circuit
    taken = [link for link in range(len(links)) if chosen(links.nets(link)[0])]

    def name(link: int) -> tuple[bool, str, tuple[str, ...]]:
        element = links.elements[link]
        path = circuit.path(element).casefold() if element >= 0 else ""
        nets = tuple(circuit.net_name(net).casefold() for net in links.nets(link)) if element < 0 else ()
        return element < 0, path, nets

    taken.sort(key=name)
    at: dict[int, list[int]] = {}
    for link in taken:
        for net in links.nets(link):
            at.setdefault(net, []).append(link)
    return LinkGraph(links, at, {link: position for position, link in enumerate(taken)})


_FACT = 1.5
"""What a stated fact costs on a path, in elements: an engineer draws an element rather, but no detour."""

FREE, ONE, OTHER, WALL = range(4)


class Terminals(NamedTuple):
    """The nets of two sides; `owner` says which side holds a net. Nets of third sides are walls unless `through`; the
    net `gone` joins nothing."""

    owner: Mapping[int, int]
    one: int
    other: int
    through: bool = False
    gone: int = -1

    def place(self, net: int) -> int:
        """FREE, ONE, OTHER or WALL."""
        side = self.owner.get(net)
        if net == self.gone:
            return WALL
        if side == self.one:
            return ONE
        if side == self.other:
            return OTHER
        return FREE if side is None or self.through else WALL


@dataclass(slots=True, eq=False, repr=False)
class Between:
    """What conducts between two sides: the links in groups that have nothing to do with each other, and the ohms that
    they amount to (non-linear elements count 0). harmless: what lies between as well, at or above the limit."""

    groups: list[list[int]] = field(default_factory=list)
    ohms: float = math.inf
    harmless: list[int] = field(default_factory=list)

    @property
    def links(self) -> list[int]:
        """All links."""
        return [link for group in self.groups for link in group]


def between(graph: LinkGraph, ends: Terminals, limit: float, removed: Collection[int], unknown: bool) -> Between | None:
    """The links that join two sides below the limit, None when nothing does.

    unknown: go through parts that nobody explained.
    """
    links = graph.links
    seen = set(removed)
    kept: list[Between] = []
    high: list[Between] = []
    for start in (link for net, side in ends.owner.items() if side == ends.one for link in graph.at.get(net, ())):
        if start in seen or (links.kinds[start] == UNKNOWN and not unknown):
            continue
        component: list[int] = []
        touched = False
        seen.add(start)
        waiting = [start]
        while waiting:
            link = waiting.pop()
            component.append(link)
            for net in links.nets(link):
                place = ends.place(net)
                touched = touched or place == OTHER
                if place == FREE:
                    for following in graph.at[net]:
                        if following not in seen and (unknown or links.kinds[following] != UNKNOWN):
                            seen.add(following)
                            waiting.append(following)
        if touched:
            ohms = across(links, component, ends)
            component.sort(key=graph.rank.__getitem__)
            (kept if ohms < limit else high).append(Between([component], ohms))
    if _parallel(high) < limit:
        kept += [part for part in high if part.ohms < math.inf]
        high = []
    if not kept:
        return None
    groups = sorted((group for part in kept for group in part.groups), key=lambda group: graph.rank[group[0]])
    return Between(groups, _parallel(kept), [link for part in high for link in part.links])


def _parallel(parts: Iterable[Between]) -> float:
    conductance = math.fsum(1.0 / part.ohms if part.ohms > 0.0 else math.inf for part in parts)
    return 1.0 / conductance if conductance > 0.0 else math.inf


def across(links: Links, component: Iterable[int], ends: Terminals, removed: Collection[int] = ()) -> float:
    """Ohms between two sides through some links; everything but resistors counts 0."""
    parent: dict[int, int] = {}

    def of(net: int) -> int:
        place = ends.place(net)
        node = -1 if place == ONE else -2 if place == OTHER else net
        while (above := parent.setdefault(node, node)) != node:
            parent[node] = parent[above]
            node = above
        return node

    gone = set(removed)
    resistors: list[int] = []
    for link in component:
        if link in gone:
            continue
        if links.kinds[link] == RESISTOR and links.ohms[link] > 0.0:
            resistors.append(link)
            continue
        nets = [net for net in links.nets(link) if ends.place(net) != WALL]
        for net in nets[1:]:
            first, second = of(nets[0]), of(net)
            if first != second:
                parent[second] = first
    network = ResistorNetwork()
    for link in resistors:
        if all(ends.place(net) != WALL for net in links.nets(link)):
            first, second = map(of, links.nets(link))
            network.add(first, second, 1.0 / links.ohms[link])
    start, end = (_root(parent, node) for node in (-1, -2))
    return network.effective(start, end)


def _root(parent: Mapping[int, int], node: int) -> int:
    while parent.get(node, node) != node:
        node = parent[node]
    return node


def shortest_path(
    graph: LinkGraph,
    allowed: Collection[int],
    starts: Iterable[int],
    goals: Collection[int],
    is_wall: Callable[[int], bool] = lambda net: False,
    low: bool = False,
) -> tuple[tuple[Step, ...], float] | None:
    """The way with the fewest elements from one of `starts` to one of `goals`, with its ohms.

    low: only through what has (next to) no resistance, the lowest first; None when that is not below 10 ohm.
    """
    links = graph.links
    name = links.circuit.net_name
    order = 0
    heap: list[tuple[float, int, int]] = []
    came: dict[int, tuple[int, int]] = {}
    done: set[int] = set()
    best: dict[int, float] = {}
    for net in sorted(starts, key=lambda net: (name(net).casefold(), net)):
        best[net] = 0.0
        heapq.heappush(heap, (0.0, order, net))
        order += 1
    while heap:
        cost, _, net = heapq.heappop(heap)
        if net in done:
            continue
        done.add(net)
        if net in goals:
            return _trace(links, came, net)
        for link in graph.at.get(net, ()):
            if link not in allowed:
                continue
            kind, ohms = links.kinds[link], links.ohms[link]
            if low and (kind not in (LOW, RESISTOR) or cost + ohms >= LOW_OHMS):
                continue
            # A tiny weight a step: among equal resistances the fewest elements.
            weight = ohms + 1e-9 if low else _FACT if kind == FACT else 1.0
            for other in links.nets(link):
                if other not in done and cost + weight < best.get(other, math.inf) and not is_wall(other):
                    best[other] = cost + weight
                    came[other] = (net, link)
                    order += 1
                    heapq.heappush(heap, (cost + weight, order, other))
    return None


def _trace(links: Links, came: Mapping[int, tuple[int, int]], net: int) -> tuple[tuple[Step, ...], float]:
    steps: list[Step] = []
    ohms: list[float] = []
    while net in came:
        before, link = came[net]
        steps.append(Step(before, links.elements[link], net))
        ohms.append(links.ohms[link])
        net = before
    return tuple(reversed(steps)), math.fsum(ohms)


def contacts(
    graph: LinkGraph,
    chosen: Collection[int],
    ends: Terminals,
    start: int,
    barred: Collection[int],
    is_end: Callable[[int], bool] = lambda net: False,
) -> set[int]:
    """The nets of the two sides that a link of a cut touches, itself or through what lies between, the cut left out.

    is_end: nets between the sides at which the walk ends too, and which are given as well.
    """
    allowed = set(chosen) - set(barred)
    found: set[int] = set()
    seen = {start}
    waiting = [start]
    while waiting:
        for net in graph.links.nets(waiting.pop()):
            place = ends.place(net)
            if place in (ONE, OTHER) or (place == FREE and is_end(net)):
                found.add(net)
            if place != FREE or net in found:
                continue
            for link in graph.at[net]:
                if link in allowed and link not in seen:
                    seen.add(link)
                    waiting.append(link)
    return found
