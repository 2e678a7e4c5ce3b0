"""Work on sides done once for a subcircuit and not for each of its instances.

What hangs inside an instance on one island that is a side, or part of one, changes nothing about sides: it belongs to
what it hangs on. A summary of the definition says which inner nets hang together and on which nets; per instance it
remains to look whether these are one island. Where they are not, the elements are looked at one by one; and where sides
turn out to be joined, all elements are.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

from isolint.circuit import Block, Circuit, Region, Summary, summarise
from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import control_nets
from isolint.interfaces.entities import Recognition

_HANGING = frozenset("RLDQMJITO")
"""Letters of which all pins conduct, and which hold nothing by themselves."""

_MANY = 10_000
_SPARED = 0.6
"""So many elements are few, and so large a share of many is worth to be spared."""

Ends = tuple[int, int]
"""A net by local number, or a region as -1 minus its position, at each end of capacitors."""


Capacitors = Mapping[Ends, list[int]]
"""The capacitors of a definition by what they lie between, each list ascending."""


class Reduction:
    """The definitions that are placed several times, and the regions that are looked at element by element all the
    same, as (instance, region)."""

    def __init__(self, circuit: Circuit, bodies: Mapping[int, Summary], off: int, opened: frozenset[Ends]) -> None:
        self.circuit = circuit
        self._bodies = bodies
        self._off = off
        self.opened = opened

    def _body(self, instance: int) -> Summary | None:
        return self._bodies.get(self.circuit.block(instance).scope)

    def elements(self, instance: int) -> Sequence[int]:
        """The cards of an instance that are looked at, ascending."""
        body = self._body(instance)
        if body is None:
            return range(len(self.circuit.block(instance).letters))
        opened = [region for number, region in enumerate(body.regions) if (instance, number) in self.opened]
        if not opened:
            return body.kept
        return sorted((*body.kept, *(element for region in opened for element in region.elements)))

    def undecided(self, wired: Islands, own: Iterable[int]) -> frozenset[Ends]:
        """The regions that hang on several islands, or on one that may be no side, with those looked at anyway.

        wired: nets joined by whatever is no resistor. own: nets that make a side of the island that they lie on.
        """
        terminal = {wired.of(net) for net in own}
        found = set(self.opened)
        for instance, number, region in self._all():
            ends = {self.circuit.canonical(instance, net) for net in region.ends}
            islands = {wired.of(net) for net in ends}
            if len(islands) != 1 or self._off in ends or not islands <= terminal:
                found.add((instance, number))
        return frozenset(found)

    def opening(self, regions: frozenset[Ends]) -> Reduction:
        """The same with these regions looked at element by element."""
        return Reduction(self.circuit, self._bodies, self._off, regions)

    def _all(self) -> Iterator[tuple[int, int, Region]]:
        for instance in self.circuit.instances:
            body = self._body(instance)
            for number, region in enumerate(body.regions if body is not None else ()):
                if (instance, number) not in self.opened:
                    yield instance, number, region

    def hung(self) -> Iterator[tuple[int, int, int]]:
        """Of each region that is not looked at: a net that it hangs on, how many nets and conducting elements."""
        conducting: dict[tuple[int, int], int] = {}
        for instance, number, region in self._all():
            block = self.circuit.block(instance)
            count = conducting.get((block.scope, number))
            if count is None:
                pins = block.pins
                count = sum(len(set(pins[element])) > 1 for element in region.elements)
                conducting[(block.scope, number)] = count
            yield self.circuit.canonical(instance, region.ends[0]), len(region.nets), count

    def host(self, net: int) -> int:
        """A net that the region of `net` hangs on; the net itself where it is looked at."""
        instance, local = self.circuit.locate_net(net)
        body = self._body(instance)
        number = None if body is None else body.region_of.get(local)
        if body is None or number is None or (instance, number) in self.opened:
            return net
        return self.circuit.canonical(instance, body.regions[number].ends[0])

    def capacitors(self, same: Callable[[int, int], bool]) -> Iterator[int]:
        """The capacitors but those that surely lie within one side. same: whether two nets lie on one."""
        known: dict[int, Capacitors] = {}
        for instance in self.circuit.instances:
            body, base = self._body(instance), self.circuit.first_element(instance)
            block = self.circuit.block(instance)
            if body is None:
                yield from (base + index for index in block.with_letters(frozenset("C")))
                continue
            if block.scope not in known:
                known[block.scope] = _capacitors(block, body.region_of)
            found: list[int] = []
            for ends, elements in known[block.scope].items():
                nets = [self._stands(instance, body, end) for end in ends]
                if None in nets or not same(*(net for net in nets if net is not None)):
                    found.extend(elements)
            yield from (base + index for index in sorted(found))

    def _stands(self, instance: int, body: Summary, end: int) -> int | None:
        """The net for an end of capacitors; None for a region that is looked at element by element."""
        if end >= 0:
            return self.circuit.canonical(instance, end)
        if (instance, -1 - end) in self.opened:
            return None
        return self.circuit.canonical(instance, body.regions[-1 - end].ends[0])


def reduce(
    circuit: Circuit, recognition: Recognition, ignored: Iterable[int], named: Iterable[int], off: int
) -> Reduction | None:
    """The reduction of a circuit; None where no subcircuit is placed twice.

    ignored: elements that are left out. named: nets of which a fact or a name says something. off: a net that joins
    nothing.
    """
    repeated = {block.scope: block for block in circuit.blocks() if len(block.members) > 1}
    if not repeated or not _is_worth_it(circuit, repeated.values()):
        return None
    special: dict[int, set[int]] = {scope: set() for scope in repeated}
    own: dict[int, set[int]] = {scope: set(block.outer) for scope, block in repeated.items()}
    for element in (*recognition.parts, *recognition.ordinary, *recognition.unknown, *ignored):
        instance, index = circuit.locate(element)
        scope = circuit.block(instance).scope
        if scope in special:
            special[scope].add(index)
    for net in named:
        instance, local = circuit.locate_net(net)
        scope = circuit.block(instance).scope
        if scope in own:
            own[scope].add(local)
    bodies = {scope: _body_of(circuit, block, special[scope], own[scope]) for scope, block in repeated.items()}
    return Reduction(circuit, bodies, off, frozenset())


def _is_worth_it(circuit: Circuit, repeated: Iterable[Block]) -> bool:
    """Whether most elements of a large circuit need not be looked at: else what is found out first is found out in
    vain, and everything is looked at all the same."""
    if circuit.element_count < _MANY:
        return True
    spared = sum((len(block.members) - 1) * len(block.letters) for block in repeated)
    return spared > _SPARED * circuit.element_count


def _body_of(circuit: Circuit, block: Block, special: Collection[int], own: set[int]) -> Summary:
    hanging: list[int] = []
    kept: list[int] = []
    pins, tails, controls = block.pins, block.tails, block.controls
    member = block.members[0]
    base = circuit.first_element(member)
    for index, letter in enumerate(block.letters):
        if letter in _HANGING and index not in special:
            hanging.append(index)
        elif letter not in "CK" or index in special or index in tails:
            kept.append(index)
            own.update(pins[index], controls.get(index, ()))
            for net in () if letter in "CKVX" else control_nets(circuit, base + index):
                instance, local = circuit.locate_net(net)
                if instance == member:
                    own.add(local)
    return summarise(pins, hanging, kept, own, block.net_count)


def _capacitors(block: Block, region_of: Mapping[int, int]) -> Capacitors:
    between: dict[Ends, list[int]] = {}
    for index in block.with_letters(frozenset("C")):
        ends = [-1 - region_of[net] if net in region_of else net for net in block.pins[index]]
        # Whatever has not two pins is left to those who look at it.
        if len(ends) == 2 and (ends[0] != ends[1] or ends[0] < 0):
            between.setdefault((min(ends), max(ends)), []).append(index)
    return between
