"""Figures: numbers that know their symbol, their unit and what they were computed from.

A figure computed from others by the operators below holds them, so that the formula that is printed is the one that
gave the number: `P = I ^ 2 * R = 0.01 ^ 2 * 470 = 47 mW`. SI numbers; nothing is read back from text.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Iterable
from typing import Literal

from isolint.results import Evidence, Limit
from isolint.units import show, show_number
from isolint.worstcase.quantities import Bound

End = Literal["min", "max"]
Write = Callable[[float], str]
_OPERATIONS: dict[str, tuple[int, Callable[[float, float], float]]] = {
    "+": (1, operator.add),
    "-": (1, operator.sub),
    "*": (2, operator.mul),
    "/": (2, operator.truediv),
    "^": (3, math.pow),
    "**": (3, math.pow),
}
"""How close each operator binds, and what it does."""


def number(value: float) -> str:
    """A number inside a formula: six digits, no prefix."""
    return show_number(value, 6)


class Figure:
    """One number with its symbol and unit, and the figures that it was computed from.

    symbol: how other formulas call it; without one they hold its own formula. name: what it is, in words. end: which
    end of the quantity it is. source: where it comes from. Never changed once made.
    """

    __slots__ = ("at", "end", "name", "operands", "operation", "si", "source", "symbol", "unit")

    def __init__(
        self,
        symbol: str,
        value: float | Bound,
        unit: str = "1",
        name: str = "",
        *,
        end: End = "max",
        at: Bound | str = "",
        source: str = "",
        operation: str = "",
        operands: tuple[Figure, ...] = (),
    ) -> None:
        self.symbol = symbol
        self.si = value.value if isinstance(value, Bound) else value
        self.unit = unit
        self.name = name
        self.end = end
        self.at = value if isinstance(value, Bound) else at
        self.source = source
        self.operation = operation
        self.operands = operands

    # -- computing ----------------------------------------------------------------------------------------------

    def __add__(self, other: Figure | float) -> Figure:
        return _computed("+", self, other, self.unit)

    def __sub__(self, other: Figure | float) -> Figure:
        return _computed("-", self, other, self.unit)

    def __mul__(self, other: Figure | float) -> Figure:
        return _computed("*", self, other, "")

    def __rmul__(self, other: float) -> Figure:
        return _computed("*", other, self, "")

    def __truediv__(self, other: Figure | float) -> Figure:
        same = isinstance(other, Figure) and other.unit == self.unit
        return _computed("/", self, other, "1" if same else "")

    def __pow__(self, other: float) -> Figure:
        return _computed("^", self, other, "")

    def no_less_than(self, least: float) -> Figure:
        """The figure itself, or with the value `least` if it is smaller: what may be divided by."""
        if self.si >= least:
            return self
        return Figure(self.symbol, least, self.unit, self.name, end=self.end, at=self.at, source=self.source)

    def called(
        self, symbol: str, unit: str, name: str = "", *, end: End = "max", at: Bound | str = "", source: str = ""
    ) -> Figure:
        """The same number under a symbol of its own, by which further formulas call it."""
        computed = (self.operation, self.operands)
        if not self.operation and self.symbol not in ("", symbol):
            computed = ("+", (self,))
        return Figure(
            symbol,
            self.si,
            unit,
            name,
            end=end,
            at=at,
            source=source,
            operation=computed[0],
            operands=computed[1],
        )

    # -- printing -----------------------------------------------------------------------------------------------

    def __str__(self) -> str:
        return show(self.si, self.unit)

    @property
    def corner(self) -> str:
        """The corner at which it was found, in words."""
        return self.at if isinstance(self.at, str) else self.at.corner

    @property
    def formula(self) -> str:
        """What it was computed from, with symbols: `I ^ 2 * R`; its own symbol where it was not computed."""
        return _written(self, lambda leaf: leaf.symbol or number(leaf.si), True)

    def numbers(self, write: Write = number) -> str:
        """The formula with SI numbers in place of the symbols."""
        return _written(self, lambda leaf: write(leaf.si), True)

    def line(self, left: str = "", write: Write = number) -> str:
        """The whole calculation, ready to be redone by hand: `left = formula = numbers = result unit`."""
        return f"{left or self.symbol} = {self.formula} = {self.numbers(write)} = {show(self.si, self.unit, 5)}"

    def evidence(
        self,
        limit: Limit | None = None,
        *,
        symbol: str = "",
        line: str = "",
        worked: bool = True,
        write: Write = number,
    ) -> Evidence:
        """The figure as a result shows it.

        line: what its calculation calls it, where that is not its symbol; symbol: likewise of the evidence. worked:
        whether the calculation is shown. write: how its numbers are.
        """
        corner = self.corner
        low = self.end == "min"
        return Evidence(
            self.name,
            symbol or self.symbol or self.formula,
            self.unit,
            None,
            self.si if low else None,
            None if low else self.si,
            limit,
            {self.end: corner} if corner else {},
            self.line(line, write) if self.operation and worked else "",
            self.source,
        )


def total(figures: Iterable[Figure]) -> Figure:
    """The sum of some figures of one unit, 0 without any."""
    found = tuple(figures)
    unit = found[0].unit if found else "1"
    return Figure("", sum(figure.si for figure in found), unit, operation="+", operands=found)


def power_of_two(exponent: Figure) -> Figure:
    """2 ** exponent."""
    return _computed("**", 2.0, exponent, "1")


def pi() -> Figure:
    """The number that stands as `pi` in formulas."""
    return Figure("pi", math.pi)


def _literal(value: Figure | float) -> Figure:
    return value if isinstance(value, Figure) else Figure("", value)


def _computed(operation: str, left: Figure | float, right: Figure | float, unit: str) -> Figure:
    a, b = _literal(left), _literal(right)
    return Figure("", _OPERATIONS[operation][1](a.si, b.si), unit, operation=operation, operands=(a, b))


def _written(figure: Figure, leaf: Callable[[Figure], str], whole: bool = False) -> str:
    if not figure.operation or (figure.symbol and not whole):
        return leaf(figure)
    sides = []
    rank = _OPERATIONS[figure.operation][0]
    for place, operand in enumerate(figure.operands):
        text = _written(operand, leaf)
        own = 4 if not operand.operation or operand.symbol else _OPERATIONS[operand.operation][0]
        # What stands behind an operator of the same rank, or as a base, would be read as part of what is before it.
        apart = own < rank or (own == rank and (place > 0 or rank == 3)) or (own == 4 and text.startswith("-"))
        sides.append(f"({text})" if apart else text)
    return f" {figure.operation} ".join(sides) or "0"
