"""A netlist of definitions only, of which one is a board: some tools write the top sheet as a subcircuit.

In: a context. Out: the open result that names it, since nothing of it is judged. A library of models is no board.
"""

from __future__ import annotations

from collections.abc import Iterator

from isolint.checking.context import Context
from isolint.checking.rule import Rule
from isolint.netlist.cards import Cards
from isolint.recognition import recognise_body
from isolint.results import Result

_PARTS = frozenset("XU")
_LEAST_PINS = 4
_MOST = 50
"""So many bodies are looked at."""


def unplaced(context: Context) -> str:
    """The name of a subcircuit that holds parts and that nothing places, where nothing else is placed; "" for none."""
    return context.kept(_find)


def _find(context: Context) -> str:
    cards = context.circuit.cards
    if len(cards.scopes[0]):
        return ""
    called = {
        found
        for at, scope in enumerate(cards.scopes)
        for letter, model in zip(scope.letters, scope.models, strict=True)
        if letter == "X" and model is not None and (found := cards.find_subcircuit(model, at)) is not None
    }
    tops = [at for at in range(1, len(cards.scopes)) if at not in called]
    return next((cards.scopes[at].name for at in tops[:_MOST] if _is_board(cards, at)), "")


def _is_board(cards: Cards, top: int) -> bool:
    """Whether a part that nobody explains, or one that is a barrier part by its structure, is placed in a body or in
    what that places."""
    waiting, seen = [top], {top}
    for at in waiting:  # grows while it is walked
        if len(waiting) > _MOST:
            return False
        scope = cards.scopes[at]
        for letter, model, nodes in zip(scope.letters, scope.models, scope.nodes, strict=True):
            if letter not in _PARTS or len(nodes) < _LEAST_PINS:
                continue
            body = None if model is None or letter != "X" else cards.find_subcircuit(model, at)
            if body is None:
                return True
            if body not in seen:
                seen.add(body)
                waiting.append(body)
    return any(recognise_body(cards, body).answer != "none" for body in waiting[1:_MOST])


def unplaced_results(context: Context, rule: Rule) -> Iterator[Result]:
    """The question about a board that nothing places."""
    name = unplaced(context)
    if not name or context.positions.claim == "stated":
        return
    cards = context.circuit.cards
    at = next(number for number, scope in enumerate(cards.scopes) if number and scope.name == name)
    scope = cards.scopes[at]
    made = context.result(
        rule,
        "open",
        f"nothing but definitions is in this netlist: subcircuit {name} holds parts, and nothing places it",
        scope.place,
        f"subcircuit:{name}",
        role="unplaced",
        remedy=f"place it behind its definition: `X1 {' '.join(scope.ports)} {name}`",
    )
    yield made._replace(counts_as="error")
