"""Who faces whom: parties are what a side is known by before sides are cut apart, and pairs of them must not be joined.

A party is a stated side (with the sides bonded to it), a reference net that nobody stated, or a port group that
returns to no reference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.circuit.connectivity import Islands
from isolint.facts import BarrierFacts, Facts
from isolint.interfaces.conduction import FACT, SOURCE, Links
from isolint.interfaces.entities import Part
from isolint.interfaces.graph import LinkGraph
from isolint.interfaces.references import Holders, Return, group_label

Key = tuple[str, str, int]


class Facing(NamedTuple):
    """Two port groups of a barrier part that face each other, and what each returns to.

    each: whether this pair must be apart on its own; otherwise the part separates as long as one of its pairs is apart.
    """

    part: Part
    groups: tuple[int, int]
    returns: tuple[Return, Return]
    each: bool

    @property
    def key(self) -> tuple[int, int, int]:
        """What tells it from others: the part and its groups."""
        return (self.part.element, *self.groups)


class Situation(NamedTuple):
    """All that the search for joins rests on. ports: by barrier part, the nets of each of its port groups."""

    links: Links
    facts: Facts
    holders: Holders
    facings: tuple[Facing, ...]
    ports: Sequence[Sequence[Sequence[int]]]
    strong: tuple[int, ...]
    limit: float
    islands: Islands

    def group_nets(self, part: Part, group: int) -> tuple[int, ...]:
        """The nets on the pins of a port group, the simulation ground left out."""
        pins = self.links.circuit.pins(part.element)
        nets = dict.fromkeys(pins[pin] for pin in part.groups[group] if pin < len(pins))
        return tuple(net for net in nets if net != self.holders.simulation_ground)

    def meet(self, facing: Facing, islands: Islands) -> bool:
        """Whether the two groups lie on one island."""
        one, other = ({islands.of(net) for net in self.group_nets(facing.part, group)} for group in facing.groups)
        return not one.isdisjoint(other)


@dataclass(slots=True, eq=False, repr=False)
class Party:
    """One party: its name, the stated sides that it stands for, the nets that it is known by, and the field lines that
    drive its LEDs, which hold nothing else to it and return nowhere."""

    key: Key
    name: str
    stated: tuple[str, ...] = ()
    roots: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)


class Parties:
    """The parties of one netlist by key, the stated ones first."""

    def __init__(self, situation: Situation) -> None:
        self._situation = situation
        self.known: dict[Key, Party] = {}
        self._alias = bonded(situation.facts)
        self._labels = _fact_labels(situation.links, situation.holders)
        for name in situation.facts.sides:
            self.of_side(name)
        for net, name in situation.holders.stated.items():
            self.of_side(name).roots.append(net)

    def of_side(self, name: str) -> Party:
        """The party that a stated side belongs to."""
        first = self._alias.get(name.casefold(), name.casefold())
        key = ("side", first, 0)
        if key not in self.known:
            names = tuple(
                side
                for side in self._situation.facts.sides
                if self._alias.get(side.casefold(), side.casefold()) == first
            )
            self.known[key] = Party(key, names[0] if names else name, names or (name,))
        return self.known[key]

    def of_reference(self, net: int) -> Party:
        """The party that a reference net stands for."""
        stated = self._situation.holders.stated.get(net) or self._labels.get(net)
        if stated is not None:
            party = self.of_side(stated)
        else:
            key = ("net", "", net)
            if key not in self.known:
                self.known[key] = Party(key, self._situation.links.circuit.net_name(net))
            party = self.known[key]
        if net not in party.roots:
            party.roots.append(net)
        return party

    def of_pins(self, part: Part, group: int, nets: Sequence[int]) -> Party:
        """The party that a port group without a reference stands for."""
        key = ("pins", part.path, group)
        if key not in self.known:
            self.known[key] = Party(key, group_label(part, group), roots=list(nets))
        return self.known[key]

    def side_of(self, net: int) -> str | None:
        """The stated side that a net belongs to by name or by the facts about its supply."""
        return self._situation.holders.stated.get(net) or self._labels.get(net)

    def sharing(self, net: int) -> frozenset[str]:
        """The bonded sides of one party that a net is stated to be the return of: they name it, or a supply of it."""
        holders = self._situation.holders
        named = {
            holders.stated[fed] for fed, ground in holders.supplies.items() if ground == net and fed in holders.stated
        }
        named.update(side for found, *both in holders.conflicts if found == net for side in both)
        if net in holders.stated:
            named.add(holders.stated[net])
        party = self.of_reference(net)
        return frozenset(side for side in named if self.of_side(side) is party)

    def opposed_sides(self) -> Iterator[tuple[Party, Party]]:
        """All pairs of stated sides, bonded ones being one party, and of sides with a stated barrier."""
        facts = self._situation.facts
        names = list(facts.sides)
        pairs = [(one, other) for position, one in enumerate(names) for other in names[position + 1 :]]
        for one, other in [*(barrier.between for barrier in facts.barriers), *pairs]:
            first, second = self.of_side(one), self.of_side(other)
            if first is not second:
                yield first, second


def bonded(facts: Facts) -> dict[str, str]:
    """Side names (lower case) to the one that stands for all that are bonded to it.

    A bond that would make one of two sides with a stated barrier is left out: then the star point is what joins them.
    One that names both sides of a barrier itself counts, unless the barrier protects somebody.
    """
    wanted = {frozenset(map(str.casefold, barrier.between)) for barrier in bonded_barriers(facts)}
    apart = [frozenset(side.casefold() for side in barrier.between) for barrier in facts.barriers]
    apart = [pair for pair in apart if pair not in wanted]
    stands: dict[str, str] = {name.casefold(): name.casefold() for name in facts.sides}
    for bond in facts.bonds:
        one, other = (stands.get(side.casefold(), side.casefold()) for side in bond.between)
        merged = {name for name, first in stands.items() if first in (one, other)} | {one, other}
        if not any(pair <= merged for pair in apart):
            stands.update((name, one) for name in merged)
    return stands


def bonded_barriers(facts: Facts) -> tuple[BarrierFacts, ...]:
    """Barriers whose two sides a bond names too, so that what joins them counts as wanted."""
    bonds = {frozenset(map(str.casefold, bond.between)) for bond in facts.bonds}
    return tuple(
        barrier
        for barrier in facts.barriers
        if frozenset(map(str.casefold, barrier.between)) in bonds and not _protects(facts, barrier)
    )


def _protects(facts: Facts, barrier: BarrierFacts) -> bool:
    """Whether a barrier stands between people and a voltage that hurts."""
    kinds = {name.casefold(): side.kind for name, side in facts.sides.items()}
    stated = [kinds.get(side.casefold()) for side in barrier.between]
    insulation = barrier.insulation
    return (
        barrier.mains is not None
        or (insulation is not None and insulation.value in ("double", "reinforced"))
        or any(kind is not None and kind.value in ("mains", "hazardous") for kind in stated)
    )


def _fact_labels(links: Links, holders: Holders) -> dict[int, str]:
    """The stated side of nets that facts hold to a net that is stated."""
    label: dict[int, str] = dict(holders.stated)
    waiting = list(label)
    for net in waiting:
        for link in links.facts_at(net):
            for other in links.nets(link):
                if other not in label:
                    label[other] = label[net]
                    waiting.append(other)
    return label


def hold(graph: LinkGraph, parties: Iterable[Party], gone: int) -> tuple[dict[int, int], set[int]]:
    """Which party holds a net, growing from the nets it is known by and its lines over facts, then over sources with a
    voltage.

    Gives the owner by net as position in `parties`, and the links passed on the way. A net goes to the first that
    comes, so a source between two references stays a link between two parties. The net `gone` holds nothing.
    """
    owner: dict[int, int] = {}
    passed: set[int] = set()
    for position, party in enumerate(parties):
        for net in (*party.roots, *party.lines):
            if net in graph.at and net != gone:
                owner.setdefault(net, position)
    for kinds in ((FACT,), (FACT, SOURCE)):
        waiting = list(owner)
        for net in waiting:
            for link in graph.at[net]:
                if graph.links.kinds[link] not in kinds:
                    continue
                for other in graph.links.nets(link):
                    if other not in owner and other != gone:
                        owner[other] = owner[net]
                        passed.add(link)
                        waiting.append(other)
    return owner, passed


@dataclass(slots=True, eq=False, repr=False)
class FacingSides:
    """Two parties that must be apart, with the barrier parts that say so.

    doubtful: nothing says so but a part that touches both and that nobody explained.
    """

    one: Party
    other: Party
    facings: list[Facing] = field(default_factory=list)
    doubtful: bool = False

    @property
    def order(self) -> tuple[bool, str, str]:
        """References come before port groups without one; then names."""
        floats = "pins" in (self.one.key[0], self.other.key[0])
        return floats, self.one.name.casefold(), self.other.name.casefold()


Pairs = dict[tuple[Key, Key], FacingSides]


def pair_of(pairs: Pairs, one: Party, other: Party) -> FacingSides:
    """The pair of two parties, made where it is not there; in the order of their names."""
    first, second = sorted((one, other), key=lambda party: (party.name.casefold(), party.key))
    return pairs.setdefault((first.key, second.key), FacingSides(first, second))


def meeting_groups(situation: Situation) -> list[Facing]:
    """Facing groups on one island, without those of parts that still separate another of their pairs."""
    meets = [situation.meet(facing, situation.islands) for facing in situation.facings]
    apart = {facing.part.element for facing, joined in zip(situation.facings, meets, strict=True) if not joined}
    return [
        facing
        for facing, joined in zip(situation.facings, meets, strict=True)
        if joined and (facing.each or facing.part.element not in apart)
    ]


def stated_pairs(situation: Situation, parties: Parties) -> Pairs:
    """Stated sides that share an island and are not bonded."""
    of = situation.islands.of
    found: Pairs = {}
    for one, other in parties.opposed_sides():
        if not {of(net) for net in one.roots}.isdisjoint(of(net) for net in other.roots):
            pair_of(found, one, other)
    return found


def doubtful_pairs(situation: Situation, parties: Parties, unknown: Iterable[int]) -> Pairs:
    """References that both lie on a part that nobody explained."""
    found: Pairs = {}
    for element in unknown:
        pins = situation.links.circuit.pins(element)
        nets = dict.fromkeys(net for net in pins if net in situation.holders.references)
        touched = list({party.key: party for party in map(parties.of_reference, nets)}.values())
        for position, one in enumerate(touched):
            for other in touched[position + 1 :]:
                pair_of(found, one, other).doubtful = True
    return found
