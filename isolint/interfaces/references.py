"""What holds a net to a side: stated sides, supplies with their grounds, ground names; and what a port group returns
to."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.circuit.connectivity import Islands
from isolint.facts import Facts
from isolint.facts.matching import compile_pattern, is_pattern
from isolint.interfaces.conduction import FACT, UNKNOWN, Links, groups_of
from isolint.interfaces.entities import Part, Recognition
from isolint.interfaces.netnames import GROUND_HINTS, is_ground_name, own_name

NONE = -1
SUPPLY_GROUND, STATED_NET, GROUND_NAME = range(3)
"""Why a net is a reference, the most trusted first."""


@dataclass(slots=True, eq=False, repr=False)
class Holders:
    """What is known of single nets.

    references: rank by net. stated: the side in isolint.toml that names the net. supplies: ground by supply net (NONE
    when none is stated or found). simulation_ground: the net declared so, NONE for none.
    conflicts: nets that two stated sides name, with both names.
    """

    references: dict[int, int] = field(default_factory=dict)
    stated: dict[int, str] = field(default_factory=dict)
    supplies: dict[int, int] = field(default_factory=dict)
    simulation_ground: int = NONE
    conflicts: list[tuple[int, str, str]] = field(default_factory=list)


def find_holders(circuit: Circuit, facts: Facts, links: Links, recognition: Recognition) -> Holders:
    """Look up every net's name in the facts and add the links that facts make."""
    holders = Holders(simulation_ground=simulation_ground(circuit, facts))
    off = holders.simulation_ground
    _stated_sides(circuit, facts, holders)
    without_ground: dict[str, int] = {}
    fed: list[tuple[int, str]] = []
    for net in _spoken_of(circuit, facts):
        if net == off:
            continue
        name = circuit.net_name(net)
        if net not in holders.references and is_ground_name(name) and not _is_pole(circuit, recognition, net):
            holders.references[net] = GROUND_NAME
        supply = facts.supply(name)
        if supply is not None:
            holders.supplies[net] = NONE
            if supply.ground is not None:
                ground = circuit.find_net(supply.ground.value)
                if ground is None:
                    # The ground itself is not in the netlist; what returns to it is on one side all the same.
                    first = without_ground.setdefault(supply.ground.value.casefold(), net)
                    if first != net:
                        links.add(-1, FACT, (first, net))
                    side = _side_naming(facts, supply.ground.value)
                    if side is not None and off == NONE:
                        holders.stated.setdefault(net, side)
                elif ground != off:
                    holders.supplies[net] = ground
                    holders.references[ground] = SUPPLY_GROUND
                    if ground != net:
                        links.add(-1, FACT, (net, ground))
                else:
                    holders.supplies[net] = off
        ports = (facts.output(name), facts.input(name))
        fed.extend((net, port.supply.value) for port in ports if port is not None and port.supply is not None)
    for net, supply_name in dict.fromkeys(fed):
        feeding = circuit.find_net(supply_name)
        if feeding is None:
            # A supply without a card: what it feeds returns to its ground all the same.
            stated = facts.supply(supply_name)
            ground_name = None if stated is None or stated.ground is None else stated.ground.value
            feeding = None if ground_name is None else circuit.find_net(ground_name)
            side = None if ground_name is None or feeding is not None else _side_naming(facts, ground_name)
            if side is not None and off == NONE:
                holders.stated.setdefault(net, side)
        if feeding is not None and feeding not in (net, off):
            links.add(-1, FACT, (net, feeding))
    return holders


def grounds_by_name(circuit: Circuit) -> list[int]:
    """The nets that a name calls a reference, ascending."""
    zero = circuit.find_net("0")
    named = {*circuit.nets_holding(GROUND_HINTS), *(() if zero is None else (zero,))}
    return sorted(net for net in named if is_ground_name(circuit.net_name(net)))


def _spoken_of(circuit: Circuit, facts: Facts) -> list[int]:
    """The nets that a fact about supplies or ports means, or a name calls a reference; ascending."""
    found = set(grounds_by_name(circuit))
    for rows in (facts.supplies.rows, facts.outputs.rows, facts.inputs.rows):
        for name in rows:
            found.update(circuit.nets_like(name.casefold(), compile_pattern(name)))
    return sorted(found)


def named_nets(circuit: Circuit, facts: Facts) -> list[int]:
    """All nets of which a fact or a name says what holds them."""
    found = set(_spoken_of(circuit, facts))
    for side in facts.sides.values():
        for written in side.nets.value if side.nets is not None else ():
            found.update(nets_named(circuit, written))
    for row in facts.supplies.rows.values():
        ground = row.get("ground")
        net = None if ground is None else circuit.find_net(str(ground.value))
        found.update(() if net is None else (net,))
    return sorted(found)


def _is_pole(circuit: Circuit, recognition: Recognition, net: int) -> bool:
    """Whether a net is called COM after the pole of the relay that it leads to, and is no return of anything."""
    if own_name(circuit.net_name(net)) != "com":
        return False
    touching = list(circuit.elements_at(net))
    parts = [(recognition.parts.get(element), pin) for element, pin in touching]
    return len(touching) <= 2 and any(part is not None and part.roles[pin] == "contact" for part, pin in parts)


def _side_naming(facts: Facts, written: str) -> str | None:
    """The side whose stated nets hold this name, though no card has it."""
    for name, side in facts.sides.items():
        for pattern in side.nets.value if side.nets is not None else ():
            if compile_pattern(pattern).match(written.casefold()):
                return name
    return None


def simulation_ground(circuit: Circuit, facts: Facts) -> int:
    """The net that is declared to be the simulator's ground only, NONE for none."""
    declared = facts.reading.simulation_ground
    found = None if declared is None else circuit.find_net(declared.value)
    return NONE if found is None else found


def _stated_sides(circuit: Circuit, facts: Facts, holders: Holders) -> None:
    for name, side in facts.sides.items():
        for written in side.nets.value if side.nets is not None else ():
            for net in nets_named(circuit, written):
                if net == holders.simulation_ground:
                    continue
                other = holders.stated.setdefault(net, name)
                holders.references[net] = STATED_NET
                if other != name:
                    holders.conflicts.append((net, other, name))


def nets_named(circuit: Circuit, written: str) -> list[int]:
    """The nets that a name or a pattern in a settings file means."""
    if is_pattern(written):
        return circuit.nets_like(written.casefold(), compile_pattern(written))
    found = circuit.find_net(written)
    return [] if found is None else [found]


class Return(NamedTuple):
    """What a port group returns to: a reference net, the simulation ground, or NONE; and how many steps away."""

    net: int
    distance: int = 0


def find_return(
    links: Links,
    recognition: Recognition,
    holders: Holders,
    islands: Islands,
    start: Iterable[int],
    blocked: Collection[int] = (),
    barred: Collection[int] = (),
    avoid: int = NONE,
) -> Return:
    """The nearest reference of a port group, over elements of its own islands (a bleeder leads to no reference).

    blocked: nets of the part's other groups, passed only where they are references. barred: links not to go through.
    avoid: a reference that is taken only where no other is as near.
    A supply is as far as a walk goes; its stated ground is one step away. Parts that nobody explained are not passed.
    """
    circuit = links.circuit
    off = holders.simulation_ground
    level = list(dict.fromkeys(start))
    own = {islands.of(net) for net in level}
    seen = set(level)
    distance = 0
    touches_off = off in seen
    while level:
        found = [net for net in level if net in holders.references]
        if found:
            best = min(found, key=lambda net: (net == avoid, holders.references[net], circuit.net_name(net).casefold()))
            return Return(best, distance)
        if touches_off:
            return Return(off, distance)
        following: list[int] = []
        for net in level:
            if net == off or (net in blocked and distance > 0):
                continue
            ground = holders.supplies.get(net, NONE)
            if ground != NONE and ground == off:
                touches_off = True
                continue
            for link in links.facts_at(net) if ground != NONE else links.at(net):
                if link in barred or links.kinds[link] == UNKNOWN:
                    continue
                fresh = [other for other in links.nets(link) if other not in seen and islands.of(other) in own]
                seen.update(fresh)
                following.extend(fresh)
            if off != NONE and ground == NONE:
                touches_off = touches_off or _touches(circuit, recognition, net, off)
        following = [net for net in following if net not in blocked or net in holders.references]
        level = following
        distance += 1
        if not level and touches_off:
            return Return(off, distance)
    return Return(NONE, distance)


def _touches(circuit: Circuit, recognition: Recognition, net: int, off: int) -> bool:
    """Whether an element conducts from `net` to the simulation ground."""
    return any(
        net in nets and off in nets
        for element in dict.fromkeys(element for element, _ in circuit.elements_at(net))
        if off in circuit.pins(element)
        for _, nets, _, _ in groups_of(circuit, recognition, element)
    )


def facing_groups(part: Part) -> tuple[tuple[tuple[int, int], ...], bool]:
    """The pairs of port groups that the part keeps apart, and whether each pair must be apart on its own.

    Channels of the record say which input faces which output; else groups with an input face those without. Where
    neither tells (windings, several domains), all pairs face each other and the part separates as long as one pair is
    apart.
    """
    groups = part.groups
    used = [number for number, group in enumerate(groups) if any(_role(part, pin) != "none" for pin in group)]
    if len(used) == 2:
        return ((used[0], used[1]),), True
    of_pin = {pin: number for number in used for pin in groups[number]}
    pairs: dict[tuple[int, int], None] = {}
    record = part.record
    for channel in record.channels if record is not None else ():
        if record is None:
            break
        ends = [[of_pin.get(record.position(pin), -1) for pin in names] for names in (channel.input, channel.output)]
        _pair(pairs, *ends)
    if pairs:
        return tuple(pairs), True
    inputs = [
        number for number in used if any(_role(part, pin) in ("anode", "cathode", "coil") for pin in groups[number])
    ]
    outputs = [number for number in used if number not in inputs]
    if inputs and outputs and part.kind.facing == "inputs to outputs":
        if len(inputs) == len(outputs):
            return tuple(zip(inputs, outputs, strict=True)), True
        _pair(pairs, inputs, outputs)
        return tuple(pairs), True
    every = [(one, other) for position, one in enumerate(used) for other in used[position + 1 :]]
    return tuple(every), False


def edges_of(part: Part) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """The port groups of a part's inputs and those of its outputs.

    None where neither is all at one edge of the package: parts that pass no signal, linear couplers, gate drivers, and
    parts of which one group of pins holds inputs and outputs.
    """
    if not part.kind.edges:
        return None
    of_pin = {pin: number for number, group in enumerate(part.groups) for pin in group}
    lit = ("anode", "cathode", "coil")
    inputs = {of_pin[pin] for pin in of_pin if _role(part, pin) in lit}
    outputs = {of_pin[pin] for pin in of_pin if _role(part, pin) not in (*lit, "none")}
    record = part.record
    if record is not None and record.channels:
        inputs, outputs = set(), set()
        for channel in record.channels:
            inputs |= {of_pin[pin] for pin in map(record.position, channel.input) if pin in of_pin}
            outputs |= {of_pin[pin] for pin in map(record.position, channel.output) if pin in of_pin}
    if not inputs or not outputs or inputs & outputs:
        return None
    return tuple(sorted(inputs)), tuple(sorted(outputs))


def _role(part: Part, pin: int) -> str:
    return part.roles[pin] if pin < len(part.roles) else ""


def _pair(pairs: dict[tuple[int, int], None], inputs: Sequence[int], outputs: Sequence[int]) -> None:
    for one in inputs:
        for other in outputs:
            if one >= 0 and other >= 0 and one != other:
                pairs[(min(one, other), max(one, other))] = None


def group_label(part: Part, group: int) -> str:
    """A port group by its pins: `XU1.anode+cathode`, by the record's pin names where roles do not tell pins apart."""
    pins = part.groups[group]
    names = [_role(part, pin) for pin in pins]
    if any(not name or part.roles.count(name) > 1 for name in names):
        record = part.record
        known = record is not None and len(record.pins) == len(part.roles)
        names = [record.pins[pin] if record is not None and known else str(pin + 1) for pin in pins]
    return f"{part.path}.{'+'.join(names)}"
