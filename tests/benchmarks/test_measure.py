from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest

from tests.benchmarks.measure import Measured, machine, measure, table
from tests.benchmarks.rows import ROWS, RatioRow

ROW = RatioRow("a / b", ("a",), ("b",), limit=0.5)


def test_the_ratio_is_the_median_of_neighbours_after_a_first_round_that_does_not_count() -> None:
    times = {"a": iter([9.0, 1.0, 8.0, 1.0]), "b": iter([1.0, 4.0, 4.0, 4.0])}

    def clock(command: Sequence[str]) -> float:
        return next(times[command[0]])

    measured = measure(ROW, rounds=3, clock=clock)
    assert (measured.ratio, measured.subject, measured.reference) == (0.25, 1.0, 4.0)
    assert measured.within


def test_a_row_without_a_reference_prints_both_numbers_itself() -> None:
    row = RatioRow("memory", ("a", "{folder}/x"), (), limit=50.0, make=lambda folder: (folder / "x").touch(), unit="MB")

    def printer(command: Sequence[str]) -> str:
        assert Path(command[1]).is_file()
        return "40.0 1\n52.0 1\n44.5 1\n"

    measured = measure(row, printer=printer)
    assert measured.within
    assert table([measured], date(2026, 11, 30)).splitlines()[1] == "ok    44.50 of at most 50.00  memory  (44.5 MB)"


def test_the_table_names_machine_and_date_and_what_is_over() -> None:
    good = Measured(ROW, 0.5, 0.1, 0.2)
    bad = Measured(ROW, 0.51, 0.102, 0.2)
    first, second, third = table([good, bad], date(2026, 11, 30)).splitlines()
    assert first.startswith(f"{machine().partition(', load')[0]}, load ")
    assert first.endswith(", 2026-11-30")
    assert second == "ok     0.50 of at most  0.50  a / b  (100 ms / 200 ms)"
    assert third.startswith("OVER   0.51")


@pytest.mark.benchmark
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_each_ratio_keeps_its_limit(row: RatioRow) -> None:
    measured = measure(row)
    assert measured.within, table([measured], date.today())
