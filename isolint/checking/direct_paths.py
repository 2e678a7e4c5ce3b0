"""Ways of direct current from a net, by connections alone.

In: a context, a net. Out: what it leads to, up to nets that something holds.
"""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.entities import Boundary
from isolint.interfaces.walk import MAX_ELEMENTS

_OFF = frozenset("CK")


class ReachedNets(NamedTuple):
    """What a net leads to for direct current, the LED itself taken out.

    nets: in the order found. held: what holds nets at the ends. sources: sources and windings on the way, and parts
    that nobody can look into. elements: all that was passed. whole: False where there was too much to follow.
    """

    nets: tuple[int, ...]
    held: tuple[Boundary, ...]
    sources: tuple[int, ...]
    elements: tuple[int, ...]
    whole: bool


class HowFar(NamedTuple):
    """How far to look. capacitors: through them as well. directed: through LEDs of couplers only with the current.
    still: transistors that don't conduct."""

    capacitors: bool = False
    directed: bool = False
    still: frozenset[int] = frozenset()


def spread(
    context: Context, start: int, way: HowFar, without: frozenset[tuple[int, int]], backwards: bool = False
) -> ReachedNets:
    """What a net leads to up to nets that something holds.

    without: pins (element, index) that are taken out. backwards: where current comes from rather than where it goes, if
    that makes a difference.
    """
    circuit, walker = context.circuit, context.lookup.walker
    ignored = context.interfaces.separation.ignored
    waiting = deque([start])
    seen = {start: None}
    held: dict[Boundary, None] = {}
    sources: dict[int, None] = {}
    elements: dict[int, None] = {}
    while waiting and len(elements) <= MAX_ELEMENTS:
        net = waiting.popleft()
        holder = walker.held(net)
        if holder is not None:
            held[holder] = None
            continue
        for element, pin in circuit.elements_at(net):
            if element in ignored or (element, pin) in without:
                continue
            following = through(context, element, pin, way, backwards)
            if following is None or is_source(context, element):
                sources[element] = None
            fresh = [other for other in following or () if other not in seen]
            if following:
                elements[element] = None
            seen.update(dict.fromkeys(fresh))
            waiting.extend(fresh)
            if len(elements) > MAX_ELEMENTS:
                break
    return ReachedNets(tuple(seen), tuple(held), tuple(sources), tuple(elements), len(elements) <= MAX_ELEMENTS)


def through(context: Context, element: int, pin: int, way: HowFar, backwards: bool) -> tuple[int, ...] | None:
    """The nets behind an element for direct current; None for a part that nobody can look into."""
    circuit = context.circuit
    letter, pins = circuit.letter(element), circuit.pins(element)
    part = context.interfaces.recognition.parts.get(element)
    if part is None and letter in _OFF:
        return pins if letter == "C" and (way.capacitors or "rpar" in circuit.tail(element)) else ()
    if element in way.still:
        return ()
    if part is None and letter == "M":
        return () if pin == 1 else (pins[0], *pins[2:])
    indices = context.lookup.walker.through(element, pin)
    if indices is None:
        return None
    if (
        part is not None
        and way.directed
        and not part.both_ways
        and part.roles[pin] == ("anode" if backwards else "cathode")
    ):
        return ()
    return tuple(pins[index] for index in indices[1:])


def is_source(context: Context, element: int) -> bool:
    """Whether an element moves current by itself: a source, or a winding."""
    circuit = context.circuit
    letter = circuit.letter(element)
    if letter == "V":
        return circuit.value(element) != 0.0 or circuit.stimulus(element) is not None
    return letter == "I" or (letter == "L" and bool(context.coupled_to(element)))
