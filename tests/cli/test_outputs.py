"""Several formats in one run, and files that are written whole or not at all."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click
import pytest

from isolint import app
from isolint.cli import outputs, run
from isolint.reports import formats
from isolint.results import Report
from tests.reports.sample import REPORT

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def sample_report(monkeypatch: pytest.MonkeyPatch) -> None:
    def check(paths: Sequence[str], options: app.Options) -> Report:
        return REPORT

    monkeypatch.setattr(app, "check", check)


def test_the_command_line_knows_the_formats_that_exist() -> None:
    assert outputs.FORMATS == formats.FORMATS
    for form in formats.FORMATS:
        assert formats.render(form, REPORT).endswith("\n")


@pytest.mark.parametrize(
    ("forms", "files", "expected"),
    [
        ([], [], [("text", None)]),
        (["json"], [], [("json", None)]),
        (["json"], ["a.json"], [("json", "a.json")]),
        ([], ["a.txt"], [("text", "a.txt")]),
        ([], ["sarif=a.sarif"], [("sarif", "a.sarif"), ("text", None)]),
        (["text"], ["sarif=a", "junit=b"], [("sarif", "a"), ("junit", "b"), ("text", None)]),
        (["sarif", "junit"], ["sarif=a", "b"], [("sarif", "a"), ("junit", "b")]),
        (["sarif"], ["sarif=a"], [("sarif", "a")]),
        (["json"], ["./x=y.json"], [("json", "./x=y.json")]),
        ([], ["sarif=a", "sarif=b"], [("sarif", "a"), ("sarif", "b"), ("text", None)]),
    ],
)
def test_each_format_has_its_place(forms: list[str], files: list[str], expected: list[tuple[str, str | None]]) -> None:
    assert outputs.destinations(forms, files) == expected


@pytest.mark.parametrize(
    ("forms", "files", "words"),
    [
        (["text", "json"], [], "one format can go to standard output"),
        (["text", "json"], ["a"], "say which format"),
        (["json"], ["a", "b"], "say which format"),
        ([], ["json=a", "sarif=a"], "the same file"),
        ([], ["json=a", "sarif=./a"], "the same file"),
        ([], ["sarf=a"], "there is no format sarf"),
        (["json"], ["x=y.json"], "a file of that name is ./x=y.json"),
    ],
)
def test_what_could_mean_two_things_is_refused(forms: list[str], files: list[str], words: str) -> None:
    with pytest.raises(click.UsageError, match=words):
        outputs.destinations(forms, files)


def test_several_formats_come_from_one_run(tmp_path: Path, capsys: Captured) -> None:
    names = {form: tmp_path / form for form in ("sarif", "junit", "codequality")}
    arguments = [part for form, path in names.items() for part in ("--output", f"{form}={path}")]
    assert run(["check", "board.cir", "--format", "markdown", *arguments]) == 1
    assert capsys.readouterr().out.startswith("## isolint\n")
    assert json.loads(names["sarif"].read_text())["version"] == "2.1.0"
    assert names["junit"].read_bytes().startswith(b"<?xml")
    assert json.loads(names["codequality"].read_text())[0]["check_name"] == "led-underdriven"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["codequality", "junit", "sarif"]


def test_if_one_file_cannot_be_written_the_old_ones_stay_and_the_results_are_printed(
    tmp_path: Path, capsys: Captured
) -> None:
    old = tmp_path / "old.sarif"
    old.write_text("old", encoding="utf-8")
    missing = tmp_path / "no" / "such"
    assert run(["check", "board.cir", "--output", f"sarif={old}", "--output", f"junit={missing}"]) == 2
    assert old.read_text(encoding="utf-8") == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["old.sarif"]
    captured = capsys.readouterr()
    assert "led-underdriven" in captured.out
    assert "name another place with --output" in captured.err
