"""Drive and load networks: breadth-first walks from a coupler's pins over the query API.

A walk goes through everything that conducts and stops at nets that something holds: references, supplies, outputs and
lines. It finds the resistor wherever it sits.
"""

from __future__ import annotations

import re
from collections import deque
from dataclasses import dataclass, field

from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.interfaces.values import Boundary, BoundaryKind, Network, Part, Recognition

MAX_ELEMENTS = 80
_GROUND = re.compile(r"^[/+-]?(?:[a-z0-9_]*_)?(?:gnd[a-z0-9_]*|[adps]?gnd!?|[a-z0-9]*gnd|vss[a-z0-9_]*|0v[a-z0-9_]*|com|earth)!?$")


def is_ground_name(name: str) -> bool:
    """Whether a net's own name says that it is a reference: `0`, GND, DGND, GND_ISO, VSS, COM, 0V ..."""
    last = name.rsplit("/", 1)[-1].rsplit(".", 1)[-1].lower()
    return last == "0" or bool(_GROUND.match(last))


_NAMED_SUPPLY = re.compile(r"^[+-]?(?:vcc|vdd|vbus|vbat|vee|vaux|vsup|vio|avdd|dvdd|avcc|dvcc)[a-z0-9_]*[+-]?$")


def voltage_of_name(name: str) -> float | None:
    """The voltage that a net's name tells, in volts: `+5V`, `3V3`, `V24_FIELD`, `VCC_3V3`, `12V`; None when it tells none."""
    last = name.rsplit("/", 1)[-1].rsplit(".", 1)[-1].lower()
    for word in (last, *last.split("_")):
        match = re.match(r"^([+-]?)(?:v|vcc|vdd|p)?(\d+)v(\d+)$", word)
        if match:
            return _signed(match[1], float(f"{match[2]}.{match[3]}"))
        match = re.match(r"^([+-]?)(\d+(?:\.\d+)?)v(?:[a-z]*)$", word)
        if match:
            return _signed(match[1], float(match[2]))
        match = re.match(r"^([+-]?)(?:v|vcc|vdd)(\d+(?:\.\d+)?)$", word)
        if match and (word == last or word[0] == "v"):
            value = float(match[2])
            # V1, V2, VCC1, VDD2 number a supply; they do not tell its voltage.
            return _signed(match[1], value) if value >= 3 else None
    return None


def _signed(sign: str, value: float) -> float:
    return -value if sign == "-" else value


def is_supply_name(name: str) -> bool:
    """Whether a net's own name says that it is a supply, with or without its voltage."""
    last = name.rsplit("/", 1)[-1].rsplit(".", 1)[-1].lower()
    if is_ground_name(name):
        return False
    return voltage_of_name(last) is not None or bool(_NAMED_SUPPLY.match(last))


@dataclass(slots=True)
class Walker:
    """Walks one circuit; knows which nets something holds."""

    circuit: Circuit
    facts: Facts
    recognition: Recognition
    ignored: frozenset[int] = frozenset()
    _held: dict[int, Boundary | None] = field(default_factory=dict)
    _grounds: frozenset[str] | None = None

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
        if is_ground_name(name):
            return Boundary(net, "ground")
        for element, _ in self.circuit.elements_at(net):
            if element not in self.ignored and self.circuit.letter(element) == "V" and self._is_real_source(element):
                others = [other for other in self.circuit.pins(element) if other != net]
                if any(self._is_reference(other) for other in others):
                    moves = self.circuit.stimulus(element) is not None
                    return Boundary(net, "output" if moves else "supply", element)
        return Boundary(net, "supply") if is_supply_name(name) else None

    def _stated_kind(self, name: str) -> BoundaryKind | None:
        if name.lower() in self._ground_names():
            return "ground"
        if self.facts.supply(name) is not None:
            return "supply"
        if self.facts.output(name) is not None:
            return "output"
        if self.facts.line(name) is not None:
            return "line"
        return None

    def _ground_names(self) -> frozenset[str]:
        if self._grounds is None:
            grounds = (row.get("ground") for row in self.facts.supplies.rows.values())
            self._grounds = frozenset(str(ground.value).lower() for ground in grounds if ground is not None)
        return self._grounds

    def _is_reference(self, net: int) -> bool:
        name = self.circuit.net_name(net)
        return name.lower() in self._ground_names() or is_ground_name(name)

    def _is_real_source(self, element: int) -> bool:
        value = self.circuit.value(element)
        return self.circuit.stimulus(element) is not None or (value is not None and value != 0.0)

    def walk(self, part: Part, group: tuple[int, ...], receivers: bool) -> Network:
        """Everything around the pins `group` of `part`, up to nets that are held.

        `receivers`: nets that stated inputs read are marked as boundary, though the walk goes on through them.
        """
        pins = self.circuit.pins(part.element)
        waiting = deque(dict.fromkeys(pins[pin] for pin in group))
        seen = set(waiting)
        own = (part.element, group[0])
        visited: dict[tuple[int, int], tuple[int, ...]] = {own: ()}
        inner: list[int] = []
        boundary: list[Boundary] = []
        complete = True
        while waiting and complete:
            net = waiting.popleft()
            holder = self.held(net)
            if holder is not None:
                boundary.append(holder)
                continue
            inner.append(net)
            touched = [(element, pin) for element, pin in self.circuit.elements_at(net) if element not in self.ignored]
            reads = receivers and self.facts.input(self.circuit.net_name(net)) is not None
            if reads:
                boundary.append(Boundary(net, "input"))
            elif all(element == part.element for element, _ in touched):
                boundary.append(Boundary(net, "loose"))
            for element, pin in touched:
                if element == part.element and pin in group:
                    continue
                through = self.through(element, pin)
                if through is None:
                    if not reads:
                        boundary.append(Boundary(net, "part", element))
                    continue
                key = (element, through[0])
                if key in visited:
                    continue
                if len(visited) > MAX_ELEMENTS:
                    complete = False
                    break
                visited[key] = through
                for other in (self.circuit.pins(element)[index] for index in through[1:]):
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
        del visited[own]
        leds = tuple((element, through[1:]) for (element, _), through in visited.items() if element in self.recognition.parts)
        elements = tuple(dict.fromkeys(element for element, _ in visited))
        return Network(elements, tuple(inner), tuple(dict.fromkeys(boundary)), leds, complete)

    def through(self, element: int, pin: int) -> tuple[int, ...] | None:
        """Where a walk goes from one pin of an element: a key, then pin indices; None where it must stop.

        The key tells the branches of one part apart: for a coupler the first pin of the LED or coil that `pin` belongs to.
        """
        circuit = self.circuit
        part = self.recognition.parts.get(element)
        if part is not None:
            role = part.roles[pin] if pin < len(part.roles) else ""
            if role not in ("anode", "cathode", "coil"):
                return None
            group = next(group for group in part.groups if pin in group)
            return (group[0], *group)
        if element in self.recognition.ordinary or element in self.recognition.unknown:
            return None
        letter = circuit.letter(element)
        if letter in "CK":
            # No direct current: the element is listed, the walk does not go on through it.
            return (-1,)
        if letter in "RLDVIQMJS":
            return (-1, *range(len(circuit.pins(element))))
        return None
