"""What joins two sides: each fault once, with the shortest path and the smallest set of elements that makes it.

In: a `Situation` in which islands meet that should be apart. Out: joins, and the links and net to leave out so that
the sides stand apart again. Order: sides that meet in node 0 only; barrier parts whose groups return to one net; then
pairs of parties, directly before through third ones, proven before through parts that nobody explained.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import NamedTuple

from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import LOW, RESISTOR, UNKNOWN
from isolint.interfaces.cut import smallest_cut
from isolint.interfaces.entities import Join, Recognition, Step
from isolint.interfaces.facing_sides import (
    Facing,
    FacingSides,
    Pairs,
    Parties,
    Party,
    Situation,
    doubtful_pairs,
    hold,
    meeting_groups,
    pair_of,
    stated_pairs,
)
from isolint.interfaces.field_lines import lines_of_groups
from isolint.interfaces.graph import Between, LinkGraph, Terminals, between, make_graph, shortest_path
from isolint.interfaces.islands import partition
from isolint.interfaces.references import NONE, find_return, group_label
from isolint.interfaces.witness import (
    couplers,
    facing_names,
    join_of_pair,
    level_anywhere,
    level_between,
    reversed_path,
    sorted_pair,
)

MOST_APART = 32
"""Elements of one cut that are looked at one by one; more of them are one fault of another kind."""


class Found(NamedTuple):
    """Joins, and what has to be left out for the sides to be apart: links, and node 0 where only that joins them."""

    joins: tuple[Join, ...] = ()
    removed: frozenset[int] = frozenset()
    without: int = NONE


def find_joins(situation: Situation, recognition: Recognition, asked: Collection[int] | None = None) -> Found:
    """All joins of a netlist; nothing is built where no facing groups and no opposed sides share an island.

    asked: the unexplained parts that make two references a doubtful pair; all of them where it is None.
    """
    search = _Search(situation, recognition)
    meeting = meeting_groups(situation)
    stated = stated_pairs(situation, search.parties)
    doubtful = doubtful_pairs(situation, search.parties, recognition.unknown if asked is None else asked)
    if not meeting and not stated and not doubtful and not situation.holders.conflicts:
        return Found()
    return search.run(meeting, stated, list(doubtful.values()))


def _order(join: Join, element: int) -> int:
    return join.cut.index(element) if element in join.cut else len(join.cut)


class _Search:
    """The search with what it has found so far."""

    def __init__(self, situation: Situation, recognition: Recognition) -> None:
        self.s = situation
        self.circuit = situation.links.circuit
        self.recognition = recognition
        self.parties = Parties(situation)
        self.graph = LinkGraph(situation.links, {}, {})
        self.strangers: frozenset[int] = frozenset()
        self.removed: set[int] = set()
        self.joins: list[Join] = []
        self.concerned: list[tuple[Party, ...]] = []
        self.gone = NONE
        self._explained: tuple[int, list[FacingSides]] = (NONE, [])
        self._current: tuple[int, int, Islands] = (0, NONE, situation.islands)

    def run(self, meeting: list[Facing], pairs: Pairs, doubtful: list[FacingSides]) -> Found:
        """Find all joins, each taking its cut out of what the next ones see."""
        zero = self.circuit.find_net("0")
        in_node_0 = self._only_node_0(meeting, [*pairs.values()], zero) if zero is not None else []
        of = self.s.islands.of
        chosen = {of(net) for facing in meeting for net in self._nets(facing)}
        chosen.update(of(net) for pair in (*pairs.values(), *doubtful) for net in (*pair.one.roots, *pair.other.roots))
        self.graph = make_graph(self.s.links, lambda net: of(net) in chosen)
        kinds, elements = self.s.links.kinds, self.s.links.elements
        self.strangers = frozenset(elements[link] for link in self.graph.rank if kinds[link] == UNKNOWN)
        if in_node_0 and zero is not None:
            self.gone = zero
            self._add_node_0(in_node_0, zero)
        self._add_contradictions()
        for line, (net, facing, end) in lines_of_groups(self.s, self.graph, self.recognition).items():
            known = net not in (NONE, self.s.holders.simulation_ground)
            (self.parties.of_reference(net) if known else self._floating(facing, end)).lines.append(line)
        told = {facing.key for facing in in_node_0}
        self._add_shared([facing for facing in meeting if facing.key not in told], pairs)
        certain = sorted(pairs.values(), key=lambda pair: pair.order)
        for through in (False, True):
            for pair in certain:
                self._settle(pair, False, through)
        # References that are one anyway (a ferrite on one side) make no doubt of a part that touches both.
        doubts = [pair for pair in sorted(doubtful, key=lambda pair: pair.order) if not self._joined_for_certain(pair)]
        for through in (False, True):
            for pair in (*certain, *doubts):
                self._settle(pair, True, through)
        # What islands of a third kind join in steps, each below the limit, is joined however much it amounts to in all.
        for pair in certain:
            self._settle(pair, True, True, math.inf)
        for pair in certain:
            self._credit(pair)
        self._add_rest(meeting)
        return Found(tuple(self.joins), frozenset(self.removed), self.gone)

    def _nets(self, facing: Facing) -> list[int]:
        return [net for group in facing.groups for net in self.s.group_nets(facing.part, group)]

    # -- node 0 --------------------------------------------------------------------------------------------------

    def _only_node_0(self, meeting: list[Facing], stated: list[FacingSides], zero: int) -> list[Facing]:
        """Facing groups that meet in node 0 only. Where a barrier is stated, or stated sides meet there too, there are
        none: then node 0 ties like any other net, though it explains those sides as well."""
        if not meeting or zero == self.s.holders.simulation_ground:
            return []
        of = partition(self.s.links, self.s.strong, self.s.ports, self.s.limit, without=zero).of
        found: list[Facing] = []
        for facing in meeting:
            one, other = (
                {of(net) for net in self.s.group_nets(facing.part, group) if net != zero} for group in facing.groups
            )
            nets = [reached.net for reached in facing.returns]
            # Node 0 against a reference with another name is a tie like any other: the second name is there on purpose.
            if one.isdisjoint(other) and (nets.count(zero) != 1 or NONE in nets):
                found.append(facing)
        meet_there = [
            pair
            for pair in stated
            if found
            and zero not in (*pair.one.roots, *pair.other.roots)
            and {of(net) for net in pair.one.roots}.isdisjoint(of(net) for net in pair.other.roots)
        ]
        if meet_there or self.s.facts.barriers:
            self._explained = (zero, meet_there)
            return []
        return found

    def _add_node_0(self, facings: list[Facing], zero: int) -> None:
        self.joins.append(
            Join(
                kind="joined-grounds",
                sides=facing_names(facings[0]),
                path=self._path_over(facings[0], zero),
                cut=(),
                subject="node 0",
                resistance=0.0,
                level="warning",
                node_0_only=True,
                couplers=couplers(facings),
                shared_net=zero,
            )
        )
        self.concerned.append(())

    def _path_over(self, facing: Facing, net: int) -> tuple[Step, ...]:
        """From one group to the net that both use, and on to the other group, in the order of their names."""
        allowed = {link for link in self.graph.rank if self.s.links.kinds[link] != UNKNOWN}
        legs: dict[str, tuple[Step, ...]] = {}
        for group in facing.groups:
            found = shortest_path(self.graph, allowed, self.s.group_nets(facing.part, group), {net})
            legs[group_label(facing.part, group)] = found[0] if found is not None else ()
        first, second = facing_names(facing)
        return (*legs[first], *reversed_path(legs[second]))

    # -- one net for both ----------------------------------------------------------------------------------------

    def _add_contradictions(self) -> None:
        """Two stated sides that name one net."""
        for net, one, other in self.s.holders.conflicts:
            parties = self.parties.of_side(one), self.parties.of_side(other)
            if parties[0] is not parties[1]:
                names = sorted_pair(one, other)
                level = level_between(self.s.facts, (one,), (other,))
                self.joins.append(Join("joined-grounds", names, (), (), " | ".join(names), 0.0, level, False, (), net))
                self.concerned.append(parties)

    def _add_shared(self, meeting: Sequence[Facing], pairs: Pairs) -> None:
        """Barrier parts whose groups return to one party; other facings become pairs of parties."""
        shared: dict[object, list[Facing]] = {}
        differing = {f.part.element for f in meeting if not f.each and self._party(f, 0) is not self._party(f, 1)}
        for facing in meeting:
            one, other = self._party(facing, 0), self._party(facing, 1)
            if one is other:
                if facing.part.element in differing or self._excused(facing):
                    continue
                resolved = self._other_return(facing)
                if resolved is None or resolved[0] is resolved[1]:
                    shared.setdefault(one.key, []).append(facing)
                    continue
                one, other = resolved
            if one is not other:
                pair_of(pairs, one, other).facings.append(facing)
        for facings in shared.values():
            self._add_one_net(facings)

    def _excused(self, facing: Facing) -> bool:
        """Whether both groups may return to one party: sides that are bonded, by a net of each or by one that is the
        return of both; a relay's contact that switches its own side's supply, which is no barrier and nobody said it
        were one."""
        one, other = (self._party(facing, end) for end in (0, 1))
        nets = {reached.net for reached in facing.returns}
        sides = {self.parties.side_of(net) for net in nets}
        shared = len(nets) == 1 and NONE not in nets and len(self.parties.sharing(*nets)) > 1
        return one is other and (len(sides) > 1 or shared or facing.part.kind.one_side)

    def _add_one_net(self, facings: list[Facing]) -> None:
        net = facings[0].returns[0].net
        zero, pairs = self._explained
        stated = sorted_pair(pairs[0].one.name, pairs[0].other.name) if net == zero and pairs else None
        if stated is not None:
            self.gone = zero
        self.joins.append(
            Join(
                kind="joined-grounds",
                sides=stated or facing_names(facings[0]),
                path=self._path_over(facings[0], net),
                cut=tuple(dict.fromkeys(facing.part.element for facing in facings)),
                subject=" | ".join(stated) if stated else ", ".join(sorted(couplers(facings), key=str.casefold)),
                resistance=0.0,
                level=level_anywhere(self.s.facts),
                node_0_only=False,
                couplers=couplers(facings),
                shared_net=net,
            )
        )
        self.concerned.append((self._party(facings[0], 0),))
        self.removed.update(self._straddling(facings))

    def _straddling(self, facings: Sequence[Facing]) -> set[int]:
        """The port groups among them that lie on two islands with something of their own."""
        of_group = self.s.links.of_group
        keys = [(facing.part.element, group) for facing in facings for group in facing.groups]
        groups = {of_group[key] for key in keys if key in of_group}
        apart = partition(self.s.links, self.s.strong, self.s.ports, self.s.limit, self.removed | groups, self.gone)
        held = {apart.of(net) for net in self.s.strong}
        return {link for link in groups if len({apart.of(net) for net in self.s.links.nets(link)} & held) > 1}

    def _party(self, facing: Facing, end: int) -> Party:
        net = facing.returns[end].net
        if net in (NONE, self.s.holders.simulation_ground):
            return self._floating(facing, end)
        return self.parties.of_reference(net)

    def _floating(self, facing: Facing, end: int) -> Party:
        group = facing.groups[end]
        return self.parties.of_pins(facing.part, group, self.s.group_nets(facing.part, group))

    def _other_return(self, facing: Facing) -> tuple[Party, Party] | None:
        """Where one resistor or wire alone ties a group to what the other returns to, that is the fault: give the
        parties as they are without it; where nothing proven does, the group returns to nothing. None where both groups
        are truly held by one net."""
        for end in (0, 1):
            if facing.returns[end].distance == 0:
                continue
            shared = self._party(facing, end)
            floating = self._floating(facing, end)
            owner, _ = self._owner(FacingSides(floating, shared))
            ends = Terminals(owner, 0, 1, False, self.gone)
            found = between(self.graph, ends, self.s.limit, self.removed, unknown=False)
            if found is None:
                through = Terminals(owner, 0, 1, True, self.gone)
                if between(self.graph, through, self.s.limit, self.removed, unknown=False) is None:
                    # A bleeder led there, on an island that only a part which nobody explained makes one.
                    return floating, shared
                continue
            cut, spared = smallest_cut(self.graph, found, ends, self.s.limit)
            if len(cut) == 1 and self.s.links.kinds[cut[0]] in (RESISTOR, LOW):
                own, facing_nets = (self.s.group_nets(facing.part, facing.groups[here]) for here in (end, 1 - end))
                again = find_return(
                    self.s.links,
                    self.recognition,
                    self.s.holders,
                    self.s.islands,
                    own,
                    facing_nets,
                    [*cut, *spared, *found.harmless],
                )
                known = again.net not in (NONE, self.s.holders.simulation_ground)
                return (self.parties.of_reference(again.net) if known else floating), shared
        return None

    # -- pairs of parties ----------------------------------------------------------------------------------------

    def _owner(self, pair: FacingSides) -> tuple[dict[int, int], set[int]]:
        """Owner by net: 0 and 1 for the pair, higher for third parties."""
        ends = (pair.one, pair.other)
        thirds = [party for party in self.parties.known.values() if party.key[0] != "pins" and party not in ends]
        return hold(self.graph, [*ends, *thirds], self.gone)

    def _joined_for_certain(self, pair: FacingSides) -> bool:
        owner, _ = self._owner(pair)
        return (
            between(self.graph, Terminals(owner, 0, 1, True, self.gone), self.s.limit, self.removed, unknown=False)
            is not None
        )

    def _share_island(self, pair: FacingSides) -> bool:
        """Whether a pair is still joined, the joins found so far taken out."""
        if self._current[:2] != (len(self.removed), self.gone):
            fresh = partition(self.s.links, self.s.strong, self.s.ports, self.s.limit, self.removed, self.gone)
            self._current = len(self.removed), self.gone, fresh
        of = self._current[2].of
        return not {of(net) for net in pair.one.roots}.isdisjoint(of(net) for net in pair.other.roots)

    def _settle(self, pair: FacingSides, unknown: bool, through: bool, limit: float = 0.0) -> None:
        """Add the join of a pair that is still joined, and take its cut out."""
        if not self._share_island(pair):
            return
        owner, held = self._owner(pair)
        ends = Terminals(owner, 0, 1, through, self.gone)
        found = between(self.graph, ends, limit or self.s.limit, self.removed, unknown)
        if found is None:
            return
        strangers = self.strangers if unknown else frozenset[int]()
        held -= self.removed
        join, cut = join_of_pair(self.s, self.parties, self.graph, pair, found, ends, held, strangers)
        self.joins.append(join._replace(apart=self._apart(pair, join, cut, found, ends, held, limit or self.s.limit)))
        self.concerned.append((pair.one, pair.other))
        self.removed.update(cut)

    def _apart(
        self,
        pair: FacingSides,
        join: Join,
        cut: Sequence[int],
        found: Between,
        ends: Terminals,
        held: set[int],
        limit: float,
    ) -> tuple[Join, ...]:
        """Each element of a cut that joins by itself, told with a path of its own, then what joins only together."""
        by_card: dict[tuple[int, int], list[int]] = {}
        for link in sorted(cut, key=lambda link: _order(join, self.s.links.elements[link])):
            element = self.s.links.elements[link]
            if element < 0:
                return ()
            # One card in several instances of a block is one fault.
            instance, local = self.circuit.locate(element)
            by_card.setdefault((self.circuit.block(instance).members[0], local), []).append(link)
        if join.unknown or not 1 < len(by_card) <= MOST_APART:
            return ()
        _, spared = smallest_cut(self.graph, found, ends, self.s.limit)

        def told(blamed: list[int], barred: list[int]) -> Join | None:
            alone = between(self.graph, ends, limit, self.removed.union(barred), unknown=False)
            if alone is None:
                return None
            own = (blamed, barred)
            within = held.difference(barred)
            return join_of_pair(self.s, self.parties, self.graph, pair, alone, ends, within, frozenset(), own)[0]

        apart: list[Join] = []
        together: list[int] = []
        for own in by_card.values():
            alone = told(own, [*spared, *(link for link in cut if link not in own)])
            if alone is None:
                together += own
            else:
                apart.append(alone)
        rest = told([*together, *spared], [link for link in cut if link not in together]) if apart else None
        return (*apart, rest) if rest is not None else tuple(apart)

    def _add_rest(self, meeting: Sequence[Facing]) -> None:
        """Groups that still meet though nothing above explains how: joined from pin to pin, so that nothing passes."""
        named = {coupler for join in self.joins for coupler in join.couplers}
        for facing in meeting:
            if facing.part.path in named or self._excused(facing):
                continue
            pair = FacingSides(self._floating(facing, 0), self._floating(facing, 1), [facing])
            before = len(self.joins)
            for unknown in (False, True):
                self._settle(pair, unknown, True, math.inf)
            if len(self.joins) == before and self._share_island(pair):
                self._add_one_net([facing])
            elif len(self.joins) == before:
                self._credit(pair)

    def _credit(self, pair: FacingSides) -> None:
        """Name the couplers of a pair whose join was found under another pair."""
        named = {coupler for join in self.joins for coupler in join.couplers}
        missing = tuple(coupler for coupler in couplers(pair.facings) if coupler not in named)
        if missing and self.joins:
            near = [at for at, ends in enumerate(self.concerned) if pair.one in ends or pair.other in ends]
            at = near[0] if near else 0
            self.joins[at] = self.joins[at]._replace(couplers=(*self.joins[at].couplers, *missing))
