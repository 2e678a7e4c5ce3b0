"""Bodies that leave ports apart and carry nothing between them: a coupler without light, coils that nothing couples.

In: a signal graph in which nothing is controlled or coupled, and what the part's name suggests. Out: a
`StructureVerdict` that never answers. Models are written so for a symbol's sake, or to make a simulator start; to
take them for sheets would lose the barrier.
"""

from __future__ import annotations

from collections.abc import Callable

from isolint.recognition.answer import ORDINARY, StructureVerdict, none
from isolint.recognition.led_groups import unsensed_led
from isolint.recognition.makes import types_of
from isolint.recognition.pinning import groups_of, pins_of
from isolint.recognition.port_group import Group
from isolint.recognition.series import Hint
from isolint.recognition.signals import Graph

_TRANSISTORS = frozenset("QMJ")
_COIL = frozenset("LRDC")
_PLAIN = frozenset("RLCDVIQMJX")
MOST_CARDS = 40
"""Cards of a body that are looked at; more are a circuit of its own."""


def may_be_apart(letters: frozenset[str], ask: Callable[[], Hint | None]) -> bool:
    """Whether the cards of a body, with those of what it calls, may be a coupler without light or loose coils."""
    if not letters <= _PLAIN:
        return False
    return "L" in letters or ("D" in letters and not _TRANSISTORS.isdisjoint(letters)) or ask() is not None


def left_apart(graph: Graph, ask: Callable[[], Hint | None]) -> StructureVerdict:
    """An LED beside a transistor, or a coil beside free contacts, that share a body and nothing else."""
    hint = ask()
    found = _lit(graph, hint) or _moved(graph, hint) or _wound(graph, hint)
    return found or none("nothing in it carries a signal from one side to another")


def _lit(graph: Graph, hint: Hint | None) -> StructureVerdict | None:
    """One or more LEDs, each with an own transistor in the order of the ports."""
    leds = [led for at in graph.group_components if (led := unsensed_led(graph, at, hint is not None)) is not None]
    taken = {led.component for led in leds}
    outputs = [
        at
        for at in graph.group_components
        if at not in taken
        and len(graph.ports(at)) > 1
        and any(device.letter in _TRANSISTORS for device in graph.devices(at))
    ]
    if not leds or len(leds) != len(outputs):
        return None
    groups = [Group(graph, led, at, graph.ports(at), graph.devices(at)) for led, at in zip(leds, outputs, strict=True)]
    kinds = types_of("unlit base" if all("Q" in group.letters() for group in groups) else "plain switch")
    first = hint.type if hint is not None and hint.type in types_of(None) else kinds[0]
    pins = pins_of(graph, leds, [_ends(group) for group in groups], numbered=len(leds) > 1)
    return StructureVerdict(
        "asked",
        first,
        tuple(dict.fromkeys((first, *kinds, ORDINARY))),
        pins,
        groups_of(graph, leds, [group.ports for group in groups], pins),
        tuple((tuple(sorted(group.led.ports)), group.ports) for group in groups),
        tuple(port for port, pin in enumerate(pins) if not pin),
        why="an LED and a transistor, and nothing in it that joins them",
    )


def _ends(group: Group) -> dict[int, str]:
    """Collector, emitter and base of the one bipolar transistor whose ends are ports."""
    found: dict[int, str] = {}
    transistors = [device for device in group.devices if device.letter == "Q"]
    if len(transistors) == 1:
        collector, base, emitter = transistors[0].pins[:3]
        # A base that is tied to another pin gives that pin no name of its own.
        for net, pin in ((collector, "collector"), (emitter, "emitter"), (base, "base")):
            if group.at(net) >= 0:
                found.setdefault(group.at(net), pin)
    return found


def _moved(graph: Graph, hint: Hint | None) -> StructureVerdict | None:
    """A coil between two ports, and two ports or more that nothing touches or that a contact of its own joins."""
    named = hint is not None and hint.type in types_of("coil and contact")
    for at in graph.group_components:
        letters = {device.letter for device in graph.devices(at)}
        if len(graph.ports(at)) != 2 or not letters <= _COIL or not ("L" in letters or (named and "R" in letters)):
            continue
        others = [other for other in graph.group_components if other != at]
        free = [other for other in others if not graph.devices(other)]
        if len(free) == len(others) > 1 or (named and others):
            kinds = types_of("coil and contact")
            groups = tuple(sorted(graph.groups))
            why = "a coil, and nothing in it that moves a contact"
            return StructureVerdict(
                "asked", kinds[0], (*kinds, ORDINARY), ("",) * len(graph.body.ports), groups, why=why
            )
    return None


def _wound(graph: Graph, hint: Hint | None) -> StructureVerdict | None:
    """Coils in groups of their own, which nothing couples, in a part whose name is that of coupled coils."""
    kinds = types_of("coupled coils")
    if hint is None or hint.type not in kinds:
        return None
    wound = [at for at in graph.group_components if any(device.letter == "L" for device in graph.devices(at))]
    inside = {device.letter for at in wound for device in graph.devices(at)}
    if len(wound) < 2 or not inside <= _COIL:
        return None
    why = "coils, and nothing in it that couples them"
    pins, groups = ("",) * len(graph.body.ports), tuple(sorted(graph.groups))
    return StructureVerdict("asked", kinds[0], (*kinds, ORDINARY), pins, groups, why=why)
