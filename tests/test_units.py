"""Quantities are read exactly, refused in words, and shown so that they can be read back."""

from __future__ import annotations

import math
import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.errors import UnitError
from isolint.units import (
    Interval,
    expected,
    read_quantity,
    rounded_up,
    show,
    show_beside,
    show_number,
    spellings,
    units,
)
from tests.conftest import environment

PLAIN = [
    ("4.7 kohm", "ohm", 4700.0),
    ("4.7kohm", "ohm", 4700.0),
    ("220 Ω", "ohm", 220.0),
    ("-20 degC", "degC", -20.0),
    ("−20 °C", "degC", -20.0),
    ("100 ppm/K", "1/K", 1e-4),
    ("0.393 %/K", "1/K", 0.00393),
    ("0.001 /K", "1/K", 1e-3),
    ("9600 baud", "Hz", 9600.0),
    ("115.2 kbaud", "Hz", 115200.0),
    ("50 Hz", "Hz", 50.0),
    ("5 kV/us", "V/s", 5e9),
    ("1 %", "1", 0.01),
    ("80 %", "1", 0.8),
    ("50 ppm", "1", 50e-6),
    ("0.8", "1", 0.8),
    ("10 year", "s", 10 * 8766 * 3600.0),
    ("1000 h", "s", 3.6e6),
    ("50 us", "s", 50e-6),
    ("50 µs", "s", 50e-6),
    ("0.82 mA", "A", 0.00082),
    ("2.2 nF", "F", 2.2e-9),
    ("10 uH", "H", 1e-5),
    ("8 mm", "m", 0.008),
    ("150 mW", "W", 0.15),
    ("40 K/W", "K/W", 40.0),
    ("40 degC/W", "K/W", 40.0),
    ("0.7 mA/K", "A/K", 0.0007),
    ("2 mW/K", "W/K", 0.002),
    ("-1.5 mV/K", "V/K", -0.0015),
    ("10 K", "K", 10.0),
    ("1e-3 A", "A", 0.001),
    ("+.5 V", "V", 0.5),
]

# IEC 60062 codes; source key `iec-60062`.
CODES = [
    ("4k7", "ohm", 4700.0),
    ("4R7", "ohm", 4.7),
    ("R47", "ohm", 0.47),
    ("100R", "ohm", 100.0),
    ("10k", "ohm", 10e3),
    ("1M5", "ohm", 1.5e6),
    ("2n2", "F", 2.2e-9),
    ("100n", "F", 100e-9),
]

BY_PINT = [
    ("3 kilovolt", "V", 3000.0),
    ("70 degF", "degC", 21.111111),
    ("300 K", "degC", 26.85),
    ("2 weeks", "s", 1209600.0),
    ("5 percent", "1", 0.05),
    ("1 V/min", "V/s", 1 / 60),
    ("1 uA/degF", "A/K", 1.8e-6),
    ("3 V*A", "W", 3.0),
]

REFUSED = [
    ("24 A", "V", "is a current"),
    ("24", "V", "has no unit"),
    ("", "V", "is no quantity"),
    ("V", "V", "does not start with a number"),
    ("nan V", "V", "does not start with a number"),
    ("inf V", "V", "does not start with a number"),
    ("1e999 V", "V", "is no finite number"),
    ("4,7 kohm", "ohm", "decimal point"),
    ("1,000 V", "V", "decimal point"),
    ("5 Kohm", "ohm", 'did you mean "kohm"'),
    ("5 bananas", "V", "unknown unit"),
    ("5 lumen", "V", "another dimension"),
    ("60 rpm", "Hz", "not meant"),
    ("3 dB", "1", "not meant"),
    ("5 m", "1", "is a length"),
    ("-300 degC", "degC", "absolute zero"),
    ("1e12 degC", "degC", "hotter than any part"),
    ("5 __import__('os')", "V", "can't be read"),
    ("5 V**9999999", "V", "can't be read"),
    ("5 " + "V*" * 60 + "V", "V", "is no quantity"),
    ("k", "ohm", "does not start with a number"),
    ("2k2", "V", "can't be read"),
    ("5 ]", "V", "can't be read"),
]


@pytest.mark.parametrize(("text", "unit", "value"), PLAIN + CODES)
def test_plain_forms_are_read_to_the_last_bit(text: str, unit: str, value: float) -> None:
    assert read_quantity(text, unit) == value


@pytest.mark.parametrize(("text", "unit", "value"), BY_PINT)
def test_other_units_are_read_through_pint(text: str, unit: str, value: float) -> None:
    assert read_quantity(text, unit) == pytest.approx(value)


@pytest.mark.parametrize(("text", "unit", "why"), REFUSED)
def test_what_is_no_such_quantity_is_refused_in_words(text: str, unit: str, why: str) -> None:
    with pytest.raises(UnitError) as error:
        read_quantity(text, unit)
    assert why in str(error.value)
    assert str(error.value).endswith(f"expected {expected(unit)}")
    assert len(str(error.value)) < 250


def test_the_refusal_names_an_example() -> None:
    with pytest.raises(UnitError, match='expected a voltage such as "24 V"'):
        read_quantity("24 A", "V")


@pytest.mark.parametrize("unit", units())
def test_the_plain_table_agrees_with_pint(unit: str) -> None:
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=False)
    words = {"%": "percent", "°C": "degC", "Bd": "baud", "mil": "thou", "": "dimensionless"}
    wanted = {"1": "dimensionless", "K": "delta_degC"}.get(unit, unit)
    found = dict(spellings(unit))
    assert found
    for name, factor in found.items():
        parts = [
            words.get(part, part)
            .replace("Ω", "ohm")
            .replace("\N{OHM SIGN}", "ohm")
            .replace("Ohm", "ohm")
            .replace("Bd", "baud")
            for part in name.split("/")
        ]
        if len(parts) > 1 or unit == "K":
            parts = ["delta_degC" if part in ("degC", "celsius") else part for part in parts]
        theirs = registry.Quantity(1.0, registry.parse_units("/".join(parts))).to(wanted).magnitude
        assert factor == pytest.approx(theirs, rel=1e-12), name


def test_plain_forms_do_not_load_pint() -> None:
    plain = repr([(text, unit) for text, unit, _ in PLAIN + CODES])
    code = (
        f"import sys; from isolint.units import read_quantity; [read_quantity(*q) for q in {plain}];"
        "sys.exit(bool({'pint', 'numpy'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, env=environment()).returncode == 0


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.00082, "A", "0.82 mA"),
        (0.000082, "A", "82 uA"),
        (1e-7, "A", "100 nA"),
        (4700.0, "ohm", "4.7 kohm"),
        (999.96, "ohm", "1 kohm"),
        (1e6, "ohm", "1 Mohm"),
        (0.3, "V", "0.3 V"),
        (-0.0123, "V", "-12.3 mV"),
        (848.0, "V", "848 V"),
        (0.0, "V", "0 V"),
        (-20.0, "degC", "-20 degC"),
        (0.71, "1", "0.71"),
        (1.0, "1", "1"),
        (0.05, "%", "5 %"),
        (1e-4, "1/K", "100 ppm/K"),
        (5e9, "V/s", "5 kV/us"),
        (104e-6, "s", "104 us"),
        (3.15576e8, "s", "10 year"),
        (3.6e6, "s", "1000 h"),
        (0.15, "W", "0.15 W"),
        (0.0007, "A/K", "0.7 mA/K"),
        (0.008, "m", "8 mm"),
        (None, "V", "-"),
        (math.nan, "V", "-"),
        (math.inf, "A", "unlimited"),
    ],
)
def test_values_are_shown_as_the_trade_writes_them(value: float | None, unit: str, text: str) -> None:
    assert show(value, unit) == text


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (2.1, 3, "2.1"),
        (123456.0, 3, "123000"),
        (1.25e-9, 3, "1.25e-9"),
        (4e10, 3, "4e10"),
        (0.0, 3, "0"),
        (None, 3, "-"),
    ],
)
def test_plain_numbers_are_shown_for_formulas(value: float | None, digits: int, text: str) -> None:
    assert show_number(value, digits) == text


SHOWN = ("V", "A", "ohm", "F", "H", "s", "Hz", "W", "1", "1/K", "V/s", "m", "K/W", "A/K", "W/K", "V/K", "K")


@given(st.floats(1e-16, 1e16), st.sampled_from(SHOWN), st.integers(1, 8))
def test_what_is_shown_is_read_back_within_its_digits(value: float, unit: str, digits: int) -> None:
    back = read_quantity(show(value, unit, digits), unit)
    assert back == pytest.approx(value, rel=0.5001 * 10 ** (1 - digits))


@given(st.floats(-273.0, 999.0), st.integers(3, 8))
def test_a_shown_temperature_is_read_back(value: float, digits: int) -> None:
    assert read_quantity(show(value, "degC", digits), "degC") == pytest.approx(value, rel=10 ** (1 - digits))


@given(st.floats(-1e300, 1e300), st.integers(1, 17))
def test_a_shown_number_is_read_back_within_its_digits(value: float, digits: int) -> None:
    assert float(show_number(value, digits)) == pytest.approx(value, rel=0.5001 * 10 ** (1 - digits), abs=5e-324)


@given(st.text(max_size=90), st.sampled_from(SHOWN))
def test_any_text_is_a_finite_number_or_refused(text: str, unit: str) -> None:
    try:
        assert math.isfinite(read_quantity(text, unit))
    except UnitError as error:
        assert "expected" in str(error)


def test_an_interval_knows_points() -> None:
    assert Interval(1.0, 1.0).is_point
    assert not Interval(1.0, 2.0).is_point


@pytest.mark.parametrize(
    ("value", "limit", "pair"),
    [
        (0.00499688, 0.005, ("4.997 mA", "5 mA")),
        (0.0049, 0.005, ("4.9 mA", "5 mA")),
        (0.005, 0.005, ("5 mA", "5 mA")),
    ],
)
def test_a_value_just_beside_its_limit_is_told_from_it(value: float, limit: float, pair: tuple[str, str]) -> None:
    assert show_beside(value, limit, "A") == pair


@pytest.mark.parametrize(
    ("value", "digits", "shown"),
    [(0.58311, 2, 0.59), (0.58, 2, 0.58), (399.2, 2, 400.0), (12345.0, 3, 12400.0), (0.0, 3, 0.0)],
)
def test_what_must_be_reached_is_rounded_up(value: float, digits: int, shown: float) -> None:
    assert rounded_up(value, digits) == shown
