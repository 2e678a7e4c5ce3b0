"""Waivers in settings that several boards share: nothing is said twice, and nothing wrong by a board alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint import app, selection
from isolint.results import Report

BOARD = "* a tie, invented\nV1 V5 GND 5\nR1 V5 GND 1k\nV2 VB GNDB 5\nR2 VB GNDB 1k\nR{n} GND GNDB 0\n"
SIDES = '[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GNDB"]\n'


def waiver(where: str, until: str = "2999-12-31") -> str:
    return f'[[waivers]]\nrule = "ground-tie"\nwhere = "{where}"\nreason = "bench"\nby = "lead"\nuntil = {until}\n'


@pytest.fixture
def boards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Boards a and b below one folder; R8 joins the sides of a, R9 those of b."""
    for name, n in (("a", 8), ("b", 9)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "board.cir").write_text(BOARD.format(n=n), encoding="utf-8")
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def state(boards: Path, waivers: str) -> None:
    (boards / "isolint.toml").write_text(SIDES + waivers, encoding="utf-8")


def stale(report: Report) -> list[tuple[str, str]]:
    return [(result.netlist, result.message) for result in report.results if result.rule == "waiver-stale"]


BOTH = ["a/board.cir", "b/board.cir"]


def test_a_waiver_for_one_board_is_not_stale_on_the_other(boards: Path) -> None:
    state(boards, waiver("R8") + waiver("R9"))
    for report in (app.check(BOTH, app.Options()), app.check(BOTH[:1], app.Options())):
        assert stale(report) == []
        assert report.exit_status == 0


def test_a_waiver_that_no_board_needs_is_told_once_where_all_were_judged(boards: Path) -> None:
    state(boards, waiver("R8") + waiver("R9") + waiver("R77"))
    ((netlist, message),) = stale(app.check(BOTH, app.Options()))
    assert netlist == "a/board.cir"
    assert "at R77 by lead until 2999-12-31 matches no failure" in message
    assert stale(selection.check_project(".", app.Options())[0]) == [(netlist, message)]
    assert stale(app.check(BOTH[:1], app.Options())) == [], "the other board may need it"


def test_a_hook_says_the_same_whatever_the_partition(boards: Path) -> None:
    state(boards, waiver("R8") + waiver("R9") + waiver("R77"))
    for names in (BOTH, BOTH[:1], BOTH[1:], ["isolint.toml"]):
        assert stale(selection.check_changed(names, app.Options())[0]) == []


def test_a_waiver_in_the_folder_of_its_only_board_is_told_always(boards: Path) -> None:
    state(boards, waiver("R9"))
    (boards / "a/isolint.toml").write_text(waiver("R8") + waiver("R77"), encoding="utf-8")
    for report in (
        app.check(BOTH[:1], app.Options()),
        app.check(BOTH, app.Options()),
        selection.check_changed(BOTH[:1], app.Options())[0],
    ):
        assert [netlist for netlist, _ in stale(report)] == ["a/board.cir"]


def test_what_is_wrong_with_a_shared_waiver_is_told_once(boards: Path) -> None:
    state(boards, waiver("R8") + waiver("R9") + waiver("R77", "2001-01-01") + '[[waivers]]\nrule = "ground-tie"\n')
    told = stale(app.check(BOTH, app.Options()))
    assert [netlist for netlist, _ in told] == ["a/board.cir", "a/board.cir"]
    assert sorted("malformed" in message for _, message in told) == [False, True]
