"""Where isolint itself fails every command says so, leaves with 2, and does the rest of the job."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import NoReturn

import pytest

from isolint import rules
from isolint.archive.unit import Rules, tool_digest
from isolint.archive.unit import judge as judge_unit
from isolint.checking.context import Context
from isolint.cli import run
from isolint.results import Result
from isolint.source import FolderTree
from tests.conftest import REPOSITORY

Captured = pytest.CaptureFixture[str]
BOARD = "* invented\nXU1 A GNDA C GNDB DEMO_PT1\nR1 VA A 1k\nR2 VB C 10k\n"


@pytest.fixture
def board(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "board.cir").write_text(BOARD, encoding="utf-8")
    (tmp_path / "isolint.toml").write_text("top = true\n", encoding="utf-8")
    return "board.cir"


def broken(context: Context) -> Iterator[Result]:
    raise KeyError("a table that nobody made")
    yield


@pytest.fixture
def crash(monkeypatch: pytest.MonkeyPatch) -> str:
    """One rule of the barrier raises."""
    slug = "bridge-conducting"
    spoilt = tuple(rule._replace(survey=broken) if rule.slug == slug else rule for rule in rules.RULES)
    assert [rule.slug for rule in spoilt if rule.survey is broken] == [slug]
    monkeypatch.setattr(rules, "RULES", spoilt)
    monkeypatch.setattr("isolint.starter.RULES", spoilt)
    return slug


@pytest.mark.parametrize(
    "command",
    [
        ["check"],
        ["check", "--format", "json"],
        ["check", "--format", "junit"],
        ["barrier"],
        ["barrier", "--format", "html"],
        ["barrier", "--format", "svg"],
        ["facts"],
        ["init"],
        ["init", "--print"],
        ["baseline", "write"],
        ["baseline", "prune"],
    ],
    ids=" ".join,
)
def test_a_rule_that_raises_is_status_2_and_named(command: list[str], board: str, crash: str, capsys: Captured) -> None:
    assert run([*command, board]) == 2
    said = capsys.readouterr()
    assert said.out
    told = said.out if command[0] == "check" else said.err
    assert "isolint itself failed at" in told or "isolint itself failed (KeyError" in told
    assert crash in told
    assert "Traceback" not in said.out + said.err


@pytest.mark.parametrize("form", ["text", "html", "svg"])
def test_the_page_of_a_barrier_says_that_it_is_no_whole_answer(
    form: str, board: str, crash: str, capsys: Captured
) -> None:
    run(["barrier", "--format", form, board])
    page = capsys.readouterr().out
    assert f"isolint itself failed at {crash}" in page
    if form == "text":
        assert f"isolint itself failed at {crash}" in page.splitlines()[0]


def test_init_still_writes_what_it_could_find_out(board: str, crash: str, tmp_path: Path, capsys: Captured) -> None:
    (tmp_path / "isolint.toml").unlink()
    assert run(["init", board]) == 2
    assert "supplies" in (tmp_path / "isolint.toml").read_text(encoding="utf-8")


def raises(*arguments: object, **named: object) -> NoReturn:
    raise ZeroDivisionError("a resistance of nothing")


@pytest.mark.parametrize(
    "command",
    [["check"], ["check", "--changed"], ["barrier"], ["facts"], ["init"], ["worksheet"], ["baseline", "write"]],
    ids=" ".join,
)
def test_what_raises_outside_of_a_rule_is_status_2_and_no_traceback(
    command: list[str], board: str, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.setattr("isolint.interfaces.find_channels", raises)
    assert run([*command, board]) == 2
    said = capsys.readouterr()
    told = "isolint itself failed (ZeroDivisionError: a resistance of nothing in raises of test_crashes.py)"
    assert told in said.err
    assert "Traceback" not in said.out + said.err


def test_the_netlists_beside_one_at_which_isolint_fails_are_judged(
    board: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    from isolint import netlist

    real = netlist.read

    def read(tree: object, path: str, **named: object) -> object:
        return raises() if path == "bad.cir" else real(tree, path, **named)  # type: ignore[arg-type]

    (tmp_path / "bad.cir").write_text(BOARD, encoding="utf-8")
    monkeypatch.setattr(netlist, "read", read)
    assert run(["check", "bad.cir", board]) == 2
    said = capsys.readouterr()
    assert "board.cir:" in said.out
    assert said.err.startswith("isolint: bad.cir: isolint itself failed (ZeroDivisionError")


def test_a_sheet_that_can_not_be_computed_does_not_take_the_others_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    shutil.copytree(REPOSITORY / "fixtures" / "boards" / "sluice-gate" / "sound", tmp_path / "sound")
    monkeypatch.setattr("isolint.checking.calculation._load", raises)
    assert run(["worksheet", str(tmp_path / "sound" / "board.cir")]) == 2
    said = capsys.readouterr()
    assert "drive, smallest LED current" in said.out
    assert "load: isolint itself failed (ZeroDivisionError: a resistance of nothing" in said.out
    assert "isolint itself failed (ZeroDivisionError" in said.err


def test_a_review_in_which_a_rule_raises_is_no_whole_answer(
    board: str, tmp_path: Path, crash: str, capsys: Captured
) -> None:
    git = ("git", "-c", "user.name=x", "-c", "user.email=x@example.org")
    for more in ("", "R3 VA A 2k\n"):
        (tmp_path / board).write_text(BOARD + more, encoding="utf-8")
        for words in (("init", "--quiet"), ("add", "--all"), ("commit", "--quiet", "--message", "a board")):
            subprocess.run((*git, *words), cwd=tmp_path, check=True, stdin=subprocess.DEVNULL)
    assert run(["review", "--base", "HEAD~1"]) == 2
    said = capsys.readouterr()
    assert f"isolint: board.cir: isolint itself failed at {crash}; please report it" in said.err
    assert "incomplete: 2 not done" in said.out


def test_an_audit_in_which_a_rule_raises_says_so_of_the_board(board: str, tmp_path: Path, crash: str) -> None:
    found = judge_unit(FolderTree(str(tmp_path)), board, Rules(False, "2026-01-01", tool_digest()))
    assert (found.outcome, found.status) == ("done", 2)
