"""Which nets are joined: union-find on integers for the bulk."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self


class _Alone(dict[int, int]):
    """Parents of the nets that something was joined to; every other net is its own."""

    def __missing__(self, net: int) -> int:
        return net


class Islands:
    """Nets joined into islands; `of(net)` is the smallest net id of its island."""

    def __init__(self, count: int) -> None:
        self._parent: list[int] | _Alone = list(range(count))

    @classmethod
    def sparse(cls) -> Self:
        """Islands of any number of nets of which few are ever joined."""
        made = cls(0)
        made._parent = _Alone()
        return made

    def of(self, net: int) -> int:
        """The representative of the island that holds `net`."""
        parent = self._parent
        while (above := parent[net]) != net:
            # Halving the path on the way; several times quicker than a second pass over it.
            parent[net] = net = parent[above]
        return net

    def join(self, one: int, other: int) -> None:
        """Join the islands of two nets; the smaller id represents them."""
        one, other = self.of(one), self.of(other)
        if one < other:
            self._parent[other] = one
        elif other < one:
            self._parent[one] = other

    def join_pairs(self, pairs: Iterable[tuple[int, int]]) -> None:
        """Join the nets of each pair: `join` for millions."""
        parent = self._parent
        for one, other in pairs:
            while (above := parent[one]) != one:
                parent[one] = one = parent[above]
            while (above := parent[other]) != other:
                parent[other] = other = parent[above]
            if one < other:
                parent[other] = one
            elif other < one:
                parent[one] = other


def islands(count: int, joined: Iterable[tuple[int, ...]]) -> Islands:
    """Join the nets of each tuple; `count` is one more than the largest net id."""
    made = Islands(count)
    made.join_pairs((nets[0], other) for nets in joined for other in nets[1:])
    return made
