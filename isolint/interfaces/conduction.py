"""What conducts: every element as links, a link being a set of nets that the element joins.

One link holds all nets of one port group. Links stand in columns in the order of the elements; links of facts (a supply
with its ground, an output or input with its supply) stand behind them with element -1.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence

from isolint.circuit import Circuit
from isolint.circuit.connectivity import Islands
from isolint.interfaces.entities import Recognition

RESISTOR, LOW, SOURCE, PAIR, MULTI, PART, UNKNOWN, FACT = range(8)
"""Kinds of link: a resistance; 0 ohm by nature (inductor, 0-V source); a source that holds a voltage; another element
with two pins; one with more; a port group of a barrier part; a part that nobody explained; a stated fact."""

_WHOLE = frozenset("DQMJITO")
_CONTROLLED = frozenset("SWEGFHB")
_VOLTAGE = re.compile(r"\bV\(\s*([^\s,()]+)\s*(?:,\s*([^\s,()]+)\s*)?\)", re.IGNORECASE)
_CURRENT = re.compile(r"\bI\(\s*([^\s,()]+)\s*\)", re.IGNORECASE)


class Links:
    """All links of one netlist, by integer id; `nets(link)`, `kinds[link]`, `ohms[link]`, `elements[link]`.

    first, second: the nets of a link with two; of one with more, `second` is -1. whole: whether all elements of the
    circuit are looked at; else nets are many and links few.
    """

    def __init__(self, circuit: Circuit, whole: bool = True) -> None:
        self.circuit = circuit
        self.whole = whole
        self.elements = array("l")
        self.kinds = bytearray()
        self.ohms = array("d")
        self.first: list[int] = []
        self.second: list[int] = []
        self._more: dict[int, tuple[int, ...]] = {}
        self._element_links = 0
        self._facts_at: dict[int, list[int]] = {}
        self.of_group: dict[tuple[int, int], int] = {}
        self.sources: list[int] = []
        self.controls: list[tuple[int, tuple[int, ...]]] = []

    def __len__(self) -> int:
        return len(self.elements)

    def nets(self, link: int) -> tuple[int, ...]:
        """The nets that a link joins."""
        second = self.second[link]
        return (self.first[link], second) if second >= 0 else self._more[link]

    def add(self, element: int, kind: int, nets: tuple[int, ...], ohms: float = 0.0) -> int:
        """Append a link of two nets or more and give its id."""
        link = len(self.elements)
        self.elements.append(element)
        self.kinds.append(kind)
        self.ohms.append(ohms)
        self.first.append(nets[0])
        if len(nets) == 2:
            self.second.append(nets[1])
        else:
            self.second.append(-1)
            self._more[link] = nets
        if element < 0:
            for net in nets:
                self._facts_at.setdefault(net, []).append(link)
        else:
            self._element_links = link + 1
        return link

    def at(self, net: int) -> list[int]:
        """The links that touch a net, in the order of the cards, facts last."""
        found: list[int] = []
        for element in dict.fromkeys(element for element, _ in self.circuit.elements_at(net)):
            link = bisect_left(self.elements, element, 0, self._element_links)
            while link < self._element_links and self.elements[link] == element:
                if net in self.nets(link):
                    found.append(link)
                link += 1
        return found + self._facts_at.get(net, [])

    def singly(self) -> Islands:
        """The nets of the circuit, each an island of its own."""
        return Islands(self.circuit.net_count) if self.whole else Islands.sparse()

    def facts_at(self, net: int) -> list[int]:
        """The links of facts that touch a net."""
        return self._facts_at.get(net, [])


Group = tuple[int, tuple[int, ...], float, int]
"""Kind, nets, ohms and number of the port group (-1 for none)."""


def groups_of(circuit: Circuit, recognition: Recognition, element: int) -> Iterator[Group]:
    """The sets of nets that an element joins.

    Barrier parts join inside each port group; C and K nothing, but for a stated parallel resistance; controlled
    elements their output pair; every other part all its pins.
    """
    part = recognition.parts.get(element)
    pins = circuit.pins(element)
    if part is not None:
        for number, group in enumerate(part.groups):
            yield PART, tuple(pins[pin] for pin in group if pin < len(pins)), 0.0, number
        return
    letter = circuit.letter(element)
    if letter == "R":
        yield (RESISTOR, pins, _ohms(circuit, element), -1) if len(pins) == 2 else (MULTI, pins, 0.0, -1)
    elif letter == "C":
        parallel = circuit.tail(element).get("rpar")
        if isinstance(parallel, float | int):
            yield RESISTOR, pins, max(float(parallel), 0.0), -1
    elif letter == "K":
        return
    elif letter == "L":
        yield LOW, pins, 0.0, -1
    elif letter == "V":
        yield (SOURCE if is_source(circuit, element) else LOW), pins, 0.0, -1
    elif element in recognition.kept_apart:
        for group in recognition.kept_apart[element]:
            nets = tuple(pins[pin] for pin in group)
            yield (PAIR if len(nets) == 2 else MULTI), nets, 0.0, -1
    elif letter in _CONTROLLED:
        if element in recognition.ordinary:
            pins += control_nets(circuit, element)
        yield (PAIR if len(pins) == 2 else MULTI), pins, 0.0, -1
    elif letter in _WHOLE or element in recognition.ordinary:
        yield (PAIR if len(pins) == 2 else MULTI), pins, 0.0, -1
    else:
        yield UNKNOWN, pins, 0.0, -1


def _ohms(circuit: Circuit, element: int) -> float:
    """The nominal resistance; 0 where none can be told, so that an unknown value never passes as isolation."""
    value = circuit.value(element)
    if value is None:
        written = circuit.tail(element)
        value = next((float(n) for n in map(written.get, ("r", "resistance")) if isinstance(n, float | int)), None)
    return 0.0 if value is None or not value > 0.0 else value


def is_source(circuit: Circuit, element: int) -> bool:
    """Whether a V element holds a voltage; a 0-V source is a wire."""
    if circuit.stimulus(element) is not None:
        return True
    value = circuit.value(element)
    return bool(circuit.value_text(element)) if value is None else value != 0.0


def control_nets(circuit: Circuit, element: int) -> tuple[int, ...]:
    """The nets that control an element: control pairs, pins of controlling sources, nets named in its expression."""
    letter = circuit.letter(element)
    nets = list(circuit.controls(element)) if letter in "EGS" else []
    sources: list[str] = list(circuit.control_names(element)) if letter in "FHW" else []
    tail = circuit.tail(element)
    texts = [circuit.value_text(element), *(value for value in tail.values() if isinstance(value, str))]
    instance = circuit.instance_path(element)
    for text in texts:
        for pair in _VOLTAGE.findall(text):
            nets.extend(net for name in pair if name and (net := _local_net(circuit, instance, name)) is not None)
        sources.extend(_CURRENT.findall(text))
    for name in sources:
        source = circuit.find(f"{instance}.{name}" if instance else name)
        if source is not None:
            nets.extend(circuit.pins(source))
    return tuple(dict.fromkeys(nets))


def _local_net(circuit: Circuit, instance: str, name: str) -> int | None:
    found = circuit.find_net(f"{instance}.{name}" if instance else name)
    return circuit.find_net(name) if found is None and name.lower() in circuit.cards.globals else found


def conduct(
    circuit: Circuit,
    recognition: Recognition,
    ignored: frozenset[int],
    without: int = -1,
    elements: Callable[[int], Sequence[int]] | None = None,
) -> Links:
    """All links of the elements.

    without: a net that joins nothing (a declared simulation ground), -1 for none. elements: which cards of an instance
    count, ascending; all where it is None.
    """
    links = Links(circuit, elements is None)
    special = ignored | recognition.parts.keys() | recognition.ordinary | recognition.unknown.keys()
    for instance in circuit.instances:
        block, base = circuit.block(instance), circuit.first_element(instance)
        letters, values, tails, pins = block.letters, block.values, block.tails, block.pins
        top = instance == circuit.instances[0]
        for index in range(len(letters)) if elements is None else elements(instance):
            letter, element = letters[index], base + index
            if element not in special:
                # Most of a large netlist are these.
                if letter in "CK" and index not in tails:
                    continue
                value = values[index]
                if (
                    letter == "R"
                    and type(value) is float
                    and value > 0.0
                    and index not in tails
                    and len(pins[index]) == 2
                ):
                    one, other = pins[index] if top else circuit.pins(element)
                    if one != other and without not in (one, other):
                        links.add(element, RESISTOR, (one, other), value)
                    continue
            if element not in ignored and not circuit.is_sheet(element):
                _add_links(links, recognition, element, without)
    return links


def _add_links(links: Links, recognition: Recognition, element: int, without: int) -> None:
    circuit = links.circuit
    for kind, pins, ohms, number in groups_of(circuit, recognition, element):
        nets = tuple(net for net in dict.fromkeys(pins) if net != without)
        if kind == SOURCE:
            links.sources.extend(nets)
        if len(nets) > 1:
            link = links.add(element, kind, nets, ohms)
            if number >= 0:
                links.of_group[(element, number)] = link
    if (
        element not in recognition.ordinary
        and circuit.letter(element) in _CONTROLLED
        and element not in recognition.parts
    ):
        nets = tuple(net for net in control_nets(circuit, element) if net != without)
        if nets:
            links.controls.append((element, nets))
