"""What the nets around a net lead to, worked out for all of them at once: for loops too large to be followed singly.

In: a context, a net. Out: what current that leaves it may reach, what may send current into it, and which LEDs share
it. Each part of a netlist that direct current connects is looked at once, however many LEDs ask.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from isolint.checking.context import Context
from isolint.checking.direct_paths import HowFar, is_source, through
from isolint.circuit.connectivity import Islands
from isolint.interfaces.entities import Boundary

_ENOUGH = 2


class Leads(NamedTuple):
    """What lies one way from a net. held: what holds nets there, two of different potential at most. sources: whether
    something there moves current by itself, or can't be looked into. alternating: whether something held alternates."""

    held: tuple[Boundary, ...] = ()
    sources: bool = False
    alternating: bool = False

    @property
    def any(self) -> bool:
        """Whether something is there at all."""
        return bool(self.held) or self.sources

    def with_(self, other: Leads) -> Leads:
        """Both."""
        held = self.held
        for found in other.held:
            if len(held) < _ENOUGH and potential(found) not in map(potential, held):
                held = (*held, found)
        return Leads(held, self.sources or other.sources, self.alternating or other.alternating)


class JoinedNet(NamedTuple):
    """A net among others that direct current joins to it both ways.

    out, into: what current may reach from there, and where it may come from, through LEDs only as they conduct. anodes,
    cathodes: the LEDs of couplers whose pins lie there, as (element, what the other pin leads to in its direction).
    hub: the net there that most elements touch. capacitors: those that touch it.
    """

    out: Leads
    into: Leads
    anodes: tuple[tuple[int, Leads], ...]
    cathodes: tuple[tuple[int, Leads], ...]
    hub: int
    capacitors: tuple[int, ...]

    def beside(self, role: str) -> tuple[tuple[int, Leads], ...]:
        """The LEDs of which this pin lies there."""
        return self.cathodes if role == "cathode" else self.anodes


def potential(held: Boundary) -> int:
    """What tells potentials apart: references are one."""
    return -1 if held.kind == "ground" else held.net


def place_of(context: Context, net: int, capacitors: bool = False) -> JoinedNet:
    """What is known of a net that nothing holds. capacitors: whether they are passed as well."""
    known = context.kept(_known_through if capacitors else _known)
    if net not in known:
        known.update(_around(context, net, HowFar(capacitors=capacitors)))
    return known[net]


def _known(context: Context) -> dict[int, JoinedNet]:
    return {}


def _known_through(context: Context) -> dict[int, JoinedNet]:
    return {}


class _Found(NamedTuple):
    """All that direct current connects: nets in the order found, what holds their ends, LEDs from anode to cathode."""

    nets: dict[int, None]
    joined: Islands
    own: dict[int, Leads]
    leds: dict[tuple[int, int, int], None]
    capacitors: dict[int, dict[int, None]]


def _around(context: Context, start: int, way: HowFar) -> Mapping[int, JoinedNet]:
    found = _collected(context, start, way)
    of = found.joined.of
    own: dict[int, Leads] = {}
    for net, leads in found.own.items():
        own[of(net)] = own.get(of(net), Leads()).with_(leads)
    leds = [(element, of(anode), of(cathode)) for element, anode, cathode in found.leds]
    inner = {of(net) for net in found.nets}
    out = _spread(own, [(cathode, anode) for _, anode, cathode in leds if anode in inner])
    into = _spread(own, [(anode, cathode) for _, anode, cathode in leds if cathode in inner])
    hubs: dict[int, int] = {}
    touching = {net: _touching(context, net) for net in found.nets}
    fitted: dict[int, dict[int, None]] = {}
    for net in found.nets:
        island = of(net)
        if island not in hubs or touching[net] > touching[hubs[island]]:
            hubs[island] = net
        fitted.setdefault(island, {}).update(found.capacitors.get(net, {}))
    anodes: dict[int, list[tuple[int, Leads]]] = {}
    cathodes: dict[int, list[tuple[int, Leads]]] = {}
    for element, anode, cathode in leds:
        anodes.setdefault(anode, []).append((element, out.get(cathode, Leads())))
        cathodes.setdefault(cathode, []).append((element, into.get(anode, Leads())))
    places = {
        island: JoinedNet(
            out.get(island, Leads()),
            into.get(island, Leads()),
            tuple(anodes.get(island, ())),
            tuple(cathodes.get(island, ())),
            hub,
            tuple(fitted[island]),
        )
        for island, hub in hubs.items()
    }
    return {net: places[of(net)] for net in found.nets}


def _touching(context: Context, net: int) -> tuple[int, int]:
    """How many elements touch a net, and how many of them are no couplers."""
    at, parts = context.circuit.elements_at(net), context.interfaces.recognition.parts
    return len(at), sum(element not in parts for element, _ in at)


def _spread(own: Mapping[int, Leads], edges: list[tuple[int, int]]) -> dict[int, Leads]:
    """What each island leads to: its own, and that of all from which an edge (from, to) brings it."""
    after: dict[int, list[int]] = {}
    for one, other in edges:
        after.setdefault(one, []).append(other)
    leads = dict(own)
    waiting = [island for island, found in own.items() if found.any]
    while waiting:
        here = waiting.pop()
        for other in after.get(here, ()):
            before = leads.get(other, Leads())
            more = before.with_(leads[here])
            if more != before:
                leads[other] = more
                waiting.append(other)
    return leads


def _collected(context: Context, start: int, way: HowFar) -> _Found:
    circuit, walker = context.circuit, context.lookup.walker
    ignored, parts = context.interfaces.separation.ignored, context.interfaces.recognition.parts
    found = _Found({start: None}, Islands.sparse(), {}, {}, {})
    waiting = [start]

    def add(net: int, leads: Leads) -> None:
        found.own[net] = found.own.get(net, Leads()).with_(leads)

    while waiting:
        net = waiting.pop()
        for element, pin in circuit.elements_at(net):
            if element in ignored:
                continue
            if circuit.letter(element) == "C" and element not in parts:
                found.capacitors.setdefault(net, {})[element] = None
            following = through(context, element, pin, way, False)
            if following is None or is_source(context, element):
                add(net, Leads(sources=True))
            part = parts.get(element)
            one_way = part is not None and not part.both_ways and part.roles[pin] in ("anode", "cathode")
            for other in following or ():
                held = walker.held(other)
                if one_way and other != net:
                    assert part is not None
                    found.leds[(element, net, other) if part.roles[pin] == "anode" else (element, other, net)] = None
                    if held is not None:
                        # An end of its own, which current passes one way only.
                        found.own[other] = Leads((held,), alternating=walker.alternates(held))
                elif held is not None:
                    add(net, Leads((held,), alternating=walker.alternates(held)))
                else:
                    found.joined.join(net, other)
                if held is None and other not in found.nets:
                    found.nets[other] = None
                    waiting.append(other)
    return found
