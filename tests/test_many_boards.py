"""A run over many boards keeps what it prints of each, and nothing that a board was judged by."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest

from isolint import app
from isolint.checking.context import Context
from isolint.cli.outputs import FORMATS, WHOLE
from isolint.preparing import locate
from isolint.reports.formats import render
from isolint.results import Report
from tests.benchmarks.many import check
from tests.benchmarks.rows import repository
from tests.conftest import REPOSITORY

BOARDS = [str(REPOSITORY / "fixtures/rules/transfer-margin-low" / f"{each}.cir") for each in ("fails", "passes")]


@pytest.fixture(scope="module")
def reports() -> tuple[Report, Report]:
    """The boards judged with all that is said of them, and with what only counts shortened."""
    whole, short = (app.check(BOARDS, app.Options(passes=passes)) for passes in (True, False))
    return whole, short


def test_formats_that_show_no_passes_are_the_same_without_them(reports: tuple[Report, Report]) -> None:
    whole, short = reports
    assert sum(result.kind == "pass" and bool(result.message) for result in whole.results) > 20
    assert sum(result.kind == "fail" for result in whole.results) > 0
    assert not any(result.kind == "pass" and result.message for result in short.results)
    for form in FORMATS:
        if form not in WHOLE:
            assert render(form, short) == render(form, whole), form
    assert short.exit_status == whole.exit_status


def test_what_only_counts_is_one_value_for_all_boards(reports: tuple[Report, Report]) -> None:
    _, short = reports
    one, other = ({result.rule: result for result in each.results if not result.netlist} for each in short.netlists)
    shared = [rule for rule in one if rule in other and one[rule].kind == other[rule].kind]
    assert len(shared) > 10
    assert all(one[rule] is other[rule] for rule in shared)


def alive() -> int:
    return sum(isinstance(each, Context) for each in gc.get_objects())


def test_no_board_before_the_last_one_is_kept() -> None:
    gc.collect()
    gc.disable()
    kept = []
    try:
        run = app.Run(app.Options())
        for path in [*BOARDS, *BOARDS]:
            run.add(*locate(path, None), path)
            kept.append(alive())
    finally:
        gc.enable()
    # A cure is tried on a board of its own.
    assert kept[2:] == kept[:2]
    assert len(run.judged) == 4


@pytest.mark.long
def test_the_peak_hardly_grows_with_the_number_of_boards(tmp_path: Path) -> None:
    repository(tmp_path, 100)
    assert check(tmp_path, 100).megabytes <= 1.3 * check(tmp_path, 10).megabytes
