"""Domains: the islands that may be sides, and which of them each net belongs to by the parts that touch it.

In: islands. Out: a label by island and part. A part that lies on one domain votes it to its nets; one that lies on two
has no vote.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from isolint.positions.flat import Flat
from isolint.positions.neighbours import Neighbours
from isolint.positions.united import Union

_ROUNDS = 4


@dataclass(slots=True, eq=False, repr=False)
class Labels:
    """Domains by island. own: those that are one themselves. known: these and what votes gave. voters: who gave it,
    where it was one part only."""

    union: Union
    own: dict[int, int]
    known: dict[int, int] = field(default_factory=dict)
    voters: dict[int, int] = field(default_factory=dict)

    def of(self, islands: Sequence[int], part: int) -> list[int | None]:
        """The domains of the pins of a part as it may see them: what only this part voted for is none."""
        known, voters = self.known, self.voters
        found = list(map(known.get, islands))
        if not voters.keys().isdisjoint(islands):
            for pin, island in enumerate(islands):
                if island in voters and voters[island] == part:
                    found[pin] = None
        return found

    def shorted(self, found: Sequence[int | None]) -> list[int | None]:
        """The domains of pins, those that a short joins as one where two are left: what ties all hides no part."""
        distinct = {label for label in found if label is not None}
        if len(distinct) < 3:
            return list(found)
        stands = {label: label for label in distinct}
        for tie in self.union.ties:
            if tie.short and tie.one in stands and tie.other in stands:
                kept, gone = stands[tie.one], stands[tie.other]
                stands = {label: kept if now == gone else now for label, now in stands.items()}
        if len(set(stands.values())) < 2:
            return list(found)
        return [None if label is None else stands[label] for label in found]


def find_labels(flat: Flat, near: Neighbours) -> Labels:
    """The domains of all islands; a domain is known by the number of its reference, or by -2 - island without one."""
    union = near.union
    earth = union.references.earth
    own = {island: number for island, number in union.held.items() if number != earth}
    held = frozenset(union.held)
    for island in _heavy(flat, near, held):
        own[island] = -2 - island
    labels = Labels(union, own)
    _vote(flat, near, labels)
    return labels


def _heavy(flat: Flat, near: Neighbours, held: frozenset[int]) -> list[int]:
    """The islands without reference that weigh enough to be a side."""
    root = near.union.parent
    touching: dict[int, list[int]] = {}
    """By island: parts, parts that touch no reference, parts with two nets on it."""
    for (_, nets), islands in zip(flat.parts, near.islands, strict=True):
        once = set(islands)
        unheld = once - held
        free = len(unheld) == len(once)
        several = len(once) < len(islands)
        for island in unheld:
            tally = touching.get(island)
            if tally is None:
                tally = touching[island] = [0, 0, 0]
            tally[0] += 1
            tally[1] += free
            if several and islands.count(island) > 1:
                tally[2] += len({net for net in nets if root[net] == island}) > 1
    left = {island: tally for island, tally in touching.items() if tally[1]}
    if not left:
        return []
    inner: Counter[int] = Counter()
    for _, nets in flat.capacitors:
        if len(nets) > 1 and (island := root[nets[0]]) == root[nets[1]] and island in left:
            inner[island] += 1
    elements: Counter[int] = Counter(inner)
    for column in (flat.shorts, flat.conducting):
        elements.update(island for _, nets in column if nets and (island := root[nets[0]]) in left)
    sources = {root[nets[0]] for _, nets in flat.sources if nets}
    named = {island for island, tally in left.items() if 2 * tally[1] >= tally[0]}
    supplied = {
        root[net]
        for (_, nets), islands in zip(flat.parts, near.islands, strict=True)
        if not named.isdisjoint(islands)
        for net in nets
        if root[net] in named and near.is_supply(net)
    }
    return [
        island
        for island, (_, _, double) in left.items()
        if (inner[island] >= 2 and double >= 2)
        or (island in sources and elements[island] >= 2)
        or (elements[island] >= 8 and double)
        or island in supplied
    ]


def _vote(flat: Flat, near: Neighbours, labels: Labels) -> None:
    """Let parts on one domain give it to their other islands, until nothing changes.

    An island with one pin on it is left out: the one part that would vote for it may not see what it voted for.
    """
    held, pins_on = labels.union.held, near.pins_on
    known = labels.known = dict(labels.own)
    waiting = list(zip(flat.parts, near.islands, strict=True))
    for number in range(_ROUNDS):
        weights: dict[tuple[int, int], int] = {}
        voter: dict[tuple[int, int], int] = {}
        left = []
        for part, islands in waiting:
            seen = set(map(known.get, islands))
            if None not in seen or len(seen) > 2:
                # All its pins have a domain, or it lies on two: it has nothing to say any more.
                continue
            free = {island for island in islands if pins_on[island] > 1 and island not in known and island not in held}
            if not free:
                continue
            left.append((part, islands))
            seen.discard(None)
            for label in seen:
                assert label is not None
                element, nets = part
                there = {net for net, island in zip(nets, islands, strict=True) if known.get(island) == label}
                weight = 2 if len(there) > 1 else 1
                for island in free:
                    key = island, label
                    weights[key] = weights.get(key, 0) + weight
                    voter[key] = element if voter.get(key, element) == element else -1
        waiting = left
        if not _elect(labels, weights, voter, 3 if number == 0 else 2):
            return


def _elect(labels: Labels, weights: dict[tuple[int, int], int], voter: dict[tuple[int, int], int], least: int) -> bool:
    """Give each island the domain with most votes, where they are enough and twice the others'."""
    total: Counter[int] = Counter()
    best: dict[int, tuple[int, int]] = {}
    for (island, label), weight in weights.items():
        total[island] += weight
        best[island] = max(best.get(island, (0, label)), (weight, label))
    changed = False
    for island, (weight, label) in best.items():
        if weight >= least and weight >= 2 * (total[island] - weight):
            labels.known[island] = label
            changed = True
            if voter[island, label] >= 0:
                labels.voters[island] = voter[island, label]
    return changed
