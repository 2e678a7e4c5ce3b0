"""Islands become sides: which of them face a barrier or are stated, their names, references and supplies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Set
from dataclasses import dataclass
from typing import TypeVar, overload

from isolint.circuit import Circuit
from isolint.circuit.connectivity import Islands
from isolint.interfaces.entities import Side
from isolint.interfaces.facing_sides import Situation
from isolint.interfaces.reduction import Reduction
from isolint.interfaces.references import NONE
from isolint.interfaces.walk import is_ground_name

T = TypeVar("T")


@dataclass(slots=True, eq=False, repr=False)
class Draft:
    """What is gathered of one side before it is named."""

    stated: list[str]
    references: list[int]
    supplies: list[int]
    elements: int = 0
    first: int = NONE


class SideOfNet(Mapping[int, int]):
    """The position of a net's side, by net; nets on no side are not there. Worked out when asked."""

    def __init__(
        self,
        circuit: Circuit,
        islands: Islands,
        index: Mapping[int, int],
        reduction: Reduction | None,
        linked: Collection[int],
    ) -> None:
        self._circuit = circuit
        self._linked = linked
        self._of = islands.of
        self._index = index
        self._reduction = reduction
        self._counts: Counter[int] | None = None

    @overload
    def get(self, net: int, /) -> int | None: ...
    @overload
    def get(self, net: int, default: int | T, /) -> int | T: ...
    @overload
    def get(self, net: int, default: T | None = None, /) -> int | T | None: ...
    def get(self, net: int, default: T | None = None, /) -> int | T | None:
        """The side of a net, else the default; NONE is on no side."""
        if net < 0:
            return default
        found = self._index.get(self._of(net))
        if found is None and self._reduction is not None:
            found = self._index.get(self._of(self._reduction.host(net)))
        return default if found is None else found

    def __getitem__(self, net: int) -> int:
        found = self.get(net)
        if found is None:
            raise KeyError(net)
        return int(found)

    def __contains__(self, net: object) -> bool:
        return isinstance(net, int) and self.get(net) is not None

    def __iter__(self) -> Iterator[int]:
        return (net for net in self._circuit.nets() if net in self)

    def __len__(self) -> int:
        return sum(self.count(side) for side in set(self._index.values()))

    def count(self, side: int) -> int:
        """The number of nets on a side."""
        if self._counts is None:
            if self._reduction is None:
                found = Counter(map(self._index.get, map(self._of, self._circuit.nets())))
            else:
                found = Counter(map(self._index.get, map(self._of, self._linked)))
                for host, nets, _ in self._reduction.hung():
                    found[self._index.get(self._of(host))] += nets
            self._counts = Counter({side: number for side, number in found.items() if side is not None})
        return self._counts[side]


class NetsOfSide(Set[int]):
    """The nets of one side; counted without being listed."""

    def __init__(self, side_of_net: SideOfNet, side: int) -> None:
        self._side_of_net = side_of_net
        self._side = side

    def __contains__(self, net: object) -> bool:
        return isinstance(net, int) and self._side_of_net.get(net) == self._side

    def __iter__(self) -> Iterator[int]:
        return (net for net in self._side_of_net if self._side_of_net[net] == self._side)

    def __len__(self) -> int:
        return self._side_of_net.count(self._side)

    def __hash__(self) -> int:
        return self._hash()


class SideTable:
    """The sides in the order of their names, and which net lies on which.

    reduction: which elements have no links, None where all have.
    """

    def __init__(
        self, situation: Situation, islands: Islands, without: int, reduction: Reduction | None = None
    ) -> None:
        self.situation = situation
        holders, links = situation.holders, situation.links
        groups = _grouped(situation, islands, without)
        of = islands.of
        drafts = {root: Draft([], [], []) for root in groups.values()}
        supply_nets = {*holders.supplies, *(net for net in links.sources if net not in holders.references)}
        for net in sorted({*holders.stated, *holders.references, *supply_nets}):
            root = groups.get(of(net))
            if root is None or net in (without, holders.simulation_ground):
                continue
            draft = drafts[root]
            if net in holders.stated and holders.stated[net] not in draft.stated:
                draft.stated.append(holders.stated[net])
            if net in holders.references:
                draft.references.append(net)
            if net in supply_nets:
                draft.supplies.append(net)
        self._count(drafts, groups, of, reduction)
        self._name(drafts, groups, of, reduction)
        made = sorted(((self._side(draft), root) for root, draft in drafts.items()), key=_place)
        position = {root: index for index, (_, root) in enumerate(made)}
        index = {island: position[root] for island, root in groups.items()}
        linked = {
            *(net for link in range(len(links) if reduction is not None else 0) for net in links.nets(link)),
            *(net for part in situation.ports for group in part for net in group if net != without),
            *(net for net in (*holders.stated, *holders.supplies) if net != without),
        }
        self.side_of_net = SideOfNet(links.circuit, islands, index, reduction, linked)
        self.sides = tuple(
            side._replace(nets=NetsOfSide(self.side_of_net, number)) for number, (side, _) in enumerate(made)
        )
        self._by_stated = {
            name.casefold(): index for index, (_, root) in enumerate(made) for name in drafts[root].stated
        }

    def _count(
        self, drafts: dict[int, Draft], groups: Mapping[int, int], of: Callable[[int], int], reduction: Reduction | None
    ) -> None:
        """Count the elements of each side: each lies where its first pin does."""
        links = self.situation.links
        counts: Counter[int | None] = Counter()
        before = NONE
        firsts: list[int] = []
        for element, net in zip(links.elements, links.first, strict=True):
            if element not in (before, NONE):
                firsts.append(net)
            before = element
        counts.update(map(groups.get, map(of, firsts)))
        if reduction is not None:
            for host, _, conducting in reduction.hung():
                counts[groups.get(of(host))] += conducting
        for root, draft in drafts.items():
            draft.elements = counts[root]

    def _name(
        self, drafts: dict[int, Draft], groups: Mapping[int, int], of: Callable[[int], int], reduction: Reduction | None
    ) -> None:
        """Find the first net by name of sides without reference and supply."""
        circuit = self.situation.links.circuit
        nameless = {root for root, draft in drafts.items() if not draft.references and not draft.supplies}
        best: dict[int, str] = {}
        for net in circuit.nets() if nameless else ():
            root = groups.get(of(net), NONE)
            if root == NONE and reduction is not None:
                root = groups.get(of(reduction.host(net)), NONE)
            if root in nameless:
                name = circuit.net_name(net).casefold()
                if root not in best or name < best[root]:
                    best[root] = name
                    drafts[root].first = net

    def _side(self, draft: Draft) -> Side:
        circuit, holders, facts = self.situation.links.circuit, self.situation.holders, self.situation.facts
        # In the order of isolint.toml: of bonded sides the first one names them all.
        stated = next((name for name in facts.sides if name in draft.stated), "")
        key = {
            net: (holders.references[net], not is_ground_name(circuit.net_name(net)), circuit.net_name(net).casefold())
            for net in draft.references
        }
        usable = [net for net in draft.references if net not in holders.supplies] or draft.references
        reference = min(usable, key=lambda net: key[net], default=NONE)
        supplies = sorted(
            draft.supplies, key=lambda net: (net not in holders.supplies, circuit.net_name(net).casefold())
        )
        naming = reference if reference != NONE else supplies[0] if supplies else draft.first
        kind = next((k.value for name in draft.stated if (k := facts.sides[name].kind) is not None), "")
        return Side(
            stated or circuit.net_name(naming), stated, kind, reference, tuple(supplies), frozenset(), draft.elements
        )

    def of_name(self, name: str) -> int | None:
        """The index of a stated side, None when none of its nets is in the netlist."""
        return self._by_stated.get(name.casefold())

    def index_of(self, name: str) -> int | None:
        """The index of a side by its stated name or the one that it is shown under."""
        shown = (index for index, side in enumerate(self.sides) if side.name.casefold() == name.casefold())
        stated = self.of_name(name)
        return next(shown, None) if stated is None else stated


def _place(made: tuple[Side, int]) -> tuple[str, int]:
    # The root is the smallest net of the side.
    return made[0].name.casefold(), made[1]


def _grouped(situation: Situation, islands: Islands, without: int) -> dict[int, int]:
    """Islands that are sides, by their root, and the root that stands for each: one for all islands of a stated side.

    A bond permits a joint, it is none: bonded sides that nothing joins stay two.
    """
    holders = situation.holders
    on_side = dict.fromkeys(
        islands.of(net) for part in situation.ports for group in part for net in group if net != without
    )
    on_side.update(dict.fromkeys(islands.of(net) for net in (*holders.stated, *holders.supplies) if net != without))
    stands = {root: root for root in on_side}
    first: dict[str, int] = {}

    def top(root: int) -> int:
        while stands[root] != root:
            root = stands[root]
        return root

    for net, name in holders.stated.items():
        if net != without:
            folded = name.casefold()
            root = top(islands.of(net))
            other = top(first.setdefault(folded, root))
            stands[max(root, other)] = min(root, other)
    return {root: top(root) for root in stands}
