"""Whether direct current can flow round the loop of an LED, by connections alone.

In: a context, a channel. Out: a `Dead` with what breaks the loop, or None where something may drive the LED. Nothing
is solved here: only nets that nothing holds and that nothing leads on from, and loops that hold no two potentials.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.checking.direct_paths import HowFar, ReachedNets, spread
from isolint.checking.many_paths import Leads, place_of, potential
from isolint.interfaces.entities import Boundary, Channel

TIE_OHMS = 10.0
"""Below this two pins are one net, as for the references of two sides."""

NONE = -1

Why = Literal["alone", "same", "shorted", "blocked", "dangling", "unfed", "idle"]


class Dead(NamedTuple):
    """Why no current can ever flow through an LED.

    alone: one pin's net has no other pin. same: both pins lie on one net. shorted: an element joins them below 10 ohm.
    blocked: a capacitor stands in the loop. dangling: one end of the loop leads nowhere. unfed: the loop is closed, but
    only one potential, or none, is in it. idle: a transistor in it never conducts.
    role: the LED pin concerned, if one. nets: nets to name. elements: what stands in the way, the card to change first.
    moved: the switching output behind the capacitor that can discharge again, NONE without.
    """

    why: Why
    role: str
    nets: tuple[int, ...]
    elements: tuple[int, ...] = ()
    moved: int = -1


def dead_drive(context: Context, channel: Channel) -> Dead | None:
    """What makes sure that the LED of a channel never lights, None where something may light it."""
    anode, cathode = channel.pins["anode"], channel.pins["cathode"]
    if anode == cathode:
        return Dead("same", "", (anode,))
    for role, net in (("cathode", cathode), ("anode", anode)):
        if context.lookup.walker.held(net) is None and not others_at(context, channel, net):
            return Dead("alone", role, (net,))
    short = shorted(context, channel, anode, cathode)
    if short is not None:
        return Dead("shorted", "", (anode, cathode), (short,))
    ends = _ends(context, channel, HowFar())
    if not ends.whole:
        return None if channel.both_ways else _among_many(context, channel)
    if ends.closed and ends.driven:
        lone = None if channel.both_ways else _one_way(context, channel)
        return lone or _idle(context, channel, ends)
    wide = _ends(context, channel, HowFar(capacitors=True))
    if not wide.whole or (wide.closed and wide.driven):
        return _blocked(context, ends, wide) if wide.whole else None
    if ends.closed:
        return Dead("unfed", "", tuple(dict.fromkeys(held.net for held in ends.held)))
    return _dangling(ends)


def loop_held(context: Context, channel: Channel) -> tuple[tuple[Boundary, ...], ...]:
    """What holds the nets that each pin of an LED leads to; nothing where that is too far to be followed."""
    ends = _ends(context, channel, HowFar())
    return tuple(end.held for _, end in ends.by_role) if ends.whole else ()


def _dangling(ends: Ends) -> Dead:
    loose = [(role, end) for role, end in ends.by_role if not end.held and not end.sources]
    role, end = min(loose or ends.by_role, key=lambda found: len(found[1].nets))
    return Dead("dangling", role, end.nets[-1:], end.elements[-1:])


def _idle(context: Context, channel: Channel, ends: Ends) -> Dead | None:
    """The transistor without which the loop is open, and whose base or gate nothing moves."""
    passed = {element for _, end in ends.by_role for element in end.elements}
    resting = {element: pin for element in sorted(passed) if (pin := _resting_pin(context, element)) >= 0}
    still = frozenset(resting)
    if not still:
        return None
    without = _ends(context, channel, HowFar(still=still))
    if not without.whole or (without.closed and without.driven):
        return None
    element = min(still, key=context.circuit.place)
    return Dead("idle", "", (context.circuit.pins(element)[resting[element]],), (element,))


def _resting_pin(context: Context, element: int) -> int:
    """The pin for which a transistor never conducts, NONE where it may.

    Its emitter or source that leads nowhere, or its base or gate that leads to nothing else than those do.
    """
    circuit = context.circuit
    letter, model = circuit.letter(element), circuit.model(element)
    if letter not in "QM" or model is None or element in context.interfaces.recognition.parts:
        return NONE
    if letter == "M" and not _is_enhancement(model.type, circuit.model_parameters(element)):
        return NONE
    pins, still = circuit.pins(element), frozenset((element,))
    control, own = (spread(context, pins[pin], HowFar(still=still), frozenset(((element, pin),))) for pin in (1, 2))
    if not control.whole or not own.whole or own.sources:
        return NONE
    if not own.held:
        return 2
    if control.sources or not _potentials(control.held) <= _potentials(own.held) or not _one(own.held):
        return NONE
    pulsed = spread(context, pins[1], HowFar(capacitors=True, still=still), frozenset(((element, 1),)))
    moved = any(held.kind == "output" or context.lookup.walker.alternates(held) for held in pulsed.held)
    return NONE if control.held and (moved or pulsed.sources) else 1


def _is_enhancement(kind: str, parameters: Mapping[str, float]) -> bool:
    threshold = parameters.get("vto", 0.0)
    return threshold > 0.0 if kind.casefold() == "nmos" else threshold < 0.0


def _potentials(held: Iterable[Boundary]) -> set[int]:
    return set(map(potential, held))


def _one(held: Iterable[Boundary]) -> bool:
    return len(_potentials(held)) <= 1


def _one_way(context: Context, channel: Channel) -> Dead | None:
    """The net that only LEDs lead to, or only LEDs lead from, where each of the others has a feed of its own."""
    ends = _ends(context, channel, HowFar(directed=True))
    if not ends.whole or ends.closed:
        return None
    for role, end in ends.by_role:
        own = dict(ends.by_role)["anode" if role == "cathode" else "cathode"]
        if end.held or end.sources or not (own.sources or _useful(own.held, role)):
            continue
        lone = _lone(context, channel, role)
        if lone is not None:
            return lone
    return None


def _useful(held: Iterable[Boundary], role: str) -> bool:
    """Whether the other end of an LED whose `role` is at issue leads where it should: an anode to a feed."""
    idle = "ground" if role == "cathode" else "supply"
    return any(found.kind != idle for found in held)


def _among_many(context: Context, channel: Channel) -> Dead | None:
    """The same where the loop is too large to be followed for each LED; None where something may be in it."""
    walker = context.lookup.walker
    pins = {role: channel.pins[role] for role in ("cathode", "anode")}

    def leads(role: str, capacitors: bool) -> Leads:
        held = walker.held(pins[role])
        if held is not None:
            return Leads((held,), alternating=walker.alternates(held))
        place = place_of(context, pins[role], capacitors)
        return place.out if role == "cathode" else place.into

    plain, wide = ({role: leads(role, capacitors) for role in pins} for capacitors in (False, True))
    loose = [role for role, end in plain.items() if not end.any]
    both, beyond = (ends["cathode"].with_(ends["anode"]) for ends in (plain, wide))
    if not loose and (both.sources or not _one(both.held)):
        return None
    alive = all(end.any for end in wide.values()) and (beyond.sources or not _one(beyond.held))
    if alive and (not loose or beyond.alternating or (beyond.sources and not both.sources)):
        return None
    if not loose:
        return Dead("unfed", "", tuple(held.net for held in both.held))
    lone = _lone(context, channel, loose[0])
    if lone is not None or not alive:
        return lone
    near = dict.fromkeys(element for role in loose for element in place_of(context, pins[role]).capacitors)
    return Dead("blocked", "", tuple(held.net for held in beyond.held), tuple(near)) if near else None


def _lone(context: Context, channel: Channel, role: str) -> Dead | None:
    """The net to which the LEDs lead that lie there the same way; None where only another LED lies the wrong way."""
    place = place_of(context, channel.pins[role])
    beside = [ends for element, ends in place.beside(role) if element != channel.part.element]
    fed = any(ends.sources or _useful(ends.held, role) for ends in beside)
    return Dead("dangling", role, (place.hub,)) if fed or not any(ends.any for ends in beside) else None


def _blocked(context: Context, ends: Ends, wide: Ends) -> Dead | None:
    """The capacitor through which alone the loop is closed and fed; None where an alternating source stands behind it,
    or something that nobody can look into."""
    alternating = any(context.lookup.walker.alternates(held) for held in wide.held)
    if alternating or set(wide.sources) - set(ends.sources):
        return None
    near = {net for _, end in ends.by_role for net in end.nets}
    between = [
        element
        for _, end in wide.by_role
        for element in end.elements
        if context.circuit.letter(element) == "C" and near.intersection(context.circuit.pins(element))
    ]
    moving = next((held.net for held in wide.held if held.kind == "output"), -1)
    nets = tuple(dict.fromkeys(held.net for held in wide.held))
    return Dead("blocked", "", nets, tuple(dict.fromkeys(between)), moving if ends.closed else -1)


def others_at(context: Context, channel: Channel, net: int) -> list[int]:
    """The elements at a net, the channel's own part apart unless another of its pins than those of the LED is there."""
    circuit, part = context.circuit, channel.part
    own = set(_led_pins(context, channel))
    ignored = context.interfaces.separation.ignored
    return [
        element
        for element, pin in circuit.elements_at(net)
        if element not in ignored and not (element == part.element and pin in own)
    ]


def _led_pins(context: Context, channel: Channel) -> tuple[int, ...]:
    nets = context.circuit.pins(channel.part.element)
    ends = (channel.pins["anode"], channel.pins["cathode"])
    for group in channel.part.groups:
        roles = {channel.part.roles[pin] for pin in group}
        pins = tuple(pin for pin in group if channel.part.roles[pin] in ("anode", "cathode"))
        if len(pins) == 2 and "anode" in roles and {nets[pin] for pin in pins} == set(ends):
            return pins
    return ()


def shorted(context: Context, channel: Channel, one: int, other: int) -> int | None:
    """A resistor below 10 ohm, a 0-V source or an inductor from one net to another, None without."""
    circuit = context.circuit
    for element in others_at(context, channel, one):
        if other not in circuit.pins(element):
            continue
        letter, value = circuit.letter(element), context.lookup.ohms(element)
        still = letter == "V" and value == 0.0 and circuit.stimulus(element) is None
        if still or letter == "L" or (letter == "R" and value is not None and abs(value) < TIE_OHMS):
            return element
    return None


class Ends(NamedTuple):
    """What both pins of an LED lead to. closed: whether the loop is. driven: whether two potentials are in it."""

    by_role: tuple[tuple[str, ReachedNets], ...]
    held: tuple[Boundary, ...]
    sources: tuple[int, ...]
    whole: bool
    closed: bool
    driven: bool


def _ends(context: Context, channel: Channel, way: HowFar) -> Ends:
    anode = reach(context, channel, channel.pins["anode"], way, backwards=True)
    cathode = reach(context, channel, channel.pins["cathode"], way)
    held = tuple(dict.fromkeys((*anode.held, *cathode.held)))
    sources = tuple(dict.fromkeys((*anode.sources, *cathode.sources)))
    met = channel.pins["cathode"] in anode.nets
    return Ends(
        (("cathode", cathode), ("anode", anode)),
        held,
        sources,
        anode.whole and cathode.whole,
        met or all(end.held or end.sources for end in (anode, cathode)),
        bool(sources) or not _one(held),
    )


def reach(context: Context, channel: Channel, start: int, way: HowFar, backwards: bool = False) -> ReachedNets:
    """What a net leads to with the LED of the channel taken out."""
    own = frozenset((channel.part.element, pin) for pin in _led_pins(context, channel))
    return spread(context, start, way, own, backwards)
