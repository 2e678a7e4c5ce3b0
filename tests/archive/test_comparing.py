from __future__ import annotations

import contextlib
import json
import sqlite3
from pathlib import Path

import pytest

from isolint import app
from isolint.archive import compared_pages
from isolint.archive.compared_sources import load
from isolint.archive.comparing import CLASSES, Comparison, compare, trend
from isolint.cli import compare as command
from isolint.errors import IsolintError
from isolint.reports import json as results_json
from isolint.results import Report
from tests.archive.stores import TODAY, rows, run
from tests.conftest import REPOSITORY

pytestmark = pytest.mark.xdist_group("archive")

SETTINGS = (REPOSITORY / "fixtures/rules/isolint.toml").read_text(encoding="utf-8")
LIMITED = """* a channel, invented
XU1 A GND GNDB OUT DEMO_PT1
R1 DRIVE A 470
R2 VB OUT 10k
.end
"""
UNLIMITED = LIMITED.replace("R1 DRIVE A 470", "R1 DRIVE A 0")
WEAK = LIMITED.replace("R2 VB OUT 10k", "R2 VB OUT 1k")
WEAKER = LIMITED.replace("R2 VB OUT 10k", "R2 VB OUT 820")
OPEN = LIMITED.replace("DEMO_PT1", "MYSTERY")


def archive(folder: Path, boards: dict[str, str]) -> Path:
    """A folder of boards with the settings that they need."""
    folder.mkdir(parents=True)
    (folder / "isolint.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "parts").mkdir()
    for path in (REPOSITORY / "fixtures/rules/parts").iterdir():
        (folder / "parts" / path.name).write_bytes(path.read_bytes())
    for name, text in boards.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def stored(where: Path, boards: dict[str, str]) -> str:
    """The store of an archive of such boards, all called alike."""
    folder = archive(where / "boards", boards)
    run(folder, where / "store.db")
    return str(where / "store.db")


def results(where: Path, boards: dict[str, str]) -> str:
    """The results of a check of such boards, made in their folder."""
    folder = archive(where / "boards", boards)
    with contextlib.chdir(folder):
        report: Report = app.check(list(boards), app.Options(today=TODAY, root=str(folder)))
    (where / "results.json").write_text(results_json.render(report), encoding="utf-8")
    return str(where / "results.json")


def said(found: Comparison) -> list[tuple[str, str, str]]:
    return [(change.what, Path(change.board).name, change.rule) for change in found.changes]


BEFORE = {
    "fixed.cir": UNLIMITED,
    "same.cir": WEAK,
    "worse.cir": WEAK,
    "new.cir": LIMITED,
    "opened.cir": LIMITED,
    "lost.cir": LIMITED,
    "gone.cir": UNLIMITED + "* gone\n",
    "moved.cir": UNLIMITED + "* moved\n",
}
NOW = {
    "fixed.cir": LIMITED,
    "same.cir": WEAK,
    "worse.cir": WEAKER,
    "new.cir": UNLIMITED,
    "opened.cir": OPEN,
    "lost.cir": "",
    "elsewhere.cir": UNLIMITED + "* moved\n",
    "added.cir": UNLIMITED + "* added\n",
}


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> str:
    return stored(tmp_path_factory.mktemp("old"), BEFORE)


@pytest.fixture(scope="module")
def new(tmp_path_factory: pytest.TempPathFactory) -> str:
    return stored(tmp_path_factory.mktemp("new"), NOW)


def test_what_became_of_each_board_is_said(old: str, new: str) -> None:
    found = compare(load(old), load(new))
    told = said(found)
    assert ("fixed", "fixed.cir", "led-unlimited") in told
    assert ("new", "new.cir", "led-unlimited") in told
    assert ("worse", "worse.cir", "transfer-margin-low") in told
    assert any(what == "opened" and board == "opened.cir" for what, board, _ in told)
    assert ("unjudged", "lost.cir", "") in told
    assert ("gone", "gone.cir", "") in told
    assert ("added", "added.cir", "") in told
    assert ("new", "added.cir", "led-unlimited") in told
    assert not [each for each in told if each[1] in ("same.cir", "moved.cir", "elsewhere.cir")]
    assert "boards/moved.cir is boards/elsewhere.cir now" in found.notes
    assert not found.tool_changed


def test_the_worse_one_has_both_numbers(old: str, new: str) -> None:
    (change,) = [each for each in compare(load(old), load(new)).changes if each.what == "worse"]
    assert "margin" in change.before and "margin" in change.now
    assert change.before != change.now


def test_one_fault_of_which_another_rule_speaks_is_one_line_with_both_numbers(tmp_path: Path) -> None:
    """The resistor of an LED that got too much is left out: the LED gets more, and no number is left to compare."""
    hot = LIMITED.replace("R1 DRIVE A 470", "R1 DRIVE A 33")
    states = ({"a.cir": hot}, {"a.cir": UNLIMITED})
    stores = [stored(tmp_path / str(at), each) for at, each in enumerate(states)]
    files = [results(tmp_path / f"f{at}", each) for at, each in enumerate(states)]
    for old, new in (stores, files, [stores[0], files[1]]):
        found = [each for each in compare(load(old), load(new)).changes if each.what != "hidden"]
        assert [(each.what, each.rule, each.instead) for each in found] == [
            ("worse", "led-unlimited", "led-overdriven")
        ]
        assert "margin" in found[0].before
        assert "[led-unlimited instead of led-overdriven]" in compared_pages.comparison_text(
            compare(load(old), load(new))
        )
    # The other way round the first one is cured, and what it hid comes to light: two faults, each with its own line.
    back = [(each.what, each.rule, each.instead) for each in compare(*map(load, stores[::-1])).changes]
    assert ("uncovered", "led-overdriven", "") in back and ("fixed", "led-unlimited", "") in back


def test_a_state_compared_with_itself_has_no_difference(old: str) -> None:
    found = compare(load(old), load(old))
    assert found.changes == ()
    assert compared_pages.comparison_text(found).startswith("no difference; 8 boards in both")


def test_result_files_say_the_same_as_stores_of_the_same_boards(tmp_path: Path) -> None:
    before = {"a.cir": UNLIMITED, "b.cir": WEAK, "c.cir": LIMITED}
    now = {"a.cir": LIMITED, "b.cir": WEAKER, "c.cir": UNLIMITED}
    one = [stored(tmp_path / "1", before), stored(tmp_path / "2", now)]
    two = [results(tmp_path / "3", before), results(tmp_path / "4", now)]
    wanted = said(compare(*map(load, one)))
    assert [each[0] for each in wanted] == ["new", "worse", "fixed"], wanted
    assert said(compare(*map(load, two))) == wanted
    assert said(compare(load(one[0]), load(two[1]))) == wanted
    assert said(compare(load(two[0]), load(one[1]))) == wanted


def test_another_tool_is_told(old: str, tmp_path: Path) -> None:
    copy = tmp_path / "store.db"
    copy.write_bytes(Path(old).read_bytes())
    with sqlite3.connect(copy) as connection:
        connection.execute("UPDATE meta SET value = 'another' WHERE name = 'tool'")
    connection.close()
    with sqlite3.connect(copy) as connection:
        connection.execute("DELETE FROM unit WHERE path = 'gone.cir'")
    connection.close()
    found = compare(load(old), load(str(copy)))
    assert found.tool_changed
    assert "gone (tool changed): boards/gone.cir" in compared_pages.comparison_text(found)
    assert "tool changed" in compared_pages.comparison_text(found)


def test_a_trend_shows_states_in_order_and_takes_no_missing_board_for_progress(old: str, new: str) -> None:
    first, second = load(old), load(new)
    steps = trend([("old", first), ("new", second), ("old again", first)])
    assert [step.judged for step in steps] == [8, 7, 8]
    assert steps[0].incomplete == "" and steps[2].incomplete == ""
    # gone.cir and lost.cir are not judged there; what was moved is.
    assert steps[1].incomplete.startswith("2 boards of the first are not judged")
    assert steps[1].changes["new"] == compare(first, second).counts["new"]
    text = compared_pages.trend_text(steps)
    assert "incomplete: 2 boards of the first are not judged" in text
    assert "???" in text
    page = compared_pages.trend_html(steps)
    assert page.count("<rect") == 6
    assert "<script" not in page


def test_formats_are_those_of_the_command_line() -> None:
    assert command.CLASSES == CLASSES
    assert command.FORMATS == compared_pages.FORMATS


def test_the_json_of_a_comparison_is_plain(old: str, new: str) -> None:
    found = compare(load(old), load(new))
    document = json.loads(compared_pages.comparison_json(found))
    assert len(document["changes"]) == len(found.changes)
    assert document["counts"]["gone"] == 1
    assert "<script>" in compared_pages.comparison_html(found)


@pytest.mark.parametrize(
    "text",
    ["", "{}", "[1]", '{"format": "isolint-results/1"}', '{"format": "isolint-results/1", "coverage": 3}', "{" * 9000],
)
def test_what_is_neither_is_refused(tmp_path: Path, text: str) -> None:
    (tmp_path / "x.json").write_text(text, encoding="utf-8")
    with pytest.raises(IsolintError, match="no store and no result file"):
        load(str(tmp_path / "x.json"))


def test_a_class_that_must_not_be_makes_the_status_1(
    old: str, new: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    from isolint.cli import run as isolint

    assert isolint(["compare", old, new]) == 0
    assert isolint(["compare", old, new, "--fail-on", "worse", "--fail-on", "new"]) == 1
    assert isolint(["compare", old, old, "--fail-on", "worse"]) == 0
    assert isolint(["compare", old, str(tmp_path / "none.db")]) == 2
    assert isolint(["compare", "--trend", old, new, old]) == 0
    assert isolint(["compare", old]) == 2
    assert "unjudged: boards/lost.cir" in capsys.readouterr().out
    assert rows(Path(old), "SELECT count(*) FROM unit WHERE state = 'done'") == [(8,)]
