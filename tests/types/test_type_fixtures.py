"""Netlists of each type, judged from disk as their comments say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from isolint import app, types
from tests.support import differences, judge_file

ROOT = Path(__file__).parents[2] / "fixtures" / "types"
NETLISTS = sorted(ROOT.rglob("*.cir"))
FOLDERS = sorted(path.name for path in ROOT.iterdir())


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_netlist_gives_what_its_comments_say_and_nothing_else(path: Path) -> None:
    report = judge_file(ROOT, path, app.Options(today=date(2026, 1, 1)))
    assert differences(report, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_the_part_of_a_netlist_is_recognised_as_the_type_of_its_folder(path: Path) -> None:
    report = judge_file(ROOT, path, app.Options(today=date(2026, 1, 1)))
    assert {coupler.type for coupler in report.couplers} == {path.parent.name}


@pytest.mark.parametrize("name", FOLDERS)
def test_a_folder_is_that_of_a_type(name: str) -> None:
    assert name in types.NAMES
    assert list((ROOT / name).glob("*.cir"))
