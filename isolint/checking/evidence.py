"""Numbers as evidence, with formulas that can be redone by hand: `name = formula = numbers = result unit`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from isolint.results import Evidence, Limit
from isolint.units import show, show_number
from isolint.worstcase.drive import Quantity
from isolint.worstcase.transfer import Available


def line(name: str, formula: str, numbers: str, value: float, unit: str) -> str:
    """One line of a calculation; `numbers` is the formula with SI numbers in place of the names."""
    shown = show(value, unit, 5) if unit != "1" else show_number(value, 5)
    return f"{name} = {formula} = {numbers} = {shown}"


def number(value: float) -> str:
    """A number inside a formula: six digits, no prefix."""
    return show_number(value, 6)


def at_least(value: float) -> Limit:
    """A lower limit."""
    return Limit("at_least", value)


def at_most(value: float) -> Limit:
    """An upper limit."""
    return Limit("at_most", value)


def quantity(
    name: str, symbol: str, unit: str, found: Quantity, limit: Limit | None = None, formula: str = ""
) -> Evidence:
    """A computed quantity with both ends and their corners."""
    corners = {"min": found.low.corner, "max": found.high.corner}
    return Evidence(name, symbol, unit, found.nominal, found.low.value, found.high.value, limit, corners, formula)


def single(
    name: str,
    symbol: str,
    unit: str,
    value: float,
    end: Literal["min", "max"],
    *,
    limit: Limit | None = None,
    formula: str = "",
    source: str = "",
    corners: Mapping[str, str] | None = None,
) -> Evidence:
    """One end of a quantity."""
    return Evidence(
        name,
        symbol,
        unit,
        None,
        value if end == "min" else None,
        value if end == "max" else None,
        limit,
        corners or {},
        formula,
        source,
    )


def margin_line(available: float, required: float) -> str:
    """The margin with its division."""
    return line(
        "margin", "available / required", f"{number(available)} / {number(required)}", available / required, "1"
    )


def product_line(found: Available) -> str:
    """The available output current as the LED current times its factors."""
    names = " * ".join(["IF_min", *(factor.symbol for factor in found.factors)])
    numbers = " * ".join(number(value) for value in (found.led_current, *(factor.value for factor in found.factors)))
    return line("IC_available", names, numbers, found.current, "A")


def factor_lines(found: Available) -> Sequence[Evidence]:
    """Each factor with its origin."""
    return [
        single(factor.name, factor.symbol, "1", factor.value, "min", source=factor.origin) for factor in found.factors
    ]
