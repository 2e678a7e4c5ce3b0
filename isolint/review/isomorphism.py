"""Two sketches that are one circuit under other names: every element and net paired, or None where they are not.

Colours say what may be paired. What they leave open is chosen beside what is paired already, and in the end every pair
is verified, so that a wrong choice never makes a difference vanish.
"""

from __future__ import annotations

import heapq
from collections import Counter, deque
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.review.colouring import Colours, ColourTable, coloured
from isolint.review.sketch import Sketch


class Pairs(NamedTuple):
    """Elements and nets of an old sketch and what they are in the new one."""

    elements: dict[int, int]
    nets: dict[int, int]


def same_circuit(old: Sketch, new: Sketch) -> Pairs | None:
    """Pair everything, or give None where the two differ in anything but names and order."""
    if len(old.names) != len(new.names) or len(old.nets) != len(new.nets):
        return None
    one, other = coloured((old, new), ColourTable(), strict=True, rounds=None)
    if Counter(one.elements) != Counter(other.elements) or Counter(one.nets) != Counter(other.nets):
        return None
    made = _PairSearch(old, new, one, other).run()
    return made if made is not None and _holds(old, new, made) else None


def _holds(old: Sketch, new: Sketch, pairs: Pairs) -> bool:
    """Whether every pair is one: the same kind, value, model, and pins on paired nets; each element and net once."""
    if len(set(pairs.elements.values())) != len(old.names) or len(set(pairs.nets.values())) != len(old.nets):
        return False
    for net, there in pairs.nets.items():
        if old.fixed[net] != new.fixed[there]:
            return False
    for index, there in pairs.elements.items():
        alike = (old.kinds[index], old.values[index], old.models[index], old.swaps[index]) == (
            new.kinds[there],
            new.values[there],
            new.models[there],
            new.swaps[there],
        )
        met = [pairs.nets.get(net, -1) for net in old.pins[index]]
        pins = list(new.pins[there])
        if not alike or (sorted(met) != sorted(pins) if old.swaps[index] else met != pins):
            return False
    return True


Group = tuple[list[int], list[int]]


@dataclass(slots=True, eq=False, repr=False)
class _PairSearch:
    """Pairs while they grow along the nets."""

    old: Sketch
    new: Sketch
    one: Colours
    other: Colours
    ahead: dict[int, int] = field(default_factory=dict)
    taken: set[int] = field(default_factory=set)
    nets: dict[int, int] = field(default_factory=dict)
    nets_back: dict[int, int] = field(default_factory=dict)
    _fresh: deque[tuple[int, int]] = field(default_factory=deque)
    _open: list[tuple[int, int, Group]] = field(default_factory=list)
    _count: int = 0
    _at: tuple[list[list[tuple[int, int]]], list[list[tuple[int, int]]]] = ((), ())  # type: ignore[assignment]

    def run(self) -> Pairs | None:
        self._at = _meeting(self.old), _meeting(self.new)
        named = {each: net for net, each in enumerate(self.new.fixed) if each is not None}
        for net, each in enumerate(self.old.fixed):
            if each is not None and not (each in named and self._meet(net, named[each])):
                return None
        by_colour: dict[int, Group] = {}
        for side, colours in ((0, self.one.elements), (1, self.other.elements)):
            for index, colour in enumerate(colours):
                by_colour.setdefault(colour, ([], []))[side].append(index)
        # Small classes first: what is alone needs no choice.
        waiting = sorted(by_colour.values(), key=lambda group: len(group[0]))
        for group in waiting:
            while True:
                if not self._settle():
                    return None
                left = self._left(group)
                if not left[0]:
                    break
                if not self._choose(left):
                    return None
        return Pairs(self.ahead, self.nets) if self._rest() else None

    def _settle(self) -> bool:
        """Follow the nets as far as they lead, then choose where they leave several, beside what is paired."""
        while self._fresh or self._open:
            if self._fresh:
                if not self._look_round(*self._fresh.popleft()):
                    return False
                continue
            _, _, group = heapq.heappop(self._open)
            left = self._left(group)
            if len(left[0]) != len(left[1]):
                return False
            if left[0]:
                if not self._choose(left):
                    return False
                self._put_back(left)
        return True

    def _left(self, group: Group) -> Group:
        return [e for e in group[0] if e not in self.ahead], [f for f in group[1] if f not in self.taken]

    def _put_back(self, group: Group) -> None:
        if len(group[0]) > 1:
            self._count += 1
            heapq.heappush(self._open, (len(group[0]), self._count, group))

    def _look_round(self, net: int, there: int) -> bool:
        """Pair the elements at two paired nets that look like no other there."""
        groups: dict[tuple[int, int], Group] = {}
        for side, (at, colours) in enumerate(((self._at[0][net], self.one), (self._at[1][there], self.other))):
            for index, place in at:
                if index not in (self.taken if side else self.ahead):
                    groups.setdefault((colours.elements[index], place), ([], []))[side].append(index)
        for group in groups.values():
            left = self._left(group)
            if len(left[0]) != len(left[1]):
                return False
            if len(left[0]) == 1 and not self._pair(left[0][0], left[1][0]):
                return False
            if len(left[0]) > 1:
                self._count += 1
                heapq.heappush(self._open, (len(left[0]), self._count, left))
        return True

    def _choose(self, group: Group) -> bool:
        """Pair the first of a group with one that stands where it does; of several with that of its name."""
        first = group[0][0]
        fitting = [there for there in group[1] if self._fits(first, there)]
        if not fitting:
            return False
        name = self.old.names[first].casefold()
        best = next((there for there in fitting if self.new.names[there].casefold() == name), fitting[0])
        return self._pair(first, best)

    def _fits(self, index: int, there: int) -> bool:
        pins, places = self.old.pins[index], self.new.pins[there]
        if self.old.swaps[index]:
            ways = ((places[0], places[1]), (places[1], places[0]))
            return any(all(self._may(net, way[n]) for n, net in enumerate(pins)) for way in ways)
        return all(self._may(net, place) for net, place in zip(pins, places, strict=True))

    def _may(self, net: int, there: int) -> bool:
        known = self.nets.get(net)
        if known is not None:
            return known == there
        return there not in self.nets_back and self.one.nets[net] == self.other.nets[there]

    def _pair(self, index: int, there: int) -> bool:
        self.ahead[index] = there
        self.taken.add(there)
        pins, places = self.old.pins[index], self.new.pins[there]
        if not self.old.swaps[index]:
            return all(self._meet(net, place) for net, place in zip(pins, places, strict=True))
        straight = self._may(pins[0], places[0]) and self._may(pins[1], places[1])
        crossed = self._may(pins[0], places[1]) and self._may(pins[1], places[0])
        if straight and crossed and pins[0] != pins[1]:
            return True  # either way; its neighbours will tell
        if crossed and not straight:
            places = places[::-1]
        return self._meet(pins[0], places[0]) and self._meet(pins[1], places[1])

    def _meet(self, net: int, there: int) -> bool:
        known = self.nets.get(net)
        if known is not None:
            return known == there
        if there in self.nets_back:
            return False
        self.nets[net] = there
        self.nets_back[there] = net
        self._fresh.append((net, there))
        return True

    def _rest(self) -> bool:
        """Pair the nets between elements whose ends may be exchanged, one end after the other."""
        for index, there in self.ahead.items():
            for net in self.old.pins[index]:
                if net not in self.nets:
                    place = next((each for each in self.new.pins[there] if self._may(net, each)), None)
                    if place is None or not self._meet(net, place):
                        return False
        self._fresh.clear()
        return len(self.nets) == len(self.old.nets)


def _meeting(sketch: Sketch) -> list[list[tuple[int, int]]]:
    """The elements at each net with the place of the pin, -1 where the ends may be exchanged."""
    found: list[list[tuple[int, int]]] = [[] for _ in sketch.nets]
    for index, pins in enumerate(sketch.pins):
        for place, net in enumerate(pins):
            found[net].append((index, -1 if sketch.swaps[index] else place))
    return found
