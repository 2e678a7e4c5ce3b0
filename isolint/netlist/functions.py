"""The operators, functions and constants that expressions know.

Statistical functions give their nominal value: spread is the business of tolerances, not of chance.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import NamedTuple

_MANY = 1_000


class EvaluationProblem(NamedTuple):
    """Why an expression, or a part of it, has no value."""

    text: str


CONSTANTS: Mapping[str, float] = {
    "pi": math.pi,
    "true": 1.0,
    "false": 0.0,
    "yes": 1.0,
    "no": 0.0,
    "kelvin": -273.15,
    "boltz": 1.380649e-23,
    "echarge": 1.602176634e-19,
}


def _divide(a: float, b: float) -> float:
    return a / b


def _power(a: float, b: float) -> float:
    return math.pow(a, b)


BINARY: Mapping[str, Callable[..., float]] = {
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "*": lambda a, b: a * b,
    "/": _divide,
    "%": math.fmod,
    "**": _power,
    "^": _power,
    "==": lambda a, b: float(a == b),
    "!=": lambda a, b: float(a != b),
    "<>": lambda a, b: float(a != b),
    "<": lambda a, b: float(a < b),
    "<=": lambda a, b: float(a <= b),
    ">": lambda a, b: float(a > b),
    ">=": lambda a, b: float(a >= b),
    "&&": lambda a, b: float(a != 0 and b != 0),
    "||": lambda a, b: float(a != 0 or b != 0),
    "negative": lambda a: -a,
    "not": lambda a: float(a == 0),
}


def _sign(x: float) -> float:
    return float((x > 0) - (x < 0))


def _pwr(x: float, y: float) -> float:
    return _sign(x) * math.pow(abs(x), y)


def _limit(x: float, a: float, b: float) -> float:
    low, high = min(a, b), max(a, b)
    return min(max(x, low), high)


def _table(x: float, *pairs: float) -> float:
    if len(pairs) < 2 or len(pairs) % 2:
        raise ValueError
    points = list(zip(pairs[::2], pairs[1::2], strict=True))
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0) if x1 > x0 else y1
    return points[-1][1]


def _spread(*numbers: float) -> float:
    """A random function with its spread only: nominally nothing."""
    return numbers[0] if len(numbers) > 1 else 0.0


BUILTIN: Mapping[str, tuple[int, int, Callable[..., float]]] = {
    "abs": (1, 1, abs),
    "sqrt": (1, 1, math.sqrt),
    "exp": (1, 1, math.exp),
    "ln": (1, 1, math.log),
    "log": (1, 1, math.log),
    "log10": (1, 1, math.log10),
    "sin": (1, 1, math.sin),
    "cos": (1, 1, math.cos),
    "tan": (1, 1, math.tan),
    "asin": (1, 1, math.asin),
    "acos": (1, 1, math.acos),
    "atan": (1, 1, math.atan),
    "arctan": (1, 1, math.atan),
    "atan2": (2, 2, math.atan2),
    "sinh": (1, 1, math.sinh),
    "cosh": (1, 1, math.cosh),
    "tanh": (1, 1, math.tanh),
    "asinh": (1, 1, math.asinh),
    "acosh": (1, 1, math.acosh),
    "atanh": (1, 1, math.atanh),
    "hypot": (2, 2, math.hypot),
    "pow": (2, 2, _power),
    "pwr": (2, 2, _pwr),
    "pwrs": (2, 2, _pwr),
    "min": (1, _MANY, lambda *n: min(n)),
    "max": (1, _MANY, lambda *n: max(n)),
    "limit": (3, 3, _limit),
    "table": (3, _MANY, _table),
    "tbl": (3, _MANY, _table),
    "int": (1, 1, math.trunc),
    "floor": (1, 1, math.floor),
    "ceil": (1, 1, math.ceil),
    "nint": (1, 1, round),
    "round": (1, 1, round),
    "sgn": (1, 1, _sign),
    "sign": (1, 1, _sign),
    "stp": (1, 1, lambda x: float(x > 0)),
    "u": (1, 1, lambda x: float(x > 0)),
    "buf": (1, 1, lambda x: float(x > 0.5)),
    "inv": (1, 1, lambda x: float(x <= 0.5)),
    "uramp": (1, 1, lambda x: max(x, 0.0)),
    "square": (1, 1, lambda x: x * x),
    "db": (1, 1, lambda x: 20 * math.log10(abs(x))),
    "mc": (2, 2, lambda x, tolerance: x),
    "gauss": (1, 3, _spread),
    "flat": (1, 1, _spread),
    "agauss": (2, 3, _spread),
    "aunif": (2, 3, _spread),
    "unif": (2, 3, _spread),
}
