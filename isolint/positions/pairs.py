"""Pairs of grounds of which nothing says whether they are one: shorted, with a common supply, or of one family."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.positions.domains import Labels
from isolint.positions.flat import Flat
from isolint.positions.found import Asked, DoubtfulPair
from isolint.positions.neighbours import Neighbours
from isolint.positions.scores import PartPlace
from isolint.positions.spoken import family, speaks_of_isolation

Key = tuple[int, int]


class GroundPairs:
    """What joins pairs of references: ties that the guard kept apart, and supplies with capacitors to both."""

    def __init__(self, flat: Flat, labels: Labels, near: Neighbours) -> None:
        self.labels = labels
        self.references = labels.union.references
        self.shorts: dict[Key, list[int]] = {}
        for tie in labels.union.ties:
            if tie.short:
                self.shorts.setdefault(key_of(tie.one, tie.other), []).append(tie.element)
        self.supplies: dict[Key, list[int]] = {}
        number = self.references.of_net
        at: dict[int, list[int]] = {}
        for _, nets in flat.capacitors:
            if len(nets) < 2:
                continue
            for net, far in (nets[:2], nets[1::-1]):
                if far in number and net not in number:
                    at.setdefault(net, []).append(number[far])
        for net, grounds in at.items():
            distinct = sorted(set(grounds))
            if len(distinct) > 1 and near.is_supply(net):
                for position, one in enumerate(distinct):
                    for other in distinct[position + 1 :]:
                        self.supplies.setdefault((one, other), []).append(net)

    def between(self, place: PartPlace) -> Key | None:
        """The doubtful pair of references that a candidate lies between, None for none."""
        distinct = sorted({label for label in place.labels if label is not None})
        if place.told or len(distinct) < 2 or not place.across:
            return None
        counted = sorted(distinct, key=lambda label: (-place.labels.count(label), label))[:2]
        key = key_of(*counted)
        references = self.references
        if key[0] < 0 or references.mains in key or set(key) <= references.stated:
            return None
        alike = family(references.names[key[0]]) == family(references.names[key[1]])
        return key if key in self.shorts or key in self.supplies or alike else None

    def pair(self, key: Key, parts: Sequence[Asked]) -> DoubtfulPair:
        """The pair with what joins it and what lies between."""
        shorts, supplies = self.shorts.get(key, ()), self.supplies.get(key, ())
        return DoubtfulPair(*key, tuple(shorts), tuple(supplies), tuple(parts))

    def is_asked(self, key: Key, places: Iterable[PartPlace]) -> bool:
        """Whether a pair is asked about; else the two are taken for one ground."""
        names = self.references.names
        if any(speaks_of_isolation(names[number]) for number in key):
            return True
        if any(place.pair for place in places):
            return True
        return key not in self.shorts and key not in self.supplies


def key_of(one: int, other: int) -> Key:
    """Two numbers in order."""
    return (one, other) if one < other else (other, one)
