"""Every row of the tables of insulation coordination once through a netlist: what is wanted of a barrier is that row.

The figures are written down again here, as the published extracts print them (keys `insulation-data-60664`,
`terminal-catalogue`, `terminal-technical-section`), apart from those that the tables hold.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest

from tests.support import judge

RECORD = """[parts.DEMO_T1]
type = "transformer"
pins = ["p1", "p2", "s1", "s2"]
source = "invented"
[parts.DEMO_T1.insulation]
grade = "reinforced"
working_voltage = "9000 V"
repetitive_peak = "30000 V"
transient = "50000 V"
withstand = "36000 V"
creepage = "200 mm"
clearance = "200 mm"
"""

CREEPAGE = """
10 0.025 0.040 0.080 0.40 0.40 0.40 1.00 1.00 1.00
12.5 0.025 0.040 0.090 0.42 0.42 0.42 1.05 1.05 1.05
16 0.025 0.040 0.100 0.45 0.45 0.45 1.10 1.10 1.10
20 0.025 0.040 0.110 0.48 0.48 0.48 1.20 1.20 1.20
25 0.025 0.040 0.125 0.50 0.50 0.50 1.25 1.25 1.25
32 0.025 0.040 0.14 0.53 0.53 0.53 1.30 1.30 1.30
40 0.025 0.040 0.16 0.56 0.80 1.10 1.40 1.60 1.80
50 0.025 0.040 0.18 0.60 0.85 1.20 1.50 1.70 1.90
63 0.040 0.063 0.20 0.63 0.90 1.25 1.60 1.80 2.00
80 0.063 0.100 0.22 0.67 0.95 1.30 1.70 1.90 2.10
100 0.100 0.160 0.25 0.71 1.00 1.40 1.80 2.00 2.20
125 0.160 0.250 0.28 0.75 1.05 1.50 1.90 2.10 2.40
160 0.250 0.400 0.32 0.80 1.10 1.60 2.00 2.20 2.50
200 0.400 0.630 0.42 1.00 1.40 2.00 2.50 2.80 3.20
250 0.560 1.00 0.56 1.25 1.80 2.50 3.20 3.60 4.00
320 0.75 1.60 0.75 1.60 2.20 3.20 4.00 4.50 5.00
400 1.0 2.0 1.0 2.0 2.8 4.0 5.0 5.6 6.3
500 1.3 2.5 1.3 2.5 3.6 5.0 6.3 7.1 8.0
630 1.8 3.2 1.8 3.2 4.5 6.3 8.0 9.0 10.0
800 2.4 4.0 2.4 4.0 5.6 8.0 10.0 11.0 12.5
1000 3.2 5.0 3.2 5.0 7.1 10.0 12.5 14.0 16.0
1250 - - 4.2 6.3 9.0 12.5 16.0 18.0 20.0
1600 - - 5.6 8.0 11.0 16.0 20.0 22.0 25.0
2000 - - 7.5 10.0 14.0 20.0 25.0 28.0 32.0
2500 - - 10.0 12.5 18.0 25.0 32.0 36.0 40.0
3200 - - 12.5 16.0 22.0 32.0 40.0 45.0 50.0
4000 - - 16.0 20.0 28.0 40.0 50.0 56.0 63.0
5000 - - 20.0 25.0 36.0 50.0 63.0 71.0 80.0
"""
"""Volts rms, then millimetres: printed wiring at pollution degree 1 and 2; all groups at 1; I to III at 2; at 3."""
COLUMNS = (
    *(("printed", 1), ("printed", 2), ("I", 1)),
    *((group, degree) for degree in (2, 3) for group in ("I", "II", "IIIa")),
)

IMPULSE = """
50 330 500 800 1500
100 500 800 1500 2500
150 800 1500 2500 4000
300 1500 2500 4000 6000
600 2500 4000 6000 8000
1000 4000 6000 8000 12000
"""
"""Volts of the system, then the impulse by category. The two rows of direct current above are from memory."""

BY_IMPULSE = (
    (330, 0.01, 0.2, 0.8), (400, 0.02, 0.2, 0.8), (500, 0.04, 0.2, 0.8), (600, 0.06, 0.2, 0.8), (800, 0.10, 0.2, 0.8),
    (1000, 0.15, 0.2, 0.8), (1200, 0.25, 0.25, 0.8), (1500, 0.5, 0.5, 0.8), (2000, 1.0, 1.0, 1.0),
    (2500, 1.5, 1.5, 1.5), (3000, 2.0, 2.0, 2.0), (4000, 3.0, 3.0, 3.0), (5000, 4.0, 4.0, 4.0), (6000, 5.5, 5.5, 5.5),
    (8000, 8.0, 8.0, 8.0), (10000, 11.0, 11.0, 11.0), (12000, 14.0, 14.0, 14.0), (15000, 18.0, 18.0, 18.0),
    (20000, 25.0, 25.0, 25.0), (25000, 33.0, 33.0, 33.0), (30000, 40.0, 40.0, 40.0), (40000, 60.0, 60.0, 60.0),
)  # fmt: skip
BY_PEAK = (
    (330, 0.01), (400, 0.02), (500, 0.04), (600, 0.06), (800, 0.13), (1000, 0.26), (1200, 0.42), (1500, 0.76),
    (2000, 1.27), (2500, 1.8), (3000, 2.4), (4000, 3.8), (5000, 5.7), (6000, 7.9), (8000, 11.0), (10000, 15.2),
    (12000, 19.0), (15000, 25.0),
)  # fmt: skip
ALTITUDE = (
    (2000, 1.0), (3000, 1.14), (4000, 1.29), (5000, 1.48), (6000, 1.70), (7000, 1.95), (8000, 2.25), (9000, 2.62),
    (10000, 3.02), (15000, 6.67), (20000, 14.5),
)  # fmt: skip


def wanted(
    barriers: Sequence[str],
    amount: str,
    environment: str = "",
    group: str = "I",
    kinds: str = "",
    level: str = "basic",
) -> dict[str, float]:
    """What is wanted of an amount, by the first side of each barrier: as many transformers on one board."""
    cards, facts = [], []
    for number, stated in enumerate(barriers):
        cards.append(f"XT{number} P{number} N{number} S{number} G{number} DEMO_T1\n")
        cards.append(f"RP{number} P{number} N{number} 1k\nRS{number} S{number} G{number} 1k\n")
        near, far = kinds.split() if kinds else ("", "")
        for side, net, kind in (("a", "N", near), ("b", "G", far)):
            facts.append(f'[sides.{side}{number}]\nnets = ["{net}{number}"]\n' + (f'kind = "{kind}"\n' if kind else ""))
        facts.append(f'[[barriers]]\nbetween = ["a{number}", "b{number}"]\ninsulation = "{level}"\n{stated}')
    settings = f'parts = ["p.toml"]\n[environment]\n{environment}\n{"".join(facts)}'
    report = judge(f"* board\n{''.join(cards)}.end\n", settings, p__toml=f'{RECORD}material_group = "{group}"\n')
    return {
        result.subject.split(" ")[0]: item.limit.value
        for result in report.results
        for item in result.evidence
        if item.name == amount and item.limit is not None
    }


def same(found: Mapping[str, float], expected: Sequence[float], scale: float = 1e-3) -> None:
    assert [found.get(f"a{number}") for number in range(len(expected))] == [
        pytest.approx(value * scale, rel=1e-9) for value in expected
    ]


@pytest.mark.parametrize("column", range(len(COLUMNS)), ids=[f"{group} {degree}" for group, degree in COLUMNS])
def test_creepage_is_that_of_its_row_and_column(column: int) -> None:
    group, degree = COLUMNS[column]
    rows = [line.split() for line in CREEPAGE.split("\n") if line]
    pairs = [(volts, cells[column]) for volts, *cells in rows if cells[column] != "-"]
    printed = group == "printed"
    board = 'board_creepage = "90 mm"\nprinted = true\n' if printed else ""
    stated = [f'working_voltage = "{volts} V"\nworking_peak = "{volts} V"\n{board}' for volts, _ in pairs]
    amount, own = ("board creepage", "I") if printed else ("creepage", group)
    # No creepage is below the clearance, which is 0.2 mm at least on a board at pollution degree 2.
    least = 0.2 if (group, degree) == ("printed", 2) else 0.0
    same(wanted(stated, amount, f"pollution_degree = {degree}", own), [max(float(cell), least) for _, cell in pairs])


def test_the_impulse_is_that_of_the_system_and_its_category() -> None:
    rows = [line.split() for line in IMPULSE.split("\n") if line]
    cells = [(row[0], category, float(row[category])) for row in rows for category in range(1, 5)]
    stated = [
        f'working_voltage = "{volts} V"\nworking_peak = "{2 * int(volts)} V"\nmains = "{volts} V"\n'
        f"overvoltage_category = {category}\n"
        for volts, category, _ in cells
    ]
    same(wanted(stated, "impulse", kinds="mains earth"), [value for *_, value in cells], 1.0)


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_clearance_is_that_of_the_impulse_and_the_pollution_degree(degree: int) -> None:
    low = 'working_voltage = "10 V"\nworking_peak = "15 V"\n'
    stated = [f'{low}impulse = "{volts} V"\n' for volts, *_ in BY_IMPULSE]
    same(wanted(stated, "clearance", f"pollution_degree = {degree}"), [row[degree] for row in BY_IMPULSE])


def test_clearance_is_that_of_the_recurring_peak() -> None:
    stated = [f'working_voltage = "100 V"\nworking_peak = "{volts} V"\n' for volts, _ in BY_PEAK]
    same(wanted(stated, "clearance", "pollution_degree = 1"), [millimetres for _, millimetres in BY_PEAK])


@pytest.mark.parametrize(("metres", "factor"), ALTITUDE)
def test_clearance_grows_with_the_altitude(metres: int, factor: float) -> None:
    stated = ['working_voltage = "10 V"\nworking_peak = "15 V"\nimpulse = "4000 V"\n']
    same(wanted(stated, "clearance", f'altitude = "{metres} m"'), [3.0 * factor])


# -- direct current above 1000 V -----------------------------------------------------------------------------------

DIRECT = ((1250, 4000, 6000, 8000, 12000), (1500, 6000, 8000, 10000, 15000))
"""Volts, then the impulse by category; that these rows are for direct current is from memory."""


def test_the_impulse_above_1000_volts_is_that_of_direct_current() -> None:
    cells = [(row[0], category, row[category]) for row in DIRECT for category in range(1, 5)]
    stated = [
        f'working_voltage = "{volts} V"\nworking_peak = "{volts} V"\novervoltage_category = {category}\n'
        for volts, category, _ in cells
    ]
    same(wanted(stated, "impulse", kinds="hazardous earth"), [value for *_, value in cells], 1.0)


# -- the columns of IEC 62368-1 (keys `insulation-data-62368`, `fast-clearance-extract`) ---------------------------

ANOTHER = 'profile = "iec-62368-1"\n'
LOW = f'{ANOTHER}working_voltage = "10 V"\nworking_peak = "15 V"\n'
TEST = (
    (330, 330, 500), (500, 500, 800), (800, 800, 1500), (1500, 1500, 2500), (2500, 2500, 4000), (4000, 4000, 6000),
    (6000, 6000, 8000), (8000, 8000, 12000), (12000, 12000, 18000),
)  # fmt: skip
"""Transient to be withstood, then the test voltage of basic and reinforced insulation."""
REINFORCED = (
    (330, 0.4), (1000, 0.4), (1200, 0.5), (1500, 1.0), (2000, 2.0), (2500, 3.0), (3000, 3.8), (4000, 5.5), (5000, 8.0),
    (6000, 8.0), (8000, 14.0), (10000, 19.0), (12000, 24.0),
)  # fmt: skip
FAST = (
    (600, 0.07), (800, 0.22), (1000, 0.6), (1200, 1.68), (1400, 2.82), (1600, 4.8), (1800, 8.04), (2000, 13.2),
)  # fmt: skip
LEVELS = ("basic", "reinforced")


@pytest.mark.parametrize("level", LEVELS)
def test_the_test_of_equipment_is_that_of_the_transient(level: str) -> None:
    stated = [f'{LOW}impulse = "{row[0]} V"\n' for row in TEST]
    same(wanted(stated, "one-minute test", level=level), [row[1 + LEVELS.index(level)] for row in TEST], 1.0)


@pytest.mark.parametrize(("level", "volts"), [("basic", (2000.0, 2500.0)), ("reinforced", (4000.0, 5000.0))])
def test_the_test_of_equipment_is_that_of_the_mains_where_it_is_larger(level: str, volts: Sequence[float]) -> None:
    stated = [f'{LOW}mains = "{mains} V"\novervoltage_category = 1\n' for mains in (250, 600)]
    same(wanted(stated, "one-minute test", level=level), volts, 1.0)


@pytest.mark.parametrize(("level", "factor"), [("basic", 1.3), ("reinforced", 1.6)])
def test_the_test_of_equipment_is_that_of_the_recurring_peak_where_it_is_larger(level: str, factor: float) -> None:
    stated = [f'{ANOTHER}working_voltage = "1000 V"\nworking_peak = "3000 V"\nimpulse = "330 V"\n']
    same(wanted(stated, "one-minute test", level=level), [factor * 3000.0], 1.0)


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_reinforced_clearance_has_a_column_of_its_own(degree: int) -> None:
    stated = [f'{LOW}impulse = "{volts} V"\n' for volts, _ in REINFORCED]
    found = wanted(stated, "clearance", f"pollution_degree = {degree}", level="reinforced")
    same(found, [max(millimetres, 1.5 if degree == 3 else 0.0) for _, millimetres in REINFORCED])


def test_basic_clearance_is_that_of_the_impulse_as_elsewhere() -> None:
    stated = [f'{LOW}impulse = "{volts} V"\n' for volts, *_ in BY_IMPULSE]
    same(wanted(stated, "clearance"), [row[2] for row in BY_IMPULSE])


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(("degree", "factor"), [(1, 0.8), (2, 1.0), (3, 1.4)])
def test_clearance_above_30_kilohertz(degree: int, factor: float, level: str) -> None:
    stated = [
        f'{ANOTHER}working_voltage = "400 V"\nworking_peak = "{volts} V"\npeak_frequency = "65 kHz"\n'
        for volts, _ in FAST
    ]
    least = {1: 0.0, 2: 0.2, 3: 0.8}[degree]
    doubled = 2.0 if level == "reinforced" else 1.0
    found = wanted(stated, "clearance", f"pollution_degree = {degree}", level=level)
    same(found, [max(millimetres * factor * doubled, least) for _, millimetres in FAST])


@pytest.mark.parametrize("column", range(2, len(COLUMNS)), ids=[f"{group} {degree}" for group, degree in COLUMNS[2:]])
@pytest.mark.parametrize("level", LEVELS)
def test_creepage_has_the_columns_without_printed_wiring(column: int, level: str) -> None:
    group, degree = COLUMNS[column]
    rows = [line.split() for line in CREEPAGE.split("\n") if line]
    stated = [f'{ANOTHER}working_voltage = "{volts} V"\nworking_peak = "{volts} V"\n' for volts, *_ in rows]
    doubled = 2.0 if level == "reinforced" else 1.0
    found = wanted(stated, "creepage", f"pollution_degree = {degree}", group, level=level)
    clear = wanted(stated, "clearance", f"pollution_degree = {degree}", group, level=level)
    expected = [max(float(cells[column]) * doubled, clear[f"a{n}"] * 1e3) for n, (_, *cells) in enumerate(rows)]
    same(found, expected)
    # The surface decides nearly everywhere: what the clearance hides are a few cells.
    assert sum(value == float(cells[column]) * doubled for value, (_, *cells) in zip(expected, rows, strict=True)) > 14


# -- the means of protection of IEC 60601-1 (keys `means-of-protection-note`, `medical-protection-page`) -----------


@pytest.mark.parametrize(
    ("means", "volts", "creepage", "clearance"),
    [("1 MOOP", 1500, 2.5, 2.0), ("2 MOOP", 3000, 5.0, 4.0), ("1 MOPP", 1500, 4.0, 2.5), ("2 MOPP", 4000, 8.0, 5.0)],
)
def test_each_means_of_protection_has_its_row(means: str, volts: float, creepage: float, clearance: float) -> None:
    stated = ['profile = "iec-60601-1"\nworking_voltage = "250 V"\nworking_peak = "354 V"\n']
    same(wanted(stated, "one-minute test", level=means), [2.0**0.5 * volts], 1.0)
    same(wanted(stated, "creepage", level=means), [creepage])
    same(wanted(stated, "clearance", level=means), [clearance])
