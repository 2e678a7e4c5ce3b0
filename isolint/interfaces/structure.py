"""What a subcircuit body says of itself: which ports belong together, where its LEDs and transistors are.

In: one `.subckt` scope. Out: a `Structure`. Node 0, capacitors, control pairs and resistors of 1 megohm and more do not
conduct here: most coupler models use node 0 inside and some model isolation capacitance and leakage.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from isolint.circuit import Circuit, build
from isolint.circuit.connectivity import Islands
from isolint.netlist.cards import Cards

LEAKAGE_OHMS = 1e6
_ALL_PINS = frozenset("RLDVQMJ")
_OUTPUT_PAIR = frozenset("EGFHBSW")
_SENSE = frozenset("FHW")
_CONTROLLED = frozenset("EGFHBSW")


@dataclass(frozen=True, slots=True)
class Structure:
    """Ports by index in the order of the header.

    groups: ports that conduct to each other, each sorted, in the order of their first port. leds: (anode, cathode) port
    pairs that are a group of exactly two ports joined through a diode; a bidirectional pair appears both ways.
    transistors: (collector, base, emitter) ports of bipolar transistors, -1 where a pin reaches no port by wire.
    darlington: one transistor's emitter drives another's base. carries: a controlled source or a switch is inside.
    senses: some current is sensed (F, H, W, or `I(...)` in an expression).
    """

    groups: tuple[tuple[int, ...], ...]
    leds: tuple[tuple[int, int], ...]
    transistors: tuple[tuple[int, int, int], ...]
    darlington: bool
    carries: bool
    senses: bool

    @property
    def is_coupler_like(self) -> bool:
        """An LED group of two ports, at least one other group, and something that carries the signal across."""
        return bool(self.leds) and len(self.groups) >= 2 and self.carries


def structure(cards: Cards, scope: int) -> Structure:
    """Analyse the body of one subcircuit with everything that it calls."""
    circuit = build(cards, top=scope)
    ports = [circuit.canonical(0, port) for port in range(len(cards.scopes[scope].ports))]
    members = tuple(circuit.elements())
    groups = _port_groups(circuit, ports, _join(circuit, members))
    diodes = [element for element in members if circuit.letter(element) == "D" and len(circuit.pins(element)) >= 2]
    letters = {circuit.letter(element) for element in members}
    wires = _wires(circuit, members)
    transistors = [element for element in members if circuit.letter(element) == "Q" and len(circuit.pins(element)) >= 3]
    return Structure(
        groups=groups,
        leds=_leds(circuit, members, diodes, ports, groups),
        transistors=tuple(_transistor_ports(circuit, element, ports, wires) for element in transistors),
        darlington=_is_darlington(circuit, transistors, wires),
        carries=bool(letters & _CONTROLLED),
        senses=bool(letters & _SENSE) or any(_senses_current(circuit, element) for element in members),
    )


def _conducting(circuit: Circuit, element: int) -> tuple[int, ...]:
    letter = circuit.letter(element)
    if letter == "R":
        value = circuit.value(element)
        return () if value is not None and abs(value) >= LEAKAGE_OHMS else circuit.pins(element)
    if letter in _ALL_PINS or letter in _OUTPUT_PAIR:
        return circuit.pins(element)
    return () if letter in "CK" else circuit.pins(element)


def _join(circuit: Circuit, elements: Iterable[int]) -> Islands:
    joined = Islands(circuit.net_count)
    for element in elements:
        nets = [net for net in _conducting(circuit, element) if not circuit.is_node_0(net)]
        for net in nets[1:]:
            joined.join(nets[0], net)
    return joined


def _port_groups(circuit: Circuit, ports: list[int], joined: Islands) -> tuple[tuple[int, ...], ...]:
    groups: dict[int, list[int]] = {}
    for index, net in enumerate(ports):
        groups.setdefault(joined.of(net), []).append(index)
    return tuple(tuple(group) for group in groups.values())


def _leds(
    circuit: Circuit,
    members: tuple[int, ...],
    diodes: list[int],
    ports: list[int],
    groups: tuple[tuple[int, ...], ...],
) -> tuple[tuple[int, int], ...]:
    """Port pairs through a diode: without the diode its anode reaches one port and its cathode the other."""
    pairs: list[tuple[int, int]] = []
    two_port = {group for group in groups if len(group) == 2}
    if not two_port:
        return ()
    others = _join(circuit, (element for element in members if circuit.letter(element) != "D"))
    for diode in diodes:
        anode, cathode = circuit.pins(diode)[:2]
        at_anode = [index for index, net in enumerate(ports) if others.of(net) == others.of(anode)]
        at_cathode = [index for index, net in enumerate(ports) if others.of(net) == others.of(cathode)]
        if len(at_anode) == 1 and len(at_cathode) == 1 and tuple(sorted(at_anode + at_cathode)) in two_port:
            pair = (at_anode[0], at_cathode[0])
            if pair not in pairs:
                pairs.append(pair)
    return tuple(pairs)


def _wires(circuit: Circuit, members: tuple[int, ...]) -> Islands:
    """Nets joined by what hardly drops a voltage: sources, inductors and resistors below 1 kohm."""
    joined = Islands(circuit.net_count)
    for element in members:
        letter = circuit.letter(element)
        value = circuit.value(element)
        if letter in "VL" or (letter == "R" and value is not None and abs(value) < 1e3):
            pins = circuit.pins(element)
            if len(pins) == 2 and not any(map(circuit.is_node_0, pins)):
                joined.join(*pins)
    return joined


def _transistor_ports(circuit: Circuit, element: int, ports: list[int], wires: Islands) -> tuple[int, int, int]:
    def port(net: int) -> int:
        return next((index for index, other in enumerate(ports) if wires.of(other) == wires.of(net)), -1)

    collector, base, emitter = circuit.pins(element)[:3]
    return port(collector), port(base), port(emitter)


def _is_darlington(circuit: Circuit, transistors: list[int], wires: Islands) -> bool:
    bases = {wires.of(circuit.pins(element)[1]): element for element in transistors}
    return any(bases.get(wires.of(circuit.pins(element)[2]), element) != element for element in transistors)


def _senses_current(circuit: Circuit, element: int) -> bool:
    if circuit.letter(element) not in "BEG":
        return False
    texts = (text for text in circuit.tail(element).values() if isinstance(text, str))
    return any("i(" in text.lower().replace(" ", "") for text in texts)
