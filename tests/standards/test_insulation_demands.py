"""What insulation must hold, against published rows and the arithmetic on them (keys `iec-60664-1`, `iec-62368-1`)."""

from __future__ import annotations

import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isolint.standards import insulation_demands as demands
from isolint.standards import insulation_tables
from isolint.standards.insulation_demands import (
    DistancePlace,
    Need,
    Strength,
    clearance,
    creepage,
    impulse,
    reinforced_impulse,
)
from isolint.standards.insulation_tables import CREEPAGE, CREEPAGE_VOLTS, IMPULSE, Column
from tests.conftest import REPOSITORY

SOURCES = tomllib.loads((REPOSITORY / "tests/sources.toml").read_text(encoding="utf-8"))
IEC = "iec-60664-1"
USUAL = DistancePlace()
COLUMNS = [
    *insulation_tables.IMPULSE.values(),
    *insulation_tables.IMPULSE_62368.values(),
    *CREEPAGE.values(),
    *(value for value in vars(insulation_tables).values() if isinstance(value, Column)),
]


def millimetres(need: Need | None) -> float:
    assert need is not None
    assert need.worst == need.kindest
    return round(need.worst * 1e3, 3)


def gap(
    mains: float, category: int, strength: Strength, peak: float, place: DistancePlace = USUAL, profile: str = IEC
) -> Need | None:
    return clearance(profile, strength, "", impulse(profile, mains, category), peak, mains, place)


def surface(volts: float, strength: Strength, group: str, place: DistancePlace = USUAL, profile: str = IEC) -> float:
    return millimetres(creepage(profile, strength, "", volts, place, group, None))


@pytest.mark.parametrize(
    ("mains", "category", "basic", "reinforced"),
    [(230.0, 2, 2500.0, 4000.0), (230.0, 3, 4000.0, 6000.0), (1000.0, 2, 6000.0, 8000.0), (120.0, 2, 1500.0, 2500.0)],
)
def test_the_impulse_of_the_mains_and_its_next_step(
    mains: float, category: int, basic: float, reinforced: float
) -> None:
    """Published (keys `insulation-data-60664`, `reinforced-amplifier-data`)."""
    need = impulse(IEC, mains, category)
    assert need is not None
    assert (need.worst, need.kindest) == (basic, basic)
    assert reinforced_impulse(IEC, need).worst == reinforced


@pytest.mark.parametrize(
    ("volts", "reinforced"), [(3000.0, 4800.0), (3900.0, 6000.0), (4000.0, 6000.0), (12000.0, 19200.0)]
)
def test_between_steps_the_impulse_is_160_percent_and_never_more_than_the_neighbour_asks(
    volts: float, reinforced: float
) -> None:
    assert reinforced_impulse(IEC, Need(volts, volts, "", "F2")).worst == pytest.approx(reinforced)


def test_the_temporary_overvoltage_of_230_and_1000_volts() -> None:
    """Published (key `reinforced-amplifier-data`: 4400 V rms for 1000 V), rounded there."""
    assert demands.temporary_overvoltage(230.0, "basic").worst == pytest.approx(2022.3, abs=0.1)
    assert demands.temporary_overvoltage(230.0, "reinforced").worst == pytest.approx(4044.7, abs=0.1)
    assert demands.temporary_overvoltage(1000.0, "reinforced").worst == pytest.approx(math.sqrt(2.0) * 4400.0)


@pytest.mark.parametrize(
    ("mains", "category", "strength", "peak", "place", "wanted"),
    [
        (230.0, 2, "basic", 358.0, DistancePlace(), 1.5),
        (230.0, 2, "reinforced", 358.0, DistancePlace(), 3.0),
        (230.0, 3, "basic", 358.0, DistancePlace(), 3.0),
        (230.0, 3, "reinforced", 358.0, DistancePlace(), 5.5),
        (1000.0, 2, "reinforced", 1414.0, DistancePlace(), 8.0),
        (230.0, 2, "reinforced", 358.0, DistancePlace(2, 5000.0), 4.44),
        (120.0, 2, "basic", 170.0, DistancePlace(), 1.134),
    ],
)
def test_clearances(
    mains: float, category: int, strength: Strength, peak: float, place: DistancePlace, wanted: float
) -> None:
    """Derived from published rows (keys `insulation-data-60664`, `terminal-technical-section`)."""
    assert millimetres(gap(mains, category, strength, peak, place)) == wanted


def test_between_rows_of_altitude_only_the_lower_row_lets_fail() -> None:
    need = gap(230.0, 3, "reinforced", 358.0, DistancePlace(2, 3500.0))
    assert need is not None
    assert (round(need.worst * 1e3, 2), round(need.kindest * 1e3, 2)) == (6.68, 6.27)


@pytest.mark.parametrize(
    ("volts", "strength", "group", "profile", "wanted"),
    [
        (250.0, "basic", "III", IEC, 2.5),
        (250.0, "reinforced", "III", IEC, 5.0),
        (230.0, "basic", "III", IEC, 2.5),
        (230.0, "reinforced", "III", "iec-62368-1", 4.6),
        (264.0, "reinforced", "III", IEC, 5.28),
        (400.0, "basic", "III", IEC, 4.0),
        (400.0, "reinforced", "I", IEC, 4.0),
        (320.0, "basic", "printed", IEC, 1.6),
        (565.0, "reinforced", "III", IEC, 11.3),
        (565.0, "reinforced", "I", IEC, 5.7),
        (3.0, "basic", "III", IEC, 0.4),
    ],
)
def test_creepages(volts: float, strength: Strength, group: str, profile: str, wanted: float) -> None:
    """Published rows (keys `terminal-catalogue`, `insulation-data-60664`), interpolated and doubled by arithmetic."""
    assert surface(volts, strength, group, profile=profile) == wanted


def test_creepage_is_never_below_the_clearance() -> None:
    low = gap(230.0, 3, "reinforced", 358.0)
    found = creepage(IEC, "reinforced", "", 250.0, DistancePlace(), "III", low)
    assert millimetres(found) == 5.5


def test_beyond_the_end_of_a_table_nothing_passes_and_what_the_last_row_refuses_fails() -> None:
    found = impulse(IEC, 2000.0, 2)
    assert found is not None
    assert (found.worst, found.kindest) == (math.inf, 8000.0)
    wide = creepage(IEC, "basic", "", 6000.0, DistancePlace(), "III", None)
    assert wide is not None
    assert wide.worst == math.inf
    assert wide.kindest == pytest.approx(50e-3)


def test_a_row_from_memory_with_medium_confidence_lets_nothing_fail() -> None:
    """Above 1000 V the rows are for direct current: from memory."""
    found = impulse(IEC, 1500.0, 2)
    assert found is not None
    assert (found.worst, found.kindest) == (8000.0, 6000.0)
    assert "from memory" in found.source


def test_the_means_of_protection_have_one_row() -> None:
    """Published (keys `means-of-protection-note`, `medical-protection-page`)."""
    place = DistancePlace()
    at = creepage("iec-60601-1", "reinforced", "2 MOPP", 250.0, place, "III", None)
    below = creepage("iec-60601-1", "reinforced", "2 MOPP", 24.0, place, "III", None)
    above = clearance("iec-60601-1", "reinforced", "2 MOPP", None, 400.0, 0.0, place, working=300.0)
    assert at is not None
    assert below is not None
    assert above is not None
    assert (at.worst, at.kindest) == (8e-3, 8e-3)
    assert (below.worst, below.kindest) == (8e-3, 0.0)
    assert (above.worst, above.kindest) == (math.inf, 5e-3)


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: column.title)
def test_each_column_rises_and_names_sources_that_exist(column: Column) -> None:
    keys = [key for key, _ in column.rows]
    values = [value for _, value in column.rows]
    assert keys == sorted(set(keys))
    assert values == sorted(values)
    assert set(column.sources) <= set(SOURCES)
    assert column.confidence in ("F2", "F1", "M-hi")


def test_each_row_rises_with_category_degree_and_material_group() -> None:
    for voltage in insulation_tables.SYSTEM_VOLTAGES:
        rows = [dict(IMPULSE[category].rows)[voltage] for category in range(1, 5)]
        assert rows == sorted(rows)
    for index in range(len(CREEPAGE_VOLTS)):
        for degree in (2, 3):
            groups = [CREEPAGE[group, degree].rows[index][1] for group in ("I", "II", "III")]
            assert groups == sorted(groups)
        for group in ("I", "II", "III"):
            degrees = [CREEPAGE[group, degree].rows[index][1] for degree in (1, 2, 3)]
            assert degrees == sorted(degrees)


VOLTS = st.floats(1.0, 1400.0)


@given(
    mains=VOLTS,
    more=st.floats(0.0, 300.0),
    category=st.integers(1, 3),
    degree=st.integers(1, 3),
    metres=st.floats(0.0, 9000.0),
    profile=st.sampled_from([IEC, "iec-62368-1"]),
    group=st.sampled_from(["I", "II", "III"]),
    which=st.sampled_from(["mains", "category", "degree", "metres", "strength"]),
)
@settings(max_examples=150, deadline=None)
def test_no_demand_falls_when_a_voltage_category_degree_altitude_or_grade_rises(
    mains: float, more: float, category: int, degree: int, metres: float, profile: str, group: str, which: str
) -> None:
    def asked(*, raised: bool) -> list[float]:
        volts = mains + more if raised and which == "mains" else mains
        level = category + 1 if raised and which == "category" else category
        dirt = degree + 1 if raised and which == "degree" else degree
        height = metres + 500.0 if raised and which == "metres" else metres
        strength: Strength = "reinforced" if raised and which == "strength" else "basic"
        place = DistancePlace(dirt, height)
        basic = impulse(profile, volts, level)
        assert basic is not None
        air = clearance(profile, strength, "", basic, 1.5 * volts, volts, place)
        low = clearance(profile, strength, "", basic, 1.5 * volts, volts, DistancePlace(dirt))
        creep = creepage(profile, strength, "", volts, place, group, low)
        test = demands.strength_test(profile, strength, "", basic, 1.5 * volts, volts)
        needs = [basic, reinforced_impulse(profile, basic) if strength == "reinforced" else basic, air, creep, test]
        return [end for need in needs if need is not None for end in (need.worst, need.kindest)]

    for before, after in zip(asked(raised=False), asked(raised=True), strict=True):
        assert after >= before * (1.0 - 1e-9)
