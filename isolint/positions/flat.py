"""The flat view that positions are found in: elements sorted by how they join nets.

In: a circuit and what was recognised in it. Out: columns. Sheets are expanded; what is stated to be in the simulation
only is left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field
from itertools import chain

from isolint.circuit import Circuit
from isolint.interfaces.entities import Recognition
from isolint.interfaces.subcircuit_body import says_nothing
from isolint.positions.spoken import is_connector, reference_letters

SHORT = 10.0
"""Ohms below which a resistor is a wire."""

OPEN = 1e6
"""Ohms from which a resistor joins nothing here."""

_SEMICONDUCTORS = frozenset("DQMJITO")
_SOURCES = frozenset("EGFHBSW")

Joint = tuple[int, tuple[int, ...]]
"""An element with its nets."""


@dataclass(slots=True, eq=False, repr=False)
class Flat:
    """Elements by how they join nets. parts: unexplained parts with four pins and more. degree: pins on each net.

    resistors: all of them, whatever they join. explained: barrier parts, one entry a port group. small: unexplained
    parts with two pins, and with three. letters: of the references of unexplained parts.
    """

    circuit: Circuit
    degree: list[int]
    shorts: list[Joint] = field(default_factory=list)
    small: tuple[list[Joint], list[Joint]] = field(default_factory=lambda: ([], []))
    conducting: list[Joint] = field(default_factory=list)
    resistors: list[Joint] = field(default_factory=list)
    diodes: list[Joint] = field(default_factory=list)
    sources: list[Joint] = field(default_factory=list)
    explained: list[Joint] = field(default_factory=list)
    ordinary: list[Joint] = field(default_factory=list)
    capacitors: list[Joint] = field(default_factory=list)
    connectors: list[Joint] = field(default_factory=list)
    parts: list[Joint] = field(default_factory=list)
    letters: dict[int, str] = field(default_factory=dict)
    elements: int = 0


def is_unread(circuit: Circuit, element: int) -> bool:
    """Whether nothing that tells stands behind a part: no subcircuit, or one that says nothing of its ports."""
    scope = circuit.subcircuit(element)
    return scope is None or says_nothing(circuit.cards, scope)


def flatten(
    circuit: Circuit, recognition: Recognition, unread: Collection[int], ignored: Collection[int], off: int
) -> Flat:
    """Sort all elements into columns; nothing explains `unread`, `off` is a net that joins nothing (-1 for none)."""
    flat = Flat(circuit, [0] * circuit.net_count)
    for instance in circuit.instances:
        _add_instance(flat, recognition, unread, instance, ignored, off)
    return flat


def _add_instance(
    flat: Flat, recognition: Recognition, unread: Collection[int], instance: int, ignored: Collection[int], off: int
) -> None:
    circuit, degree, is_sheet = flat.circuit, flat.degree, flat.circuit.is_sheet
    parts, unknown = recognition.parts, recognition.unknown
    resistors, capacitors, shorts, conducting = flat.resistors, flat.capacitors, flat.shorts, flat.conducting
    block, base = circuit.block(instance), circuit.first_element(instance)
    nets_of = None if instance == 0 else [circuit.canonical(instance, local) for local in range(block.net_count)]
    special = bool(ignored) or off >= 0
    placed: list[tuple[int, ...]] = []
    for index, (letter, pins) in enumerate(zip(block.letters, block.pins, strict=True)):
        element = base + index
        if letter == "X" and is_sheet(element):
            continue
        nets = pins if nets_of is None else tuple([nets_of[pin] for pin in pins])
        if special and element in ignored:
            continue
        if special and letter not in "XU":
            nets = tuple([net for net in nets if net != off])
        placed.append(nets)
        if letter == "R":
            written = block.values[index]
            value = written if isinstance(written, float) else circuit.value(element)
            resistors.append((element, nets))
            if value is None or value < OPEN:
                (shorts if value is not None and value < SHORT else conducting).append((element, nets))
        elif letter == "C":
            capacitors.append((element, nets))
        elif letter in "LV":
            shorts.append((element, nets))
            if letter == "V":
                flat.sources.append((element, nets))
        elif element in parts:
            groups = parts[element].groups
            flat.explained.extend((element, tuple(nets[pin] for pin in group if pin < len(nets))) for group in groups)
        elif letter in _SOURCES or (letter in _SEMICONDUCTORS and element not in unknown):
            conducting.append((element, nets[:3] if letter in "QMJ" else nets))
            if letter == "D":
                flat.diodes.append((element, nets))
        elif letter != "K":
            _add_leaf(flat, element in unread, element, letter, block.names[index], nets)
    flat.elements += len(placed)
    for net, pins_there in Counter(chain.from_iterable(placed)).items():
        degree[net] += pins_there


def _add_leaf(flat: Flat, unread: bool, element: int, letter: str, name: str, nets: tuple[int, ...]) -> None:
    """A leaf part: explained ones join all their pins, unexplained ones by their number of pins."""
    if not unread:
        flat.ordinary.append((element, nets))
        return
    letters = reference_letters(name, letter)
    flat.letters[element] = letters
    if is_connector(letters):
        flat.connectors.append((element, nets))
    elif len(nets) > 3:
        flat.parts.append((element, nets))
    elif len(nets) == 2 and letters.startswith("c"):
        flat.capacitors.append((element, nets))
    elif len(nets) > 1:
        flat.small[len(nets) - 2].append((element, nets))
