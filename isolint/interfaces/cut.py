"""The smallest set of elements whose removal separates two sides: where the fault is. The only place that loads
networkx, and only for a netlist that fails.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.interfaces.conduction import FACT, LOW, MULTI, PAIR, PART, RESISTOR, SOURCE, UNKNOWN
from isolint.interfaces.graph import FREE, ONE, OTHER, WALL, Between, LinkGraph, Terminals, across

# Where the fault is looked for first when several cuts are equally small: a part nobody explained, then what is put
# in a line to join it, last the parts that stand there by design.
_BLAME = {UNKNOWN: 0, RESISTOR: 2, LOW: 2, SOURCE: 3, PAIR: 4, MULTI: 5, PART: 6, FACT: 7}
_HIGH = 1
"""The blame of a resistor in the order of the limit: its branch may turn out not to matter, and is then best cut
there."""


def smallest_cut(graph: LinkGraph, found: Between, ends: Terminals, limit: float) -> tuple[list[int], list[int]]:
    """The fewest links whose removal separates two sides; among equally small sets the one blamed first, nearest to the
    middle. High resistances that do not join by themselves are no part of it; they are given apart."""
    cut: list[int] = []
    for group in found.groups:
        cut += group if len(group) == 1 else _cut_of_group(graph, group, ends, limit)
    spared = _spared(graph, found.links, cut, ends, limit)
    left = set(spared)
    blamed = [link for link in cut if link not in left]
    if all(graph.links.kinds[link] == RESISTOR and graph.links.ohms[link] >= limit for link in blamed):
        # None of them joins by itself: what remained would be blamed for what all of them amount to.
        return cut, []
    return blamed, spared


def _cut_of_group(graph: LinkGraph, group: Sequence[int], ends: Terminals, limit: float) -> list[int]:
    import networkx

    links = graph.links
    near, far = (_distances(graph, group, ends, start) for start in (ONE, OTHER))
    flow = networkx.DiGraph()
    for link in group:
        kind = links.kinds[link]
        skew = min(abs(near.get(link, 0) - far.get(link, 0)), 255)
        blame = _HIGH if kind == RESISTOR and links.ohms[link] >= limit / 10.0 else _BLAME[kind]
        cost = (1 << 80) | (blame << 60) | (skew << 40) | graph.rank[link]
        if kind == FACT:
            cost <<= 20
        flow.add_edge(("in", link), ("out", link), capacity=cost)
        for net in links.nets(link):
            place = ends.place(net)
            if place != WALL:
                node = "source" if place == ONE else "sink" if place == OTHER else ("net", net)
                if place != OTHER:
                    flow.add_edge(node, ("in", link))
                if place != ONE:
                    flow.add_edge(("out", link), node)
    algorithm = networkx.algorithms.flow.edmonds_karp
    _, (reached, _) = networkx.minimum_cut(flow, "source", "sink", flow_func=algorithm)
    return [link for link in group if ("in", link) in reached and ("out", link) not in reached]


def _spared(graph: LinkGraph, chosen: Sequence[int], cut: Sequence[int], ends: Terminals, limit: float) -> list[int]:
    """The high resistances of a cut that may stay: with the others gone, they let less through than the limit asks."""
    links, rank = graph.links, graph.rank
    candidates = sorted(
        (link for link in cut if links.kinds[link] == RESISTOR), key=lambda link: (-links.ohms[link], rank[link])
    )
    low, high = 0, len(candidates)
    while low < high:
        middle = (low + high + 1) // 2
        kept = set(candidates[:middle])
        if across(links, chosen, ends, [link for link in cut if link not in kept]) >= limit:
            low = middle
        else:
            high = middle - 1
    return candidates[:low]


def _distances(graph: LinkGraph, chosen: Iterable[int], ends: Terminals, start: int) -> dict[int, int]:
    """Steps of each link from the nets of one side (ONE or OTHER)."""
    allowed = set(chosen)
    level = [link for link in allowed if any(ends.place(net) == start for net in graph.links.nets(link))]
    distance = dict.fromkeys(level, 0)
    steps = 0
    while level:
        steps += 1
        following: list[int] = []
        for link in level:
            for net in graph.links.nets(link):
                if ends.place(net) != FREE:
                    continue
                for other in graph.at[net]:
                    if other in allowed and other not in distance:
                        distance[other] = steps
                        following.append(other)
        level = following
    return distance
