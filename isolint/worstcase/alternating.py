"""Alternating and pulsed sources: extremes of a stimulus, its frequency and duty, capacitors that drop alternating
voltage.

In: a lookup, walked networks. Out: volts, hertz, shares of time. Alternating drive is quasi-static: a sine is stepped
through operating points, and a capacitor on its side of everything that rectifies counts as a resistor of 1 / (2 pi f
C).
"""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.facts import LineFacts, SupplyFacts
from isolint.interfaces.entities import Boundary, Network
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.uncertain import Lacking

BLEEDER = 30.0
"""A resistor across a dropping capacitor of so many times its reactance does not carry the current past it."""


class Fed(NamedTuple):
    """What a dropping capacitor feeds an LED at one temperature, amperes: low ends at least, high ends at most.

    square: the mean of the square. both: in both half waves.
    """

    temperature: float
    mean_low: float
    mean_high: float
    peak_high: float
    square_high: float
    both: bool


class Stored(NamedTuple):
    """A capacitor behind a rectifier that holds the LED current up between crests.

    volts: lowest and highest, at the corners of the least and of the largest LED current. charging,
    taken: mean squares of its currents at the latter, peak: of what charges it, amperes; 0 behind a dropping capacitor.
    repeats: seconds between its crests. tau: seconds, nominal, with all resistance that there is.
    """

    element: int
    path: str
    volts: tuple[float, float]
    charging: float
    taken: float
    peak: float
    repeats: float
    tau: float


_FIXED = frozenset(("ground", "supply", "output", "line"))


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


def alternates(lookup: Lookup, held: Boundary) -> bool:
    """Whether a held net alternates: a stated AC supply or line, or a SIN source of the netlist."""
    return held.kind in ("supply", "line", "output") and lookup.walker.alternates(held)


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
    if held.kind in ("supply", "line") and lookup.is_alternating(held.net):
        name = lookup.circuit.net_name(held.net)
        fact = lookup.facts.line(name) if held.kind == "line" else lookup.facts.supply(name)
        if fact is None or fact.frequency is None:
            raise unknown_frequency(lookup, held)
        return fact.frequency.value
    if is_sine(lookup.circuit, held):
        stimulus = lookup.circuit.stimulus(held.element)
        numbers = () if stimulus is None else stimulus[1]
        return numbers[2] if len(numbers) >= 3 and numbers[2] > 0.0 else None
    return None


def unknown_frequency(lookup: Lookup, held: Boundary) -> Lacking:
    """What to say of an alternating net of which nobody states how fast it alternates."""
    name, row = lookup.circuit.net_name(held.net), LineFacts.frequency if held.kind == "line" else SupplyFacts.frequency
    return Lacking(f"the frequency of AC {held.kind} {name} is not stated", [lookup.missing(row, name)])


def dropping_capacitors(lookup: Lookup, walked: Network) -> Mapping[int, float]:
    """The capacitors of a network that carry the current of an alternating source, with its frequency in hertz.

    Without capacitors the source leads nowhere: those that join what it reaches to the rest drop its voltage, on
    whichever side of what rectifies. A storage capacitor behind a diode is none, nor one that lies across the drive.
    """
    circuit = lookup.circuit
    if not any(circuit.letter(element) == "C" for element in walked.elements):
        return {}
    found: dict[int, float] = {}
    for held in walked.boundary:
        if not alternates(lookup, held):
            continue
        reached = _dropping(lookup, walked, held)
        hertz = frequency(lookup, held) if reached else None
        if hertz is not None:
            found.update(dict.fromkeys(reached, hertz))
    return found


def _dropping(lookup: Lookup, walked: Network, held: Boundary) -> set[int]:
    """The capacitors on the ways from a source to other held nets, where each way leads through one."""
    circuit = lookup.circuit
    capacitors = [element for element in walked.elements if circuit.letter(element) == "C"]
    islands = _islands(lookup, walked, _bleeders(lookup, capacitors, frozenset(walked.elements), held))
    own = islands.get(held.net, -1)
    ends = {islands[other.net] for other in walked.boundary if other.kind in _FIXED and other.net in islands}
    if own < 0 or any(
        islands.get(other.net) == own for other in walked.boundary if other.kind in _FIXED and other.net != held.net
    ):
        return set()
    sizes = Counter(islands.values())
    across = {other.net for other in walked.boundary if other.kind in _FIXED and sizes[islands[other.net]] > 1}
    joins: dict[int, list[tuple[int, int]]] = {}
    for element in capacitors:
        a, b = (islands.get(net, -1 - net) for net in circuit.pins(element)[:2])
        # One to a held net that has another way to the LED lies across the drive.
        if a != b and not (across - {held.net}) & set(circuit.pins(element)[:2]):
            joins.setdefault(a, []).append((element, b))
            joins.setdefault(b, []).append((element, a))
    # Island by island; what leads to no held net carries nothing.
    before: dict[int, list[tuple[int, int]]] = {own: []}
    waiting = deque([own])
    while waiting:
        here = waiting.popleft()
        if here in ends and here != own:
            continue
        for element, other in joins.get(here, []):
            if other not in before:
                before[other] = []
                waiting.append(other)
            if other != own:
                before[other].append((element, here))
    found: set[int] = set()
    back = deque(end for end in ends if end in before and end != own)
    seen = set(back)
    while back:
        for element, other in before[back.popleft()]:
            found.add(element)
            if other not in seen:
                seen.add(other)
                back.append(other)
    return found


def _islands(lookup: Lookup, walked: Network, left_out: frozenset[int]) -> dict[int, int]:
    """The nets of a network by what joins them without any capacitor, LEDs included: a number for each net."""
    circuit = lookup.circuit
    root: dict[int, int] = {}

    def find(net: int) -> int:
        while root.setdefault(net, net) != net:
            root[net] = root[root[net]]
            net = root[net]
        return net

    fixed = {held.net for held in walked.boundary if held.kind in _FIXED}

    def join(nets: Sequence[int]) -> None:
        for other in nets[1:]:
            root[find(nets[0])] = find(other)

    parts = lookup.walker.recognition.parts
    for element in walked.elements:
        letter = circuit.letter(element)
        if letter in "CK" or element in left_out or element in parts:
            continue
        nets = circuit.pins(element)
        join((nets[0], *nets[2:]) if letter == "M" else nets)
    for net in (*walked.inner, *fixed):
        find(net)
        for element, pin in circuit.elements_at(net) if net not in fixed else ():
            part = parts.get(element)
            group = next((group for group in part.groups if pin in group), ()) if part is not None else ()
            lit = [index for index in group if part is not None and part.roles[index] in ("anode", "cathode")]
            join([circuit.pins(element)[index] for index in lit])
    for pair in walked.pairs:
        join([circuit.pins(pair.element)[pin] for pin in pair[1:]])
    return {net: find(net) for net in root}


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
