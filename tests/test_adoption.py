"""A baseline written, pruned and shown, on boards on disk."""

from __future__ import annotations

import shutil
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest

from isolint import adoption, app
from isolint.cli import run
from isolint.rules import RULES
from tests import oldboards

Captured = pytest.CaptureFixture[str]

BOARD = """\
* a field input without a resistor, invented
V1 V24 GNDF 24
V2 V5 GND 5
R1 V24 A 0
XU1 A GNDF GND OUT DEMO_PT1
R2 V5 OUT 4.7k
"""
FACTS = '[sides.field]\nnets = ["GNDF"]\n[sides.logic]\nnets = ["GND"]\n'
TIE = "R9 GND GNDF 0\n"


@pytest.fixture
def boards(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository of two boards with one fault each; commands run in it."""
    (tmp_path / "isolint.toml").write_text(FACTS, encoding="utf-8")
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "board.cir").write_text(BOARD, encoding="utf-8")
    subprocess.run(["git", "init", "--quiet"], cwd=tmp_path, check=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def entries(file: Path) -> list[Any]:
    found = tomllib.loads(file.read_text(encoding="utf-8"))["results"]
    assert isinstance(found, list)
    return found


def test_one_baseline_beside_the_settings_accepts_all_boards(boards: Path, capsys: Captured) -> None:
    assert run(["check", "--project"]) == 1
    assert run(["baseline", "write", "."]) == 0
    assert [path.name for path in boards.glob("**/isolint-baseline.toml")] == ["isolint-baseline.toml"]
    held = entries(boards / "isolint-baseline.toml")
    assert {(each["netlist"], each["rule"]) for each in held} >= {
        ("a/board.cir", "led-unlimited"),
        ("b/board.cir", "led-unlimited"),
    }
    capsys.readouterr()
    assert run(["check", "--project"]) == 0
    said = capsys.readouterr().out
    assert "0 failures, " in said
    assert "0 failures, 0 open" not in said  # An open result has no baseline.


def test_writing_again_changes_no_byte(boards: Path, capsys: Captured) -> None:
    run(["baseline", "write", "."])
    file = boards / "isolint-baseline.toml"
    before = (file.read_bytes(), file.stat().st_mtime_ns)
    assert run(["baseline", "write", "a", "b/board.cir"]) == 0
    assert (file.read_bytes(), file.stat().st_mtime_ns) == before
    assert "unchanged" in capsys.readouterr().out


def test_a_new_fault_counts_and_the_rest_stays_accepted(boards: Path, capsys: Captured) -> None:
    run(["baseline", "write", "."])
    (boards / "a/board.cir").write_text(BOARD + TIE, encoding="utf-8")
    capsys.readouterr()
    assert run(["check", "--project"]) == 1
    lines = [line for line in capsys.readouterr().out.splitlines() if ": error: " in line]
    assert len(lines) == 1
    assert "[ground-tie]" in lines[0]


def test_writing_for_one_board_leaves_the_entries_of_others(boards: Path) -> None:
    run(["baseline", "write", "."])
    before = entries(boards / "isolint-baseline.toml")
    (boards / "a/board.cir").write_text(BOARD.replace("R1 V24 A 0", "R1 V24 A 2.2k"), encoding="utf-8")
    assert run(["baseline", "write", "a/board.cir"]) == 0
    after = entries(boards / "isolint-baseline.toml")
    assert [each for each in after if each["netlist"] == "b/board.cir"] == [
        each for each in before if each["netlist"] == "b/board.cir"
    ]
    assert "led-unlimited" not in {each["rule"] for each in after if each["netlist"] == "a/board.cir"}


def test_stale_entries_are_told_and_pruning_never_adds(boards: Path, capsys: Captured) -> None:
    run(["baseline", "write", "."])
    (boards / "a/board.cir").write_text(BOARD.replace("R1 V24 A 0", "R1 V24 A 2.2k") + TIE, encoding="utf-8")
    capsys.readouterr()
    run(["check", "a/board.cir"])
    assert "1 stale there" in capsys.readouterr().out
    before = entries(boards / "isolint-baseline.toml")
    assert run(["baseline", "prune", "."]) == 0
    after = entries(boards / "isolint-baseline.toml")
    assert [each for each in before if each not in after] == [
        each for each in before if (each["netlist"], each["rule"]) == ("a/board.cir", "led-unlimited")
    ]
    assert not [each for each in after if each not in before]
    assert "  - a/board.cir: led-unlimited XU1\n" in capsys.readouterr().out


def test_entries_of_a_netlist_that_is_gone_are_pruned(boards: Path) -> None:
    run(["baseline", "write", "."])
    (boards / "b/board.cir").unlink()
    run(["baseline", "prune", "a"])
    assert {each["netlist"] for each in entries(boards / "isolint-baseline.toml")} == {"a/board.cir"}


def test_a_moved_folder_keeps_its_entries_and_pruning_renames_them(boards: Path, capsys: Captured) -> None:
    run(["baseline", "write", "."])
    shutil.move(boards / "a", boards / "moved")
    capsys.readouterr()
    assert run(["check", "--project"]) == 0
    assert "moved/board.cir: taken for a/board.cir of the baseline, which is gone" in capsys.readouterr().out
    before = entries(boards / "isolint-baseline.toml")
    assert run(["baseline", "prune", "."]) == 0
    after = entries(boards / "isolint-baseline.toml")
    assert sorted(each["fingerprint"] for each in after) == sorted(each["fingerprint"] for each in before)
    assert {each["netlist"] for each in after} == {"moved/board.cir", "b/board.cir"}


def test_an_existing_baseline_nearer_to_the_board_is_used(boards: Path) -> None:
    (boards / "a/isolint-baseline.toml").write_text('format = "isolint-baseline/1"\nresults = []\n', encoding="utf-8")
    run(["baseline", "write", "."])
    assert {each["netlist"] for each in entries(boards / "a/isolint-baseline.toml")} == {"board.cir"}
    assert {each["netlist"] for each in entries(boards / "isolint-baseline.toml")} == {"b/board.cir"}
    assert run(["check", "--project"]) == 0


def test_without_settings_the_root_of_the_repository_holds_it(boards: Path) -> None:
    (boards / "isolint.toml").unlink()
    run(["baseline", "write", "a"])
    assert (boards / "isolint-baseline.toml").exists()


def test_show_lists_what_is_accepted(boards: Path, capsys: Captured) -> None:
    run(["baseline", "write", "."])
    capsys.readouterr()
    assert run(["baseline", "show", "a/board.cir"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("a/board.cir\n")
    assert "  error    led-unlimited  XU1\n" in shown
    assert "not looked at yet" in shown


def test_a_baseline_with_a_mistake_stops_its_boards_and_is_not_overwritten(boards: Path, capsys: Captured) -> None:
    file = boards / "isolint-baseline.toml"
    file.write_text("<<<<<<< ours\n", encoding="utf-8")
    assert run(["check", "a/board.cir"]) == 2
    assert "isolint-baseline.toml: line 1" in capsys.readouterr().err
    assert run(["baseline", "write", "."]) == 2
    assert run(["baseline", "prune", "."]) == 2
    assert run(["baseline", "show", "."]) == 2
    assert file.read_text(encoding="utf-8") == "<<<<<<< ours\n"


def test_a_netlist_that_cannot_be_judged_is_told_and_the_others_are_accepted(boards: Path, capsys: Captured) -> None:
    (boards / "a/isolint.toml").write_text('opn = "note"\n', encoding="utf-8")
    assert run(["baseline", "write", "."]) == 2
    assert "did you mean open?" in capsys.readouterr().err
    assert {each["netlist"] for each in entries(boards / "isolint-baseline.toml")} == {"b/board.cir"}


def test_a_clean_board_needs_no_baseline(boards: Path, capsys: Captured) -> None:
    for name in ("a", "b"):
        (boards / name / "board.cir").write_text("* nothing isolated, invented\nR1 a GND 1k\n", encoding="utf-8")
    (boards / "isolint.toml").unlink()
    assert run(["baseline", "write", "."]) == 0
    assert not (boards / "isolint-baseline.toml").exists()
    assert "there is no baseline" in capsys.readouterr().out


@pytest.fixture(scope="module")
def adopted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three old boards, twelve faults, all in a baseline."""
    folder = tmp_path_factory.mktemp("adopted")
    subprocess.run(["git", "init", "--quiet"], cwd=folder, check=True)
    names = oldboards.make(folder, 3)
    found, _ = adoption.write(
        [str(folder / name) for name in names], app.Options(root=str(folder)), lambda folders: None
    )
    (change,) = found
    assert sorted(held.rule for held in change.added) == sorted(3 * oldboards.FAULTS)
    (folder / "isolint-baseline.toml").write_text(change.after, encoding="utf-8")
    return folder


def test_every_group_that_has_rules_has_an_injected_fault() -> None:
    assert set(oldboards.INJECTED) == {rule.group for rule in RULES}


@pytest.mark.parametrize("group", oldboards.INJECTED)
def test_a_new_fault_of_each_group_counts_on_an_old_board_and_is_gone_when_it_is_fixed(
    group: str, adopted: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(adopted)
    rule, sound, broken = oldboards.INJECTED[group]
    file = adopted / "board 02/main.cir"
    text = file.read_text(encoding="utf-8")
    assert sound in text
    try:
        file.write_text(text.replace(sound, broken), encoding="utf-8")
        assert run(["check", "--changed", "--", "board 02/main.cir"]) == 1
        (line,) = [line for line in capsys.readouterr().out.splitlines() if ": error: " in line]
        assert line.endswith(f"[{rule}]")
    finally:
        file.write_text(text, encoding="utf-8")
    assert run(["check", "--changed", "--", "board 02/main.cir"]) == 0
