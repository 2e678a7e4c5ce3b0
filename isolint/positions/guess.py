"""The groups of pins that a part's place shows, and what it perhaps is. A guess to confirm, never a fact."""

from __future__ import annotations

from typing import NamedTuple

from isolint.positions.flat import Flat
from isolint.positions.neighbours import Neighbours
from isolint.positions.scores import PartPlace

RECTIFIER = "rectifier or choke"


class Guess(NamedTuple):
    """Two groups of pins by index, the domain of each (None for none), and a type ("" for none)."""

    groups: tuple[tuple[int, ...], ...]
    domains: tuple[int | None, ...]
    type: str


def guess(flat: Flat, near: Neighbours, place: PartPlace) -> Guess:
    """Group the pins of a part and say what it perhaps is."""
    groups, domains = _groups(place)
    return Guess(groups, domains, _type(near, place, groups))


def _groups(place: PartPlace) -> tuple[tuple[tuple[int, ...], ...], tuple[int | None, ...]]:
    """Pins by label, unlabelled ones with their neighbours; without labels the LED pair or the coil, and the rest."""
    labels = place.labels
    pins = range(len(labels))
    if not place.across:
        first = place.pair or place.coil
        if not first:
            half = len(labels) // 2
            first = tuple(pins[:half])
        rest = tuple(pin for pin in pins if pin not in first)
        own = tuple(next((labels[pin] for pin in group if labels[pin] is not None), None) for group in (first, rest))
        return (first, rest), own
    given = list(labels)
    sizes = {label: labels.count(label) for label in labels if label is not None}
    for pin in pins:
        if given[pin] is None:
            left = next((labels[at] for at in range(pin, -1, -1) if labels[at] is not None), None)
            right = next((labels[at] for at in range(pin, len(labels)) if labels[at] is not None), None)
            near = [label for label in (left, right) if label is not None]
            given[pin] = min(near, key=lambda label: sizes[label])
    order = list(dict.fromkeys(label for label in given if label is not None))
    return tuple(tuple(pin for pin in pins if given[pin] == label) for label in order), tuple(order)


def _type(near: Neighbours, place: PartPlace, groups: tuple[tuple[int, ...], ...]) -> str:
    union = near.union
    mains = union.references.mains
    poles = [pin for pin, label in enumerate(place.labels) if label == mains and mains >= 0]
    if len(place.nets) == 4 and len(poles) == 2:
        rest = {union.find(place.nets[pin]) for pin in range(4) if pin not in poles}
        if len(rest) == 1 and not place.told and not place.pair:
            return RECTIFIER
    if place.told and place.told != "coupler":
        return place.told
    nets = place.nets
    sides = [_Side(near, [nets[pin] for pin in group]) for group in groups[:2]]
    if len(sides) < 2:
        return ""
    for small in sides:
        if all(side.supplied and side.grounded for side in sides) and all(side.rest == 0 for side in sides):
            return "isolated-supply"
        if near.coil(nets) and not place.pair and small.count == 2:
            return "relay"
    if all(side.supplied and side.grounded for side in sides):
        return "digital-isolator"
    fed = any(side.fed and side.grounded for side in sides) and all(side.grounded for side in sides)
    if fed and not place.pair and not any(side.pulled for side in sides):
        # No LED is meant to lie straight across a supply; but no supply's output is pulled up to another supply.
        return "isolated-supply"
    return _with_pair(near, place, sides)


def _with_pair(near: Neighbours, place: PartPlace, sides: list[_Side]) -> str:
    first, second = sorted(sides, key=lambda side: side.count)
    fed = [side for side in sides if side.fed and side.grounded and side.count == 2 and not side.pulled]
    pair = fed[0] if len(fed) == 1 else sides[0] if sides[0].count <= 3 else first
    other = second if pair is first else first
    if (
        len(place.nets) == 6
        and sorted((first.count, second.count)) == [2, 4]
        and not other.supplied
        and len(set(place.nets)) == 6
        and other.diodes
    ):
        return "linear"
    if other.supplied and other.grounded:
        return "gate-driver" if other.has_small_resistor else "logic-output"
    if len(other.nets) <= 3:
        if (near.coil(place.nets) and not place.pair) or other.inductive:
            return "transformer"
        if near.union.references.mains >= 0 and near.union.references.mains in place.labels:
            return "phototriac"
        return "phototransistor" if other.grounded or other.supplied else "mosfet-output"
    return ""


class _Side:
    """What one group of pins touches."""

    def __init__(self, near: Neighbours, nets: list[int]) -> None:
        self.near = near
        self.nets = set(nets)
        self.count = len(nets)
        self.supplied = any(map(near.is_supply, self.nets))
        references = near.union.references.of_net
        self.grounded = any(net in references for net in self.nets) or any(
            near.flat.degree[net] > 6 and not near.is_supply(net) for net in self.nets
        )
        self.fed = any(map(near.is_fed, self.nets))
        self.rest = sum(
            net not in references and not near.is_supply(net) and not near.is_open(net) for net in self.nets
        )

    def _letters(self) -> list[str]:
        return [letter for net in self.nets for letter, _ in self.near.letters_at(net)]

    @property
    def pulled(self) -> bool:
        """Whether resistors lead from a net that is neither reference nor supply to a supply, and nothing feeds it."""
        near, references = self.near, self.near.union.references.of_net
        for net in self.nets:
            if net in references or near.is_supply(net):
                continue
            around = [element for letter, element in near.letters_at(net) if letter == "R"]
            if any(near.is_supply(other) for element in around for other in near.circuit.pins(element)):
                return True
        return False

    @property
    def diodes(self) -> bool:
        """Whether the group meets diodes."""
        return "D" in self._letters()

    @property
    def inductive(self) -> bool:
        """Whether the group meets a switch or diode and no resistor."""
        letters = self._letters()
        return ("M" in letters or "D" in letters) and "R" not in letters

    @property
    def has_small_resistor(self) -> bool:
        """Whether a resistor of 100 ohm or less hangs on the group."""
        circuit = self.near.circuit
        around = (element for net in self.nets for letter, element in self.near.letters_at(net) if letter == "R")
        return any((circuit.value(element) or 1e9) <= 100.0 for element in around)
