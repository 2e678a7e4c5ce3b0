"""What surges of an alternating supply reach a switch: as stated, or by the overvoltage category of its side.

In: a channel with its switch. Out: the supplies with their surges as terms, and what clamps them. Where only a category
is stated nobody knows what is left behind the protection upstream: anything up to its impulse.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.switched import Switched, alternates
from isolint.checking.switched_off import around
from isolint.facts import ElementFacts, SupplyFacts
from isolint.interfaces.references import nets_named
from isolint.rows import most
from isolint.standards import insulation_demands as demands
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Term

LINK = 10.0
"""Ohms up to which a fuse or filter lets a varistor before it count."""

MOST_NETS = 50


class SurgeClamp(NamedTuple):
    """What clamps a surge: the element and its voltage."""

    element: int
    volts: Term


def surge(context: Context, found: Switched) -> Term | None:
    """The largest surge behind a switch, volts; None where nobody says that any is to be expected."""
    names = [path.name for side in found.ways for path in side if alternates(context, path)]
    stated = [context.lookup.term(SupplyFacts.surge, name) for name in dict.fromkeys(names) if _stated(context, name)]
    if stated:
        return max(stated, key=lambda term: term.high)
    expected = [(volts, name) for name in dict.fromkeys(names) for volts in _impulses(context, name)]
    if not expected:
        return None
    volts, name = max(expected)
    usual = most(0.0, volts, "nothing to the impulse of the stated overvoltage category")
    return fact_terms.defaulted(SupplyFacts.surge, name, usual)


def _stated(context: Context, name: str) -> bool:
    fact = context.facts.supply(name)
    return fact is not None and fact.surge is not None


def _impulses(context: Context, name: str) -> Iterator[float]:
    """The impulse that is stated of a barrier of the side on which a supply lies, or that its category means."""
    side_of, net = context.interfaces.separation.side_of_net, context.circuit.find_net(name)
    own = None if net is None else side_of.get(net)
    if own is None:
        return
    here = {
        written.casefold()
        for written, side in context.facts.sides.items()
        if side.nets
        and any(side_of.get(net) == own for text in side.nets.value for net in nets_named(context.circuit, text))
    } | {context.interfaces.separation.sides[own].name.casefold()}
    for barrier in context.facts.barriers:
        category, mains = barrier.overvoltage_category, barrier.mains
        if category is None or not here & {end.casefold() for end in barrier.between}:
            continue
        if barrier.impulse is not None:
            yield barrier.impulse.value
        elif mains is not None:
            profile = demands.DEFAULT_PROFILE if barrier.profile is None else barrier.profile.value
            need = demands.impulse(profile, mains.value, category.value)
            if need is not None:
                yield need.worst


def clamp(context: Context, found: Switched) -> SurgeClamp | None:
    """What clamps every way on which a surge comes: across the switch, or across each pair of its supplies."""
    stated = _clamps(context)
    if not stated:
        return None
    here = _lowest(stated, around(context, found, 0), around(context, found, 1))
    if here is not None:
        return here
    each: list[SurgeClamp] = []
    for one in found.ways[0]:
        for other in found.ways[1]:
            if one.name == other.name or not (alternates(context, one) or alternates(context, other)):
                continue
            across = _lowest(stated, _near(context, one.net), _near(context, other.net))
            if across is None:
                return None
            each.append(across)
    return max(each, key=lambda one: one.volts.high, default=None)


def _clamps(context: Context) -> list[tuple[SurgeClamp, tuple[int, ...]]]:
    """Everything with a stated clamping voltage, with its nets."""
    found = []
    for element in context.kept(_stated_clamps):
        path = context.circuit.path(element)
        found.append(
            (SurgeClamp(element, context.lookup.term(ElementFacts.clamp_voltage, path)), context.circuit.pins(element))
        )
    return found


def _stated_clamps(context: Context) -> tuple[int, ...]:
    facts, circuit = context.facts, context.circuit
    return tuple(e for e in circuit.elements() if facts.element(circuit.path(e)).clamp_voltage is not None)


def _lowest(stated: list[tuple[SurgeClamp, tuple[int, ...]]], one: set[int], other: set[int]) -> SurgeClamp | None:
    found = [clamp for clamp, nets in stated if one & set(nets) and other & set(nets) and len(set(nets)) > 1]
    return min(found, key=lambda each: each.volts.high, default=None)


def _near(context: Context, net: int) -> set[int]:
    """A net and what lies behind fuses and filters."""
    seen, waiting = {net}, [net]
    while waiting and len(seen) < MOST_NETS:
        for element, pin in context.circuit.elements_at(waiting.pop()):
            letter, pins = context.circuit.letter(element), context.circuit.pins(element)
            value = context.circuit.value(element)
            link = letter == "L" or (letter == "R" and value is not None and value < LINK)
            if len(pins) != 2 or not (link or (letter == "V" and value == 0.0)):
                continue
            far = pins[1 - pin]
            if far not in seen:
                seen.add(far)
                waiting.append(far)
    return seen
