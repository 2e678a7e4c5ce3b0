"""What one subcircuit definition says for all its instances: which inner nets hang together, and on what.

In: the nets of each element by local number, and the nets that have something of their own (ports, global nets, nets
that parts touch). Out: a `Summary`, worked out once for a definition however often it is placed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple


class Region(NamedTuple):
    """Inner nets that hang on the same nets, with the elements between; all by local number, ascending.

    ends: the nets outside that its elements touch; none where it hangs on nothing.
    """

    ends: tuple[int, ...]
    nets: tuple[int, ...]
    elements: tuple[int, ...]


class Summary(NamedTuple):
    """One definition. kept: elements of no region, ascending. region_of: position in `regions` by inner net."""

    kept: tuple[int, ...]
    regions: tuple[Region, ...]
    region_of: dict[int, int]


def summarise(
    pins: Sequence[tuple[int, ...]], conducting: Iterable[int], kept: Iterable[int], own: Collection[int], nets: int
) -> Summary:
    """Put the inner nets of a definition into regions.

    pins: local nets by element. conducting: elements that join all their nets, ascending. kept: elements that are left
    alone, all of whose nets are in `own`. own: nets that are not put into regions. nets: how many there are.
    """
    is_own = bytearray(nets)
    for net in own:
        is_own[net] = 1
    parent, inside, hung, alone = _joined(pins, conducting, is_own, nets)
    ends: dict[int, set[int]] = {}
    for inner, net in hung:
        ends.setdefault(parent[inner], set()).add(net)
    regions: dict[tuple[int, ...], tuple[list[int], list[int]]] = {}
    of_root: dict[int, tuple[list[int], list[int]]] = {}
    for element, inner in inside:
        root = parent[inner]
        if root not in of_root:
            of_root[root] = regions.setdefault(tuple(sorted(ends.get(root, ()))), ([], []))
        of_root[root][1].append(element)
    for net, root in enumerate(parent):
        if root in of_root:
            of_root[root][0].append(net)
    made = tuple(Region(key, tuple(own_nets), tuple(elements)) for key, (own_nets, elements) in regions.items())
    left = tuple(sorted([*kept, *alone]))
    return Summary(left, made, {net: at for at, region in enumerate(made) for net in region.nets})


def _joined(
    pins: Sequence[tuple[int, ...]], conducting: Iterable[int], is_own: bytearray, nets: int
) -> tuple[list[int], list[tuple[int, int]], list[tuple[int, int]], list[int]]:
    """Which inner nets conducting elements join: the smallest net joined with each, by net.

    Then each element with one of its inner nets; inner nets with an own net beside them; elements without inner nets.
    """
    parent = list(range(nets))
    inside: list[tuple[int, int]] = []
    hung: list[tuple[int, int]] = []
    alone: list[int] = []
    for element in conducting:
        inner = outer = -1
        for net in pins[element]:
            if is_own[net]:
                outer = net
                continue
            if inner < 0:
                inner = net
                continue
            # Written out, since it is done for each pin of the netlist.
            one = inner
            while (above := parent[one]) != one:
                parent[one] = one = parent[above]
            while (above := parent[net]) != net:
                parent[net] = net = parent[above]
            if one < net:
                parent[net] = one
            else:
                parent[one] = net
        if inner < 0:
            alone.append(element)
            continue
        inside.append((element, inner))
        if outer >= 0:
            hung.append((inner, outer))
            if len(pins[element]) > 2:
                hung += [(inner, net) for net in pins[element] if is_own[net]]
    for net, above in enumerate(parent):
        # A parent is never the larger of two, so it has its own root already.
        parent[net] = parent[above]
    return parent, inside, hung, alone
