"""Islands: nets that conducting elements join, with a guard that lets no element join two references.

In: the flat view and the references. Out: an island by net, and the ties that the guard kept apart. A planted tie must
not hide the parts that lie between two sides, so it is noted and not followed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from isolint.positions.flat import Flat, Joint
from isolint.positions.spoken import family

_ROUNDS = 6


class Tie(NamedTuple):
    """An element that lies between two references. short: whether below 10 ohm. known: whether it is understood."""

    element: int
    one: int
    other: int
    short: bool
    known: bool = True


class Domains(NamedTuple):
    """References by net: the number of what each one stands for, and the net that names it by number.

    earth: the number of earth, -1 for none. stated: the numbers that isolint.toml states.
    """

    of_net: Mapping[int, int]
    nets: tuple[int, ...]
    names: tuple[str, ...]
    earth: int = -1
    mains: int = -1
    stated: frozenset[int] = frozenset()


class Union:
    """Union-find over nets with the references that each island holds."""

    def __init__(self, flat: Flat, references: Domains) -> None:
        self.parent = list(range(flat.circuit.net_count))
        self.references = references
        self.held: dict[int, int] = {}
        self.ties: list[Tie] = []
        self.stars: list[Tie] = []
        stands: dict[int, int] = {}
        for net, number in references.of_net.items():
            first = stands.setdefault(number, net)
            self.parent[self.find(net)] = self.find(first)
        for number, net in stands.items():
            self.held[self.find(net)] = number

    def find(self, net: int) -> int:
        """The net that stands for the island of a net."""
        parent = self.parent
        while (above := parent[net]) != net:
            parent[net] = net = parent[above]
        return net

    def settle(self) -> None:
        """Let each net know its island at once; nothing is joined any more."""
        parent = self.parent
        for net, above in enumerate(parent):
            if parent[above] != above:
                parent[net] = self.find(net)

    def join(self, joints: Iterable[Joint], short: bool = False, known: bool = True) -> None:
        """Join the nets of each element; between two references it is a tie."""
        parent, held = self.parent, self.held
        for element, nets in joints:
            if len(nets) < 2:
                continue
            one = nets[0]
            while (above := parent[one]) != one:
                parent[one] = one = parent[above]
            for other in nets[1:]:
                while (above := parent[other]) != other:
                    parent[other] = other = parent[above]
                if other != one:
                    if other in held:
                        if (
                            one in held
                            and held[one] != held[other]
                            and not self._merges(element, one, other, short, known)
                        ):
                            continue
                        held.setdefault(one, held[other])
                    parent[other] = one

    def _merges(self, element: int, one: int, other: int, short: bool, known: bool) -> bool:
        """Whether an element between two references is the star point of one ground; else it is noted as a tie."""
        references = self.references
        first, second = self.held[one], self.held[other]
        tie = Tie(element, first, second, short, known)
        special = {references.earth, references.mains, *references.stated}
        alike = not special & {first, second} and family(references.names[first]) == family(references.names[second])
        if short and alike:
            self.stars.append(tie)
            return True
        self.ties.append(tie)
        return False


def find_islands(flat: Flat, references: Domains) -> Union:
    """Join what conducts, the surest first; then what capacitors hold together."""
    union = Union(flat, references)
    union.join(flat.shorts, short=True)
    union.join(flat.small[0], known=False)
    union.join(flat.conducting)
    union.join(flat.explained)
    union.join(flat.small[1], known=False)
    union.join(flat.ordinary)
    _join_by_capacitors(flat, union)
    union.settle()
    return union


def _join_by_capacitors(flat: Flat, union: Union) -> None:
    """Join an island without reference to the one that its capacitors mostly go to."""
    find, held, parent = union.find, union.held, union.parent
    counted: Counter[tuple[int, int]] = Counter()
    for _, nets in flat.capacitors:
        if len(nets) > 1 and (one := find(nets[0])) != (other := find(nets[1])):
            counted[(one, other) if one < other else (other, one)] += 1
    concerned = {island for pair in counted for island in pair}
    touching: dict[int, set[int]] = {}
    for element, nets in flat.parts:
        for net in nets:
            island = parent[net]
            if parent[island] != island:
                island = find(net)
            if island in concerned:
                touching.setdefault(island, set()).add(element)
    for _ in range(_ROUNDS):
        between: dict[int, Counter[int]] = {}
        for (first, second), number in counted.items():
            one, other = find(first), find(second)
            if one != other:
                if one not in held:
                    between.setdefault(one, Counter())[other] += number
                if other not in held:
                    between.setdefault(other, Counter())[one] += number
        joined = False
        for island in sorted(between, key=lambda island: len(between[island])):
            if find(island) == island and island not in held:
                joined |= _join_one(union, island, between[island], touching)
        if not joined:
            return


def _join_one(union: Union, island: int, counted: Counter[int], touching: dict[int, set[int]]) -> bool:
    counts: Counter[int] = Counter()
    for other, number in counted.items():
        counts[union.find(other)] += number
    counts.pop(island, None)
    if not counts:
        return False
    best, number = max(counts.items(), key=lambda pair: (pair[1], -pair[0]))
    own, others = touching.get(island, set()), touching.get(best, set())
    if number < 2 * (counts.total() - number) or (number == 1 and best not in union.held):
        return False
    if number < 3 and own and len(own & others) < 0.7 * len(own):
        return False
    union.parent[island] = best
    if own:
        touching.setdefault(best, set()).update(own)
    return True
