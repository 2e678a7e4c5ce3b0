"""Which nets are at 0 V: the stated references first, a name last.

In: circuit, facts, parts, sides. Out: for each net whether drive and load networks return to it. A net that only its
name calls a ground is a reference where nothing is stated of its side and it is the best of the names there, or where
it is joined to such a reference below 10 ohm; else it is a net like any other.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.facts.matching import compile_pattern
from isolint.interfaces.entities import Recognition, Separation
from isolint.interfaces.netnames import is_earth_name, is_ground_name, is_supply_name
from isolint.interfaces.references import grounds_by_name, nets_named

TIE_OHMS = 10.0
"""Below this two nets are one reference, as where a tie of grounds is told."""


@dataclass(slots=True, eq=False, repr=False)
class Grounds:
    """Answers for single nets, each worked out when it is first asked for."""

    circuit: Circuit
    facts: Facts
    recognition: Recognition
    separation: Separation
    _known: dict[int, bool] = field(default_factory=dict)
    _names: frozenset[str] | None = None
    _stated: frozenset[int] | None = None
    _absent: dict[int, str] | None = None
    _assumed: dict[int, int] = field(default_factory=dict)
    _of_supplies: dict[int, set[str]] | None = None
    _of_sources: dict[int, set[int]] | None = None

    def holds(self, net: int) -> bool:
        """Whether a net is a reference, for whatever reason."""
        if net not in self._known:
            self._known[net] = self._find(net)
        return self._known[net]

    def is_mistaken(self, net: int) -> bool:
        """Whether a net bears the name of a ground and is no reference."""
        return is_ground_name(self.circuit.net_name(net)) and not self.holds(net)

    def is_stated(self, net: int) -> bool:
        """Whether a fact calls a net a reference."""
        return self.is_named(self.circuit.net_name(net)) or net in self._stated_nets()

    def is_named(self, name: str) -> bool:
        """Whether a fact calls the ground of a supply, or the simulator's, by this name."""
        return name.casefold() in self.names()

    def names(self) -> frozenset[str]:
        """Nets that facts call a reference, in folded case: grounds of supplies and a declared simulation ground."""
        if self._names is None:
            stated = [row.get("ground") for row in self.facts.supplies.rows.values()]
            stated.append(self.facts.reading.simulation_ground)
            self._names = frozenset(str(ground.value).casefold() for ground in stated if ground is not None)
        return self._names

    def _find(self, net: int) -> bool:
        if self.is_stated(net):
            return True
        if not is_ground_name(self.circuit.net_name(net)):
            return False
        side = self.separation.side_of_net.get(net)
        if side is None:
            return True
        references = self.references(side)
        return net in references or self.is_tied(net, references)

    def references(self, side: int) -> Collection[int]:
        """The references of a side: the stated ones, else the one that is assumed; none where it stands on no card."""
        stated = self._stated_of(side)
        if stated or side in self.absent():
            return stated
        assumed = self.assumed(side)
        return () if assumed is None else (assumed,)

    def assumed(self, side: int) -> int | None:
        """The net that a side is taken to return to for its name alone, None without any.

        Of several the one that sources return to, then the one with most pins; earth and shields last.
        """
        if side not in self._assumed:
            side_of, circuit = self.separation.side_of_net, self.circuit
            named = [net for net in grounds_by_name(circuit) if side_of.get(net) == side]
            self._assumed[side] = -1 if not named else named[0]
            if len(named) > 1:
                self._assumed[side] = min(named, key=self._rank)
        found = self._assumed[side]
        return None if found < 0 else found

    def notes(self) -> tuple[str, ...]:
        """The references that only a name tells, for the assumptions."""
        sides = range(len(self.separation.sides))
        alone = [side for side in sides if not self._stated_of(side) and side not in self.absent()]
        found = [net for side in alone if (net := self.assumed(side)) is not None]
        if not found:
            return ()
        names = ", ".join(sorted({self.circuit.net_name(net) for net in found}, key=str.casefold))
        return (
            f"assumed: {names}: {'the reference of its side' if len(found) == 1 else 'references of sides'} by name",
        )

    def _stated_of(self, side: int) -> list[int]:
        return [net for net in self._stated_nets() if self.separation.side_of_net.get(net) == side]

    def _rank(self, net: int) -> tuple[int, bool, int, str]:
        """Orders the nets that bear the name of a ground, the best first."""
        name = self.circuit.net_name(net)
        return -self._sources_at(net), is_earth_name(name), -len(self.circuit.elements_at(net)), name

    def _sources_at(self, net: int) -> int:
        return sum(self.circuit.letter(element) == "V" for element, _ in self.circuit.elements_at(net))

    def absent(self) -> dict[int, str]:
        """The sides whose stated reference stands on no card, with its name."""
        if self._absent is None:
            self._absent = {}
            for net, name in self._returns():
                side = self.separation.side_of_net.get(net)
                if side is not None and self.circuit.find_net(name) is None:
                    self._absent.setdefault(side, name)
            for number, side_found in enumerate(self.separation.sides):
                stated = self.facts.sides.get(side_found.stated) if side_found.stated else None
                names = () if stated is None or stated.nets is None else stated.nets.value
                if names and not any(nets_named(self.circuit, name) for name in names):
                    self._absent.setdefault(number, names[0])
        return self._absent

    def _returns(self) -> Iterable[tuple[int, str]]:
        """Nets of stated supplies, outputs and inputs, with the ground that is stated for them."""
        for rows in (self.facts.supplies.rows, self.facts.outputs.rows, self.facts.inputs.rows):
            for written in rows:
                for net in self.circuit.nets_like(written.casefold(), compile_pattern(written)):
                    name = self.circuit.net_name(net)
                    port = self.facts.output(name) or self.facts.input(name)
                    feeding = port.supply.value if port is not None and port.supply is not None else name
                    supply = self.facts.supply(feeding)
                    if supply is not None and supply.ground is not None:
                        yield net, supply.ground.value

    def _stated_nets(self) -> frozenset[int]:
        """Nets that facts state as references: grounds of supplies, and what stated sides name."""
        if self._stated is None:
            found = {net for name in self.names() if (net := self.circuit.find_net(name)) is not None}
            for side in self.facts.sides.values():
                names = () if side.nets is None else side.nets.value
                nets = [net for name in names for net in nets_named(self.circuit, name)]
                grounds = [net for net in nets if is_ground_name(self.circuit.net_name(net))]
                found.update(grounds)
                if not grounds and not any(name.casefold() in self.names() for name in names):
                    found.update(net for net in nets if not self._is_fed(net) and not self._is_signal(net))
            self._stated = frozenset(found)
        return self._stated

    def _is_fed(self, net: int) -> bool:
        """Whether a net is a supply or a signal rather than what its side returns to."""
        name = self.circuit.net_name(net)
        facts = (self.facts.supply(name), self.facts.output(name), self.facts.input(name), self.facts.line(name))
        return is_supply_name(name) or any(fact is not None for fact in facts)

    def _is_signal(self, net: int) -> bool:
        """Whether a net lies on a side whose supplies or sources return elsewhere, or lies between a resistor and an
        LED's anode or a collector: it says where its side is, and is not at 0 V itself."""
        side = self.separation.side_of_net.get(net)
        if side is not None:
            if self._grounds_of_supplies().get(side, set()) - {self.circuit.net_name(net).casefold()}:
                return True
            if self._grounds_of_sources().get(side, set()) - {net} and not self._returns_source(net):
                return True
        touching = self.circuit.elements_at(net)
        parts = [(part, pin) for element, pin in touching if (part := self.recognition.parts.get(element)) is not None]
        ends = {part.roles[pin] for part, pin in parts if pin < len(part.roles)}
        fed = any(self.circuit.letter(element) == "R" for element, _ in touching)
        return fed and len(parts) == 1 and ends <= {"anode", "collector"}

    def _grounds_of_supplies(self) -> dict[int, set[str]]:
        """By side, the grounds that are stated for its supplies, outputs and inputs, in folded case."""
        if self._of_supplies is None:
            self._of_supplies = {}
            for net, name in self._returns():
                side = self.separation.side_of_net.get(net)
                if side is not None:
                    self._of_supplies.setdefault(side, set()).add(name.casefold())
        return self._of_supplies

    def _grounds_of_sources(self) -> dict[int, set[int]]:
        """By side, the nets to which sources return and which bear the name of a ground."""
        if self._of_sources is None:
            self._of_sources = {}
            for net in grounds_by_name(self.circuit):
                side = self.separation.side_of_net.get(net)
                if side is not None and self._sources_at(net):
                    self._of_sources.setdefault(side, set()).add(net)
        return self._of_sources

    def _returns_source(self, net: int) -> bool:
        """Whether a source lies between a net and one that bears no name of a ground."""
        return any(
            self.circuit.letter(element) == "V"
            and not any(is_ground_name(self.circuit.net_name(pin)) for pin in self.circuit.pins(element))
            for element, _ in self.circuit.elements_at(net)
        )

    # -- what is joined ---------------------------------------------------------------------------------------

    def is_tied(self, start: int, references: Collection[int]) -> bool:
        """Whether a net is joined to a reference below 10 ohm, or through a part that joins all its pins."""
        wanted = set(references)
        if not wanted:
            return False
        waiting = deque([(start, 0.0)])
        least = {start: 0.0}
        while waiting:
            net, ohms = waiting.popleft()
            if net in wanted:
                return True
            for element, pin in self.circuit.elements_at(net):
                more, others = self._joint(element, pin)
                if ohms + more < TIE_OHMS:
                    for other in others:
                        if ohms + more < least.get(other, TIE_OHMS):
                            least[other] = ohms + more
                            waiting.append((other, ohms + more))
        return False

    def _joint(self, element: int, pin: int) -> tuple[float, tuple[int, ...]]:
        """The resistance through an element from one pin and the nets behind it; none where it is no joint."""
        circuit = self.circuit
        if element in self.separation.ignored:
            return 0.0, ()
        part = self.recognition.parts.get(element)
        pins = circuit.pins(element)
        if part is not None:
            own = next((group for group in part.groups if pin in group), ())
            alike = part.roles[pin] == "ground" if pin < len(part.roles) else False
            return 0.0, tuple(pins[other] for other in own if alike and part.roles[other] == "ground")
        if element in self.recognition.ordinary or element in self.recognition.unknown:
            return 0.0, tuple(pins[other] for other in self.recognition.joined(element, pin, len(pins)))
        letter, value = circuit.letter(element), circuit.value(element)
        if letter == "R" and value is not None:
            return abs(value), pins
        wire = letter == "V" and value == 0.0 and circuit.stimulus(element) is None
        return 0.0, pins if letter == "L" or wire else ()
