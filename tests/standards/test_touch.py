"""Touch current: limits, and the current through Y capacitors at 10 % above the mains."""

from __future__ import annotations

import tomllib

import pytest

from isolint.standards.touch import LIMITS, MAINS_RISE, current, limit
from tests.conftest import REPOSITORY

SOURCES = tomllib.loads((REPOSITORY / "tests/sources.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("farads", "volts", "hertz", "milliamperes"),
    [
        (1e-9, 230.0, 50.0, 0.079),
        (2.2e-9, 230.0, 50.0, 0.175),
        (4.7e-9, 230.0, 50.0, 0.374),
        (1e-9, 240.0, 60.0, 0.100),
        (2.2e-9, 240.0, 60.0, 0.219),
        (4.7e-9, 240.0, 60.0, 0.468),
    ],
)
def test_the_current_of_a_y_capacitor(farads: float, volts: float, hertz: float, milliamperes: float) -> None:
    """Derived: I = 2 pi f C U at 253 V and 264 V."""
    assert current(farads, volts * MAINS_RISE, hertz) * 1e3 == pytest.approx(milliamperes, abs=0.0006)


@pytest.mark.parametrize(
    ("standard", "case", "rms", "peak", "direct"),
    [
        ("iec-62368-1", "ES1", 0.5e-3, 0.707e-3, 2e-3),
        ("iec-62368-1", "ES2", 5e-3, 7.07e-3, 25e-3),
        ("iec-60950-1", "class I", 3.5e-3, None, None),
        ("iec-60335-1", "through protective impedance", None, 0.7e-3, 2e-3),
        ("iec-60335-1", "class II", 0.25e-3, None, None),
        ("iec-60065", "terminal not hazardous live", None, 0.7e-3, 2e-3),
        ("iec-60598-1", "SELV circuit exposed", None, 0.7e-3, 2e-3),
        ("iec-60601-1", "patient, type CF, normal", 0.01e-3, None, None),
        ("iec-61010-1", "accessible part, single fault", 3.5e-3, 5e-3, 15e-3),
    ],
)
def test_published_limits(
    standard: str, case: str, rms: float | None, peak: float | None, direct: float | None
) -> None:
    row = limit(standard, case)
    assert (row.rms, row.peak, row.direct) == (rms, peak, direct)


def test_every_limit_says_where_it_is_from_and_how_far_to_trust_it() -> None:
    assert len({(row.standard, row.case) for row in LIMITS}) == len(LIMITS)
    for row in LIMITS:
        assert {row.standard, *row.sources} <= set(SOURCES)
        assert row.confidence in ("F2", "F1", "M-hi", "M-med", "M-lo", "X")
        assert bool(row.sources) == (not row.confidence.startswith("M"))
