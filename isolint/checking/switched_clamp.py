"""Which diodes of the board take the current of a load off the board when its switch opens.

In: a switch on direct current and its load as stated. Out: the diodes across the load that conduct then, and no others:
not an indicator, not one in series with the load, not one the wrong way round.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.context import Context
from isolint.checking.switched import Switched
from isolint.facts import LoadFacts


def clamps(context: Context, found: Switched, name: str, load: LoadFacts) -> tuple[int, ...]:
    """The diodes from one end of the load to the other that conduct once its current must go on."""
    circuit = context.circuit
    net, back = circuit.find_net(name), None if load.return_ is None else circuit.find_net(load.return_.value)
    if net is None or back is None:
        return ()
    side = next((at for at, reached in enumerate(found.reached) if net in reached), None)
    if side is None:
        return ()
    near = {net, found.ends[side]}
    # What lies between switch and load without a branch of a diode is the load's end, too.
    near |= {n for e in found.reached[side][net] if circuit.letter(e) != "D" for n in circuit.pins(e)[:2]}
    return next((way for way in _ways(context, near, back) if _conducts(context, found, way, side, near)), ())


def shorting(context: Context, found: Switched, name: str, load: LoadFacts) -> int | None:
    """A diode across the load the wrong way round: it conducts as soon as the switch closes, in place of the load."""
    circuit = context.circuit
    net, back = circuit.find_net(name), None if load.return_ is None else circuit.find_net(load.return_.value)
    if net is None or back is None or clamps(context, found, name, load):
        return None
    side = next((at for at, reached in enumerate(found.reached) if net in reached), None)
    if side is None:
        return None
    own, other = (max((_volts(context, path.net) for path in found.ways[at]), default=0.0) for at in (side, 1 - side))
    near = {net, found.ends[side]}
    single = [way[0] for way in _ways(context, near, back) if len(way) == 1]
    turned = [e for e in single if (circuit.pins(e)[1] in near) != (other > own)]
    return turned[0] if turned and own != other else None


def _ways(context: Context, near: set[int], back: int) -> Iterator[tuple[int, ...]]:
    """A diode, or two in series with nothing between, from the load's one end to its other."""
    circuit = context.circuit
    for element, pin in circuit.elements_at(back):
        if circuit.letter(element) != "D":
            continue
        middle = circuit.pins(element)[1 - pin]
        if middle in near:
            yield (element,)
            continue
        beside = [other for other, _ in circuit.elements_at(middle) if other != element]
        if len(beside) == 1 and circuit.letter(beside[0]) == "D" and near & set(circuit.pins(beside[0])):
            yield element, beside[0]


def _conducts(context: Context, found: Switched, way: tuple[int, ...], side: int, near: set[int]) -> bool:
    """Whether a way lets the current pass that flowed through the load, and blocks while the switch is closed.

    That current came from the higher supply: the diode's cathode is at the load's end nearer to it. Two in series
    are one that blocks and one that breaks down, in either order.
    """
    if len(way) == 2:
        return len({context.circuit.pins(e)[0] in _outer(context, way) for e in way}) == 1
    own = max((_volts(context, path.net) for path in found.ways[side]), default=0.0)
    other = max((_volts(context, path.net) for path in found.ways[1 - side]), default=0.0)
    cathode_near = context.circuit.pins(way[0])[1] in near
    return cathode_near == (other > own)


def _outer(context: Context, way: tuple[int, ...]) -> set[int]:
    """The nets at which a way of two elements begins and ends."""
    first, second = (set(context.circuit.pins(e)[:2]) for e in way)
    return first ^ second


def _volts(context: Context, net: int) -> float:
    held = None if net < 0 else context.lookup.walker.held(net)
    return context.lookup.supply(net).nominal if held is not None and held.kind == "supply" else 0.0
