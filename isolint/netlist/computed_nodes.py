"""Nodes that are written as expressions: which net each is, where its parameters are known.

In: the scopes of a netlist, and which cards have such nodes. Out: names of nets in their columns. A parameter that a
call gives has no one value for all instances of a body, and a value that is not whole names no net: such a node stays
as it is written, a net of that name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from isolint.netlist.cards import Function, Number, Scope
from isolint.netlist.expressions import ExpressionError, evaluate_parameters, parse


class Computed(NamedTuple):
    """A card (scope, index) with expressions as nodes: the net that each means, and those that were not evaluated."""

    scope: int
    card: int
    nets: dict[str, str]
    unknown: tuple[str, ...]


class _Known(NamedTuple):
    parameters: dict[str, float]
    functions: dict[str, Function]


def name_nodes(scopes: Sequence[Scope], cards: Iterable[tuple[int, int]]) -> Iterator[Computed]:
    """Put the nets in place of the expressions of the cards (scope, index), and say what was put."""
    given = _given(scopes)
    known: dict[int, _Known] = {}
    for at, index in cards:
        scope = scopes[at]
        here = _known(scopes, at, given, known)
        controls = scope.controls.get(index, ())
        written = dict.fromkeys(node for node in (*scope.nodes[index], *controls) if node[:1] == "{")
        nets = {node: net for node in written if (net := _net(node, here))}
        scope.nodes[index] = tuple(nets.get(node, node) for node in scope.nodes[index])
        if controls:
            scope.controls[index] = tuple(nets.get(node, node) for node in controls)
        yield Computed(at, index, nets, tuple(node for node in written if node not in nets))


def _net(node: str, known: _Known) -> str:
    """The name of the net, "" where it can't be told."""
    try:
        value = parse(node).evaluate(known.parameters, known.functions)
    except ExpressionError:
        return ""
    return str(int(value)) if 0.0 <= value < 1e15 and value == int(value) else ""


def _given(scopes: Sequence[Scope]) -> dict[str, set[str]]:
    """By the name of a subcircuit in lower case, the parameters that some call of it gives."""
    given: dict[str, set[str]] = {}
    for scope in scopes:
        for index, tails in scope.tails.items():
            if scope.letters[index] == "X" and (called := scope.models[index]):
                given.setdefault(called.lower(), set()).update(tails)
    return given


def _known(scopes: Sequence[Scope], at: int, given: dict[str, set[str]], known: dict[int, _Known]) -> _Known:
    """The parameters and functions of a scope that are the same in all its instances."""
    waiting = [at]
    while waiting[-1] not in known and scopes[waiting[-1]].parent >= 0:
        waiting.append(scopes[waiting[-1]].parent)
    for number in reversed(waiting):
        if number in known:
            continue
        scope = scopes[number]
        outer = known.get(scope.parent, _Known({}, {}))
        functions = {**outer.functions, **scope.functions}
        parameters = dict(outer.parameters)
        changed = given.get(scope.name.lower(), set()) if scope.parent >= 0 else set()
        for key in changed:
            parameters.pop(key, None)
        defaults = {key: value for key, value in scope.defaults.items() if key not in changed}
        for values in (defaults, scope.parameters):
            _enter(parameters, values, functions)
        known[number] = _Known(parameters, functions)
    return known[at]


def _enter(parameters: dict[str, float], values: dict[str, Number], functions: dict[str, Function]) -> None:
    found = evaluate_parameters(values, parameters, functions, [])
    for key in values.keys() - found.keys():
        parameters.pop(key, None)
    parameters.update(found)
