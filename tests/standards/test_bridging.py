"""Capacitor classes and what they may bridge, against published figures (key `iec-60384-14`)."""

from __future__ import annotations

import math
import tomllib

import pytest

from isolint.standards.bridging import BRIDGING, CLASSES, GRADES, allowed, bears, impulse, share
from isolint.units import Interval
from tests.conftest import REPOSITORY

SOURCES = tomllib.loads((REPOSITORY / "tests/sources.toml").read_text(encoding="utf-8"))


def listed(words: object) -> list[str]:
    """The words of an enumeration in order."""
    assert isinstance(words, list | tuple)
    return sorted(str(word) for word in words)


@pytest.mark.parametrize(
    ("name", "volts"),
    [("X1", 4000.0), ("X2", 2500.0), ("X3", None), ("Y1", 8000.0), ("Y2", 5000.0), ("Y3", None), ("Y4", 2500.0)],
)
def test_impulse_voltages_of_the_classes(name: str, volts: float | None) -> None:
    """Published (key `capacitor-impulse-article`); X3 and Y3 from memory."""
    assert impulse(name, 100e-9) == impulse(name, 1e-6) == volts


def test_above_one_microfarad_the_impulse_of_x1_x2_and_y2_falls_with_the_root() -> None:
    """Published formula (key `capacitor-impulse-article`), derived value: 5000 / sqrt(4.7) = 2306 V."""
    assert impulse("Y2", 4.7e-6) == pytest.approx(2306.3, abs=0.1)
    assert impulse("X1", 4e-6) == pytest.approx(2000.0)
    assert impulse("X2", 2e-6) == pytest.approx(2500.0 / math.sqrt(2.0))
    assert (impulse("Y1", 4.7e-6), impulse("Y4", 4.7e-6)) == (8000.0, 2500.0)


@pytest.mark.parametrize(
    ("barrier", "names", "volts", "wanted"),
    [
        ("reinforced", ["Y1"], 230.0, True),
        ("reinforced", ["Y2"], 230.0, False),
        ("reinforced", ["Y2", "Y2"], 230.0, True),
        ("reinforced", ["Y2", "Y2"], 400.0, True),
        ("reinforced", ["Y4", "Y4"], 120.0, False),
        ("basic", ["Y2"], 230.0, True),
        ("basic", ["Y1"], 230.0, True),
        ("basic", ["Y4"], 120.0, True),
        ("basic", ["Y4"], 230.0, False),
        ("basic", ["Y3"], 230.0, True),
        ("basic", ["X1"], 230.0, False),
        ("basic", ["X1", "X1"], 120.0, False),
        ("1 MOOP", ["Y2"], 230.0, True),
        ("1 MOPP", ["Y1"], 230.0, True),
        ("2 MOOP", ["Y1"], 230.0, True),
        ("2 MOOP", ["Y2", "Y2"], 230.0, True),
        ("2 MOOP", ["Y2"], 230.0, False),
        ("2 MOPP", ["Y1", "Y1"], 230.0, True),
        ("2 MOPP", ["Y1"], 230.0, False),
        ("2 MOPP", ["Y2", "Y2"], 230.0, False),
    ],
)
def test_what_may_bridge_a_barrier(barrier: str, names: list[str], volts: float, wanted: bool) -> None:
    """Published (keys `single-y1-question`, `two-y2-question`, `means-of-protection-note`), the rest from memory."""
    assert bears(barrier, names, volts) is wanted


def test_above_300_volts_the_row_of_one_y1_says_nothing() -> None:
    assert share("reinforced", "Y1", 300.0) == Interval(1.0, 1.0)
    assert share("reinforced", "Y1", 400.0) == Interval(0.5, 1.0)


def test_a_class_with_a_limit_can_not_be_judged_while_the_mains_are_unknown() -> None:
    assert share("basic", "Y4", None) == Interval(0.0, 1.0)
    assert share("basic", "Y2", None) == Interval(1.0, 1.0)


def test_every_insulation_that_can_be_stated_has_its_rows() -> None:
    from isolint.facts import settings_schema

    kind = settings_schema.LISTS["barriers"].keys["insulation"]
    assert sorted(GRADES) == listed(kind.form["enum"])
    assert {grade for grade in GRADES.values() if grade} <= {row.barrier for row in BRIDGING}


def test_every_class_that_can_be_stated_has_its_row() -> None:
    from isolint.facts import settings_schema

    assert listed(settings_schema.NAMED["elements"].keys["class"].form["enum"]) == sorted(CLASSES)


def test_what_is_allowed_is_said_in_words() -> None:
    assert allowed("reinforced") == "one Y1 (mains up to 300 V), or two Y2 in series"


def test_every_row_says_where_it_is_from_and_how_far_to_trust_it() -> None:
    for row in BRIDGING:
        assert {row.standard, *row.sources} <= set(SOURCES)
        assert row.confidence in ("F2", "F1", "M-hi", "M-med", "M-lo", "X")
        assert bool(row.sources) == (not row.confidence.startswith("M"))
    for known in CLASSES.values():
        assert set(known.sources) <= set(SOURCES)
        assert bool(known.sources) == (not known.confidence.startswith("M"))
