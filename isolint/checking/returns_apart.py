"""Whether what drives an LED returns to grounds that nothing joins: then no current gets back to its source."""

from __future__ import annotations

from collections.abc import Sequence

from isolint.checking.context import Context
from isolint.facts.matching import compile_pattern
from isolint.interfaces.entities import Boundary
from isolint.interfaces.facing_sides import bonded


def returns_apart(context: Context, ends: Sequence[Sequence[Boundary]]) -> tuple[str, str] | None:
    """A stated ground of each end, by name, where nothing joins any of one end to any of the other.

    Only what facts call a ground counts: of anything else that an end leads to nobody says what it returns to.
    """
    grounds = [sorted({_ground(context, held) for held in end}) for end in ends]
    if len(grounds) != 2 or not all(grounds) or any("" in found for found in grounds):
        return None
    if any(_joined(context, one, other) for one in grounds[0] for other in grounds[1]):
        return None
    return grounds[0][0], grounds[1][0]


def _ground(context: Context, boundary: Boundary) -> str:
    """The stated ground of what holds a net, as the netlist writes it; "" where none is stated."""
    facts, name = context.facts, context.net(boundary.net)
    if boundary.kind == "ground":
        return name if context.lookup.walker.grounds.is_named(name) else ""
    if boundary.kind == "output":
        output = facts.output(name)
        name = "" if output is None or output.supply is None else output.supply.value
    elif boundary.kind != "supply":
        return ""
    supply = facts.supply(name)
    if supply is None or supply.ground is None:
        return ""
    net = context.circuit.find_net(supply.ground.value)
    return supply.ground.value if net is None else context.net(net)


def _joined(context: Context, one: str, other: str) -> bool:
    """Whether two grounds are one: by cards below 10 ohm, by a side that names both, by bonded sides, or for the
    simulator."""
    if one.casefold() == other.casefold():
        return True
    simulated = context.facts.reading.simulation_ground
    if simulated is not None and simulated.value.casefold() in (one.casefold(), other.casefold()):
        return True
    stands, sides = bonded(context.facts), context.facts.sides
    named = [
        {
            stands.get(side.casefold(), side.casefold())
            for side, stated in sides.items()
            if stated.nets is not None
            and any(compile_pattern(net).match(ground.casefold()) for net in stated.nets.value)
        }
        for ground in (one, other)
    ]
    if named[0] & named[1]:
        return True
    nets = [net for name in (one, other) if (net := context.circuit.find_net(name)) is not None]
    return len(nets) == 2 and context.lookup.walker.grounds.is_tied(nets[0], nets[1:])
