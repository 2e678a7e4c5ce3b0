"""Galvanic islands: nets joined by conducting links, resistors judged by what they amount to between sides.

Union-find does the bulk. Only resistor networks that touch two islands with something of their own are reduced.
Islands are strong when a reference, a supply or a stated net lies on them, weak when only a port group of a barrier
part does; everything else is inner and belongs to what it hangs on.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Sequence

from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import RESISTOR, Links
from isolint.interfaces.resistance import ResistorNetwork

_EXACT = 16
"""Up to so many islands in one network, resistances between them count the ways through the others."""


def partition(
    links: Links,
    strong: Iterable[int],
    ports: Sequence[Sequence[Sequence[int]]],
    limit: float,
    removed: Collection[int] = (),
    without: int = -1,
) -> Islands:
    """Join nets into islands.

    strong: nets with something of their own. ports: for each barrier part the nets of each of its port groups. limit:
    ohms from which a resistance no longer joins. removed: links to leave out. without: a net that joins nothing.
    """
    islands, resistors = wired(links, removed, without)
    if resistors:
        usable = [net for net in strong if net != without]
        groups = [[[net for net in group if net != without] for group in part] for part in ports]
        _Resistors(links, islands, usable, groups, limit).join(resistors)
    return islands


def wired(links: Links, removed: Collection[int] = (), without: int = -1) -> tuple[Islands, list[int]]:
    """Nets joined by whatever is no resistor, and the resistors."""
    islands = links.singly()
    resistors: list[int] = []
    first, second = links.first, links.second
    for link, (kind, ohms) in enumerate(zip(links.kinds, links.ohms, strict=True)):
        if link in removed:
            continue
        if kind == RESISTOR and ohms > 0.0:
            if without not in (first[link], second[link]):
                resistors.append(link)
            continue
        nets = tuple(net for net in links.nets(link) if net != without)
        for net in nets[1:]:
            islands.join(nets[0], net)
    return islands, resistors


class _Resistors:
    """The resistive half of `partition`."""

    def __init__(
        self, links: Links, islands: Islands, strong: list[int], ports: Sequence[Sequence[Sequence[int]]], limit: float
    ) -> None:
        self.links = links
        self.islands = islands
        self.limit = limit
        self.ports = ports
        self.strong = {islands.of(net) for net in strong}
        self.weak = {islands.of(net) for part in ports for group in part for net in group} - self.strong

    def join(self, resistors: list[int]) -> None:
        islands, links = self.islands, self.links
        of = islands.of
        ends = self._ends(resistors)
        strong = self.strong
        for one, other, ohms in ends:
            if ohms < self.limit and one in strong and other in strong:
                islands.join(one, other)
        self.strong = {of(net) for net in strong}
        if len(self.strong) < len(strong):
            ends = self._ends(resistors)
        terminal = self.strong | self.weak
        inner = links.singly()
        inner.join_pairs((one, other) for one, other, _ in ends if one not in terminal and other not in terminal)
        touches: dict[int, int] = {}
        for one, other, _ in ends:
            if (one in terminal) != (other in terminal):
                here, there = (other, one) if one in terminal else (one, other)
                key = inner.of(here)
                touches[key] = there if touches.get(key, there) == there else -1
        open_ends: list[tuple[int, int, float]] = []
        for one, other, ohms in ends:
            free = one if one not in terminal else other
            if free in terminal or touches.get(inner.of(free)) == -1:
                open_ends.append((one, other, ohms))
            else:
                islands.join(one, other)
        if open_ends:
            self._between(open_ends)

    def _ends(self, resistors: list[int]) -> list[tuple[int, int, float]]:
        """The islands at both ends of resistors, and their ohms; those that both lie on one island left out."""
        of, ohms, first, second = self.islands.of, self.links.ohms, self.links.first, self.links.second
        found = ((of(first[link]), of(second[link]), ohms[link]) for link in resistors)
        return [end for end in found if end[0] != end[1]]

    def _between(self, ends: list[tuple[int, int, float]]) -> None:
        """Networks that touch several terminals."""
        of = self.islands.of
        network = ResistorNetwork()
        inner: dict[int, None] = {}
        terminal = {of(net) for net in self.strong | self.weak}
        self.strong = {of(net) for net in self.strong}
        self.weak = {of(net) for net in self.weak} - self.strong
        mapped = [(of(one), of(other), ohms) for one, other, ohms in ends]
        for one, other, ohms in mapped:
            network.add(one, other, 1.0 / ohms)
            inner.update((node, None) for node in (one, other) if node not in terminal)
        network.eliminate(inner)
        self._join_strong(network)
        pruned = self._prune(network)
        if len(network.edges) > 1:
            self._join_through_weak(network)
            pruned += self._prune(network)
            self._join_nearest(network)
        self._hang(pruned)
        self._place_inner(mapped, inner)

    def _join(self, network: ResistorNetwork, kept: int, gone: int) -> None:
        network.merge(kept, gone)
        self.islands.join(kept, gone)
        self.strong.discard(gone)

    def _join_strong(self, network: ResistorNetwork) -> bool:
        """Join strong islands with less than the limit between them; say whether there were any."""
        joined = False
        waiting = sorted((node for node in network.edges if node in self.strong), reverse=True)
        while waiting:
            node = waiting.pop()
            row = network.edges.get(node, {})
            close = [other for other, g in row.items() if g * self.limit > 1.0 and other in self.strong]
            if close and node in self.strong:
                for other in close:
                    self._join(network, node, other)
                waiting.append(node)
                joined = True
        return joined

    def _prune(self, network: ResistorNetwork) -> list[tuple[int, int, float]]:
        """Take off weak islands that hang on one neighbour; they bear nothing on what others see."""
        pruned: list[tuple[int, int, float]] = []
        waiting = sorted(node for node, row in network.edges.items() if len(row) == 1 and node not in self.strong)
        while waiting:
            node = waiting.pop()
            if len(network.edges.get(node, ())) != 1:
                continue
            ((other, conductance),) = network.take(node).items()
            pruned.append((node, other, conductance))
            if other not in self.strong and len(network.edges[other]) == 1:
                waiting.append(other)
        return pruned

    def _join_through_weak(self, network: ResistorNetwork) -> None:
        """Join strong islands by their effective resistance, weak ones on the way being ordinary nodes."""
        reduced = ResistorNetwork()
        reduced.edges = {node: dict(row) for node, row in network.edges.items()}
        reduced.eliminate([node for node in network.edges if node not in self.strong])
        before = sorted(reduced.edges)
        again = True
        while again:
            again = self._join_strong(reduced)
            done: set[int] = set()
            for start in sorted(reduced.edges):
                if start in done or start not in reduced.edges:
                    continue
                nodes = sorted(reduced.component(start))
                done.update(nodes)
                if 2 < len(nodes) <= _EXACT and self._join_close_pair(reduced, nodes):
                    again = True
        kept = {self.islands.of(node): node for node in before if node in self.strong}
        for node in before:
            stands = kept.get(self.islands.of(node), node)
            if stands != node:
                network.merge(stands, node)

    def _join_close_pair(self, network: ResistorNetwork, nodes: list[int]) -> bool:
        for position, one in enumerate(nodes):
            for other in nodes[position + 1 :]:
                if network.effective(one, other) < self.limit:
                    self._join(network, one, other)
                    return True
        return False

    def _join_nearest(self, network: ResistorNetwork) -> None:
        """Join weak islands to what they are closest to, never two strong ones through them."""
        of = self.islands.of
        holders = {of(node) for node in self.strong}
        edges = sorted(
            (1.0 / g, one, other) for one, row in network.edges.items() for other, g in row.items() if one < other
        )
        for ohms, one, other in edges:
            here, there = of(one), of(other)
            if ohms >= self.limit or here == there or (here in holders and there in holders):
                continue
            self.islands.join(here, there)
            if here in holders or there in holders:
                holders.add(of(one))
        neighbours: dict[int, dict[int, float]] = {}
        for ohms, one, other in edges:
            for here, there in ((of(one), of(other)), (of(other), of(one))):
                if here != there and here not in holders:
                    neighbours.setdefault(here, {})[there] = 1.0 / ohms
        self._hang([(node, *next(iter(row.items()))) for node, row in sorted(neighbours.items()) if len(row) == 1])

    def _hang(self, leaves: list[tuple[int, int, float]]) -> None:
        """Join islands that hang on one other: by less than the limit always, by more where that side is strong and
        does not face them over a barrier part."""
        of = self.islands.of
        holders = {of(node) for node in self.strong}
        for node, other, conductance in reversed(leaves):
            close = conductance * self.limit > 1.0
            if close or (of(other) in holders and not self._face(of(node), of(other))):
                held = of(node) in holders or of(other) in holders
                self.islands.join(node, other)
                if held:
                    holders.add(of(node))

    def _face(self, one: int, other: int) -> bool:
        """Whether some barrier part has port groups on both islands."""
        for part in self.ports:
            roots = {self.islands.of(net) for group in part for net in group}
            if one in roots and other in roots:
                return True
        return False

    def _place_inner(self, ends: list[tuple[int, int, float]], inner: Iterable[int]) -> None:
        """Inner islands with elements of their own belong to the nearest side within the limit, halfway between two to
        neither. Nets within a chain of resistors belong to the chain: it is one bridge."""
        of = self.islands.of
        own = {
            of(net)
            for net, kind, ohms in zip(self.links.first, self.links.kinds, self.links.ohms, strict=True)
            if kind != RESISTOR or ohms == 0.0
        }
        free = set(inner)
        around: dict[int, list[tuple[int, float]]] = {}
        heap: list[tuple[float, int, int]] = []
        for one, other, ohms in ends:
            for here, there in ((one, other), (other, one)):
                if here in free:
                    around.setdefault(here, []).append((there, ohms))
                    if there not in free:
                        heap.append((ohms, here, of(there)))
        heapq.heapify(heap)
        labels: dict[int, dict[int, float]] = {}
        while heap:
            distance, node, island = heapq.heappop(heap)
            known = labels.setdefault(node, {})
            if island in known or len(known) == 2:
                continue
            known[island] = distance
            for other, ohms in around[node]:
                if other in free:
                    heapq.heappush(heap, (distance + ohms, other, island))
        for node, known in labels.items():
            ranked = sorted(known.items(), key=lambda item: item[1])
            near = ranked[0]
            closer = near[1] < self.limit and len(ranked) > 1 and near[1] < ranked[1][1] * (1.0 - 1e-9)
            if len(ranked) == 1 or (closer and node in own):
                self.islands.join(node, near[0])
