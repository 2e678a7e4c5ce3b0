"""Channels that the board does not use: neither their LED nor their output is connected to anything.

In: a part, the pins of one channel, what holds nets. Out: whether it is unused.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from isolint.circuit import Circuit
from isolint.interfaces.entities import Part
from isolint.interfaces.pinsets import pin_sets
from isolint.interfaces.walk import Walker

TIE_OHMS = 10.0
"""Below this two pins are one net."""

_OUTPUTS = ("collector", "emitter", "base", "output")


def unused_channels(circuit: Circuit, walker: Walker, part: Part) -> frozenset[str]:
    """The names of a part's unused channels: all of them where nothing on it is connected.

    Where nothing but such parts is in the netlist it is about them, and none of them is left out.
    """
    sheets = len(circuit.instances) - 1
    if circuit.element_count - sheets == len(walker.recognition.parts) and not _parked(circuit, walker, part):
        return frozenset()
    return frozenset(name for name, pins in pin_sets(part) if is_unused(circuit, walker, part, pins))


def _parked(circuit: Circuit, walker: Walker, part: Part) -> bool:
    nets = circuit.pins(part.element)
    return any(
        _joined(circuit, walker, [nets[pins[role]] for role in ("anode", "cathode")]) for _, pins in pin_sets(part)
    )


def is_unused(circuit: Circuit, walker: Walker, part: Part, pins: Mapping[str, int]) -> bool:
    """Whether the LED's pins are alone or joined, and those of the output alone, joined or on a reference."""
    nets = circuit.pins(part.element)
    output = [pins[role] for role in _OUTPUTS if role in pins] if part.kind.output.conducts else _switched(part, pins)
    if not output or "anode" not in pins or "cathode" not in pins:
        return False
    led = [pins["anode"], pins["cathode"]]
    own = {*led, *output}
    if not (_all_alone(circuit, walker, part, led, own) or _joined(circuit, walker, [nets[pin] for pin in led])):
        return False
    if any(_spoken_of(circuit, walker, nets[pin]) for pin in output):
        return False
    moving = [pin for pin in output if not _is_ground(walker, nets[pin])]
    return _all_alone(circuit, walker, part, moving, own) or _joined(circuit, walker, [nets[pin] for pin in output])


def _switched(part: Part, pins: Mapping[str, int]) -> list[int]:
    """The pins beside the one LED of a part whose output nothing solves yet."""
    lit = {pin for role, pin in pins.items() if role in ("anode", "cathode")}
    if sum(role == "anode" for role in part.roles) > 1:
        return []
    return [pin for group in part.groups if lit.isdisjoint(group) for pin in group]


def is_spare(circuit: Circuit, walker: Walker, part: Part, pins: Mapping[str, int]) -> bool:
    """Whether nothing is on the output's pins beside a reference."""
    nets = circuit.pins(part.element)
    output = [pins[role] for role in _OUTPUTS if role in pins]
    moving = [pin for pin in output if not _is_ground(walker, nets[pin])]
    return bool(output) and _all_alone(circuit, walker, part, moving, set(output))


def _all_alone(circuit: Circuit, walker: Walker, part: Part, pins: Iterable[int], own: set[int]) -> bool:
    nets = circuit.pins(part.element)
    return all(
        walker.held(nets[pin]) is None
        and not any(
            element not in walker.ignored and not (element == part.element and other in own)
            for element, other in circuit.elements_at(nets[pin])
        )
        for pin in pins
    )


def _joined(circuit: Circuit, walker: Walker, nets: list[int]) -> bool:
    """Whether all of several nets are one, or links lead from the first to each of the others."""
    first, *others = nets
    linked = {first}
    for element, _ in circuit.elements_at(first):
        value = circuit.value(element)
        if element not in walker.ignored and circuit.letter(element) == "R" and value is not None:
            linked.update(circuit.pins(element) if abs(value) < TIE_OHMS else ())
    return bool(others) and linked.issuperset(others)


def _is_ground(walker: Walker, net: int) -> bool:
    held = walker.held(net)
    return held is not None and held.kind == "ground"


def _spoken_of(circuit: Circuit, walker: Walker, net: int) -> bool:
    """Whether a fact says that something reads the net."""
    name, facts = circuit.net_name(net), walker.facts
    return any(fact is not None for fact in (facts.input(name), facts.line(name), facts.signal(name)))
