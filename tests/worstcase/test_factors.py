"""Factors of the ratio: what is read off a curve can be redone from the formula beside it."""

from __future__ import annotations

import pytest

from isolint.parts import Curve
from isolint.recognition.typical_values import Typical
from isolint.worstcase.factors import read_off
from isolint.worstcase.transfer import MODEL_CURRENT, generic_record
from tests.arithmetic import evaluate
from tests.worstcase.boards import board, channel, context

OVER_TEMPERATURE = ((-25.0, 0.9), (25.0, 1.0), (85.0, 0.7))
OVER_CURRENT = ((0.5e-3, 0.5), (5e-3, 1.0), (50e-3, 0.8))


@pytest.mark.parametrize(
    ("points", "logarithmic", "x", "wanted"),
    [
        (OVER_TEMPERATURE, False, -25.0, 0.9),
        (OVER_TEMPERATURE, False, 0.0, 0.95),
        (OVER_TEMPERATURE, False, 55.0, 0.85),
        (OVER_TEMPERATURE, False, 85.0, 0.7),
        (OVER_CURRENT, True, 0.5e-3 * 10**0.5, 0.75),
        (OVER_CURRENT, True, 5e-3 * 10**0.5, 0.9),
    ],
)
def test_a_point_of_a_curve_is_what_the_printed_numbers_give(
    points: tuple[tuple[float, float], ...], logarithmic: bool, x: float, wanted: float
) -> None:
    found = read_off("D", "a factor", Curve(points, logarithmic), x, "X", "record")
    assert found is not None
    assert found.value == pytest.approx(wanted)
    assert evaluate(found.numbers) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize("x", [-26.0, 86.0])
def test_nothing_is_read_off_beside_a_curve(x: float) -> None:
    assert read_off("D", "a factor", Curve(OVER_TEMPERATURE, False), x, "X", "record") is None


@pytest.mark.parametrize("type_", ["phototransistor", "photodarlington"])
def test_the_typical_ratio_of_a_model_counts_for_every_type_with_a_transistor(type_: str) -> None:
    part = channel(context(board("R1 V5 A 470"))).part
    bare = part._replace(type=type_, record=None, typical=Typical(ratios=((1e-3, 0.4), (MODEL_CURRENT, 0.8))))
    ratio = generic_record(bare).transfer.ratio
    assert ratio is not None
    assert (ratio.typ, ratio.current) == (0.8, 5e-3)
    assert generic_record(bare._replace(typical=Typical())).transfer.ratio is None
