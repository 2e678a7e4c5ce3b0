"""Why a coupler's output moves nothing: what its two ends lie on, by connections alone.

In: a context, a channel. Out: words for what is there, the card to change and the cure.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from isolint.checking.closed_path import NONE
from isolint.checking.context import Context
from isolint.checking.cures import LEAST_OHMS
from isolint.checking.direct_paths import HowFar, ReachedNets, spread
from isolint.interfaces.entities import Boundary, Channel
from isolint.interfaces.pinsets import pin_sets
from isolint.interfaces.unused import is_spare, unused_channels
from isolint.units import show

_PAIRS = (("collector", "emitter"), ("output", "ground"))


class Silent(NamedTuple):
    """What is wrong with an output, and the cure.

    element: the card to change first, the coupler's where it is None. net: the net that leads nowhere, NONE for none.
    """

    why: str
    remedy: str
    element: int | None = None
    net: int = NONE


def output_roles(channel: Channel) -> tuple[str, str] | None:
    """The roles of the pins between which an output conducts, None where the record does not tell."""
    return next((pair for pair in _PAIRS if all(role in channel.pins for role in pair)), None)


def tied(context: Context, channel: Channel) -> Silent | None:
    """Where both ends of an output lie on one net, or one on a supply and the other on a reference."""
    roles = output_roles(channel)
    if roles is None:
        return None
    first, last = roles
    path = channel.part.path
    if channel.pins[first] == channel.pins[last]:
        net = context.net(channel.pins[first])
        return Silent(f"its {first} and {last} lie on one net, {net}", f"connect {first} and {last} of {path} apart")
    ends = [end for role in roles if (end := _fixed(context, channel, role)) is not None]
    if {end.held.kind for end in ends} != {"supply", "ground"}:
        return None
    words = [end.words(context, role) for end, role in zip(ends, roles, strict=True)]
    through = [element for end in ends for element in end.through]
    blamed = next((element for element in through if context.circuit.letter(element) == "R"), None)
    # What a link leads to is meant to move; else the collector, or the emitter of a follower on its supply.
    moved = last if not ends[0].through and ends[1].through else first
    pull = "a pull-up" if ends[0 if moved == first else 1].held.kind == "supply" else "a pull-down"
    remedy = f"put {pull} between the {moved} of {path} and what it is tied to"
    if blamed is not None:
        remedy = f"{context.named(blamed)}: {pull} resistor of some kilohms in place of the link"
    return Silent(f"{', '.join(words)}: whatever it does, no net moves", remedy, blamed)


def shorting(context: Context, channel: Channel) -> Silent | None:
    """Where a transistor that the output drives has no load: both of its ends are held, one by a supply."""
    circuit, inner = context.circuit, set(channel.load.inner)
    for element in channel.load.elements:
        pins = circuit.pins(element)
        if circuit.letter(element) not in "QM" or pins[1] not in inner:
            continue
        ends = [_held(context, net) for net in (pins[0], pins[2])]
        if {None if end is None else end.held.kind for end in ends} == {"supply", "ground"}:
            first, last = (context.net(end.held.net) for end in ends if end is not None)
            path = circuit.path(element)
            why = f"{path}, which it drives, lies straight across {first} and {last}: it can only short the supply"
            return Silent(why, f"{context.named(element)}: put its load between it and the supply", element)
    return None


class _Fixed(NamedTuple):
    held: Boundary
    through: tuple[int, ...]

    def words(self, context: Context, role: str) -> str:
        own = "its own supply " if self.held.kind == "supply" else ""
        links = ", ".join(_link(context, element) for element in self.through)
        way = f" through {links}" if links else ""
        return f"its {role} is tied to {own}{context.net(self.held.net)}{way}"


def _link(context: Context, element: int) -> str:
    ohms = context.lookup.ohms(element) if context.circuit.letter(element) == "R" else None
    path = context.circuit.path(element)
    return path if ohms is None else f"{path} ({show(ohms, 'ohm')})"


def _fixed(context: Context, channel: Channel, role: str) -> _Fixed | None:
    return _held(context, channel.pins[role])


def _held(context: Context, start: int) -> _Fixed | None:
    """The supply or reference that a net is tied to, through links below 1 ohm and sources at most; None where
    something reads it, or it may be driven from elsewhere."""
    for net, through in linked(context, start, sources=True).items():
        held = context.lookup.walker.held(net)
        if held is not None:
            return _Fixed(held, through) if held.kind in ("supply", "ground") else None
    return None


def base_fixed(context: Context, channel: Channel) -> Silent | None:
    """Where the base is tied so that light makes no difference: to a supply, the collector or the emitter."""
    base = channel.pins.get("base")
    if base is None or "emitter" not in channel.pins or "collector" not in channel.pins:
        return None
    cure = "leave the base pin open, or fit a resistor of 1 Mohm or more from base to emitter"
    emitter, collector = channel.pins["emitter"], channel.pins["collector"]
    links = linked(context, base)
    if emitter in links:
        way = _way(context, links[emitter])
        why = f"its base is tied to its emitter{way}: that takes all of the photocurrent, the output never conducts"
        return Silent(why, cure, _resistor_of(context, links[emitter]))
    if collector in links:
        way = _way(context, links[collector])
        why = f"its base is tied to its collector{way}: it conducts like a diode, with light and without"
        return Silent(why, cure, _resistor_of(context, links[collector]))
    for net, through in links.items():
        held = context.lookup.walker.held(net)
        if held is not None and held.kind == "supply":
            why = f"its base is tied to supply {context.net(net)}{_way(context, through)}: it always conducts"
            return Silent(why, cure, _resistor_of(context, through))
    return None


def _resistor_of(context: Context, through: Sequence[int]) -> int | None:
    return next((element for element in through if context.circuit.letter(element) == "R"), None)


def _way(context: Context, through: Sequence[int]) -> str:
    links = ", ".join(_link(context, element) for element in through)
    return f" through {links}" if links else " (0 ohm)"


def linked(context: Context, start: int, sources: bool = False) -> dict[int, tuple[int, ...]]:
    """The nets that links below 1 ohm join to a net, with those links; none is looked for behind a net that is held.

    sources: steady sources of any voltage hold a net as links do.
    """
    circuit, lookup = context.circuit, context.lookup
    came: dict[int, tuple[int, ...]] = {start: ()}
    waiting = [start]
    for net in waiting:
        if lookup.walker.held(net) is not None:
            continue
        for element, _ in circuit.elements_at(net):
            letter, ohms = circuit.letter(element), lookup.ohms(element)
            link = letter == "R" and ohms is not None and abs(ohms) < LEAST_OHMS
            if link or (letter == "V" and (ohms == 0.0 or sources) and circuit.stimulus(element) is None):
                for other in circuit.pins(element):
                    if other not in came:
                        came[other] = (*came[net], element)
                        waiting.append(other)
    return came


def dead_end(context: Context, channel: Channel) -> Silent | None:
    """An end of an output whose net has no other pin and that no fact speaks of."""
    for role in reversed(output_roles(channel) or ()):
        net = channel.pins[role]
        name = context.net(net)
        facts = context.facts
        spoken = any(fact is not None for fact in (facts.input(name), facts.line(name), facts.signal(name)))
        if spoken or context.lookup.walker.held(net) is not None or _others(context, channel, net):
            continue
        what = "to the reference of its side" if role in ("emitter", "ground") else "to what it shall drive"
        why = f"its {role} ends on net {name}, which has no other pin{mistaken(context, net)}"
        return Silent(why, f"connect net {name} {what}")
    return None


def _others(context: Context, channel: Channel, net: int) -> list[int]:
    own = _own(channel, output_roles(channel) or ())
    return [element for element, pin in context.circuit.elements_at(net) if (element, pin) not in own]


def _own(channel: Channel, roles: Sequence[str]) -> frozenset[tuple[int, int]]:
    part = channel.part
    return frozenset((part.element, pin) for pin, role in enumerate(part.roles) if role in roles)


def silence(context: Context, channel: Channel) -> Silent:
    """What there is where no current can flow through an output."""
    roles = output_roles(channel)
    if roles is None:
        return Silent("nothing feeds its output", f"connect the output of {channel.part.path}")
    own = _own(channel, roles)
    ends = {role: spread(context, channel.pins[role], HowFar(), own) for role in roles}
    for role, end in reversed(ends.items()):
        if end.held:
            continue
        net = channel.pins[role]
        if mistaken(context, net):
            what = f"its {role} lies on net {context.net(net)}{mistaken(context, net)}"
            return Silent(what, f"connect net {context.net(net)} to the reference of its side", net=net)
        if end.elements:
            element, far = _far(context, net, end)
            what = f"its {role} leads through {context.circuit.path(element)} to net {context.net(far)} only"
            why = f"{what}, which nothing feeds{mistaken(context, far)}"
            return Silent(why, f"connect net {context.net(far)} to a supply or the reference of its side", element, far)
    return _unfed(context, channel, ends)


def lost_return(context: Context, channel: Channel) -> Silent | None:
    """A return on a net that only bears the name of a ground, and that nothing but the returns of outputs touch: then
    nothing needs to be followed. None for any other."""
    circuit, parts = context.circuit, context.interfaces.recognition.parts
    for role in ("emitter", "ground"):
        net = channel.pins.get(role)
        if net is None or not mistaken(context, net):
            continue
        at = [(parts.get(element), element, pin) for element, pin in circuit.elements_at(net)]
        if all(
            circuit.letter(element) == "C" if part is None else part.roles[pin] == role for part, element, pin in at
        ):
            what = f"its {role} lies on net {context.net(net)}{mistaken(context, net)}"
            return Silent(what, f"connect net {context.net(net)} to the reference of its side", net=net)
    return None


def _far(context: Context, start: int, end: ReachedNets) -> tuple[int, int]:
    """The element through which an end leads on, and the net at which nothing follows."""
    last = end.elements[-1], end.nets[-1]
    if len(context.circuit.elements_at(last[1])) == 1:
        return last
    first = end.elements[0]
    return first, next((net for net in context.circuit.pins(first) if net != start), start)


def is_spare_channel(context: Context, channel: Channel) -> bool:
    """Whether nothing is on an output while that of another channel of the package is used."""
    circuit, walker, part = context.circuit, context.lookup.walker, channel.part
    unused = unused_channels(circuit, walker, part)
    spare = {
        name or part.path: is_spare(circuit, walker, part, pins) for name, pins in pin_sets(part) if name not in unused
    }
    return spare.get(channel.name or part.path, False) and not all(spare.values())


def first_at(context: Context, channel: Channel, net: int) -> Channel | None:
    """The first channel whose output is silent for the same net, None if that is this one."""
    circuit, parts = context.circuit, context.interfaces.recognition.parts
    walker = context.lookup.walker
    near = {element for element, _ in circuit.elements_at(net)}
    far = {other for element in near if circuit.letter(element) == "R" for other in circuit.pins(element)}
    # What lies behind a supply or a reference is no neighbour.
    free = [other for other in far if (held := walker.held(other)) is None or held.kind not in ("supply", "ground")]
    near.update(element for other in free for element, _ in circuit.elements_at(other) if element in parts)
    neighbours = context.analysis.neighbours()
    for other in neighbours.before(channel, neighbours.of_parts(near)):
        silent = other.load.inner and not context.analysis.loads().fed(other)
        if silent and silence(context, other).net == net:
            return other
    return None


def _unfed(context: Context, channel: Channel, ends: dict[str, ReachedNets]) -> Silent:
    held = {role: tuple(dict.fromkeys(found.net for found in end.held)) for role, end in ends.items()}
    (first, one), (last, other) = held.items()
    name = context.net(channel.pins[first] if not one else channel.pins[last])
    if one and other:
        lead = " and ".join(dict.fromkeys(context.net(net) for net in (*one, *other)))
        why = f"its {first} and its {last} both lead to {lead} only: nothing feeds its output"
        return Silent(why, f"fit a pull-up from net {context.net(channel.pins[first])} to the supply of its own side")
    return Silent(
        f"nothing feeds its output: no current can flow through net {name} when it conducts",
        f'fit a pull-up from net {name} to the supply of its own side, or state inputs."{name}".pull_up',
    )


def mistaken(context: Context, net: int) -> str:
    """What to say of a net that bears the name of a ground and is none; "" for any other."""
    grounds = context.lookup.walker.grounds
    side = context.interfaces.separation.side_of_net.get(net)
    if not grounds.is_mistaken(net) or side is None:
        return ""
    others = ", ".join(map(context.net, grounds.references(side))) or grounds.absent().get(side)
    return f"; only its name is that of a ground, the reference of its side is {others}"
