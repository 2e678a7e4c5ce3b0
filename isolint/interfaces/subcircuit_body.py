"""What a subcircuit body says of itself: which ports belong together, where its LEDs and transistors are.

In: one `.subckt` scope. Out: a `PortStructure`. Node 0, capacitors, control pairs and resistors of 1 megohm and more
do not conduct here: most coupler models use node 0 inside and some model isolation capacitance and leakage.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from isolint.circuit import Circuit, build
from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import control_nets
from isolint.netlist.cards import Cards

LEAKAGE_OHMS = 1e6
WIRE_OHMS = 1e3
MAX_INSTANCES = 1_000
LEAST_PORTS = 4
_LOADS = frozenset("RC")
"""Letters of what a body may hang on each port for a simulator's sake."""
_CONTROLLED = frozenset("EGFHBSW")
_CURRENT = re.compile(r"\bi\(\s*([^\s,()]+)\s*\)", re.IGNORECASE)


class PortStructure(NamedTuple):
    """Ports by index in the order of the header.

    groups: ports that conduct to each other, each sorted, in the order of their first port. leds: (anode, cathode) port
    pairs that are a group of exactly two ports joined through a diode; a bidirectional pair appears both ways.
    transistors: (collector, base, emitter) ports of bipolar transistors, -1 where a pin reaches no port by wire.
    darlington: one transistor's emitter drives another's base. reached: (LED group, other group) by index where a
    controlled source or switch carries a signal between them. senses: the current of an LED group is sensed.
    """

    groups: tuple[tuple[int, ...], ...]
    leds: tuple[tuple[int, int], ...] = ()
    transistors: tuple[tuple[int, int, int], ...] = ()
    darlington: bool = False
    reached: tuple[tuple[int, int], ...] = ()
    senses: bool = False

    @property
    def led_groups(self) -> tuple[int, ...]:
        """The groups that are an LED, by index."""
        pairs = {tuple(sorted(pair)) for pair in self.leds}
        return tuple(index for index, group in enumerate(self.groups) if group in pairs)

    def is_bidirectional(self, group: tuple[int, ...]) -> bool:
        """Whether an LED group has a diode each way: an input for alternating current."""
        return group in self.leds and group[::-1] in self.leds

    def pairing(self) -> tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]:
        """(LED ports, output ports) of each channel; empty where LEDs and outputs do not belong together one by one."""
        leds = [led for led, _ in self.reached]
        outputs = [output for _, output in self.reached]
        if len(set(leds)) < len(leds) or len(set(outputs)) < len(outputs):
            return ()
        return tuple((self.groups[led], self.groups[output]) for led, output in self.reached)


def says_nothing(cards: Cards, scope: int) -> bool:
    """Whether a body tells nothing of its ports: it is empty or can't be read, or of four ports and more no two are
    joined by anything, a capacitor or a large resistor included, as where each has a resistor to node 0 alone, so that
    a simulator starts."""
    body = cards.scopes[scope]
    if body.unreadable or not len(body):
        return True
    ports = {port.lower() for port in body.ports}
    if len(ports) < LEAST_PORTS or not _LOADS.issuperset(body.letters):
        return False
    zero = {"0", *cards.globals} - ports
    return all(len({node.lower() for node in nodes} - zero) < 2 for nodes in body.nodes)


def structure(cards: Cards, scope: int) -> PortStructure:
    """Analyse the body of one subcircuit with everything that it calls.

    A body that can't be read, or unfolds to more than 1,000 instances, is one group and tells nothing else.
    """
    count = len(cards.scopes[scope].ports)
    circuit = build(cards, top=scope, most=MAX_INSTANCES)
    if cards.scopes[scope].unreadable or any("instances" in note.message for note in circuit.notes):
        return PortStructure((tuple(range(count)),))
    ports = [circuit.canonical(0, port) for port in range(count)]
    members = tuple(circuit.elements())
    joined = _join(circuit, members)
    groups = _port_groups(ports, joined)
    diodes = [element for element in members if circuit.letter(element) == "D" and len(circuit.pins(element)) >= 2]
    wires = _wires(circuit, members)
    transistors = [element for element in members if circuit.letter(element) == "Q" and len(circuit.pins(element)) >= 3]
    found = PortStructure(
        groups=groups,
        leds=_leds(circuit, members, diodes, ports, groups),
        transistors=tuple(_transistor_ports(circuit, element, ports, wires) for element in transistors),
        darlington=_is_darlington(circuit, transistors, wires),
    )
    if not found.leds:
        return found
    led_roots = {joined.of(ports[groups[index][0]]) for index in found.led_groups}
    senses = any(joined.of(net) in led_roots for element in members for net in _sensed_nets(circuit, element))
    reached = _reached(circuit, members, ports, groups, found.led_groups)
    return PortStructure(groups, found.leds, found.transistors, found.darlington, reached, senses)


def _conducting(circuit: Circuit, element: int, limit: float) -> tuple[int, ...]:
    """The nets that an element joins; resistors only below `limit` ohms."""
    letter = circuit.letter(element)
    if letter in "CK":
        return ()
    pins = tuple(net for net in circuit.pins(element) if not circuit.is_node_0(net))
    value = circuit.value(element) if letter == "R" else None
    return () if value is not None and abs(value) >= limit else pins


def _join(circuit: Circuit, elements: Iterable[int], limit: float = LEAKAGE_OHMS) -> Islands:
    joined = Islands(circuit.net_count)
    for element in elements:
        nets = _conducting(circuit, element, limit)
        for net in nets[1:]:
            joined.join(nets[0], net)
    return joined


def _port_groups(ports: list[int], joined: Islands) -> tuple[tuple[int, ...], ...]:
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
    """Port pairs through a diode: without the diodes its anode reaches one port and its cathode the other.

    Models put resistors in series or in parallel with the diode; of 1 kohm and more they may be either.
    """
    two_port = {group for group in groups if len(group) == 2}
    if not two_port:
        return ()
    rest = [element for element in members if circuit.letter(element) != "D"]
    views = [_join(circuit, rest, limit) for limit in (LEAKAGE_OHMS, 10 * WIRE_OHMS, WIRE_OHMS)]
    pairs: dict[tuple[int, int], None] = {}
    for diode in diodes:
        for view in views:
            ends = [
                [index for index, other in enumerate(ports) if view.of(other) == view.of(net)]
                for net in circuit.pins(diode)[:2]
            ]
            if len(ends[0]) == len(ends[1]) == 1 and tuple(sorted(ends[0] + ends[1])) in two_port:
                pairs[(ends[0][0], ends[1][0])] = None
                break
    return tuple(pairs)


def _reached(
    circuit: Circuit,
    members: tuple[int, ...],
    ports: list[int],
    groups: tuple[tuple[int, ...], ...],
    leds: tuple[int, ...],
) -> tuple[tuple[int, int], ...]:
    """The groups that each LED group reaches when controlled elements join what controls them to their output."""
    joined = _join(circuit, members)
    for element in members:
        if circuit.letter(element) in _CONTROLLED:
            nets = (*circuit.pins(element), *control_nets(circuit, element))
            inner = [net for net in nets if not circuit.is_node_0(net)]
            for net in inner[1:]:
                joined.join(inner[0], net)
    roots = [joined.of(ports[group[0]]) for group in groups]
    others = [index for index in range(len(groups)) if index not in leds]
    return tuple((led, other) for led in leds for other in others if roots[led] == roots[other])


def _wires(circuit: Circuit, members: tuple[int, ...]) -> Islands:
    """Nets joined by what hardly drops a voltage: sources, inductors and resistors below 1 kohm."""
    return _join(circuit, (element for element in members if circuit.letter(element) in "VLR"), WIRE_OHMS)


def _transistor_ports(circuit: Circuit, element: int, ports: list[int], wires: Islands) -> tuple[int, int, int]:
    def port(net: int) -> int:
        return next((index for index, other in enumerate(ports) if wires.of(other) == wires.of(net)), -1)

    collector, base, emitter = circuit.pins(element)[:3]
    return port(collector), port(base), port(emitter)


def _is_darlington(circuit: Circuit, transistors: list[int], wires: Islands) -> bool:
    bases = {wires.of(circuit.pins(element)[1]): element for element in transistors}
    return any(bases.get(wires.of(circuit.pins(element)[2]), element) != element for element in transistors)


def _sensed_nets(circuit: Circuit, element: int) -> Iterable[int]:
    """A net of each element whose current controls `element`."""
    letter = circuit.letter(element)
    if letter not in _CONTROLLED:
        return
    names: list[str] = []
    for control in circuit.control_names(element):
        inner = _CURRENT.fullmatch(control)
        if inner is not None or letter in "FHW":
            names.append(control if inner is None else inner[1])
    texts = [circuit.value_text(element), *(text for text in circuit.tail(element).values() if isinstance(text, str))]
    names += [name for text in texts for name in _CURRENT.findall(text)]
    instance = circuit.instance_path(element)
    for name in names:
        source = circuit.find(f"{instance}.{name}" if instance else name)
        if source is not None and circuit.pins(source):
            yield circuit.pins(source)[0]
