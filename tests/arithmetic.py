"""Redoes the calculations that isolint prints: a reader of `name = formula = numbers = result unit` of its own.

It shares nothing with isolint but the form of the line. Numbers: + - * / ^, ln, exp, min, max, parentheses.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

TOKEN = re.compile(r"\s*(?:(\d+\.?\d*(?:[eE][-+]?\d+)?)|([a-z]+)|([-+*/^(),]))")
PREFIXES = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
RESULT = re.compile(r"(-?\d+\.?\d*(?:e[-+]?\d+)?)(?: ([pnumkMG]?)(V|A|ohm|W|s|Hz|m))?$")
FUNCTIONS: dict[str, Callable[..., float]] = {"ln": math.log, "exp": math.exp, "min": min, "max": max}

# In a formula `V(net)`, `I(branch)` and the like are one name; ln, exp, min and max are none.
NAMED = re.compile(r"\b(?!(?:ln|exp|min|max)\()[A-Za-z_]+\([^()]*\)")
NEGATIVE = re.compile(r"\(-[\d.]+(?:e[-+]?\d+)?\)")


@dataclass(frozen=True)
class PrintedLine:
    """The parts of one printed line; `value` is the result in SI units."""

    name: str
    formula: str
    numbers: str
    result: str
    value: float
    unit: str

    @property
    def step(self) -> float:
        """One unit in the last digit of the printed result, in SI units; five digits are printed."""
        return max(abs(self.value) * 1e-4, 1e-30)


def read(text: str) -> PrintedLine:
    """Read one line; AssertionError where it has another form."""
    parts = text.split(" = ")
    assert len(parts) == 4, f"not `name = formula = numbers = result`: {text}"
    name, formula, numbers, result = parts
    assert all(part and part == part.strip() for part in parts), text
    found = RESULT.match(result)
    assert found, f"no result with a unit: {text}"
    value = float(found[1]) * PREFIXES[found[2] or ""]
    return PrintedLine(name, formula, numbers, result, value, found[3] or "")


def operators(expression: str) -> list[str]:
    """Operators, functions, parentheses and commas of a formula or of numbers, in order: its shape."""
    bare = NEGATIVE.sub("N", NAMED.sub("N", expression))
    return re.findall(r"(?<= )[-+*/^](?= )|\b(?:ln|exp|min|max)(?=\()|[(),]", bare)


def evaluate(numbers: str) -> float:
    """The value of an expression of numbers."""
    tokens = list(_tokens(numbers))
    value, rest = _sum(tokens, 0)
    assert rest == len(tokens), f"{numbers}: left over {tokens[rest:]}"
    return value


def _tokens(text: str) -> Iterator[str]:
    at = 0
    while at < len(text.rstrip()):
        found = TOKEN.match(text, at)
        assert found, f"{text[at:]!r} is no number, operator or function"
        yield next(group for group in found.groups() if group is not None)
        at = found.end()


def _sum(tokens: list[str], at: int) -> tuple[float, int]:
    value, at = _product(tokens, at)
    while at < len(tokens) and tokens[at] in "+-":
        other, after = _product(tokens, at + 1)
        value = value + other if tokens[at] == "+" else value - other
        at = after
    return value, at


def _product(tokens: list[str], at: int) -> tuple[float, int]:
    value, at = _power(tokens, at)
    while at < len(tokens) and tokens[at] in "*/":
        other, after = _power(tokens, at + 1)
        value = value * other if tokens[at] == "*" else value / other
        at = after
    return value, at


def _power(tokens: list[str], at: int) -> tuple[float, int]:
    value, at = _atom(tokens, at)
    if at < len(tokens) and tokens[at] == "^":
        other, at = _power(tokens, at + 1)
        value = value**other
    return value, at


def _atom(tokens: list[str], at: int) -> tuple[float, int]:
    token = tokens[at]
    if token == "-":
        value, at = _atom(tokens, at + 1)
        return -value, at
    if token == "(":
        value, at = _sum(tokens, at + 1)
        assert tokens[at] == ")"
        return value, at + 1
    if token in FUNCTIONS:
        assert tokens[at + 1] == "("
        arguments: list[float] = []
        at += 1
        while tokens[at] != ")":
            value, at = _sum(tokens, at + 1)
            arguments.append(value)
        return FUNCTIONS[token](*arguments), at + 1
    return float(token), at + 1
