"""Nets that are one for a supply: a jumper of 0 ohm, a small series resistor or an ammeter lies between them."""

from __future__ import annotations

from heapq import heappop, heappush

from isolint.worstcase.lookup import Lookup

MOST_OHMS = 1.0
"""Ohms in series through which a net still counts (common practice, no source)."""


def linked(lookup: Lookup, net: int) -> dict[int, float]:
    """A net and those that at most 1 ohm joins to it, with the ohms between, nearest first."""
    circuit = lookup.circuit
    found: dict[int, float] = {}
    waiting = [(0.0, net)]
    while waiting:
        far, at = heappop(waiting)
        if at in found:
            continue
        found[at] = far
        for element, pin in circuit.elements_at(at):
            letter = circuit.letter(element)
            if letter == "R":
                ohms = lookup.ohms(element)
            elif letter == "V" and circuit.value(element) == 0.0 and circuit.stimulus(element) is None:
                ohms = 0.0
            else:
                continue
            if ohms is not None and far + ohms <= MOST_OHMS:
                heappush(waiting, (far + ohms, circuit.pins(element)[1 - pin]))
    return found
