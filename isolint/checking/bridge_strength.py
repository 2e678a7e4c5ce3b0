"""Whether strings of resistors across a barrier hold its voltages, each taking its worst share."""

from __future__ import annotations

import math
from collections.abc import Iterator
from heapq import heappop, heappush
from typing import Final, NamedTuple

from isolint.checking.barrier_limits import BarrierLimits
from isolint.checking.barrier_results import level_of
from isolint.checking.barrier_strength import Wall
from isolint.checking.bridge_network import Edge, RcNetwork, network_between, worst_share
from isolint.checking.capacitors import class_of
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.facts import ElementFacts
from isolint.results import Evidence, Kind, Limit, Margin, Measure, MissingFact, Result
from isolint.units import Interval, show
from isolint.worstcase.uncertain import KINDEST, WORST, Term

_SLACK: Final = 1e-9
MANY: Final = 64
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


def by_table(context: Context, wall: Wall, network: RcNetwork) -> list[tuple[BarrierLimits, RcNetwork]]:
    """A network by the tables that count for its parts: what leads to protective earth alone is judged by the table of
    earth, also where the circuit that another table names is joined to it."""
    found: dict[tuple[str, ...], tuple[BarrierLimits, list[Edge]]] = {}
    for edges in _pieces(network):
        limits = wall.limits_of(edge.element for edge in edges)
        key = tuple(f"{fact.file} {fact.key}" for fact in limits.pair.facts)
        found.setdefault(key, (limits, []))[1].extend(edges)
    return [(limits, network._replace(edges=tuple(edges))) for limits, edges in found.values()]


def _pieces(network: RcNetwork) -> list[list[Edge]]:
    """The edges that inner nodes hold together."""
    group: dict[int, int] = {}

    def root(node: int) -> int:
        while group.get(node, node) != node:
            node = group[node]
        return node

    for edge in network.edges:
        if not {edge.one, edge.other} & {0, 1}:
            group[root(edge.one)] = root(edge.other)
    found: dict[int, list[Edge]] = {}
    for place, edge in enumerate(network.edges):
        inner = [node for node in (edge.one, edge.other) if node not in (0, 1)]
        found.setdefault(root(inner[0]) if inner else -1 - place, []).append(edge)
    return list(found.values())


# -- strings of resistors ------------------------------------------------------------------------------------------


def string_grade(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """What lies in series on the weakest way with a resistor in it: reinforced insulation wants two, or certified ones.

    A way of capacitors alone is judged by their classes elsewhere.
    """
    for limits, network in by_table(context, wall, network_between(context, wall.pair.sides)):
        yield from _string_grade(context, rule, wall, limits, network)


def _string_grade(
    context: Context, rule: Rule, wall: Wall, limits: BarrierLimits, network: RcNetwork
) -> Iterator[Result]:
    strength = limits.strength
    if strength is None or (strength == "basic" and not (limits.hazardous or limits.mains)):
        return
    way = _weakest(context, network)
    if not way:
        return
    total, wanted = sum(_layers(context, element) for element in way), 2 if strength == "reinforced" else 1
    names = ", ".join(map(context.circuit.path, way))
    insulation = limits.insulation
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
        yield about(context, rule, wall, way, "fail", text, said, Margin(total / wanted, 1.0), remedy)
    elif len(way) == 1 and not is_safety_resistor(context, way[0]):
        text = (
            f"{start}: one resistor alone over {insulation} insulation is enough if it passed the tests (from memory)"
        )
        yield about(context, rule, wall, way, "open", text, said, None)
    else:
        safe = all(is_safety_resistor(context, element) for element in way)
        what = "a type that passed the tests" if safe else f"{len(way)} in series"
        text = f"{start}: {what}, {insulation} is wanted"
        yield about(context, rule, wall, way, "pass", text, said, None)


def _layers(context: Context, element: int) -> int:
    """What an element of a chain counts for."""
    if context.circuit.letter(element) == "R":
        return 2 if is_safety_resistor(context, element) else 1
    return _CLASSES.get(class_of(context, element), 0)


def _weakest(context: Context, network: RcNetwork) -> tuple[int, ...]:
    """The elements of the way with a resistor in it that has the fewest layers, of two such that with fewer elements.

    Empty where every way is of capacitors alone.
    """
    at: dict[int, list[tuple[int, int]]] = {}
    for edge in network.edges:
        at.setdefault(edge.one, []).append((edge.other, edge.element))
        at.setdefault(edge.other, []).append((edge.one, edge.element))
    heap: list[tuple[int, int, bool, tuple[int, ...], tuple[int, ...]]] = [(0, 0, False, (0,), ())]
    done: set[tuple[int, bool]] = set()
    while heap:
        total, steps, resists, nodes, way = heappop(heap)
        node = nodes[-1]
        if node == 1:
            if resists:
                return way
            continue
        if (node, resists) in done:
            continue
        done.add((node, resists))
        for other, element in at.get(node, ()):
            if other not in nodes:
                now = resists or context.circuit.letter(element) == "R"
                heappush(heap, (total + _layers(context, element), steps + 1, now, (*nodes, other), (*way, element)))
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
    if not network.edges or len(network.edges) > MANY:
        return
    if math.isinf(peak.worst):
        # Where parts lie across as well it is asked for there.
        if not wall.crossers:
            elements = tuple(sorted({edge.element for edge in network.edges}))
            names = ", ".join(map(context.circuit.path, elements))
            text = f"between sides {wall.pair.name} {names} take their volts: {wall.limits.working.hint}"
            yield about(context, rule, wall, elements, "open", text, None, None, missing=wall.limits.working.missing)
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
        yield about(context, rule, wall, tuple(whole), "pass", text, None, None)._replace(evidence=tuple(sound))


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
    result = about(
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


# -- results -------------------------------------------------------------------------------------------------------


def about(
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
    """A result about some elements of a bridge; open without lines it asks whether they are certified."""
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
