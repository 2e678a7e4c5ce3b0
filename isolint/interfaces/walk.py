"""Drive and load networks: breadth-first walks from a coupler's pins over the query API.

A walk goes through everything that conducts and stops at nets that something holds: references, supplies, outputs and
lines. It finds the resistor wherever it sits.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.interfaces.entities import Boundary, BoundaryKind, Network, Pair, Part, Recognition
from isolint.interfaces.grounds import Grounds
from isolint.interfaces.netnames import is_ground_name, is_supply_name, voltage_of_name
from isolint.interfaces.pinsets import output_pairs

__all__ = ["MAX_ELEMENTS", "Walker", "is_ground_name", "is_supply_name", "voltage_of_name"]

MAX_ELEMENTS = 80
_CONDUCTORS = frozenset("RLDVIQMJS")
_LIT = frozenset(("anode", "cathode"))
_FEEDING = frozenset(("supply", "output", "line", "part"))


class _Met:
    """What one walk has met; `own`: the pins that it starts from, with their element; `side`: that of its start."""

    __slots__ = ("boundary", "inner", "own", "pairs", "receivers", "seen", "side", "start", "visited", "waiting")

    def __init__(
        self, start: tuple[int, ...], own: tuple[int, tuple[int, ...]] | None, receivers: bool, side: int | None
    ) -> None:
        self.start, self.own, self.receivers, self.side = start, own, receivers, side
        self.waiting = deque(start)
        self.seen = set(start)
        self.visited: dict[tuple[int, int], tuple[int, ...]] = {} if own is None else {(own[0], own[1][0]): ()}
        self.inner: list[int] = []
        self.boundary: list[Boundary] = []
        self.pairs: dict[Pair, None] = {}

    def lead_to(self, nets: Iterable[int]) -> None:
        """Visit nets later, unless they are met already."""
        for net in nets:
            if net not in self.seen:
                self.seen.add(net)
                self.waiting.append(net)


@dataclass(slots=True, eq=False, repr=False)
class Walker:
    """Walks one circuit; knows which nets something holds."""

    circuit: Circuit
    facts: Facts
    recognition: Recognition
    grounds: Grounds
    ignored: frozenset[int] = frozenset()
    _held: dict[int, Boundary | None] = field(default_factory=dict)
    _pairs: dict[int, tuple[Pair, ...]] = field(default_factory=dict)

    def held(self, net: int) -> Boundary | None:
        """What holds a net: a reference, a supply, an output, a line, a source; None for nets inside a network."""
        if net not in self._held:
            self._held[net] = self._find_held(net)
        return self._held[net]

    def _find_held(self, net: int) -> Boundary | None:
        name = self.circuit.net_name(net)
        kind = self._stated_kind(name)
        if kind is not None:
            return Boundary(net, kind)
        if is_ground_name(name) and self.grounds.holds(net):
            return Boundary(net, "ground")
        for element, _ in self.circuit.elements_at(net):
            if element not in self.ignored and self.circuit.letter(element) == "V" and self._is_real_source(element):
                others = [other for other in self.circuit.pins(element) if other != net]
                if any(self.grounds.holds(other) for other in others):
                    moves = self.circuit.stimulus(element) is not None
                    return Boundary(net, "output" if moves else "supply", element)
        if is_supply_name(name):
            return Boundary(net, "supply")
        return Boundary(net, "ground") if self.grounds.holds(net) else None

    def _stated_kind(self, name: str) -> BoundaryKind | None:
        if self.grounds.is_named(name):
            return "ground"
        if self.facts.supply(name) is not None:
            return "supply"
        if self.facts.output(name) is not None:
            return "output"
        if self.facts.line(name) is not None:
            return "line"
        return None

    def _is_real_source(self, element: int) -> bool:
        value = self.circuit.value(element)
        unknown = value is None and bool(self.circuit.value_text(element))
        return unknown or self.circuit.stimulus(element) is not None or (value is not None and value != 0.0)

    def walk(self, part: Part, group: tuple[int, ...], receivers: bool) -> Network:
        """Everything around the pins `group` of `part`, up to nets that are held.

        `receivers`: nets that stated inputs read are marked as boundary, though the walk goes on through them.
        """
        pins = self.circuit.pins(part.element)
        return self._spread(tuple(dict.fromkeys(pins[pin] for pin in group)), (part.element, group), receivers)

    def floats(self, network: Network) -> bool:
        """Whether a network holds a source and leads to nothing that is held."""
        if any(held.kind != "loose" for held in network.boundary):
            return False
        return any(
            self.circuit.letter(element) == "V" and self._is_real_source(element) for element in network.elements
        )

    def around(self, net: int) -> Network:
        """Everything that hangs on a net, up to other nets that are held, as though nothing held this one."""
        return self._spread((net,), None, False)

    def _spread(self, start: tuple[int, ...], own: tuple[int, tuple[int, ...]] | None, receivers: bool) -> Network:
        # Across a barrier only what insulates leads on: an output there is none of this network.
        side_of = self.grounds.separation.side_of_net
        met = _Met(start, own, receivers, next((side_of[net] for net in start if net in side_of), None))
        complete = True
        while met.waiting and complete:
            complete = self._visit(met, met.waiting.popleft())
        if own is not None:
            del met.visited[(own[0], own[1][0])]
        self._end_at_capacitors(met)
        visited, inner, boundary = met.visited, met.inner, met.boundary
        if not receivers and complete:
            boundary += self._undriven(visited, inner, boundary, list(start))
        leds = tuple(
            (element, through[1:]) for (element, _), through in visited.items() if element in self.recognition.parts
        )
        elements = tuple(dict.fromkeys(element for element, _ in visited))
        return Network(elements, tuple(inner), tuple(dict.fromkeys(boundary)), leds, complete, tuple(met.pairs))

    def _visit(self, met: _Met, net: int) -> bool:
        """Take a net into a walk with what it leads to; False where there is more than any network has."""
        own, receivers, visited = met.own, met.receivers, met.visited
        holder = self.held(net)
        floats = False
        if holder is not None and (own is not None or net not in met.start):
            met.boundary.append(holder)
            floats = not receivers and self._may_float(holder)
            if not floats:
                return True
        met.inner.append(net)
        touched = [(element, pin) for element, pin in self.circuit.elements_at(net) if element not in self.ignored]
        reads = receivers and self.facts.input(self.circuit.net_name(net)) is not None
        if reads:
            met.boundary.append(Boundary(net, "input"))
        elif not floats and sum(self.circuit.letter(element) not in "CK" for element, _ in touched) < 2:
            met.boundary.append(Boundary(net, "loose"))
        crosses = own is not None and self.grounds.separation.side_of_net.get(net, met.side) == met.side
        for element, pin in touched:
            if own is not None and element == own[0] and pin in own[1]:
                continue
            crossed = self.pairs_at(element, pin) if crosses else ()
            if crossed:
                met.pairs.update(dict.fromkeys(crossed))
                met.lead_to(self.circuit.pins(element)[far] for pair in crossed for far in pair[1:])
                continue
            through = self._leads_through(element, pin, net, receivers)
            if through is None:
                if not reads and not floats:
                    met.boundary.append(Boundary(net, "part", element))
                continue
            key = (element, through[0])
            if key in visited:
                continue
            if len(visited) > MAX_ELEMENTS:
                return False
            visited[key] = through
            met.lead_to(self.circuit.pins(element)[index] for index in through[1:])
        return True

    def _leads_through(self, element: int, pin: int, net: int, receivers: bool) -> tuple[int, ...] | None:
        """Like `through`, with what only one kind of walk goes through."""
        if not receivers and self.circuit.letter(element) == "C" and self._alternates_behind(element, net):
            return (-1, *range(len(self.circuit.pins(element))))
        if element in self.recognition.shunts:
            return self._through_shunt(element, pin, receivers)
        return self.through(element, pin)

    def _end_at_capacitors(self, met: _Met) -> None:
        """Keep of the capacitors those to what was reached and to grounds.

        The others lead out of the network, where no direct current says what their far end is at.
        """
        reached = {*met.inner, *(held.net for held in met.boundary)}
        for branch in list(met.visited):
            if self.circuit.letter(branch[0]) != "C":
                continue
            far = [net for net in self.circuit.pins(branch[0]) if net not in reached]
            grounds = [held for net in far if (held := self.held(net)) is not None and held.kind == "ground"]
            if len(grounds) == len(far):
                met.boundary += grounds
            else:
                del met.visited[branch]

    def _through_shunt(self, element: int, pin: int, receivers: bool) -> tuple[int, ...] | None:
        """Where a walk goes from a shunt reference: from cathode to anode, never from its input, which takes nothing.

        In a load it is a Zener diode or something that nobody looks into.
        """
        shunt = self.recognition.shunts[element]
        nets = self.circuit.pins(element)
        if not shunt.pins or (receivers and nets[shunt.pins[2]] != nets[shunt.pins[0]]):
            return None
        return (-3,) if pin == shunt.pins[2] else (-1, *shunt.pins[:2])

    def pairs_at(self, element: int, pin: int) -> tuple[Pair, ...]:
        """The outputs of a coupler that one of its pins belongs to and that open or close a way; none elsewhere."""
        part = self.recognition.parts.get(element)
        if part is None:
            return ()
        if element not in self._pairs:
            self._pairs[element] = output_pairs(part)
        return tuple(pair for pair in self._pairs[element] if pin in pair[1:])

    def _undriven(
        self, visited: Mapping[tuple[int, int], object], inner: list[int], boundary: list[Boundary], own: list[int]
    ) -> list[Boundary]:
        """The nets that may come from elsewhere where nothing feeds a drive network: a connector is on no card."""
        if any(held.kind in _FEEDING or held.kind == "loose" for held in boundary):
            return []
        if any(self.circuit.letter(element) == "I" for element, _ in visited):
            return []
        if any(self.circuit.letter(element) == "V" and self._is_real_source(element) for element, _ in visited):
            return []
        return [Boundary(net, "loose") for net in inner if net not in own] or [Boundary(net, "loose") for net in inner]

    def _may_float(self, holder: Boundary) -> bool:
        """Whether a stated output leaves its net free in one of its states, so that what pulls it counts then."""
        if holder.kind != "output" or holder.element >= 0:
            return False
        fact = self.facts.output(self.circuit.net_name(holder.net))
        if fact is None:
            return False
        drive = "push-pull" if fact.drive is None else fact.drive.value
        return drive != "push-pull" or (fact.unpowered is not None and fact.unpowered.value)

    def _alternates_behind(self, element: int, net: int) -> bool:
        """Whether a capacitor leads to an alternating source through R, L, S and other capacitors only."""
        waiting = deque(other for other in self.circuit.pins(element) if other != net)
        seen = {net, *waiting}
        while waiting and len(seen) < MAX_ELEMENTS:
            here = waiting.popleft()
            holder = self.held(here)
            if holder is not None:
                if self.alternates(holder):
                    return True
                continue
            for other, _ in self.circuit.elements_at(here):
                if other in self.ignored or self.circuit.letter(other) not in "RLCS":
                    continue
                for far in self.circuit.pins(other):
                    if far not in seen:
                        seen.add(far)
                        waiting.append(far)
        return False

    def alternates(self, holder: Boundary) -> bool:
        """Whether a net is held by a stated AC supply or line, or a SIN source."""
        if holder.element >= 0:
            stimulus = self.circuit.stimulus(holder.element)
            return stimulus is not None and stimulus[0] == "SIN"
        name = self.circuit.net_name(holder.net)
        fact = self.facts.line(name) if holder.kind == "line" else self.facts.supply(name)
        return fact is not None and fact.alternates

    def through(self, element: int, pin: int) -> tuple[int, ...] | None:
        """Where a walk goes from one pin of an element: a key, then pin indices; None where it must stop.

        The key tells the branches of one part apart: for a coupler the first pin of the LED or coil that `pin` is of.
        """
        circuit = self.circuit
        part = self.recognition.parts.get(element)
        if part is not None:
            group = next((group for group in part.groups if pin in group), ())
            if part.roles[pin] in _LIT:
                # The servo diode of a linear coupler lies in its LED's group, and is a branch of its own.
                group = tuple(index for index in group if part.roles[index] in _LIT)
            roles = sorted(part.roles[index] for index in group)
            if roles not in (["anode", "cathode"], ["anode", "anode"]) and set(roles) != {"coil"}:
                return None
            return (group[0], *group)
        if element in self.recognition.unknown:
            return None
        letter = circuit.letter(element)
        if letter in "CK":
            # No direct current: the element is listed, the walk does not go on through it.
            return (-1,)
        if letter == "M" and pin == 1:
            # A gate takes no current: its level counts against the source, whatever hangs on the drain.
            return (-2, *range(2, len(circuit.pins(element))))
        if letter in _CONDUCTORS:
            return (-1, *range(len(circuit.pins(element))))
        return None
