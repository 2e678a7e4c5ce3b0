"""Islands become sides: which of them face a barrier or are stated, their names, references and supplies."""

from __future__ import annotations

from dataclasses import dataclass

from isolint.circuit.connectivity import Islands
from isolint.interfaces.parties import Situation, bonded
from isolint.interfaces.references import NONE
from isolint.interfaces.values import Side
from isolint.interfaces.walk import is_ground_name


@dataclass(slots=True)
class Draft:
    """What is gathered of one side before it is named."""

    nets: list[int]
    stated: list[str]
    references: list[int]
    supplies: list[int]


class SideTable:
    """The sides in the order of their names, and which net lies on which."""

    def __init__(self, situation: Situation, islands: Islands, without: int) -> None:
        self.situation = situation
        circuit, holders, links = situation.links.circuit, situation.holders, situation.links
        groups = _grouped(situation, islands, without)
        drafts: dict[int, Draft] = {}
        counts: dict[int, int] = {}
        for link in range(len(links)):
            if links.elements[link] >= 0 and (link == 0 or links.elements[link] != links.elements[link - 1]):
                root = groups.get(islands.of(links.nets(link)[0]))
                if root is not None:
                    counts[root] = counts.get(root, 0) + 1
        self._root_of: dict[int, int] = {}
        supply_nets = {*holders.supplies, *(net for net in links.sources if net not in holders.references)}
        for net in circuit.nets():
            root = groups.get(islands.of(net))
            if root is None or net in (without, holders.simulation_ground):
                continue
            draft = drafts.setdefault(root, Draft([], [], [], []))
            draft.nets.append(net)
            if net in holders.stated and holders.stated[net] not in draft.stated:
                draft.stated.append(holders.stated[net])
            if net in holders.references:
                draft.references.append(net)
            if net in supply_nets:
                draft.supplies.append(net)
        made = sorted(((self._side(draft, counts.get(root, 0)), root) for root, draft in drafts.items()), key=_place)
        self.sides = tuple(side for side, _ in made)
        self.side_of_net = {net: index for index, side in enumerate(self.sides) for net in sorted(side.nets)}
        self._by_stated = {
            name.casefold(): index for index, (_, root) in enumerate(made) for name in drafts[root].stated
        }

    def _side(self, draft: Draft, elements: int) -> Side:
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
        first = min(draft.nets, key=lambda net: circuit.net_name(net).casefold())
        naming = reference if reference != NONE else supplies[0] if supplies else first
        kind = next((k.value for name in draft.stated if (k := facts.sides[name].kind) is not None), "")
        return Side(
            stated or circuit.net_name(naming),
            stated,
            kind,
            reference,
            tuple(supplies),
            frozenset(draft.nets),
            elements,
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
    return made[0].name.casefold(), min(made[0].nets)


def _grouped(situation: Situation, islands: Islands, without: int) -> dict[int, int]:
    """Islands that are sides, by their root, and the root that stands for each: one for all islands of a stated side
    and of the sides bonded to it."""
    holders = situation.holders
    on_side = dict.fromkeys(
        islands.of(net) for part in situation.ports for group in part for net in group if net != without
    )
    on_side.update(dict.fromkeys(islands.of(net) for net in (*holders.stated, *holders.supplies) if net != without))
    stands = {root: root for root in on_side}
    alias = bonded(situation.facts)
    first: dict[str, int] = {}

    def top(root: int) -> int:
        while stands[root] != root:
            root = stands[root]
        return root

    for net, name in holders.stated.items():
        if net != without:
            folded = name.casefold()
            root = top(islands.of(net))
            other = top(first.setdefault(alias.get(folded, folded), root))
            stands[max(root, other)] = min(root, other)
    return {root: top(root) for root in stands}
