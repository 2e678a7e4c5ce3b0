"""Capacitors over a barrier: what each network of them bears, and the current that all of them let through."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from isolint.checking.barrier_demands import Pair
from isolint.checking.context import Context
from isolint.facts import BarrierFacts
from isolint.interfaces.bridges import series
from isolint.interfaces.entities import Bridge, Edge
from isolint.standards import touch
from isolint.standards.bridging import share
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.fact_terms import origin
from isolint.worstcase.uncertain import WORST, Setting, Term

_MERGED = -1


class Strength(NamedTuple):
    """What the weakest way through a network of capacitors bears of a barrier (1 is all of it), and that way.

    low counts a capacitor without a class as nothing, high as the best.
    """

    low: float
    high: float
    way: tuple[int, ...]


def class_of(context: Context, element: int) -> str:
    """The stated class of a capacitor, "" without one."""
    fact = context.facts.element(context.circuit.path(element)).class_
    return "" if fact is None else fact.value


def rating_of(context: Context, element: int) -> float | None:
    """The stated rated voltage, rms."""
    fact = context.facts.element(context.circuit.path(element)).voltage
    return None if fact is None else fact.value


def strength(context: Context, bridge: Bridge, grade: str, volts: float | None) -> Strength:
    """What the weakest way through a bridge bears; volts: rms volts of the mains, None where they are not known."""

    def bears(element: int) -> Interval:
        name = class_of(context, element)
        return share(grade, name, volts) if name else Interval(0.0, 1.0)

    each = {element: bears(element) for element in bridge.elements}
    low, way = _weakest(bridge.edges, lambda element: each[element].low)
    high, _ = _weakest(bridge.edges, lambda element: each[element].high)
    return Strength(low, high, way)


def _weakest(edges: Sequence[Edge], weight: Callable[[int], float]) -> tuple[float, tuple[int, ...]]:
    """The way from node 0 to node 1 with the least weight in all."""
    at: dict[int, list[Edge]] = {}
    for edge in edges:
        for node in edge[1:]:
            at.setdefault(node, []).append(edge)
    heap: list[tuple[float, int, int, tuple[int, ...]]] = [(0.0, 0, 0, ())]
    done: set[int] = set()
    while heap:
        total, steps, node, way = heapq.heappop(heap)
        if node == 1:
            return total, way
        if node in done:
            continue
        done.add(node)
        for element, one, other in at.get(node, ()):
            following = other if one == node else one
            if following not in done:
                heapq.heappush(heap, (total + weight(element), steps + 1, following, (*way, element)))
    return 0.0, ()


# -- touch current -------------------------------------------------------------------------------------------------


class Leg(NamedTuple):
    """One thing that lets current through: all capacitors across, or those from one side to earth.

    farads: the capacitance with each capacitor's value multiplied by a factor.
    """

    name: str
    elements: tuple[int, ...]
    farads: Callable[[Mapping[int, float]], float]


def legs(context: Context, pair: Pair, bridges: Sequence[Bridge]) -> list[Leg]:
    """What lets current through between two sides; each leg on its own where capacitors meet at earth."""
    values = {element: context.circuit.value(element) or 0.0 for bridge in bridges for element in bridge.elements}

    def made(name: str, networks: Sequence[tuple[Sequence[Edge], tuple[int, int]]]) -> Leg:
        def farads(factors: Mapping[int, float]) -> float:
            scaled = {element: value * factors.get(element, 1.0) for element, value in values.items()}
            return sum(series(edges, ends, scaled) for edges, ends in networks)

        elements = tuple(dict.fromkeys(element for edges, _ in networks for element, _, _ in edges))
        return Leg(name, elements, farads)

    found = [made(f"between {pair.name}", [(bridge.edges, (0, 1)) for bridge in bridges])]
    for end, side in enumerate(bridges[0].sides):
        to_earth = []
        for bridge in bridges:
            if bridge.earth:
                merged = [
                    (element, *(_MERGED if node in bridge.earth else node for node in nodes))
                    for element, *nodes in bridge.edges
                ]
                own = [(element, one, other) for element, one, other in merged if 1 - end not in (one, other)]
                to_earth.append((own, (end, _MERGED)))
        if to_earth:
            found.append(made(f"from {side} to earth", to_earth))
    return found


class Drive(NamedTuple):
    """The voltage that drives touch current, rms volts with their words, and the frequency."""

    volts: float
    words: str
    hertz: Term


def drive(pair: Pair) -> Drive | None:
    """The mains 10 % up, or the working voltage where no mains is stated; None where neither is."""
    mains, working = pair.number(BarrierFacts.mains), pair.number(BarrierFacts.working_voltage)
    row, fact = BarrierFacts.mains_frequency, pair.stated(BarrierFacts.mains_frequency)
    if fact is not None:
        hertz = fact_terms.known(row, "", fact.value, origin(fact))
    else:
        hertz = fact_terms.defaulted(row, "", row.counts)._replace(example=pair.lines(row.entry()))
    hertz = hertz._replace(key=pair.key(row.key))
    if mains is not None:
        return Drive(mains * touch.MAINS_RISE, f"mains {mains:g} V +10 %", hertz)
    return None if working is None or "mains" in pair.kinds else Drive(working, "working voltage", hertz)


def touch_current(
    context: Context, leg: Leg, source: Drive, setting: Setting = WORST
) -> tuple[float, Sequence[Term], float]:
    """Amperes rms through a leg, the terms used, and its farads in that setting."""
    terms = [context.lookup.tolerance(element) for element in leg.elements]
    factors = {element: 1.0 + setting.high(term) for element, term in zip(leg.elements, terms, strict=True)}
    farads = leg.farads(factors)
    return touch.current(farads, source.volts, setting.high(source.hertz)), (*terms, source.hertz), farads
