"""Netlists of each type, judged from disk as their comments say."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint import types
from tests.support import FIXTURES, differences, judge_fixture, of_netlist

ROOT = FIXTURES / "types"
NETLISTS = sorted(ROOT.rglob("*.cir"))
FOLDERS = sorted(path.name for path in ROOT.iterdir())


@pytest.mark.parametrize("path", [of_netlist(path, ROOT) for path in NETLISTS])
def test_a_netlist_gives_what_its_comments_say_and_nothing_else(path: Path) -> None:
    assert differences(judge_fixture(path), path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", [of_netlist(path, ROOT) for path in NETLISTS])
def test_the_part_of_a_netlist_is_recognised_as_the_type_of_its_folder(path: Path) -> None:
    report = judge_fixture(path)
    assert {coupler.type for coupler in report.couplers} == {path.parent.name}


@pytest.mark.parametrize("name", FOLDERS)
def test_a_folder_is_that_of_a_type(name: str) -> None:
    assert name in types.NAMES
    assert list((ROOT / name).glob("*.cir"))
