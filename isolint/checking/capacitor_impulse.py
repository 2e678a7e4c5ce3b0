"""Whether capacitors across a barrier withstand the impulse that may come, each taking its worst share."""

from __future__ import annotations

import math
from collections.abc import Iterator

from isolint.checking.barrier_limits import BarrierLimits
from isolint.checking.barrier_strength import Wall
from isolint.checking.bridge_network import Edge, RcNetwork, network_between, worst_share
from isolint.checking.bridge_strength import MANY, about, by_table, part_of, spread_of
from isolint.checking.capacitors import class_of
from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.results import Evidence, Limit, Margin, Result
from isolint.standards import bridging
from isolint.standards.insulation_demands import Strength
from isolint.units import Interval, show


def capacitor_impulse(context: Context, rule: Rule, wall: Wall) -> Iterator[Result]:
    """The impulse that each capacitor takes at its worst share: whole, and with any one of a chain shorted."""
    network = part_of(network_between(context, wall.pair.sides), "C")
    if len(network.edges) <= MANY:
        for limits, part in by_table(context, wall, network):
            yield from _impulse(context, rule, wall, limits, part)


def _impulse(context: Context, rule: Rule, wall: Wall, limits: BarrierLimits, network: RcNetwork) -> Iterator[Result]:
    strength = limits.strength
    if strength is None:
        return
    if limits.impulse is None:
        # Where parts lie across as well it is asked for there.
        unknown = None if wall.crossers else limits.unknown_impulse
        if unknown is not None:
            elements = tuple(sorted({edge.element for edge in network.edges}))
            names = ", ".join(map(context.circuit.path, elements))
            text = f"between sides {wall.pair.name} lies {names}: nobody stated what impulse may come; {unknown.hint}"
            yield about(context, rule, wall, elements, "open", text, None, None, missing=unknown.missing)
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
            yield about(context, rule, wall, (edge.element,), "pass", text, said, margin)
        elif volts < kindest * (1.0 - 1e-9):
            remedy = f"{context.named(edge.element)}: less capacitance, or a class that withstands {show(worst, 'V')}"
            yield about(context, rule, wall, (edge.element,), "fail", text, said, margin, remedy)
        else:
            yield about(context, rule, wall, (edge.element,), "open", text, said, margin, missing=wanted.missing)


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
