"""Whether what drives an LED, or feeds an output, returns to grounds that nothing joins: no current gets back then.

In: what holds the nets at both ends, or a channel. Out: two grounds by name, or None; the question about them.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint.checking.context import Context
from isolint.checking.direct_paths import HowFar, spread
from isolint.facts import SideFacts
from isolint.facts.matching import compile_pattern
from isolint.interfaces.entities import Boundary, Channel
from isolint.interfaces.facing_sides import bonded
from isolint.tables import basic_string
from isolint.worstcase.uncertain import Lacking


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


def output_apart(context: Context, channel: Channel) -> tuple[str, str] | None:
    """The same of a transistor's output, and of an input that reads its level against another ground."""
    roles = ("collector", "emitter")
    if any(role not in channel.pins for role in roles):
        return None
    side_of = context.interfaces.separation.side_of_net
    if side_of.get(channel.pins["emitter"]) == side_of.get(channel.pins["cathode"], -1):
        # That the coupler bridges nothing is said of the barrier.
        return None
    own = frozenset((channel.part.element, pin) for pin, role in enumerate(channel.part.roles) if role in roles)
    ends = [spread(context, channel.pins[role], HowFar(), own) for role in roles]
    if any(end.sources or not end.whole for end in ends):
        return None
    carries = [held for end in ends for held in end.held]
    reads = [held for held in channel.load.boundary if held.kind == "input"]
    return returns_apart(context, [end.held for end in ends]) or returns_apart(context, (reads, carries))


def perhaps_joined(context: Context, net: int, what: str, grounds: tuple[str, str]) -> Lacking:
    """The question whether two grounds are one elsewhere. net: on the side of both. what: returns to both."""
    one, other = grounds
    side = context.interfaces.separation.side_of_net.get(net, -1)
    name = "NAME" if side < 0 else context.interfaces.separation.sides[side].stated or "NAME"
    line = SideFacts.nets.line(name, f"[{basic_string(one)}, {basic_string(other)}]")
    return Lacking(
        f"what {what} returns to {one} and to {other}, and nothing joins the two: no current gets back unless they are "
        "one elsewhere",
        [context.lookup.missing_lines(SideFacts.nets, name, line)],
        remedy=f"join {one} and {other}, or name both under one side where they are joined elsewhere",
    )


def _ground(context: Context, boundary: Boundary) -> str:
    """The stated ground of what holds a net, as the netlist writes it; "" where none is stated."""
    facts, name = context.facts, context.net(boundary.net)
    if boundary.kind == "ground":
        return name if context.lookup.walker.grounds.is_named(name) else ""
    if boundary.kind in ("output", "input"):
        stated = facts.output(name) if boundary.kind == "output" else facts.input(name)
        name = "" if stated is None or stated.supply is None else stated.supply.value
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
