"""What feeds a net: whether a supply pin is reached by anything that can hold it at a voltage."""

from __future__ import annotations

from collections import deque
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.interfaces.conduction import is_source

_FREE = frozenset("RVLDSWTO")
_TRANSISTORS = frozenset("QMJ")
_CONTROLLED = frozenset("EGFHB")
_SWITCHING = frozenset(("relay", "mosfet-output"))
_GIVING = frozenset(("transformer", "photovoltaic"))
WEAK_OHMS = 1e3
"""From here on a resistor is a pull-up rather than a feed: a part behind it is no candidate for a regulator."""


class Feed(NamedTuple):
    """known: something certain feeds the net. perhaps: only parts touch it that may do so. none: nothing does."""

    kind: Literal["known", "perhaps", "none"]
    by: str = ""


def feed_of(context: Context, start: int) -> Feed:
    """What feeds a supply net, searched on its own side only and up to references."""
    side_of = context.interfaces.separation.side_of_net
    side = side_of.get(start)
    waiting: deque[tuple[int, bool]] = deque([(start, True)])
    seen = {start: True}
    perhaps = ""
    while waiting:
        net, close = waiting.popleft()
        certain = _held_by(context, net)
        if certain:
            return Feed("known", certain)
        held = context.lookup.walker.held(net)
        if held is not None and held.kind == "ground":
            continue
        for element, pin in context.circuit.elements_at(net):
            found = _element(context, element, pin, net)
            if found.kind == "known":
                return found
            if found.kind == "perhaps" and close:
                perhaps = perhaps or found.by
            near = close and not _is_weak(context, element)
            for other in _through(context, element, pin):
                if side_of.get(other) == side and (other not in seen or (near and not seen[other])):
                    seen[other] = near
                    waiting.append((other, near))
    return Feed("perhaps", perhaps) if perhaps else Feed("none")


def _held_by(context: Context, net: int) -> str:
    """A stated supply, line or output on a net, "" for none."""
    name, facts = context.net(net), context.facts
    if facts.supply(name) is not None:
        return f"supply {name}"
    if facts.line(name) is not None:
        return f"line {name}"
    return f"output {name}" if facts.output(name) is not None else ""


def _element(context: Context, element: int, pin: int, net: int) -> Feed:
    """What an element at a net says by itself."""
    circuit, recognition = context.circuit, context.interfaces.recognition
    part, letter, path = recognition.parts.get(element), circuit.letter(element), circuit.path(element)
    if part is not None:
        role = part.roles[pin] if pin < len(part.roles) else ""
        gives = part.type in _GIVING or (part.type == "isolated-supply" and role == "output")
        return Feed("known", path) if gives else Feed("none")
    if (letter == "V" and is_source(circuit, element)) or letter == "I" or letter in _CONTROLLED:
        return Feed("known", f"source {path}")
    if letter == "C" and any(_is_alternating(context, other, net) for other in circuit.pins(element)):
        return Feed("known", f"the capacitor {path}")
    if element in recognition.ordinary or element in recognition.unknown:
        return Feed("perhaps", path)
    return Feed("none")


def _is_alternating(context: Context, other: int, net: int) -> bool:
    """Whether a capacitor leads to an AC supply of the same side: a capacitor dropper."""
    side_of = context.interfaces.separation.side_of_net
    return other != net and side_of.get(other) == side_of.get(net) and context.lookup.is_alternating(other)


def _is_weak(context: Context, element: int) -> bool:
    return context.circuit.letter(element) == "R" and (context.circuit.value(element) or 0.0) >= WEAK_OHMS


def _through(context: Context, element: int, pin: int) -> tuple[int, ...]:
    """The nets that an element leads on to from one of its pins."""
    circuit, recognition = context.circuit, context.interfaces.recognition
    pins = circuit.pins(element)
    part = recognition.parts.get(element)
    if part is not None:
        groups = [group for group in part.groups if pin in group and part.type in _SWITCHING]
        return tuple(pins[other] for group in groups for other in group if other < len(pins))
    letter = circuit.letter(element)
    # Collector and emitter, drain and source: what drives the base or the gate feeds nothing.
    return pins if letter in _FREE else (pins[0], pins[2]) if letter in _TRANSISTORS and pin in (0, 2) else ()
