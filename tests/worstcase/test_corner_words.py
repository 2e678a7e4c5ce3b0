"""Corners read as an engineer says them."""

from __future__ import annotations

import pytest

from isolint.worstcase.corner_words import words


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("tolerance of R4", 0.01, "R4 +1 %"),
        ("tolerance of Xch1.R4", -0.05, "Xch1.R4 -5 %"),
        ("tempco of R4", 1e-4, "R4 +100 ppm/K"),
        ("output DRIVE high: guaranteed (0) to ideal (1)", 0.0, "output DRIVE at its guaranteed high level"),
        ("output DRIVE high: guaranteed (0) to ideal (1)", 1.0, "output DRIVE at its highest level"),
        ("output DRIVE low: guaranteed (0) to ideal (1)", 0.0, "output DRIVE at its guaranteed low level"),
        ("output DRIVE low: guaranteed (0) to ideal (1)", 1.0, "output DRIVE at its lowest level"),
        ("supply V3V3", 3.135, "supply V3V3 at 3.135 V"),
        ("line IN_1 on", 30.0, "line IN_1 on at 30 V"),
        ("forward voltage of XU1", 1.05, "VF of XU1 1.05 V"),
        ("internal resistor of XU1", 480.0, "internal resistor of XU1 480 ohm"),
        ("pull-up of input DI", 20e3, "pull-up of input DI 20 kohm"),
        ("low current of input DI", 1e-6, "low current of input DI 1 uA"),
        ("gain of Q1 over BF", 0.5, "gain of Q1 0.5 BF"),
        ("something new", 2.0, "something new 2"),
    ],
)
def test_a_term_at_its_end(name: str, value: float, said: str) -> None:
    assert words([(name, value)], 60.0) == f"{said}, 60 degC"


def test_the_temperature_stands_last() -> None:
    assert words([("tolerance of R1", 0.01), ("supply V5", 4.75)], -20.0) == "R1 +1 %, supply V5 at 4.75 V, -20 degC"
    assert words([], 25.0) == "25 degC"
