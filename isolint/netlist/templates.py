"""Expressions that differ in their numbers only are compiled once.

`249*k1+6` is the template `N*k1+N` with the numbers 249 and 6. A number is taken out where what stands beside it can't
belong to it or to a name; the rest of the text is compiled as it stands, and if that does not give as many numbers
as were taken out, the grammar has to read the expression itself. The memo is bounded and holds for the whole
process: what an expression says depends on nothing else.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

from isolint.netlist.card_values import MAX_TOKEN, read_value
from isolint.netlist.functions import CONSTANTS

if TYPE_CHECKING:
    from isolint.netlist.expressions import Code

MOST = 1024
_GAP = "\0"
_INFINITE = float("inf")


class Filled(NamedTuple):
    """The program of an expression, and whether it depends on something that is no mathematical constant."""

    code: tuple[Code, ...]
    varies: bool


class _Template(NamedTuple):
    """A program, where its numbers stand in the order of the text, and whether it varies."""

    code: tuple[Code, ...]
    gaps: tuple[int, ...]
    varies: bool


@cache
def _number() -> re.Pattern[str]:
    # NUMBER of the grammar. The atomic group keeps it from being cut short to fit what follows.
    number = r"(?>(?:\d+(?:\.\d*)?|\.\d+)(?:[ed][+-]?\d+)?[a-zµμ]*(?:\d+[a-z]*)?)"
    return re.compile(rf"(?<![\w.$#@])({number})(?![\w.$#@])", re.IGNORECASE)


def filled(text: str) -> Filled | None:
    """Compile an expression by its template; None where the grammar has to read it, and for what it can't read."""
    if len(text) > MAX_TOKEN or _GAP in text or text.isidentifier():
        # A name alone needs no grammar at all.
        return None
    parts = _number().split(text)
    template = _template(_GAP.join(parts[::2]))
    if template is None:
        return None
    code = list(template.code)
    for gap, number in zip(template.gaps, parts[1::2], strict=True):
        value: float | None
        try:
            value = float(number)
        except ValueError:
            value = read_value(number)
        if value is None or value == _INFINITE:
            return None
        code[gap] = ("number", value, 0)
    return Filled(tuple(code), template.varies)


@lru_cache(maxsize=MOST)
def _template(key: str) -> _Template | None:
    """Compile a template. Numbers come in a program in the order of the text, since it is in postfix order."""
    from isolint.netlist.compiler import compile_text
    from isolint.netlist.expressions import ExpressionError

    try:
        code = compile_text(key.replace(_GAP, "1"))
    except ExpressionError:
        return None
    gaps = tuple(at for at, (kind, _, _) in enumerate(code) if kind == "number")
    if len(gaps) != key.count(_GAP):
        return None
    varies = any(kind in ("name", "live") and operand not in CONSTANTS for kind, operand, _ in code)
    return _Template(code, gaps, varies)
