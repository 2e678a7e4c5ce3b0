"""Numbers as they stand on cards (SPICE suffixes; RKM code: source key `iec-60062`)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.netlist.card_values import doubt, leading_code, read_value

VALUES = {
    "10": 10.0,
    "-5": -5.0,
    "+5": 5.0,
    ".5": 0.5,
    "5.": 5.0,
    "1e3": 1e3,
    "1.E-3": 1e-3,
    "1D-3": 1e-3,
    "1d3k": 1e6,
    "1t": 1e12,
    "1g": 1e9,
    "1G": 1e9,
    "1meg": 1e6,
    "1MEG": 1e6,
    "1MegOhm": 1e6,
    "10k": 1e4,
    "10K": 1e4,
    "3m": 3e-3,
    "3M": 3e-3,
    "10u": 1e-5,
    "10µ": 1e-5,
    "10μF": 1e-5,
    "10Âµ": 1e-5,
    "10n": 1e-8,
    "10p": 1e-11,
    "10f": 1e-14,
    "10a": 1e-17,
    "2mil": 50.8e-6,
    "1x": 1e6,
    "10pF": 1e-11,
    "4nH": 4e-9,
    "2.2uF": 2.2e-6,
    "5V": 5.0,
    "5Vdc": 5.0,
    "200mohm": 0.2,
    "10ohm": 10.0,
    "10Ω": 10.0,
    "1A": 1.0,
    "1Amp": 1.0,
    "1e3k": 1e6,
}
RKM = {
    "4k7": 4700.0,
    "4K7": 4700.0,
    "3R3": 3.3,
    "0p5": 0.5e-12,
    "3m5": 3.5e-3,
    "0n6": 0.6e-9,
    "47K3": 47300.0,
    "4M7": 4.7e6,
    "1G5": 1.5e9,
    "5L6": 5.6e-3,
    "2u2": 2.2e-6,
    "2µ2": 2.2e-6,
    "3V3": 3.3,
    "4k7J": 4700.0,
}


@pytest.mark.parametrize("text", VALUES)
def test_a_number_is_read_with_its_suffix_and_its_unit(text: str) -> None:
    assert read_value(text) == VALUES[text]


@pytest.mark.parametrize("text", RKM)
def test_a_letter_can_stand_for_the_decimal_point(text: str) -> None:
    assert read_value(text) == RKM[text]


@pytest.mark.parametrize(
    "text",
    ["", "k", "abc", "1..5", "1,5", "--1", "1e999999", "9" * 101, "nan", "inf", "1 k", "5%", "0x10", "1_000"],
)
def test_what_is_no_number_is_none(text: str) -> None:
    assert read_value(text) is None


def test_an_exponent_without_digits_is_a_unit() -> None:
    assert read_value("1e") == 1.0


def test_a_leading_letter_is_a_code_only_where_it_is_asked_for() -> None:
    assert read_value("R47") is None
    assert leading_code("R47") == 0.47
    assert leading_code("K33") == 330.0
    assert leading_code("RMOD") is None


def test_only_letters_that_may_be_meant_otherwise_raise_a_doubt() -> None:
    assert doubt("R", "1M") is not None
    assert doubt("R", "2.2Mohm") is not None
    assert doubt("R", "1MEG") is None
    assert doubt("R", "1m") is None
    assert doubt("C", "1M") is None
    assert doubt("C", "1F") is not None
    assert doubt("C", "1pF") is None


@given(st.floats(min_value=1e-3, max_value=999, allow_nan=False), st.sampled_from(["", "k", "meg", "m", "u", "n", "p"]))
def test_a_value_written_with_a_suffix_reads_as_its_product(mantissa: float, suffix: str) -> None:
    factor = {"": 1, "k": 1e3, "meg": 1e6, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12}[suffix]
    found = read_value(f"{mantissa:.6f}{suffix}")
    assert found is not None
    assert math.isclose(found, float(f"{mantissa:.6f}") * factor, rel_tol=1e-12)


@given(st.text(max_size=120))
def test_any_text_gives_a_finite_number_or_none(text: str) -> None:
    found = read_value(text)
    assert found is None or math.isfinite(found)
