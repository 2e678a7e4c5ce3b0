"""Whether capacitors and strings of resistors across a barrier hold its voltages, each taking its worst share."""

from __future__ import annotations

import math
from collections.abc import Iterator
from heapq import heappop, heappush
from typing import Final, NamedTuple

from isolint.checking.barrier_results import level_of
from isolint.checking.barrier_strength import Wall
from isolint.checking.bridge_network import Edge, RcNetwork, network_between, worst_share
from isolint.checking.capacitors import class_of
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import ElementFacts
from isolint.results import Evidence, Kind, Limit, Margin, Measure, MissingFact, Result
from isolint.standards import bridging
from isolint.standards.insulation_demands import Strength
from isolint.units import Interval, show
from isolint.worstcase.uncertain import KINDEST, WORST, Term

_SLACK: Final = 1e-9
_MANY: Final = 64
"""Up to so many elements each is shorted in turn."""
_CLASSES: Final = {"Y1": 2, "Y2": 1}
"""The layers that a capacitor counts for in a chain with resistors."""


def part_of(network: RcNetwork, letter: str) -> RcNetwork:
    """The capacitors, or the resistors, of a network."""
    return network._replace(edges=tuple(edge for edge in network.edges if edge.letter == letter))


def spread_of(context: Context, network: RcNetwork, *, kindest: bool = False) -> dict[int, Interval]:
    """The factors of each element's value; of a tolerance that nobody stated nothing remains at the kindest."""
    found = {}
    for edge in network.edges:
        term = context.lookup.tolerance(edge.element)
        low, high = (term.kind_low, term.kind_high) if kindest else (term.low, term.high)
        found[edge.element] = Interval(1.0 + low, 1.0 + high)
    return found


def is_safety_resistor(context: Context, element: int) -> bool:
    """Whether one of its type passed the tests by which it may lie alone across insulation."""
    stated = context.facts.element(context.circuit.path(element)).safety_resistor
    return stated is not None and stated.value


# -- strings of resistors ------------------------------------------------------------------------------------------


def string_grade(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """What lies in series on the weakest way with a resistor in it: reinforced insulation wants two, or certified ones.

    A way of capacitors alone is judged by their classes elsewhere.
    """
    strength = wall.limits.strength
    if strength is None or (strength == "basic" and not (wall.limits.hazardous or wall.limits.mains)):
        return
    way = _weakest(context, network_between(context, wall.pair.sides))
    if all(context.circuit.letter(element) == "C" for element in way):
        return
    total, wanted = sum(_layers(context, element) for element in way), 2 if strength == "reinforced" else 1
    names = ", ".join(map(context.circuit.path, way))
    insulation = wall.limits.insulation
    start = f"between sides {wall.pair.name} lies {names}"
    said = Evidence(
        "layers in series on the weakest way",
        "n",
        "1",
        min=float(total),
        limit=Limit("at_least", float(wanted)),
        source="a resistor or a Y2 capacitor counts as one, a certified resistor or Y1 as two "
        "(key `iec-62368-1`, from memory)",
    )
    if total < wanted:
        one = "one resistor alone" if len(way) == 1 else f"{total} of {wanted} layers in series"
        text = f"{start}: {one}; {insulation} insulation wants two in series, or one that passed the tests"
        remedy = f"split {context.named(way[0])} into two of half the value, or state safety_resistor where it is one"
        yield _about(context, rule, wall, way, "fail", text, said, Margin(total / wanted, 1.0), remedy)
    elif len(way) == 1 and not is_safety_resistor(context, way[0]):
        text = (
            f"{start}: one resistor alone over {insulation} insulation is enough if it passed the tests (from memory)"
        )
        yield _about(context, rule, wall, way, "open", text, said, None)
    else:
        safe = all(is_safety_resistor(context, element) for element in way)
        what = "a type that passed the tests" if safe else f"{len(way)} in series"
        text = f"{start}: {what}, {insulation} is wanted"
        yield _about(context, rule, wall, way, "pass", text, said, None)


def _layers(context: Context, element: int) -> int:
    """What an element of a chain counts for."""
    if context.circuit.letter(element) == "R":
        return 2 if is_safety_resistor(context, element) else 1
    return _CLASSES.get(class_of(context, element), 0)


def _weakest(context: Context, network: RcNetwork) -> tuple[int, ...]:
    """The elements of the way with the fewest layers in series, of two such that with fewer elements."""
    at: dict[int, list[tuple[int, int]]] = {}
    for edge in network.edges:
        at.setdefault(edge.one, []).append((edge.other, edge.element))
        at.setdefault(edge.other, []).append((edge.one, edge.element))
    heap: list[tuple[int, int, int, tuple[int, ...]]] = [(0, 0, 0, ())]
    done: set[int] = set()
    while heap:
        total, steps, node, way = heappop(heap)
        if node == 1:
            return way
        if node in done:
            continue
        done.add(node)
        for other, element in at.get(node, ()):
            if other not in done:
                heappush(heap, (total + _layers(context, element), steps + 1, other, (*way, element)))
    return ()


class _Volts(NamedTuple):
    """Peak volts that a resistor takes at its worst share, at the worst and at the kindest."""

    worst: float
    kindest: float


def string_volts(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """The volts that each resistor of a string takes at its worst share, whole and with any one shorted."""
    if wall.limits.strength is None:
        return
    network = part_of(network_between(context, wall.pair.sides), "R")
    peak = wall.limits.peak.need
    if not network.edges or math.isinf(peak.worst) or len(network.edges) > _MANY:
        return
    whole, shorted = _shares(network, spread_of(context, network))
    kind_whole, kind_shorted = _shares(network, spread_of(context, network, kindest=True))
    sound: list[Evidence] = []
    for element, share in whole.items():
        term = context.lookup.term(ElementFacts.voltage, context.circuit.path(element))
        said = Evidence(
            f"volts across {context.circuit.path(element)}",
            "V",
            "V",
            max=peak.worst * share,
            limit=Limit("at_most", WORST.low(term)),
            source=f"{share:.4g} of {peak.row}; rated: {term.origin}",
        )
        volts = _Volts(peak.worst * share, peak.kindest * kind_whole[element])
        results = [_overloaded(context, rule, wall, element, volts, term, said)]
        failed = results[0] is not None and results[0].kind == "fail"
        if not failed and not is_safety_resistor(context, element):
            fault = _Volts(peak.worst * shorted.get(element, 0.0), peak.kindest * kind_shorted.get(element, 0.0))
            more = said._replace(name=f"{said.name}, another one shorted", max=fault.worst)
            found = _overloaded(context, rule, wall, element, fault, term, more, fault=True)
            # What is open already is asked for once.
            results.append(found if results[0] is None or (found is not None and found.kind == "fail") else None)
        told = [result for result in results if result is not None]
        yield from told
        if not told:
            sound.append(said)
    if len(sound) == len(whole):
        names = ", ".join(map(context.circuit.path, whole))
        text = f"between sides {wall.pair.name} {names} take their volts at the worst share of each"
        yield _about(context, rule, wall, tuple(whole), "pass", text, None, None)._replace(evidence=tuple(sound))


def _shares(network: RcNetwork, spread: dict[int, Interval]) -> tuple[dict[int, float], dict[int, float]]:
    """The worst share of the volts of each resistor: of the whole network, and with any other one shorted."""
    whole = {edge.element: worst_share(network, edge.element, spread) for edge in network.edges}
    shorted: dict[int, float] = {}
    for gone in network.edges:
        kept, other = (gone.other, gone.one) if gone.other in (0, 1) else (gone.one, gone.other)
        if {kept, other} == {0, 1}:
            continue
        rest = network.merged(other, kept)
        for edge in rest.edges:
            shorted[edge.element] = max(shorted.get(edge.element, 0.0), worst_share(rest, edge.element, spread))
    return whole, shorted


def _overloaded(
    context: Context,
    rule: Rule,
    wall: Wall,
    element: int,
    volts: _Volts,
    term: Term,
    said: Evidence,
    *,
    fault: bool = False,
) -> Result | None:
    """That a resistor takes more volts than it is rated for, or may; None where it does not.

    Where nobody stated its rating nothing is asked for the fault alone.
    """
    rated, most = WORST.low(term), KINDEST.low(term)
    certain = volts.kindest > most * (1.0 + _SLACK)
    if volts.worst <= rated * (1.0 + _SLACK) or (fault and rated < most):
        return None
    path = context.circuit.path(element)
    known = f"it is rated {show(rated, 'V')}"
    if rated < most:
        known = f"nobody stated its rating ({show(rated, 'V')} to {show(most, 'V')} are usual)"
    taken = show(volts.kindest if certain else volts.worst, "V")
    takes = f"with another one shorted {path} takes {taken}" if fault else f"{path} takes {taken} at its worst share"
    remedy = f"{context.named(element)}: rated {show(volts.worst, 'V')} or more, or more of them in series"
    unknown = (context.lookup.missing(ElementFacts.voltage, path),) if rated < most else ()
    result = _about(
        context,
        rule,
        wall,
        (element,),
        "fail" if certain else "open",
        f"between sides {wall.pair.name} {takes}, {known}",
        said,
        Margin(most / volts.kindest if certain else rated / volts.worst, 1.0),
        f"{remedy}{' (common practice)' if fault else ''}" if certain else "",
        missing=() if certain else (*unknown, *wall.limits.peak.missing),
        warning=fault,
    )
    return result._replace(role=f"{result.role}, another one shorted") if fault else result


# -- capacitors ----------------------------------------------------------------------------------------------------


def capacitor_impulse(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """The impulse that each capacitor takes at its worst share: whole, and with any one of a chain shorted."""
    limits, strength = wall.limits, wall.limits.strength
    if strength is None:
        return
    network = part_of(network_between(context, wall.pair.sides), "C")
    if not network.edges or len(network.edges) > _MANY:
        return
    if limits.impulse is None:
        # Where parts lie across as well it is asked for there.
        unknown = None if wall.crossers else limits.unknown_impulse
        if unknown is not None:
            elements = tuple(sorted({edge.element for edge in network.edges}))
            names = ", ".join(map(context.circuit.path, elements))
            text = f"between sides {wall.pair.name} lies {names}: nobody stated what impulse may come; {unknown.hint}"
            yield _about(context, rule, wall, elements, "open", text, None, None, missing=unknown.missing)
        return
    wanted = limits.impulse_for(strength)
    assert wanted is not None
    spread = spread_of(context, network)
    for edge in network.edges:
        name, farads = class_of(context, edge.element), edge.value
        volts = bridging.impulse(name, farads) if name else None
        if volts is None or not _fit(context, network, strength, limits.mains):
            continue
        share = worst_share(network, edge.element, spread)
        least = limits.impulse.need
        alone = _share_with_one_shorted(network, edge.element, spread)
        asks = [(wanted.need.worst * share, wanted.need.kindest * share, wanted.need.row)]
        if alone:
            asks.append((least.worst * alone, least.kindest * alone, f"{least.row}, with another one shorted"))
        worst, kindest, row = max(asks)
        path = context.circuit.path(edge.element)
        said = Evidence(
            f"impulse that {path} withstands",
            "U_p",
            "V",
            min=volts,
            limit=Limit("at_least", worst),
            source=f"class {name} of key `iec-60384-14`; wanted: {row}",
        )
        text = (
            f"between sides {wall.pair.name} {path} ({show(farads, 'F')}, {name}) withstands {show(volts, 'V')}, "
            f"{show(worst, 'V')} may come"
        )
        margin = Margin(volts / worst, 1.0)
        if volts >= worst * (1.0 - 1e-9):
            yield _about(context, rule, wall, (edge.element,), "pass", text, said, margin)
        elif volts < kindest * (1.0 - 1e-9):
            remedy = f"{context.named(edge.element)}: less capacitance, or a class that withstands {show(worst, 'V')}"
            yield _about(context, rule, wall, (edge.element,), "fail", text, said, margin, remedy)
        else:
            yield _about(context, rule, wall, (edge.element,), "open", text, said, margin, missing=wanted.missing)


def _fit(context: Context, network: RcNetwork, strength: Strength, mains: float) -> bool:
    """Whether the classes of a network may bridge such a barrier at all; else that is said, and not this."""

    def weight(edge: Edge) -> float:
        name = class_of(context, edge.element)
        return bridging.share(strength, name, mains or None).high if name else 1.0

    best: dict[int, float] = {0: 0.0}
    for _ in range(network.nodes):
        for edge in network.edges:
            for one, other in ((edge.one, edge.other), (edge.other, edge.one)):
                if one in best:
                    best[other] = min(best.get(other, math.inf), best[one] + weight(edge))
    return best.get(1, 0.0) >= 1.0


def _share_with_one_shorted(network: RcNetwork, element: int, spread: dict[int, Interval]) -> float:
    """The worst share of a capacitor while another one is shorted; 0 where it is alone on its way."""
    found = 0.0
    for gone in network.edges:
        kept, other = (gone.other, gone.one) if gone.other in (0, 1) else (gone.one, gone.other)
        if gone.element != element and {kept, other} != {0, 1}:
            rest = network.merged(other, kept)
            if any(edge.element == element for edge in rest.edges):
                found = max(found, worst_share(rest, element, spread))
    return found


# -- results -------------------------------------------------------------------------------------------------------


def _about(
    context: Context,
    rule: Rule,
    wall: Wall,
    elements: tuple[int, ...],
    kind: Kind,
    text: str,
    said: Evidence | None,
    margin: Margin | None,
    remedy: str = "",
    *,
    missing: tuple[MissingFact, ...] = (),
    warning: bool = False,
) -> Result:
    paths = sorted(map(context.circuit.path, elements), key=str.casefold)
    lines = list(missing)
    if kind == "open" and not lines:
        lines = [context.lookup.missing(ElementFacts.safety_resistor, paths[0])]
    return context.result(
        rule,
        kind,
        text,
        min(map(context.place, elements)),
        wall.pair.subject,
        role=", ".join(paths),
        level="warning" if warning else level_of(wall),
        evidence=[] if said is None else [said],
        margin=margin,
        measure=Measure.number_of(1),
        missing=lines,
        remedy=remedy,
        related=context.related(elements),
        element=min(elements, key=context.place),
        members=paths,
    )
