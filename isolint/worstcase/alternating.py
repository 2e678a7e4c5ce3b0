"""Alternating and pulsed sources: extremes of a stimulus, its frequency and duty, capacitors that drop alternating
voltage.

In: a lookup, walked networks. Out: volts, hertz, shares of time. Alternating drive is quasi-static: a sine is stepped
through operating points, and a capacitor on its side of everything that rectifies counts as a resistor of 1 / (2 pi f
C).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping

from isolint.circuit import Circuit
from isolint.facts import SupplyFacts
from isolint.interfaces.entities import Boundary, Network
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking

BLEEDER = 30.0
"""A resistor across a dropping capacitor of so many times its reactance does not carry the current past it."""

LINEAR = "RLCVS"
# Letters through which a sine stays a sine.


def reactance(hertz: float, farads: float) -> float:
    """The reactance of a capacitor, ohms."""
    return 1.0 / (2.0 * math.pi * hertz * farads)


def stimulus_ends(circuit: Circuit, element: int) -> tuple[float, float]:
    """The lowest and highest value of a moving source: both levels of PULSE.

    All of PWL, offset and amplitude of SIN.
    """
    stimulus = circuit.stimulus(element)
    kind, numbers = ("", ()) if stimulus is None else stimulus
    if kind in ("PULSE", "EXP") and len(numbers) >= 2:
        return min(numbers[:2]), max(numbers[:2])
    if kind == "PWL" and len(numbers) >= 2:
        values = numbers[1::2]
        return min(values), max(values)
    if kind == "SIN" and len(numbers) >= 2:
        return numbers[0] - abs(numbers[1]), numbers[0] + abs(numbers[1])
    raise Lacking(f"the extremes of source {circuit.path(element)} can't be told from its card")


def is_sine(circuit: Circuit, held: Boundary) -> bool:
    """Whether a net is held by a SIN source of the netlist."""
    stimulus = circuit.stimulus(held.element) if held.kind == "output" and held.element >= 0 else None
    return stimulus is not None and stimulus[0] == "SIN"


def high_share(circuit: Circuit, element: int, high: bool) -> float:
    """The share of time that a PULSE source is not at its other level: edges count; 1 where its card does not tell."""
    stimulus = circuit.stimulus(element)
    if stimulus is None or stimulus[0] != "PULSE" or len(stimulus[1]) < 7:
        return 1.0
    first, second, _, rise, fall, width, period = stimulus[1][:7]
    if period <= 0.0 or min(rise, fall, width) < 0.0:
        return 1.0
    # The second level lasts for `width`; both edges lie outside it.
    if high == (second >= first):
        return min((width + rise + fall) / period, 1.0)
    return 1.0 - min(width / period, 1.0)


def frequency(lookup: Lookup, held: Boundary) -> float | None:
    """The frequency of what alternates on a held net, hertz; None for a net that does not alternate.

    `Lacking` for an AC supply whose frequency is not stated.
    """
    if held.kind == "supply" and lookup.is_alternating(held.net):
        name = lookup.circuit.net_name(held.net)
        fact = lookup.facts.supply(name)
        if fact is None or fact.frequency is None:
            missing = lookup.missing(SupplyFacts.frequency, name)
            raise Lacking(f"the frequency of AC supply {name} is not stated", [missing])
        return fact.frequency.value
    if is_sine(lookup.circuit, held):
        stimulus = lookup.circuit.stimulus(held.element)
        numbers = () if stimulus is None else stimulus[1]
        return numbers[2] if len(numbers) >= 3 and numbers[2] > 0.0 else None
    return None


def dropping_capacitors(lookup: Lookup, walked: Network) -> Mapping[int, float]:
    """The capacitors of a network that carry the current of an alternating source, with its frequency in hertz.

    They are reached from the source's net without passing anything that rectifies, and nothing but capacitors leads on
    from there. A storage capacitor behind a diode is none, nor one that lies across the drive.
    """
    circuit = lookup.circuit
    capacitors = [element for element in walked.elements if circuit.letter(element) == "C"]
    if not capacitors:
        return {}
    fixed = {held.net for held in walked.boundary if held.kind != "loose"}
    found: dict[int, float] = {}
    members = frozenset(walked.elements)
    for held in walked.boundary:
        alternates = (held.kind == "supply" and lookup.is_alternating(held.net)) or is_sine(circuit, held)
        if not alternates:
            continue
        bleeders = _bleeders(lookup, capacitors, members, held)
        seen: set[int] = set()
        reached: list[int] = []
        ahead = [(held.net, -1)]
        while ahead:
            # What resistors reach first: a capacitor between two such nets, or to a held net, drops nothing.
            net, through = ahead.pop(0)
            if net in seen:
                continue
            if through >= 0:
                reached.append(through)
            waiting = deque([net])
            seen.add(net)
            while waiting:
                for element, _ in circuit.elements_at(waiting.popleft()):
                    if element not in members or circuit.letter(element) not in LINEAR or element in bleeders:
                        continue
                    others = [other for other in circuit.pins(element) if other not in seen and other not in fixed]
                    if circuit.letter(element) == "C":
                        ahead.extend((other, element) for other in others)
                        continue
                    for other in others:
                        seen.add(other)
                        waiting.append(other)
        hertz = frequency(lookup, held) if reached else None
        if hertz is not None:
            found.update(dict.fromkeys(reached, hertz))
    return found


def _bleeders(lookup: Lookup, capacitors: list[int], members: frozenset[int], held: Boundary) -> frozenset[int]:
    """The resistors across a capacitor that are so large that its current is the capacitor's."""
    circuit = lookup.circuit
    try:
        hertz = frequency(lookup, held)
    except Lacking:
        return frozenset()
    found: set[int] = set()
    for capacitor in capacitors if hertz is not None else ():
        farads, plates = circuit.value(capacitor), set(circuit.pins(capacitor)[:2])
        for element, _ in circuit.elements_at(circuit.pins(capacitor)[0]):
            if circuit.letter(element) != "R" or element not in members or set(circuit.pins(element)[:2]) != plates:
                continue
            ohms = lookup.ohms(element)
            if farads and ohms and hertz is not None and ohms >= BLEEDER * reactance(hertz, farads):
                found.add(element)
    return frozenset(found)
