"""What only the whole netlist can settle: copied models, names that may be a model, a parameter or a node."""

from __future__ import annotations

from collections import Counter

from isolint.netlist.card_values import leading_code, read_value
from isolint.netlist.cards import Cards, Model, Note
from isolint.netlist.expressions import ExpressionError, parse


def settle(cards: Cards, elements: list[tuple[int, int]], bases: list[tuple[int, str, str]]) -> Cards:
    """Settle the given elements (scope, index) in their columns and the models (scope, key, base) that copy another."""
    notes = _copied_models(cards, bases)
    if any(scope.optional for scope in cards.scopes):
        _optional_nodes(cards)
    nets: dict[int, Counter[str]] = {}
    for at, index in elements:
        letter = cards.scopes[at].letters[index]
        if letter in "QM":
            _last_node(cards, at, index)
        elif letter in "TO":
            _line_or_part(cards, at, index)
        elif letter not in "RCL":
            _last_word(cards, at, index, nets)
        else:
            _model_or_value(cards, at, index)
    return cards._replace(notes=cards.notes + tuple(notes)) if notes else cards


def _optional_nodes(cards: Cards) -> None:
    """Give instances that leave out the optional ports of their subcircuit the nodes that these mean."""
    for at, scope in enumerate(cards.scopes):
        for index, letter in enumerate(scope.letters):
            called = cards.find_subcircuit(scope.models[index] or "", at) if letter == "X" else None
            header = None if called is None else cards.scopes[called]
            if header is not None and len(scope.nodes[index]) == len(header.ports) - len(header.optional):
                scope.nodes[index] += tuple(header.optional.values())


_TRANSISTOR = 3
"""Nets of a transistor on a board."""


def _last_node(cards: Cards, at: int, index: int) -> None:
    """`Q1 c b e MOD X`: where only the last node names a model, it is the model and X belongs to what follows.

    `Q1 a k e c PART` with four nets and no model anywhere is a part whose reference begins with the same letter: on
    boards transistors have three nets, a tab being one of them.
    """
    scope = cards.scopes[at]
    nodes, model = scope.nodes[index], scope.models[index]
    if model is None or cards.find_model(model, at) is not None:
        return
    if cards.find_model(nodes[-1], at) is not None:
        scope.nodes[index], scope.models[index] = nodes[:-1], nodes[-1]
    elif scope.letters[index] == "Q" and len(set(nodes)) > _TRANSISTOR:
        scope.letters[index] = "U"


def _line_or_part(cards: Cards, at: int, index: int) -> None:
    """`OK1 a k e c PART`, `T1 p1 p2 s1 s2 PART`: a transmission line states its impedance or has a model.

    Without either it is a part whose reference begins with the same letter, of which nothing else is known.
    """
    scope = cards.scopes[at]
    word = scope.models[index]
    is_line = word is not None and (read_value(word) is not None or cards.find_model(word, at) is not None)
    if index not in scope.tails and not is_line:
        scope.letters[index] = "U"


def _last_word(cards: Cards, at: int, index: int, nets: dict[int, Counter[str]]) -> None:
    """`YTYPE NAME n1 n2`: the last word of a black box is its model, unless it is a net and no model."""
    scope = cards.scopes[at]
    word = scope.models[index]
    if word is None or cards.find_model(word, at) is not None or cards.find_subcircuit(word, at) is not None:
        return
    if at not in nets:
        nets[at] = Counter(node.lower() for nodes in scope.nodes for node in nodes)
        nets[at].update(port.lower() for port in scope.ports)
    if word.lower() in nets[at] or word in ("0", "gnd", "GND"):
        scope.nodes[index] += (word,)
        scope.models[index] = None


def _model_or_value(cards: Cards, at: int, index: int) -> None:
    """`R1 a b WORD`: a model if there is one of that name, else a parameter, else the RKM code of a small resistor."""
    scope = cards.scopes[at]
    word = scope.models[index]
    if word is None or scope.values[index] is not None or cards.find_model(word, at) is not None:
        return
    level = at
    while level >= 0:
        if word.lower() in cards.scopes[level].parameters or word.lower() in cards.scopes[level].defaults:
            try:
                scope.values[index] = parse(word)
            except ExpressionError:
                return
            scope.models[index] = None
            return
        level = cards.scopes[level].parent
    value = leading_code(word) if scope.letters[index] == "R" else None
    if value is not None:
        scope.models[index], scope.values[index] = None, value


def _copied_models(cards: Cards, bases: list[tuple[int, str, str]]) -> list[Note]:
    """Give models that are a copy of another (AKO) what they don't state themselves."""
    notes: list[Note] = []
    waiting = {(at, key): base for at, key, base in bases}
    done: set[tuple[int, str]] = set()
    for first in waiting:
        chain = {first: None}
        while chain:
            at, key = next(reversed(chain))
            model = cards.scopes[at].models_by_name[key]
            base_at, base = _find(cards, waiting[at, key], at, (at, key))
            parent = (base_at, base.name.lower()) if base is not None else None
            if parent in waiting and parent not in done and parent not in chain and parent is not None:
                chain[parent] = None
                continue
            if base is None or parent in chain:
                message = f"the model {model.name} copies {waiting[at, key]}, which is not there"
                notes.append(Note("malformed-card", "warning", message, model.place, model.name, "include its library"))
            elif (at, key) not in done:
                merged = {**base.parameters, **model.parameters}
                cards.scopes[at].models_by_name[key] = Model(model.name, model.type or base.type, merged, model.place)
            done.add((at, key))
            chain.popitem()
    return notes


def _find(cards: Cards, name: str, at: int, not_this: tuple[int, str]) -> tuple[int, Model | None]:
    key = name.lower()
    while at >= 0:
        model = cards.scopes[at].models_by_name.get(key)
        if model is not None and (at, key) != not_this:
            return at, model
        at = cards.scopes[at].parent
    return -1, None
