"""Isolators of two supplied sides: a signal goes from one to the other, and something confirms that they are sides.

In: a signal graph without LEDs. Out: a `StructureVerdict` that asks, or None. A type number, a word, the names of the
supplies and grounds of both sides, or the structure confirm it: each side has a supply that loads it, nothing ties
either to node 0, no voltage between the sides counts, and what only sends drives nothing of its own, as the low side
of a half-bridge driver does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from isolint.measure.body import ZERO, Device
from isolint.recognition.answer import ORDINARY, StructureVerdict
from isolint.recognition.makes import types_of
from isolint.recognition.series import Hint
from isolint.recognition.signals import Graph

_SUPPLY = re.compile(r"v(?:dd|cc|s|in|out)?_?([12abio]|in|out)\Z")
_GROUND = re.compile(r"(?:gnd|vss|vee|com)_?([12abio]|in|out|iso)\Z")
_LEAST = 3
"""Ports of a side."""

Sides = tuple[tuple[int, ...], ...]


def isolator(graph: Graph, ask: Callable[[], Hint | None]) -> StructureVerdict | None:
    """Two sides of three ports and more with a signal between them, if something confirms it; always asked."""
    sides = _signal_sides(graph)
    if sides is None:
        return None
    kinds, hint = types_of("two supplied sides"), ask()
    series = hint is not None and (hint.type in kinds or (not hint.type and hint.is_word))
    if not series and not all(_has_rails(graph, side) for side in sides) and not _are_supplied(graph, sides):
        return None
    verdict = StructureVerdict(
        "asked",
        "",
        (*kinds, ORDINARY),
        tuple("" for _ in graph.body.ports),
        tuple(sorted(sides)),
        why="a signal goes between two sides with a supply each",
        make="two supplied sides",
    )
    if hint is None or not hint.type:
        return verdict
    choices = tuple(dict.fromkeys((hint.type, *verdict.choices)))
    return verdict._replace(type=hint.type if series else "", choices=choices)


def _signal_sides(graph: Graph) -> Sides | None:
    """The ports as two sides or more of three ports each, a pin that only controls on the side that it refers to."""
    large = [component for component in graph.group_components if len(graph.ports(component)) >= 2]
    side_of: dict[int, int] = {component: component for component in large}
    for device in graph.body.devices:
        for one, other in device.pairs:
            for lone, partner in ((one, other), (other, one)):
                if ZERO in (lone, partner):
                    continue
                alone, at = graph.component(lone), graph.component(partner)
                if len(graph.ports(alone)) == 1 and at in side_of:
                    side_of.setdefault(alone, side_of[at])
    side_of |= _inputs_by_rails(graph, large) or _inputs_beside_lone_rails(graph, large, side_of)
    sides: dict[int, list[int]] = {}
    for component in graph.group_components:
        sides.setdefault(side_of.get(component, component), []).extend(graph.ports(component))
    wide = {side: sorted(ports) for side, ports in sides.items() if len(ports) >= _LEAST}
    if len(wide) < 2 or any(len(ports) < _LEAST and side in large for side, ports in sides.items()):
        return None
    members = {side: [at for at in graph.group_components if side_of.get(at, at) == side] for side in wide}
    crossing = any(
        not set(members[other]).isdisjoint(graph.reach(at).groups)
        for one in wide
        for at in members[one]
        for other in wide
        if other != one
    )
    ties = sum(any(_is_tied(device) for at in members[side] for device in graph.devices(at)) for side in wide)
    if not crossing or ties > 1:
        return None
    return tuple(tuple(sorted(ports)) for ports in sides.values())


def _inputs_by_rails(graph: Graph, large: Sequence[int]) -> dict[int, int]:
    """Inputs that nothing joins to their supply, on the side whose rails by name are not those that they act on."""
    railed = [at for at in large if _rail_numbers(graph, graph.ports(at))]
    numbers = [_rail_numbers(graph, graph.ports(at)) for at in railed]
    if len(railed) != 2 or numbers[0] & numbers[1]:
        return {}
    found = {}
    for component in graph.group_components:
        if component in railed or len(graph.ports(component)) >= _LEAST:
            continue
        acted = [at for at in railed if at in graph.reach(component).groups]
        if len(acted) == 1:
            found[component] = railed[1 - railed.index(acted[0])]
    return found


def _inputs_beside_lone_rails(graph: Graph, large: Sequence[int], side_of: Mapping[int, int]) -> dict[int, int]:
    """Inputs that nothing joins to their supply, on the side of the one loaded pair that no signal leaves or reaches.

    A part with one supply loads that; a pair beside it that only carries a current supplies what has no other supply.
    What signals go to has a load of its own.
    """
    wide = {at for at in large if len(graph.ports(at)) >= _LEAST and _loads(graph, at)}
    reached = {other for at in graph.group_components for other in graph.reach(at).groups if other != at}
    quiet = [at for at in large if len(graph.ports(at)) == 2 and at not in reached]
    rails = [at for at in quiet if _loads(graph, at) and not set(graph.reach(at).groups) - {at}]
    if len(rails) != 1 or not wide:
        return {}
    inputs = [at for at in graph.group_components if side_of.get(at, at) == at and at not in (*wide, *reached, *rails)]
    return {at: rails[0] for at in inputs if wide & set(graph.reach(at).groups)}


def _is_tied(device: Device) -> bool:
    return ZERO in device.pins and device.letter in "RLVD"


def _has_rails(graph: Graph, side: tuple[int, ...]) -> bool:
    names = [graph.body.names[port].lower() for port in side]
    return any(map(_SUPPLY.match, names)) and any(map(_GROUND.match, names))


def _rail_numbers(graph: Graph, ports: Iterable[int]) -> set[str]:
    """The numbers or letters of sides for which these ports have a supply and a ground."""
    names = [graph.body.names[port].lower() for port in ports]
    supplies = {found[1] for name in names if (found := _SUPPLY.match(name))}
    return supplies & {found[1] for name in names if (found := _GROUND.match(name))}


# -- by structure ----------------------------------------------------------------------------------------------------


def _are_supplied(graph: Graph, sides: Sides) -> bool:
    """Whether the structure alone shows two supplied sides with a signal between them."""
    if len(sides) != 2:
        return False
    components = [tuple(dict.fromkeys(graph.component(graph.body.ports[port]) for port in side)) for side in sides]
    loads = [[each for at in own for each in _loads(graph, at)] for own in components]
    if not all(loads) or any(_spans(graph, pair, components) for each in graph.body.devices for pair in each.pairs):
        return False
    for own, other, load in zip(components, components[::-1], loads, strict=True):
        devices = [device for at in own for device in graph.devices(at)]
        if any(ZERO in device.nets or ZERO in device.pins[:2] for device in devices if device.letter != "C"):
            return False
        reached = any(at in graph.reach(start).groups for start in other for at in own)
        if not reached and any(device.is_controlled and device not in load for device in devices):
            return False
    return True


def _spans(graph: Graph, pair: tuple[int, int], components: Sequence[Sequence[int]]) -> bool:
    """Whether a voltage between both sides controls something: then they have one reference."""
    at = [next((side for side, own in enumerate(components) if graph.component(net) in own), -1) for net in pair]
    return -1 not in at and at[0] != at[1]


def _loads(graph: Graph, component: int) -> list[Device]:
    """What carries a supply's current: resistors and currents between two ports. A signal from elsewhere makes none of
    it: that is a contact."""
    return [
        device
        for device in graph.devices(component)
        if (device.letter in "RI" or device.is_current_source)
        and len(device.nets) == 2
        and len({graph.port_at(net) for net in device.nets} - {-1}) == 2
        and not graph.foreign(device, component)
    ]
