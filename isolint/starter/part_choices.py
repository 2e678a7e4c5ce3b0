"""What a part may be, as choices for somebody who is asked: types with a line each, orders of its pins with their nets.

In: a netlist, the name of a part or element in a question. Out: choices, the likeliest first; none of them counts until
somebody chose it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from isolint import types
from isolint.checking.context import Context
from isolint.checking.pin_orders import guess_of, orders_as
from isolint.checking.unexplained import matters_of, name_of
from isolint.errors import IsolintError
from isolint.parts.records import Led, Transfer
from isolint.positions.found import Asked
from isolint.rows import Row
from isolint.tables import is_near, nearest

_MOST_PATHS = 6


class PartAsked(NamedTuple):
    """A part of a question: its elements in words, the nets on its pins, the type that it perhaps is ("" for none)."""

    words: str
    nets: tuple[str, ...]
    guess: str


def part_asked(context: Context, name: str) -> PartAsked | None:
    """What is to be shown of a part; None where the netlist has none of that name."""
    elements = _elements(context, name)
    if not elements:
        return None
    paths = [context.circuit.path(element) for element in elements]
    more = f" and {len(paths) - _MOST_PATHS} more" if len(paths) > _MOST_PATHS else ""
    guess = guess_of(context, elements[0], _place(context, elements[0]))
    nets = tuple(context.net(net) for net in context.circuit.pins(elements[0]))
    part = context.interfaces.recognition.parts.get(elements[0])
    kind = part.type if part is not None else "" if guess is None else guess.type
    return PartAsked(f"{name} ({', '.join(paths[:_MOST_PATHS])}{more})", nets, kind)


def check_type(kind: str) -> None:
    """Raise `IsolintError` where there is no type of that name: with the one that was meant, else with all of them."""
    if kind not in types.BY_NAME:
        cure = nearest(kind, types.NAMES) if is_near(kind, types.NAMES) else f"known:\n{types.described()}"
        raise IsolintError(f"there is no type {kind}", cure=cure)


def type_choices(guess: str) -> tuple[tuple[str, str], ...]:
    """The types with what each is, the guess first."""
    told = dict(line.strip().split(": ", 1) for line in types.described().splitlines())
    return tuple((name, told.get(name, "")) for name in sorted(types.NAMES, key=lambda name: name != guess))


def pin_choices(context: Context, name: str, kind: str) -> tuple[tuple[str, ...], ...]:
    """Orders of the pins of a part of a type, the likeliest first."""
    elements = _elements(context, name)
    if not elements or kind not in types.BY_NAME:
        return ()
    return orders_as(context, elements[0], kind, _place(context, elements[0]))


def pin_names(kind: str) -> tuple[str, ...]:
    """What pins of parts of a type are usually called."""
    return max(types.of(kind).pins.usual, key=len, default=())


def asked_next(kind: str) -> tuple[Row[Any], ...]:
    """The values of a record that most hangs on, for a part of a type."""
    if kind not in types.BY_NAME or "led" not in types.of(kind).inputs:
        return ()
    return (Led.forward_voltage, *((Transfer.ratio,) if types.of(kind).output.conducts == "transistor" else ()))


def with_nets(order: Sequence[str], nets: Sequence[str]) -> str:
    """`anode on A, cathode on GND`."""
    return ", ".join(f"{pin} on {net}" for pin, net in zip(order, nets, strict=True))


def _elements(context: Context, name: str) -> list[int]:
    """The elements of a part name, or the one with that path."""
    matter = matters_of(context).get(name.casefold())
    if matter is not None:
        return sorted(matter.elements)
    found = context.circuit.find(name)
    if found is not None:
        return [found]
    folded = name.casefold()
    return [element for element in context.circuit.elements() if name_of(context, element).casefold() == folded]


def _place(context: Context, element: int) -> Asked | None:
    matter = matters_of(context).get(name_of(context, element).casefold())
    return None if matter is None else matter.asked
