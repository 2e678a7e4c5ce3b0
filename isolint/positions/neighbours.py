"""What lies around the pins of a part: a series resistor at an LED, a diode across a coil, terminals, supplies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from isolint.circuit import Circuit
from isolint.interfaces.netnames import is_supply_name
from isolint.positions.flat import Flat
from isolint.positions.united import Union

_MANY = 4
"""Elements at a net from which it is no LED's own net."""


class Neighbours:
    """Answers about single nets, each worked out once."""

    def __init__(self, flat: Flat, union: Union) -> None:
        self.flat = flat
        self.union = union
        self.circuit: Circuit = flat.circuit
        self._supply: dict[int, bool] = {}
        self._bypassed = self._find_bypassed()
        self._fed = {nets[0] for _, nets in flat.sources if nets}
        self._terminals = {net for _, nets in flat.connectors for net in nets}
        root = union.parent
        self.islands = [[root[net] for net in nets] for _, nets in flat.parts]
        """The islands of the pins of each unexplained part, in their order."""
        self.pins_on: Counter[int] = Counter()
        """How many pins of unexplained parts lie on an island."""
        for islands in self.islands:
            self.pins_on.update(islands)
        self._resistors = Counter(net for _, nets in flat.resistors for net in nets)
        self._bridged = {ends for _, nets in flat.resistors for ends in (nets, nets[::-1])}
        self._single = {net for net, count in self._resistors.items() if count == 1}
        self._at_diodes = {net for _, nets in flat.diodes for net in nets}
        self._diodes = {ends for _, nets in flat.diodes for ends in (nets, nets[::-1])}
        self._across: dict[int, list[tuple[int, ...]]] = {}
        for column in (flat.diodes, flat.capacitors):
            for _, nets in column:
                for net in nets:
                    if flat.degree[net] <= _MANY:
                        self._across.setdefault(net, []).append(nets)

    def _find_bypassed(self) -> set[int]:
        """The nets with two capacitors or more to one other net."""
        counted: Counter[tuple[int, int]] = Counter()
        for _, nets in self.flat.capacitors:
            if len(nets) > 1:
                counted[min(nets), max(nets)] += 1
        return {net for pair, number in counted.items() if number > 1 for net in pair}

    def is_supply(self, net: int) -> bool:
        """Whether a net is a supply by its name, a source at it, or capacitors to one other net."""
        known = self._supply.get(net)
        if known is None:
            known = net not in self.union.references.of_net and (
                net in self._fed or net in self._bypassed or self._has_supply_name(net)
            )
            self._supply[net] = known
        return known

    def is_fed(self, net: int) -> bool:
        """Whether a source holds a net that is no reference."""
        return net in self._fed and net not in self.union.references.of_net

    def _has_supply_name(self, net: int) -> bool:
        name = self.circuit.net_name(net)
        # Whatever names a supply holds this letter.
        return "v" in name.lower() and is_supply_name(name)

    def is_open(self, net: int) -> bool:
        """Whether nothing but one pin touches a net."""
        return self.flat.degree[net] == 1

    def is_terminal(self, net: int) -> bool:
        """Whether a net leads to a connector and to one pin beside it, no reference and no supply."""
        return net in self._terminals and net not in self.union.references.of_net and not self.is_supply(net)

    def is_apart(self, pair: tuple[int, ...], islands: Sequence[int]) -> bool:
        """Whether no other unexplained part, and none of its own other pins, touches the islands of some of its pins.

        islands: those of all its pins.
        """
        own = [islands[pin] for pin in pair]
        return all(self.pins_on[island] == own.count(island) == islands.count(island) for island in own)

    def led_pair(self, nets: tuple[int, ...], labels: Sequence[int | None]) -> tuple[int, ...]:
        """Two neighbours among the first three pins, not on two domains, of which one hangs on a resistor alone, by
        index; () for none."""
        for first in (0, 1):
            one, other = nets[first], nets[first + 1]
            if one not in self._single and other not in self._single:
                continue
            apart = len({*labels[first : first + 2]} - {None}) > 1
            if one != other and not apart and (self._lit(one, other) or self._lit(other, one)):
                return (first, first + 1)
        return ()

    def _lit(self, net: int, other: int) -> bool:
        """Whether a net joins a pin to one resistor only; a diode or capacitor there lies across to the other pin."""
        if net not in self._single or (net, other) in self._bridged:
            return False
        across = self._across.get(net, ())
        return self.flat.degree[net] == 2 + len(across) and all(other in nets for nets in across)

    def coil(self, nets: tuple[int, ...]) -> tuple[int, ...]:
        """Two neighbouring pins across which a diode lies and no resistor leads there, by index; () for none."""
        if self._at_diodes.isdisjoint(nets):
            return ()
        for first in range(len(nets) - 1):
            one, other = nets[first], nets[first + 1]
            if (
                one != other
                and (one, other) in self._diodes
                and not (one in self._resistors and other in self._resistors)
            ):
                return (first, first + 1)
        return ()

    def letters_at(self, net: int) -> list[tuple[str, int]]:
        """Letter and element of what touches a net; nothing where that is much."""
        if self.flat.degree[net] > _MANY:
            return []
        return [(self.circuit.letter(element), element) for element, _ in self.circuit.elements_at(net)]
