"""Round which loops a switch is fed when it fires: over sources, or over a capacitor that is charged.

In: a switch with what it lies between. Out: the elements in series with it, a tuple a loop.
"""

from __future__ import annotations

from isolint.checking.context import Context
from isolint.checking.switched import Switched

LEAST_FARADS = 0.9e-9
"""A capacitor from which on a gate path can be fed."""


def feeding_loops(context: Context, found: Switched) -> tuple[tuple[int, ...], ...]:
    """What lies in series with the switch round each loop that can feed it: over sources or a charged capacitor."""
    loops = [
        tuple(dict.fromkeys((*one.elements, *other.elements)))
        for one in found.ways[0]
        for other in found.ways[1]
        if one.name != other.name
    ]
    first, second = found.reached
    for net in first:
        for element, _ in context.circuit.elements_at(net):
            value = context.circuit.value(element) if context.circuit.letter(element) == "C" else None
            if value is None or value < LEAST_FARADS:
                continue
            for other in context.circuit.pins(element):
                if other != net and other in second:
                    way = dict.fromkeys((*first[net], *second[other], element))
                    loops.append(tuple(way))
    return tuple(dict.fromkeys(loops))
