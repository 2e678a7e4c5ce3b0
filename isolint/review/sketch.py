"""A scope of a netlist as pairing sees it: what each card is, what it is worth, and the nets on its pins in order.

Numbers are compared to nine digits, names without case. A name that a tool made up tells nothing of a net.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.circuit.anonymous import is_anonymous
from isolint.netlist.cards import Cards, Model, Number, Scope, Stimulus

_COUNT = 9
_EITHER_WAY = frozenset("RCL")
_BLANKS = re.compile(r"\s+")


class Sketch(NamedTuple):
    """One scope; columns by the index of the card, and by the number of the net.

    kinds: letter and model or subcircuit name. values: what a card states by itself. models: what its model or
    definition holds. swaps: whether its two ends may be exchanged. nets: names as written. fixed: what is known of a
    net beside its neighbours, None where its name tells nothing.
    """

    scope: int
    names: list[str]
    kinds: list[Hashable]
    values: list[Hashable]
    models: list[Hashable]
    pins: list[tuple[int, ...]]
    swaps: list[bool]
    nets: list[str]
    fixed: list[Hashable]


def digits(number: float) -> str:
    """A number to nine digits, so that two ways to write it are one."""
    return f"{number + 0.0:.{_COUNT}g}"


def plain(text: str) -> str:
    """An expression without blanks and case."""
    return _BLANKS.sub("", text).casefold()


def model_digest(model: Model | None) -> Hashable:
    """What a `.model` says."""
    if model is None:
        return None
    return model.type, tuple(sorted((key, _written(value)) for key, value in model.parameters.items()))


def _written(value: Number | str) -> str:
    if isinstance(value, str):
        return plain(value)
    return digits(value) if isinstance(value, float | int) else plain(value.text)


def sketch(
    cards: Cards, circuit: Circuit, scope: int, definition: Callable[[int, int], Hashable], name: Callable[[str], str]
) -> Sketch:
    """Look at one scope.

    definition: digest of what a card of a scope calls, None where it is not there. name: what a called name is in the
    other netlist.
    """
    columns = cards.scopes[scope]
    nets: list[str] = []
    number: dict[str, int] = {}

    def net(node: str) -> int:
        key = node.casefold()
        if key not in number:
            number[key] = len(nets)
            nets.append(node)
        return number[key]

    for port in columns.ports:
        net(port)
    ports = len(nets)
    by_name = {each.casefold(): index for index, each in reversed(list(enumerate(columns.names)))}
    pins = [_pins(columns, index, by_name, net) for index in range(len(columns))]
    evaluated = circuit if scope == 0 else None
    coupled = {
        by_name.get(each.casefold())
        for index, controls in columns.controls.items()
        if columns.letters[index] == "K"
        for each in controls
    }
    kinds: list[Hashable] = []
    models: list[Hashable] = []
    for index, letter in enumerate(columns.letters):
        called = columns.models[index]
        kinds.append((letter, None if called is None else name(called.casefold())))
        if letter == "X":
            models.append(definition(scope, index))
        else:
            models.append(None if called is None else model_digest(cards.find_model(called, scope)))
    fixed: list[Hashable] = [
        ("port", at) if at < ports else None if is_anonymous(each) else each.casefold() for at, each in enumerate(nets)
    ]
    swaps = [
        letter in _EITHER_WAY and len(pins[index]) == 2 and index not in coupled
        for index, letter in enumerate(columns.letters)
    ]
    values = [_value(columns, index, evaluated) for index in range(len(columns))]
    return Sketch(scope, columns.names, kinds, values, models, pins, swaps, nets, fixed)


def _pins(scope: Scope, index: int, by_name: Mapping[str, int], net: Callable[[str], int]) -> tuple[int, ...]:
    """The nets on the pins, then those that control, then those of the elements whose current counts."""
    found: list[int] = []
    for node in (*scope.nodes[index], *scope.controls.get(index, ())):
        inner = node[2:-1] if node[:2].lower() == "i(" and node.endswith(")") else node
        by_current = inner is not node or scope.letters[index] in "FHWK"
        other = by_name.get(inner.casefold()) if by_current and node not in scope.nodes[index] else None
        found.extend([net(node)] if other is None else [net(each) for each in scope.nodes[other]])
    return tuple(found)


def _value(scope: Scope, index: int, circuit: Circuit | None) -> Hashable:
    """What a card is worth: its value and its parameters, evaluated where that is the same for every instance."""
    value = scope.values[index]
    tail: Mapping[str, Number | str] = scope.tails.get(index, {})
    if circuit is not None:
        worth = circuit.value(index)
        told = digits(worth) if worth is not None else ""
        more: Mapping[str, float | str] = circuit.tail(index)
        counted = scope.letters[index] in "RLC"  # how many lie in parallel is in the value already
        stated = [(key, more.get(key, written)) for key, written in tail.items() if not (counted and key == "m")]
        rest = tuple(sorted((key, _written(amount)) for key, amount in stated))
        if not told and value is not None and not isinstance(value, Stimulus):
            told = _named(scope, index, _written(value))
        if isinstance(value, Stimulus):
            moving = circuit.stimulus(index)
            numbers = moving[1] if moving is not None else ()
            args = tuple(map(digits, numbers)) if len(numbers) == len(value.args) else tuple(map(_written, value.args))
            return told, rest, value.kind, args
        return told, rest
    rest = tuple(sorted((key, _written(written)) for key, written in tail.items()))
    if isinstance(value, Stimulus):
        dc = "" if value.dc is None else _written(value.dc)
        return dc, rest, value.kind, tuple(map(_written, value.args))
    return _named(scope, index, "" if value is None else _written(value)), rest


def _named(scope: Scope, index: int, text: str) -> str:
    """An expression with the nets and sources that it names by their place on the card."""
    for place, node in enumerate(scope.controls.get(index, ())):
        bare = re.escape(plain(node[2:-1] if node[:2].lower() == "i(" else node))
        text = re.sub(rf"(?<=[(,]){bare}(?=[),])", f"#{place}", text)
    return text
