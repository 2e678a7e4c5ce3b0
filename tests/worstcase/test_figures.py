"""Figures: the formula that is printed is the one that gave the number."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from isolint.results import Limit
from isolint.worstcase.figures import Figure, pi, total
from isolint.worstcase.quantities import Bound
from tests.arithmetic import evaluate, operators, read

AMPS = Figure("I", 0.01, "A")
OHMS = Figure("R", 470.0, "ohm")


def figures(depth: int) -> st.SearchStrategy[Figure]:
    """Figures computed from small whole numbers, some under a symbol of their own."""
    leaf = st.builds(Figure, st.sampled_from("abc"), st.integers(-9, 9).map(float))
    if depth == 0:
        return leaf
    inner = figures(depth - 1)
    return leaf | st.builds(computed, st.sampled_from("+-*/^"), inner, inner, st.booleans())


def computed(operation: str, one: Figure, other: Figure, named: bool) -> Figure:
    """One operator applied, its result under a symbol or not."""
    assume(operation != "/" or other.si != 0.0)
    made = {
        "+": lambda: one + other,
        "-": lambda: one - other,
        "*": lambda: one * other,
        "/": lambda: one / other,
        "^": lambda: one**2.0,
    }[operation]()
    assume(abs(made.si) < 1e6)
    return made.called("x", "1") if named else made


@given(figures(3))
def test_the_printed_numbers_give_the_number(figure: Figure) -> None:
    assert evaluate(figure.numbers()) == pytest.approx(figure.si, rel=1e-3, abs=1e-2)


@given(figures(3))
def test_formula_and_numbers_are_alike_in_shape(figure: Figure) -> None:
    assert operators(figure.formula) == operators(figure.numbers())


def test_a_figure_computed_from_others_prints_itself_with_symbols_numbers_and_unit() -> None:
    power = (AMPS**2.0 * OHMS).called("P", "W")
    assert power.line() == "P = I ^ 2 * R = 0.01 ^ 2 * 470 = 47 mW"
    assert power.line("heat").startswith("heat = I ^ 2 * R = ")
    assert str(power) == "47 mW"
    assert read(power.line()).value == pytest.approx(power.si)


def test_a_further_formula_calls_a_figure_by_its_symbol() -> None:
    volts = (AMPS * OHMS).called("U", "V")
    assert (volts / Figure("U_max", 10.0, "V")).formula == "U / U_max"
    assert ((AMPS * OHMS) / (OHMS + OHMS)).formula == "I * R / (R + R)"


@pytest.mark.parametrize(
    ("figure", "formula"),
    [
        (OHMS - (OHMS - 1.0), "R - (R - 1)"),
        (OHMS - 1.0 - OHMS, "R - 1 - R"),
        ((OHMS + 1.0) ** 2.0, "(R + 1) ^ 2"),
        (OHMS / (AMPS / AMPS), "R / (I / I)"),
        (2.0 * pi() * OHMS, "2 * pi * R"),
    ],
)
def test_parentheses_stand_where_leaving_them_out_would_give_another_number(figure: Figure, formula: str) -> None:
    assert figure.formula == formula


def test_the_sum_of_no_figures_is_0_and_of_one_that_one() -> None:
    assert (total([]).si, total([]).formula, total([]).numbers()) == (0.0, "0", "0")
    assert total([AMPS]).called("all", "A").line() == "all = I = 0.01 = 10 mA"
    assert total([AMPS, AMPS]).unit == "A"


def test_what_may_be_divided_by_is_never_less_than_said_and_printed_so() -> None:
    nothing = Figure("I", 0.0, "A").no_less_than(1e-9)
    assert (AMPS / nothing).numbers() == "0.01 / 1e-9"
    assert AMPS.no_less_than(1e-9) is AMPS


def test_only_a_quotient_of_equal_units_is_a_ratio() -> None:
    assert (AMPS / AMPS).unit == "1"
    assert (AMPS / OHMS).unit == ""


def test_evidence_has_the_end_the_corner_and_the_calculation() -> None:
    bound = Bound(0.02, (("tolerance of R1", -0.01),), 60.0)
    found = Figure("IF_max", bound, "A", "LED current").evidence(Limit("at_most", 0.05))
    assert (found.name, found.symbol, found.unit, found.min, found.max) == ("LED current", "IF_max", "A", None, 0.02)
    assert found.corners == {"max": "R1 -1 %, 60 degC"}
    assert found.limit == Limit("at_most", 0.05)
    assert found.formula == ""
    ratio = (AMPS / Figure("IF", 0.02, "A")).called("", "1", "margin", end="min").evidence(line="margin")
    assert (ratio.symbol, ratio.min, ratio.max) == ("I / IF", 0.5, None)
    assert ratio.formula == "margin = I / IF = 0.01 / 0.02 = 0.5"
