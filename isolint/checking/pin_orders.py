"""What an unexplained part may be, in pin orders to try: from its structure, its series, or its place.

In: a context and what is asked. Out: a type with at most eight orders of pin names that fit the groups its place shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from isolint import types
from isolint.checking.context import Context
from isolint.interfaces.entities import Part, Unknown
from isolint.parts import derive_channels, derive_groups, role_of
from isolint.positions.found import Asked
from isolint.recognition import hint_of

MOST_ORDERS = 8

_FREE = "none"


class PinGuess(NamedTuple):
    """A type and orders of its pin names, the likeliest first; "" where nothing can be tried."""

    type: str
    orders: tuple[tuple[str, ...], ...]


def guess_of(context: Context, element: int, asked: Asked | None) -> PinGuess | None:
    """What to try for a part; None where nothing is known that can be computed."""
    known = context.interfaces.recognition.unknown.get(element)
    for guess in (_by_structure(known), _by_series(context, element, asked), _by_place(context, element, asked)):
        if guess is not None:
            return guess
    return None


def _computable(kind: str) -> bool:
    return kind in types.BY_NAME and types.of(kind).isolates


def _by_structure(known: Unknown | None) -> PinGuess | None:
    """The pins that the model of the part tells, as the likeliest of its choices."""
    if known is None or not known.choices or not known.pins or not all(known.pins):
        return None
    kind = next((kind for kind in (known.suspected_type, *known.choices) if _computable(kind)), "")
    return PinGuess(kind, (known.pins,)) if kind else None


def _by_series(context: Context, element: int, asked: Asked | None) -> PinGuess | None:
    name = context.circuit.model_name(element)
    hint = None if name is None else hint_of(name, len(context.circuit.pins(element)))
    if hint is None or not _computable(hint.type) or not hint.orders:
        return None
    orders = [order for shape in hint.orders for order in _exchanged(shape, hint.type)]
    return _fitting(context, element, asked, hint.type, orders)


def _by_place(context: Context, element: int, asked: Asked | None) -> PinGuess | None:
    kind = asked.guess.type if asked is not None else ""
    known = context.interfaces.recognition.unknown.get(element)
    if not _computable(kind) and known is not None:
        kind = known.suspected_type
    if not _computable(kind):
        return None
    orders = _usual(context, element, kind)
    if types.of(kind).switched:
        return _fitting(context, element, asked, kind, orders)
    # Which end of such a part is which changes little that can be computed: one way round is enough.
    half = len(orders) // 2
    return _fitting(context, element, asked, kind, orders[:half]) or _fitting(
        context, element, asked, kind, orders[half:]
    )


def _usual(context: Context, element: int, kind: str) -> list[tuple[str, ...]]:
    """The orders in which parts of a type usually have their pins, with ends exchanged, then all of them reversed."""
    count = len(context.circuit.pins(element))
    shapes = [shape for shape in types.of(kind).pins.usual if len(shape) == count]
    orders = [order for shape in shapes for order in _exchanged(shape, kind)]
    return [*orders, *(order[::-1] for order in orders)]


def orders_as(context: Context, element: int, kind: str, asked: Asked | None) -> tuple[tuple[str, ...], ...]:
    """Orders of pins to choose from if a part is of a type: those that fit its place, else the usual ones."""
    guess = guess_of(context, element, asked)
    if guess is not None and guess.type == kind:
        return guess.orders
    orders = _usual(context, element, kind)
    fitting = _fitting(context, element, asked, kind, orders)
    return tuple(dict.fromkeys(orders))[:MOST_ORDERS] if fitting is None else fitting.orders


def _exchanged(shape: Sequence[str], kind: str) -> Iterator[tuple[str, ...]]:
    """A usual order, with the two ends of the output exchanged, of the LED, of both."""
    pairs = [pair for pair in types.of(kind).pins.ends if set(pair) <= set(shape)]
    led = [pair for pair in pairs if role_of(pair[0], kind) == "cathode"]
    output = [pair for pair in pairs if pair not in led]
    for chosen in ([], output, led, [*output, *led]):
        order = list(shape)
        for one, other in chosen:
            first, second = order.index(one), order.index(other)
            order[first], order[second] = other, one
        yield tuple(order)


def _fitting(
    context: Context, element: int, asked: Asked | None, kind: str, orders: Iterable[tuple[str, ...]]
) -> PinGuess | None:
    """The orders whose port groups lie in one group of the place each, and that call no supply or ground free."""
    nets = context.circuit.pins(element)
    groups = () if asked is None else asked.guess.groups
    found: dict[tuple[str, ...], None] = {}
    for order in orders:
        own, doubtful = derive_groups(order, kind)
        if doubtful or not _lights(order, kind, asked) or not _is_fed(context, nets, order, kind):
            continue
        used = [[pin for pin in group if role_of(order[pin], kind) != _FREE] for group in own]
        apart = all(not pins or not groups or any(set(pins) <= set(group) for group in groups) for pins in used)
        free = (pin for pin, name in enumerate(order) if role_of(name, kind) == _FREE)
        if apart and all(len(context.circuit.elements_at(nets[pin])) < 2 for pin in free):
            found[order] = None
    return PinGuess(kind, tuple(found)[:MOST_ORDERS]) if found else None


def _is_fed(context: Context, nets: Sequence[int], order: Sequence[str], kind: str) -> bool:
    """Whether grounds lie on references and supplies on none; asked of types of which no channel is made."""
    if types.of(kind).switched:
        return True
    references = context.positions.references
    for net, name in zip(nets, order, strict=True):
        role = role_of(name, kind)
        if role in ("ground", "supply") and (context.net(net) in references) != (role == "ground"):
            return False
    return True


def _lights(order: Sequence[str], kind: str, asked: Asked | None) -> bool:
    """Whether the pins that hang on a resistor like an LED are those of an LED, those beside a diode a coil's."""
    if asked is None:
        return True
    if types.of(kind).switched:
        return all(role_of(order[pin], kind) in ("anode", "cathode") for pin in asked.place.pair)
    return "coil" not in types.of(kind).inputs or all(role_of(order[pin], kind) == "coil" for pin in asked.place.coil)


def part_as(context: Context, element: int, kind: str, order: Sequence[str]) -> Part:
    """The part as it were with this type and order of pins, without a record: the family's intervals count."""
    groups, _ = derive_groups(order, kind)
    at = {pin: index for index, pin in enumerate(order)}
    several = derive_channels(order, kind, groups) or ()
    channels = tuple(
        (name, tuple(at[pin] for pin in inputs), tuple(at[pin] for pin in outputs)) for name, inputs, outputs in several
    )
    return Part(
        element,
        context.circuit.path(element),
        kind,
        None,
        tuple(role_of(pin, kind) for pin in order),
        groups,
        "guess",
        context.circuit.model_name(element) or "",
        channels if len(channels) > 1 else (),
    )
