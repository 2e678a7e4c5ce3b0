"""Numbers as evidence, with formulas that can be redone by hand: `name = formula = numbers = result unit`."""

from __future__ import annotations

from isolint.units import show, show_number
from isolint.worstcase.transfer import Available


def line(name: str, formula: str, numbers: str, value: float, unit: str) -> str:
    """One line of a calculation; `numbers` is the formula with SI numbers in place of the names."""
    shown = show(value, unit, 5) if unit != "1" else show_number(value, 5)
    return f"{name} = {formula} = {numbers} = {shown}"


def number(value: float) -> str:
    """A number inside a formula: six digits, no prefix."""
    return show_number(value, 6)


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
