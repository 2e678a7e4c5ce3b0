"""Words about elements and nets, as messages say them.

In: a circuit. Out: names with places, chains of related elements. Knows nothing of rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from isolint.circuit import Circuit
from isolint.errors import Place
from isolint.results import Related
from isolint.units import show

_UNITS = {"R": "ohm", "L": "H", "C": "F", "V": "V", "I": "A"}


class Naming:
    """The elements and nets of one circuit in words."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self._by_place: Mapping[Place, Sequence[int]] | None = None

    def place(self, element: int) -> Place:
        """Where an element's card stands."""
        return self.circuit.place(element)

    def named(self, element: int) -> str:
        """An element with its place: `R4 (board.cir:12)`."""
        place = self.place(element)
        return f"{self.circuit.path(element)} ({place.file.rsplit('/', 1)[-1]}:{place.line})"

    def net(self, net: int) -> str:
        """The name of a net."""
        return self.circuit.net_name(net)

    def related(self, elements: Iterable[int]) -> tuple[Related, ...]:
        """The chain through some elements, each with its value where it has one."""
        chain: list[Related] = []
        for element in dict.fromkeys(elements):
            value = self.circuit.value(element)
            unit = _UNITS.get(self.circuit.letter(element), "")
            shown = f" {show(value, unit)}" if value is not None and unit else ""
            nets = " ".join(self.net(net) for net in self.circuit.pins(element))
            chain.append(Related(self.place(element), f"{self.circuit.path(element)}{shown} ({nets})"))
        return tuple(chain)

    def elements_at(self, place: Place) -> Sequence[int]:
        """The elements whose card stands at a place; several for a card in a sheet that is used several times."""
        if self._by_place is None:
            by_place: dict[Place, list[int]] = {}
            for element in self.circuit.elements():
                by_place.setdefault(self.circuit.place(element), []).append(element)
            self._by_place = by_place
        return self._by_place.get(place, ())
