"""What feeds a net: whether a supply pin is reached by anything that can hold it at a voltage."""

from __future__ import annotations

from collections import deque
from collections.abc import Container
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.conduction import is_source
from isolint.types.form.pin_names import common_role

_FREE = frozenset("RVLDSWTO")
_TRANSISTORS = frozenset("QMJ")
_CONTROLLED = frozenset("EGFHB")
WEAK_OHMS = 1e3
"""From here on a resistor is a pull-up rather than a feed: a part behind it is no candidate for a regulator."""


class Feed(NamedTuple):
    """known: something certain feeds the net. perhaps: only parts touch it that may do so. takers: only parts that by
    their record take from it. return: nothing does, but current may flow back from it to a reference. none: none of
    these."""

    kind: Literal["known", "perhaps", "takers", "return", "none"]
    by: str = ""


def feed_of(context: Context, start: int) -> Feed:
    """What feeds a supply net, searched on its own side only and up to references."""
    side_of = context.interfaces.separation.side_of_net
    side = side_of.get(start)
    waiting: deque[tuple[int, bool]] = deque([(start, True)])
    seen = {start: True}
    perhaps, takers, returns = "", "", False
    while waiting:
        net, close = waiting.popleft()
        certain = _held_by(context, net)
        if certain:
            return Feed("known", certain)
        held = context.lookup.walker.held(net)
        if held is not None and held.kind == "ground":
            returns = returns or close
            continue
        for element, pin in context.circuit.elements_at(net):
            found = _element(context, element, pin, net, seen)
            if found.kind == "known":
                return found
            if found.kind == "perhaps" and close:
                perhaps = perhaps or found.by
            if found.kind == "takers" and close:
                takers = takers or found.by
            near = close and not _is_weak(context, element)
            for other in _through(context, element, pin):
                if side_of.get(other) == side and (other not in seen or (near and not seen[other])):
                    seen[other] = near
                    waiting.append((other, near))
    if perhaps or takers:
        return Feed("perhaps", perhaps) if perhaps else Feed("takers", takers)
    return Feed("return" if returns else "none")


def _held_by(context: Context, net: int) -> str:
    """A stated supply, line or output on a net, "" for none."""
    name, facts = context.net(net), context.facts
    if facts.supply(name) is not None:
        return f"supply {name}"
    if facts.line(name) is not None:
        return f"line {name}"
    return f"output {name}" if facts.output(name) is not None else ""


def _element(context: Context, element: int, pin: int, net: int, seen: Container[int]) -> Feed:
    """What an element at a net says by itself, and a winding by the nets that were seen before it."""
    circuit, recognition = context.circuit, context.interfaces.recognition
    part, letter, path = recognition.parts.get(element), circuit.letter(element), circuit.path(element)
    if part is not None:
        role = part.roles[pin] if pin < len(part.roles) else ""
        gives = part.kind.output.feeds == "every pin" or (part.kind.output.feeds == "outputs" and role == "output")
        return Feed("known", path) if gives else Feed("none")
    if (letter == "V" and is_source(circuit, element)) or letter == "I" or letter in _CONTROLLED:
        return Feed("known", f"source {path}")
    if letter == "L" and _is_winding(context, element, seen):
        return Feed("known", f"the winding {path}")
    if letter == "C" and any(_is_alternating(context, other, net) for other in circuit.pins(element)):
        return Feed("known", f"the capacitor {path}")
    if element in recognition.ordinary or element in recognition.unknown:
        return Feed("takers" if _takes(context, element, pin) else "perhaps", path)
    return Feed("none")


def _takes(context: Context, element: int, pin: int) -> bool:
    """Whether the record of an ordinary part calls a pin its supply."""
    record = context.record_of(element)
    return record is not None and pin < len(record.pins) and common_role(record.pins[pin]) == "supply"


def _is_alternating(context: Context, other: int, net: int) -> bool:
    """Whether a capacitor leads to an AC supply of the same side: a capacitor dropper."""
    side_of = context.interfaces.separation.side_of_net
    return other != net and side_of.get(other) == side_of.get(net) and context.lookup.is_alternating(other)


def _is_winding(context: Context, element: int, seen: Container[int]) -> bool:
    """Whether an inductor is the winding of a transformer that feeds, rather than a choke in the way.

    A K card couples it to another side, or it stands on a reference and the way here did not lead over what it is
    coupled to: the two legs of a common-mode choke follow each other.
    """
    circuit, side_of = context.circuit, context.interfaces.separation.side_of_net
    partners = context.coupled_to(element)
    if not partners:
        return False
    own = {side_of.get(net) for net in circuit.pins(element)}
    if any(side_of.get(net) not in own for other in partners for net in circuit.pins(other)):
        return True
    if any(net in seen for other in partners for net in circuit.pins(other)):
        return False
    held = [context.lookup.walker.held(net) for net in circuit.pins(element)]
    return any(boundary is not None and boundary.kind == "ground" for boundary in held)


def _is_weak(context: Context, element: int) -> bool:
    return context.circuit.letter(element) == "R" and (context.circuit.value(element) or 0.0) >= WEAK_OHMS


def _through(context: Context, element: int, pin: int) -> tuple[int, ...]:
    """The nets that an element leads on to from one of its pins."""
    circuit, recognition = context.circuit, context.interfaces.recognition
    pins = circuit.pins(element)
    part = recognition.parts.get(element)
    if part is not None:
        groups = [group for group in part.groups if pin in group and part.kind.output.passes]
        return tuple(pins[other] for group in groups for other in group if other < len(pins))
    # A fuse, a bead or a jumper that the netlist knows only as a part with two pins.
    if len(pins) == 2 and (element in recognition.ordinary or element in recognition.unknown):
        return pins
    letter = circuit.letter(element)
    # Collector and emitter, drain and source: what drives the base or the gate feeds nothing.
    return pins if letter in _FREE else (pins[0], pins[2]) if letter in _TRANSISTORS and pin in (0, 2) else ()
