"""From the text of an expression to its postfix program, through the grammar."""

from __future__ import annotations

from functools import cache
from typing import Any

from lark import Lark, Token, Transformer, UnexpectedInput, UnexpectedToken, v_args

from isolint.netlist.card_values import read_value
from isolint.netlist.expressions import LIVE_NAMES, Code, ExpressionError
from isolint.netlist.grammar import build

_TREE = tuple[Any, ...]
"""(code, children): a tree that only lives until it is flattened."""


@v_args(inline=True)
class _Compiler(Transformer[Token, Any]):
    """Builds the tree bottom-up while the parser runs."""

    def start(self, tree: _TREE) -> _TREE:
        return tree

    def number(self, token: Token) -> _TREE:
        value = read_value(str(token))
        if value is None:
            raise ExpressionError(f"`{token[:40]}` is no number that can be used")
        return (("number", value, 0), ())

    def name(self, token: Token) -> _TREE:
        low = str(token).lower()
        return (("live" if low in LIVE_NAMES else "name", low, 0), ())

    def live(self, token: Token) -> _TREE:
        return (("live", " ".join(str(token).split()), 0), ())

    def binary(self, left: _TREE, operator: Token, right: _TREE) -> _TREE:
        return (("binary", str(operator), 2), (left, right))

    def or_(self, left: _TREE, right: _TREE) -> _TREE:
        return (("binary", "||", 2), (left, right))

    def and_(self, left: _TREE, right: _TREE) -> _TREE:
        return (("binary", "&&", 2), (left, right))

    def negative(self, _sign: Token, tree: _TREE) -> _TREE:
        return (("binary", "negative", 1), (tree,))

    def positive(self, _sign: Token, tree: _TREE) -> _TREE:
        return tree

    def not_(self, _sign: Token, tree: _TREE) -> _TREE:
        return (("binary", "not", 1), (tree,))

    def conditional(self, condition: _TREE, yes: _TREE, no: _TREE) -> _TREE:
        return (("choice", "?", 3), (condition, yes, no))

    def call(self, name: Token, *arguments: _TREE) -> _TREE:
        low = str(name).lower()
        if low == "if" and len(arguments) == 3:
            return (("choice", "?", 3), arguments)
        return (("call", low, len(arguments)), arguments)


@cache
def _parser() -> Lark:
    return build("expression", ("start",), _Compiler())


def compile_text(text: str) -> tuple[Code, ...]:
    """Compile an expression; raise `ExpressionError` that says where it can't be read."""
    try:
        tree: _TREE = _parser().parse(text)  # type: ignore[assignment]
    except UnexpectedInput as error:
        column = getattr(error, "column", -1)
        shown = text if len(text) <= 60 else text[:57] + "..."
        at_end = isinstance(error, UnexpectedToken) and error.token.type == "$END"
        at = f" at `{text[column - 1 :][:20]}`" if not at_end and 0 < column <= len(text) else " at its end"
        raise ExpressionError(f"the expression `{shown}` can't be read{at}") from None
    return _flatten(tree)


def _flatten(tree: _TREE) -> tuple[Code, ...]:
    """Write the tree in postfix order without recursion."""
    backwards: list[Code] = []
    stack = [tree]
    while stack:
        code, children = stack.pop()
        backwards.append(code)
        stack.extend(children)
    return tuple(reversed(backwards))
