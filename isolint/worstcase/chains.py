"""The capacitors of a load network: what lies across the output, and what lies behind resistors.

In: the load network of a channel. Out: farads across the output, the other capacitors by the nets that they hold, and
of a linear load with few of them the equations of its edges.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from isolint.interfaces.entities import Channel
from isolint.worstcase import network as n
from isolint.worstcase.edges import Chain
from isolint.worstcase.links import linked
from isolint.worstcase.load import LoadAnalyser
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.solve import Point
from isolint.worstcase.uncertain import Lacking, Term

MOST = 3
"""Capacitors behind the output whose edges are stepped."""

_STRAIGHT = 1e-3
_HOLD = "held capacitor"


class HoldingCapacitors(NamedTuple):
    """Capacitors that hold the same net, or the same two: farads at their high end, and the nets of one of them."""

    elements: tuple[int, ...]
    farads: float
    plates: tuple[int, int]


class Capacitors(NamedTuple):
    """across: farads across the output. behind: what lies elsewhere. terms: their tolerances."""

    across: float
    elements: tuple[int, ...]
    behind: tuple[HoldingCapacitors, ...]
    terms: tuple[Term, ...]


def capacitors(loads: LoadAnalyser, channel: Channel) -> Capacitors:
    """The capacitors of a load, without those between two nets that something holds; a link joins two nets to one."""
    circuit, held = loads.circuit, loads.lookup.walker.held

    def one(net: int) -> int:
        return min(near for near in linked(loads.lookup, net) if held(near) is None)

    ends = {one(net) for net in loads.ends(channel) if held(net) is None}
    found: dict[frozenset[int], HoldingCapacitors] = {}
    terms: list[Term] = []
    for element in channel.load.elements:
        if circuit.letter(element) != "C":
            continue
        plates = circuit.pins(element)[:2]
        moving = frozenset(one(net) for net in plates if held(net) is None)
        if not moving:
            continue
        farads = circuit.value(element)
        if farads is None:
            raise Lacking(f"capacitor {circuit.path(element)} has no value")
        tolerance = loads.lookup.tolerance(element)
        terms.append(tolerance)
        known = found.get(moving, HoldingCapacitors((), 0.0, (plates[0], plates[1])))
        most = farads * (1.0 + loads.setting.high(tolerance))
        found[moving] = HoldingCapacitors((*known.elements, element), known.farads + most, known.plates)
    own = found.pop(frozenset(ends), HoldingCapacitors((), 0.0, (0, 0)))
    return Capacitors(own.farads, own.elements, tuple(found.values()), tuple(terms))


def chain(
    loads: LoadAnalyser,
    channel: Channel,
    made: Assembly,
    given: tuple[Sequence[float], float],
    farads: float,
    behind: Sequence[HoldingCapacitors],
    extra: Sequence[n.Branch],
    excess: Callable[[Point], float],
) -> Chain:
    """The equations of a load with `farads` across its output and further capacitors; `Lacking` where it is not linear.

    given: the values of its terms, and the temperature.
    """
    if len(behind) > MOST:
        raise Lacking(f"{len(behind)} capacitors lie behind its output, the edges of more than {MOST} are not judged")
    vector, temperature = given
    ends = loads.ends(channel)
    plates = [ends, *(item.plates for item in behind)]
    nodes = [tuple(made.node(net, loads.circuit.net_name(net)) for net in pair) for pair in plates]
    for item in behind:
        for element in item.elements:
            made = made.without(loads.circuit.path(element))

    def point(volts: Sequence[float] | None) -> Point:
        held = [] if volts is None else [
            n.VoltageSource(f"{_HOLD} {k}", a, b, u) for k, ((a, b), u) in enumerate(zip(nodes, volts, strict=True))
        ]  # fmt: skip
        return loads.solved(made, channel, vector, temperature, 0.0, [*extra, *held])

    def seen(volts: Sequence[float]) -> list[float]:
        found = point(volts)
        return [*(-found.current(f"{_HOLD} {k}") for k in range(len(nodes))), excess(found)]

    free = point(None)
    rest = [free.voltage(a) - free.voltage(b) for a, b in nodes]
    moves = [0.3 * u if abs(u) > 1.0 else 0.3 for u in rest]
    still = seen(rest)
    columns = []
    for k, move in enumerate(moves):
        other = seen([u - move if j == k else u for j, u in enumerate(rest)])
        columns.append([(a - b) / move for a, b in zip(still, other, strict=True)])
    whole = seen([u - move for u, move in zip(rest, moves, strict=True)])
    for row, (start, end) in enumerate(zip(still, whole, strict=True)):
        expected = start - sum(column[row] * move for column, move in zip(columns, moves, strict=True))
        if abs(expected - end) > _STRAIGHT * max(abs(start - end), abs(column_sum(columns, row, moves)), 1e-12):
            raise Lacking("its load is not linear: how long its capacitors take is not judged")
    count = len(nodes)
    rates = tuple(tuple(columns[j][i] for j in range(count)) for i in range(count))
    fed = tuple(still[i] - sum(rates[i][j] * rest[j] for j in range(count)) for i in range(count))
    eu = tuple(columns[j][count] for j in range(count))
    e0 = still[count] - sum(e * u for e, u in zip(eu, rest, strict=True))
    return Chain((farads, *(item.farads for item in behind)), rates, fed, e0, eu)


def column_sum(columns: Sequence[Sequence[float]], row: int, moves: Sequence[float]) -> float:
    """How far a row moves when all capacitors do, each alone counted."""
    return sum(abs(column[row] * move) for column, move in zip(columns, moves, strict=True))
