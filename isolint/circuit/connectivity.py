"""Which nets are joined: union-find on integers for the bulk."""

from __future__ import annotations

from array import array
from collections.abc import Iterable


class Islands:
    """Nets joined into islands; `of(net)` is the smallest net id of its island."""

    def __init__(self, count: int) -> None:
        self._parent = array("l", range(count))

    def of(self, net: int) -> int:
        """The representative of the island that holds `net`."""
        parent = self._parent
        root = net
        while parent[root] != root:
            root = parent[root]
        while parent[net] != root:
            parent[net], net = root, parent[net]
        return root

    def join(self, one: int, other: int) -> None:
        """Join the islands of two nets; the smaller id represents them."""
        one, other = self.of(one), self.of(other)
        if one < other:
            self._parent[other] = one
        else:
            self._parent[one] = other


def islands(count: int, joined: Iterable[tuple[int, ...]]) -> Islands:
    """Join the nets of each tuple; `count` is one more than the largest net id."""
    made = Islands(count)
    for nets in joined:
        first = nets[0] if nets else 0
        for other in nets[1:]:
            made.join(first, other)
    return made
