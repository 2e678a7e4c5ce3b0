"""Which element and net of an old scope is which of a new one, also where names were given anew.

First whether both are one circuit; else paired by names and once more by structure, and the smaller difference counts.
A pair never hides a difference: what differs between its two is told, whoever was paired with whom.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import NamedTuple

from isolint.review.colouring import ColourTable, classes_of, coloured
from isolint.review.isomorphism import Pairs, same_circuit
from isolint.review.sketch import Sketch

MOST_BY_STRUCTURE = 20_000
"""Elements above which names alone decide."""

_MOST_ALIKE = 64
"""Elements that look alike of which each is compared with each."""

_BY_NAME = 1e6


class Differing(NamedTuple):
    """What differs between two scopes: cards by index, in order. `pins`, `values`: pairs of old and new index."""

    gone: tuple[int, ...]
    came: tuple[int, ...]
    values: tuple[tuple[int, int], ...]
    pins: tuple[tuple[int, int], ...]

    @property
    def number(self) -> int:
        """How many differences there are."""
        return len(self.gone) + len(self.came) + len(self.values) + len(self.pins)


class ScopePair(NamedTuple):
    """Two scopes with everything paired that has a counterpart. alike: whether they are one circuit, models too."""

    old: Sketch
    new: Sketch
    pairs: Pairs
    differing: Differing
    alike: bool


def pair_scopes(old: Sketch, new: Sketch) -> ScopePair:
    """Pair two scopes so that the difference is as small as names or structure make it."""
    # What is written alike is the same: nothing is to be sought.
    alike = same_circuit(old, new)
    if alike is not None:
        return ScopePair(old, new, alike, Differing((), (), (), ()), True)
    by_names = _completed(_Work(old, new).by_names())
    best = by_names
    if len(old.names) <= MOST_BY_STRUCTURE and len(new.names) <= MOST_BY_STRUCTURE and by_names.differing.number > 1:
        by_structure = _completed(_Work(old, new).by_structure())
        if by_structure.differing.number < by_names.differing.number:
            best = by_structure
    return best


def _completed(work: _Work) -> ScopePair:
    pairs = Pairs(dict(sorted(work.ahead.items())), work.voted())
    found = differing(work.old, work.new, pairs)
    models = all(work.old.models[index] == work.new.models[there] for index, there in pairs.elements.items())
    return ScopePair(work.old, work.new, pairs, found, alike=models and not found.number)


def differing(old: Sketch, new: Sketch, pairs: Pairs) -> Differing:
    """What differs under a pairing."""
    values, pins = [], []
    for index, there in pairs.elements.items():
        if (old.kinds[index], old.values[index]) != (new.kinds[there], new.values[there]):
            values.append((index, there))
        met = [pairs.nets.get(net, -1) for net in old.pins[index]]
        places = list(new.pins[there])
        if sorted(met) != sorted(places) if old.swaps[index] and new.swaps[there] else met != places:
            pins.append((index, there))
    taken = set(pairs.elements.values())
    return Differing(
        tuple(index for index in range(len(old.names)) if index not in pairs.elements),
        tuple(there for there in range(len(new.names)) if there not in taken),
        tuple(values),
        tuple(pins),
    )


class _Work:
    """Pairs of elements while they are made; nets follow by the votes of the pairs."""

    def __init__(self, old: Sketch, new: Sketch) -> None:
        self.old, self.new = old, new
        self.ahead: dict[int, int] = {}
        self.back: dict[int, int] = {}
        self._votes: dict[int, Counter[int]] = defaultdict(Counter)

    def by_names(self) -> _Work:
        """By letter and name, then what is left by what it looks like."""
        there = {(kind_letter(self.new, index), name.casefold()): index for index, name in enumerate(self.new.names)}
        for index, name in enumerate(self.old.names):
            found = there.get((kind_letter(self.old, index), name.casefold()))
            if found is not None and found not in self.back:
                self._pair(index, found)
        return self._rest()

    def by_structure(self) -> _Work:
        """By what everything looks like, from far to near; names decide only between what looks alike."""
        for rounds in (6, 3, 2, 1):
            self._by_colours(strict=True, rounds=rounds)
        return self._rest()

    def _rest(self) -> _Work:
        if self._all():
            return self
        for rounds in (3, 2, 1):
            self._by_colours(strict=True, rounds=rounds, anchored=True)
        while not self._all():
            before = len(self.ahead)
            for rounds in (3, 2, 1):
                self._by_colours(strict=False, rounds=rounds, anchored=True)
            if len(self.ahead) == before:
                break
        return self

    def _all(self) -> bool:
        return len(self.ahead) in (len(self.old.names), len(self.new.names))

    def _by_colours(self, strict: bool, rounds: int, anchored: bool = False) -> None:
        """Pair what has one colour, as often on one side as on the other."""
        known: tuple[dict[int, int], dict[int, int]] = ({}, {})
        if anchored:
            known = {e: e for e in self.ahead}, self.back.copy()
        one, other = coloured((self.old, self.new), ColourTable(), strict, rounds, known)
        here = classes_of(one.elements, (e for e in range(len(self.old.names)) if e not in self.ahead))
        there = classes_of(other.elements, (f for f in range(len(self.new.names)) if f not in self.back))
        for colour, members in sorted(here.items(), key=lambda each: len(each[1])):
            others = there.get(colour, [])
            if len(others) == len(members):
                self._assign(members, others)

    def _assign(self, members: list[int], others: list[int]) -> None:
        if len(members) > _MOST_ALIKE:
            for index, there in zip(members, others, strict=True):
                self._pair(index, there)
            return
        left = list(others)
        for index in members:
            name = self.old.names[index].casefold()
            best = max(left, key=lambda there: (self._agreed(index, there), self.new.names[there].casefold() == name))
            left.remove(best)
            self._pair(index, best)

    def _agreed(self, index: int, there: int) -> float:
        """How many of the nets at its pins the pairs so far take for those of another."""
        pins, places = self.old.pins[index], self.new.pins[there]
        straight = sum(self._vote(net, place) for net, place in zip(pins, places, strict=False))
        if not self.old.swaps[index] or len(pins) != len(places):
            return straight
        return max(straight, sum(self._vote(net, place) for net, place in zip(pins, places[::-1], strict=True)))

    def _vote(self, net: int, place: int) -> float:
        if self.old.fixed[net] is not None and self.old.fixed[net] == self.new.fixed[place]:
            return 1.0
        votes = self._votes.get(net)
        return 0.0 if not votes else float(votes[place] > 0) - float(votes[place] == 0)

    def _pair(self, index: int, there: int) -> None:
        self.ahead[index] = there
        self.back[there] = index
        pins, places = self.old.pins[index], self.new.pins[there]
        if self.old.swaps[index] and len(pins) == len(places):
            for net in pins:
                for place in places:
                    self._votes[net][place] += 1
        else:
            for net, place in zip(pins, places, strict=False):
                self._votes[net][place] += 2

    def voted(self) -> dict[int, int]:
        """Pair the nets: a name that says something first, then where most pins went; each net once."""
        named = {each: place for place, each in enumerate(self.new.fixed) if each is not None}
        ballots: list[tuple[float, str, str, int, int]] = []
        for net, name in enumerate(self.old.nets):
            votes = {place: float(number) for place, number in self._votes.get(net, Counter()).items()}
            fixed = self.old.fixed[net]
            if fixed is not None and fixed in named:
                votes[named[fixed]] = votes.get(named[fixed], 0.0) + _BY_NAME
            ballots.extend(
                (-number, name.casefold(), self.new.nets[place].casefold(), net, place)
                for place, number in votes.items()
            )
        found: dict[int, int] = {}
        taken: set[int] = set()
        for _, _, _, net, place in sorted(ballots):
            if net not in found and place not in taken:
                found[net] = place
                taken.add(place)
        return found


def kind_letter(sketch: Sketch, index: int) -> str:
    """The letter of a card."""
    kind = sketch.kinds[index]
    assert isinstance(kind, tuple)
    return str(kind[0])
