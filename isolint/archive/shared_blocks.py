"""The definitions that results lie in, each by what it holds: the same block on forty boards is one, whatever it, its
elements and its anonymous nets are called there."""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Iterable, Iterator

from isolint.archive.unit import InstanceBlock
from isolint.circuit import Circuit
from isolint.netlist.cards import Cards
from isolint.review.colouring import ColourTable, coloured
from isolint.review.correspondence import Netlist
from isolint.review.sketch import sketch

_ROUNDS = 6


class _Digests(ColourTable):
    """Numbers that depend on what they stand for alone, so that those of two netlists can be compared."""

    def __call__(self, what: Hashable) -> int:
        return int.from_bytes(hashlib.sha256(repr(what).encode("utf-8", "backslashreplace")).digest()[:8], "big")


def blocks_of(cards: Cards, circuit: Circuit, instances: Iterable[str]) -> Iterator[InstanceBlock]:
    """The definitions of instances, by the paths of the cards that call them; what is not there is left out."""
    netlist = Netlist(cards, circuit)
    known: dict[int, str] = {}
    for path in instances:
        card = circuit.find(path)
        if card is not None:
            above, index = circuit.locate(card)
            scope = netlist.called(circuit.block(above).scope, index)
            if scope is not None:
                if scope not in known:
                    _learn(netlist, scope, known)
                yield InstanceBlock(path, cards.scopes[scope].name, known[scope])


def _learn(netlist: Netlist, scope: int, known: dict[int, str]) -> None:
    """Get to know the digest of a definition and of all that it calls, those that are called first."""
    needed, waiting = {scope}, [scope]
    while waiting:
        at = waiting.pop()
        for index in range(len(netlist.cards.scopes[at])):
            inner = netlist.called(at, index)
            if inner is not None and inner not in known and inner not in needed:
                needed.add(inner)
                waiting.append(inner)
    for each in reversed(netlist.placed):
        if each in needed:
            known[each] = _of_one(netlist, each, known)


def _of_one(netlist: Netlist, scope: int, known: dict[int, str]) -> str:
    def definition(at: int, index: int) -> Hashable:
        inner = netlist.called(at, index)
        return None if inner is None else known[inner]

    seen = sketch(netlist.cards, netlist.circuit, scope, definition, lambda name: name)
    (colours,) = coloured([seen], _Digests(), True, _ROUNDS, ({},))
    unreadable = netlist.cards.scopes[scope].unreadable
    said = repr((len(netlist.cards.scopes[scope].ports), unreadable, sorted(colours.elements), sorted(colours.nets)))
    return hashlib.sha256(said.encode("utf-8", "backslashreplace")).hexdigest()[:16]
