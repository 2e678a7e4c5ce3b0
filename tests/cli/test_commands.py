"""Options, streams and exit status, on reports made by hand."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest

from isolint import __version__, app
from isolint.cli import run
from isolint.errors import IsolintError, Mistake, Place, SettingsError
from isolint.results import Report, RuleRecord, Suppression, WorksheetLine, WorksheetSection
from tests.reports.sample import OPEN, PASS, REPORT, RULES, UNDERDRIVEN, of

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[tuple[str, ...], app.Options]]:
    """What `app.check` was asked for; it answers with the sample report."""
    calls: list[tuple[tuple[str, ...], app.Options]] = []

    def check(paths: Sequence[str], options: app.Options) -> Report:
        calls.append((tuple(paths), options))
        return REPORT

    monkeypatch.setattr(app, "check", check)
    return calls


def answer(monkeypatch: pytest.MonkeyPatch, report: Report) -> None:
    def check(paths: Sequence[str], options: app.Options) -> Report:
        return report

    monkeypatch.setattr(app, "check", check)


def test_check_passes_its_options_on(asked: list[tuple[tuple[str, ...], app.Options]]) -> None:
    run(["check", "a.cir", "b.cir", "--strict", "--today", "2027-06-30", "--root", "boards"])
    run(["check", "a.cir"])
    assert asked[0][0] == ("a.cir", "b.cir")
    assert (asked[0][1].strict, asked[0][1].today, asked[0][1].root) == (True, date(2027, 6, 30), "boards")
    assert (asked[1][1].strict, asked[1][1].today, asked[1][1].root) == (False, None, None)


def test_names_after_two_dashes_are_files(asked: list[tuple[tuple[str, ...], app.Options]]) -> None:
    run(["check", "--", "-x.cir", "--strict"])
    assert asked[0][0] == ("-x.cir", "--strict")
    assert not asked[0][1].strict


def test_the_status_is_that_of_the_report(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    answer(monkeypatch, of(PASS))
    assert run(["check", "board.cir"]) == 0
    answer(monkeypatch, of(UNDERDRIVEN))
    assert run(["check", "board.cir"]) == 1
    answer(monkeypatch, of(OPEN))
    assert run(["check", "board.cir"]) == 0
    answer(monkeypatch, of(OPEN._replace(counts_as="error")))
    assert run(["check", "board.cir"]) == 1


@pytest.mark.parametrize("accepted", ["", "waived", "baseline"])
def test_a_failure_of_isolint_itself_is_status_two_and_named_in_the_summary(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured, accepted: str
) -> None:
    crash = OPEN._replace(role="internal", counts_as="none")
    if accepted == "waived":
        crash = crash._replace(suppression=Suppression("external", "accepted", "why", "who", "2027-06-30"))
    elif accepted:
        crash = crash._replace(baseline_state="unchanged")
    answer(monkeypatch, of(crash, UNDERDRIVEN))
    for form in ("text", "markdown"):
        assert run(["check", "board.cir", "--format", form]) == 2
        assert f"isolint itself failed at 1 question ({crash.rule}); 1 failure" in capsys.readouterr().out.replace(
            "\\", ""
        )


@pytest.mark.parametrize("form", ["text", "json"])
def test_what_could_be_judged_is_printed_beside_the_errors(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured, form: str
) -> None:
    error = str(IsolintError("there is no such file", Place("gone.cir"), "check the name"))
    answer(monkeypatch, of(UNDERDRIVEN)._replace(errors=(error,)))
    assert run(["check", "board.cir", "gone.cir", "--format", form]) == 2
    captured = capsys.readouterr()
    assert "led-underdriven" in captured.out
    assert captured.err == "isolint: gone.cir: there is no such file (check the name)\n"


def test_errors_of_the_family_become_lines_on_standard_error(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    def check(paths: Sequence[str], options: app.Options) -> Report:
        raise SettingsError(
            [Mistake("isolint.toml", "duty", "no number", "1.0"), Mistake("isolint.toml", "x\x1b", "odd")]
        )

    monkeypatch.setattr(app, "check", check)
    assert run(["check", "board.cir"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "isolint: isolint.toml: duty: no number (1.0)\nisolint: isolint.toml: x\\x1b: odd\n"


@pytest.mark.parametrize("failure", [RecursionError, MemoryError])
def test_what_exhausts_the_machine_is_told_in_words(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured, failure: type[Exception]
) -> None:
    def check(paths: Sequence[str], options: app.Options) -> Report:
        raise failure

    monkeypatch.setattr(app, "check", check)
    assert run(["check", "board.cir"]) == 2
    assert capsys.readouterr().err.startswith("isolint: the netlist is nested too deeply or is too large")


def test_json_is_the_document_and_nothing_else(
    asked: list[tuple[tuple[str, ...], app.Options]], capsys: Captured
) -> None:
    assert run(["check", "board.cir", "--format", "json"]) == 1
    assert json.loads(capsys.readouterr().out)["format"] == "isolint-results/1"


def test_passes_are_an_option_of_the_text(asked: list[tuple[tuple[str, ...], app.Options]], capsys: Captured) -> None:
    run(["check", "board.cir", "--passes"])
    assert ": pass: " in capsys.readouterr().out
    run(["check", "board.cir"])
    assert ": pass: " not in capsys.readouterr().out


def test_output_goes_to_a_file_with_the_same_status(
    asked: list[tuple[tuple[str, ...], app.Options]], capsys: Captured, tmp_path: Path
) -> None:
    target = tmp_path / "results.txt"
    assert run(["check", "board.cir", "--output", str(target)]) == 1
    assert capsys.readouterr().out == ""
    assert b"\r" not in target.read_bytes()
    assert target.read_text(encoding="utf-8").startswith("board.cir:12:1: error: ")


def test_an_output_that_cannot_be_written_is_an_error_with_cure(
    asked: list[tuple[tuple[str, ...], app.Options]], capsys: Captured, tmp_path: Path
) -> None:
    assert run(["check", "board.cir", "--output", str(tmp_path / "no" / "such")]) == 2
    error = capsys.readouterr().err
    assert error.startswith("isolint: ")
    assert "no such file or directory (name another place with --output)" in error


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["check"], "Missing argument"),
        (["check", "a.cir", "--format", "xml"], "is not one of"),
        (["check", "a.cir", "--today", "30.6.2027"], "as 2027-06-30"),
        (["check", "a.cir", "--strct"], "No such option"),
        (["chek", "a.cir"], "No such command"),
        ([], "Usage:"),
    ],
)
def test_a_wrong_command_line_is_status_two(arguments: list[str], words: str, capsys: Captured) -> None:
    assert run(arguments) == 2
    assert words in capsys.readouterr().err


def test_version_and_help_are_status_zero(capsys: Captured) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"isolint {__version__}\n"
    assert run(["--help"]) == 0
    assert run(["check", "-h"]) == 0
    assert "Exit status: 0 nothing at or above" in capsys.readouterr().out


def test_worksheets_are_printed_and_what_failed_is_status_two(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    sheet = (WorksheetSection("XU1", (WorksheetLine("n = 1 + 1 = 2"),)),)
    errors: tuple[str, ...] = ()
    calls = []

    def worksheet(
        path: str, couplers: Sequence[str], options: app.Options
    ) -> tuple[tuple[WorksheetSection, ...], tuple[str, ...]]:
        calls.append((path, tuple(couplers), options.root))
        return sheet, errors

    monkeypatch.setattr(app, "worksheet", worksheet)
    assert run(["worksheet", "board.cir", "XU1", "XU2", "--root", "."]) == 0
    assert capsys.readouterr().out == "XU1\n  n = 1 + 1 = 2\n"
    assert calls == [("board.cir", ("XU1", "XU2"), ".")]
    errors = ("board.cir: there is no coupler XU2",)
    assert run(["worksheet", "board.cir", "XU1", "XU2"]) == 2
    captured = capsys.readouterr()
    assert captured.out == "XU1\n  n = 1 + 1 = 2\n"
    assert captured.err == "isolint: board.cir: there is no coupler XU2\n"


def test_rules_are_listed_and_their_pages_printed(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setattr(app, "rules", lambda: RULES)
    assert run(["rules"]) == 0
    assert "  led-unlimited    error    nothing limits" in capsys.readouterr().out
    assert run(["rules", "slow-edge", "ground-tie"]) == 0
    shown = capsys.readouterr().out
    assert shown.index("slow-edge (time, warning)") < shown.index("ground-tie (barrier, error)")


def test_a_type_lists_what_is_asked_of_it_and_what_nothing_judges_yet(capsys: Captured) -> None:
    assert run(["rules", "phototriac"]) == 0
    shown = capsys.readouterr().out
    asked = [rule.slug for rule in app.rules() if "phototriac" in rule.asked_of]
    traits = "barrier, channel, edges, holds, led, output-pair, switch"
    head = f"phototriac: {len(asked)} rules are asked of it, by {traits}"
    assert shown.splitlines()[0] == head
    assert all(f"  {slug} " in shown for slug in asked)
    gaps = [slug for kind in app.types() if kind.name == "photoresistor" for slug in kind.gaps]
    assert run(["rules", "photoresistor"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[1] == f"nothing answers yet, so that it stays open: {', '.join(gaps)}"
    assert told[2].startswith("never asked: memory and hysteresis of the cell, ")
    assert re.search(r"(?m)^  led-unlimited +error    An LED", shown)
    assert re.search(r"(?m)^  insulation-grade-low +error    Insulation", shown)
    assert "transfer-margin-low" not in shown
    assert run(["rules", "linear", "transfer-margin-low"]) == 0
    shown = capsys.readouterr().out
    assert "led-unlimited" in shown.splitlines()[1]
    assert shown.endswith("## Asked of\n\nphotodarlington, phototransistor\n")


def test_an_unknown_rule_offers_the_nearest(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setattr(app, "rules", lambda: RULES)
    assert run(["rules", "led-unlimitted"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert (
        captured.err
        == "isolint: there is no rule and no type of part `led-unlimitted` (did you mean `led-unlimited`?)\n"
    )

    def none() -> tuple[RuleRecord, ...]:
        return ()

    monkeypatch.setattr(app, "rules", none)
    assert run(["rules", "x"]) == 2


def test_facts_are_printed_with_their_origin(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    def facts(path: str, options: app.Options) -> tuple[list[tuple[str, str, str]], str]:
        return [("environment.duty", "1", f"default for {path}")], ""

    monkeypatch.setattr(app, "facts", facts)
    assert run(["facts", "board.cir"]) == 0
    assert capsys.readouterr().out == "environment.duty = 1  # default for board.cir\n"


def test_facts_about_names_that_are_not_in_the_netlist_are_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "board.cir").write_text("* invented\nR1 OUT GND 1k\n", encoding="utf-8")
    (tmp_path / "isolint.toml").write_text(
        '[elements."R*"]\npower = "1 W"\n[elements.R11]\npower = "2 W"\n[signals.OUTT]\nrate = "9600 baud"\n',
        encoding="utf-8",
    )
    assert run(["facts", "board.cir"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 'elements."R*".power = "1 W"  # isolint.toml, not used: nothing in this netlist asks for it' in lines
    assert 'elements."R11".power = "2 W"  # isolint.toml, matches nothing in this netlist' in lines
    assert 'signals."OUTT".rate = "9600 baud"  # isolint.toml, matches nothing in this netlist' in lines
