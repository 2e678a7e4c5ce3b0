"""A hook's view: changed files in, the netlists that depend on them judged, whatever the partition of the list."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isolint import app, selection
from isolint.cli import run
from isolint.results import Report
from tests.conftest import environment

Captured = pytest.CaptureFixture[str]

LIBRARY = ".model QN NPN\n"
BOARD = """\
* a field input without a resistor, invented
.include ../lib/models.lib
V1 V24 GNDF 24
V2 V5 GND 5
R1 V24 A {ohms}
XU1 A GNDF GND OUT DEMO_PT1
R2 V5 OUT 4.7k
"""
FACTS = '[sides.field]\nnets = ["GNDF"]\n[sides.logic]\nnets = ["GND"]\n'
FILES = {
    "lib/models.lib": LIBRARY,
    "lib/unused.lib": LIBRARY,
    "isolint.toml": FACTS,
    "a/board.cir": BOARD.format(ohms="2.2k"),
    "b/my board.CIR": BOARD.format(ohms="0"),
    "b/-x.cir": BOARD.format(ohms="2.2k"),
    "c/board.net": "(export (version D))\n",
    "c/broken.cir": "\x00\x01\x02",
}
NETLISTS = ["a/board.cir", "b/-x.cir", "b/my board.CIR"]


def git(folder: Path, *arguments: str) -> None:
    identity = ("-c", "user.name=tests", "-c", "user.email=tests@example.org", "-c", "commit.gpgsign=false")
    subprocess.run(["git", *identity, *arguments], cwd=folder, check=True, capture_output=True)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository with three boards, one of them broken, and files that are no netlists."""
    folder = tmp_path_factory.mktemp("boards")
    for name, text in FILES.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    git(folder, "init", "--quiet")
    git(folder, "add", "--all")
    return folder


@pytest.fixture
def boards(made: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(made)
    return made


def netlists(report: Report) -> list[str]:
    return [each.netlist for each in report.netlists]


def test_a_library_checks_every_netlist_that_includes_it(boards: Path) -> None:
    report, notes = selection.check_changed(["lib/models.lib"], app.Options())
    assert netlists(report) == NETLISTS
    assert notes == ()
    assert report.exit_status == 1


def test_settings_check_everything_below_them(boards: Path) -> None:
    report, notes = selection.check_changed(["isolint.toml"], app.Options())
    assert netlists(report) == NETLISTS
    assert notes == ("c/board.net: left out, it is no SPICE netlist",)
    assert [error.partition(":")[0] for error in report.errors] == ["c/broken.cir"]
    assert report.exit_status == 2


def test_what_nothing_depends_on_is_told_and_is_no_error(boards: Path) -> None:
    report, notes = selection.check_changed(["lib/unused.lib", "gone.cir", "c/board.net"], app.Options())
    assert netlists(report) == []
    assert report.exit_status == 0
    assert notes == (
        "lib/unused.lib: no netlist here depends on it",
        "gone.cir: no netlist here depends on it",
        "c/board.net: left out, it is no SPICE netlist",
    )


def test_only_what_changed_is_judged(boards: Path, capsys: Captured) -> None:
    assert run(["check", "--changed", "--", "a/board.cir"]) == 0
    assert "b/my board" not in capsys.readouterr().out
    assert run(["check", "--changed", "--", "b/my board.CIR"]) == 1
    assert run(["check", "--changed", "--", "b/-x.cir"]) == 0
    capsys.readouterr()
    os.chdir("b")
    assert run(["check", "--changed", "--", "-x.cir"]) == 0
    assert "-x.cir: 0 failures" in capsys.readouterr().out


def judged(report: Report) -> dict[str, list[tuple[str, str, str]]]:
    return {
        each.netlist: [(result.rule, result.kind, result.message) for result in each.results]
        for each in report.netlists
    }


@given(st.data())
@settings(max_examples=8)
def test_any_partition_and_order_of_the_list_gives_the_same_results(made: Path, data: st.DataObject) -> None:
    names = [str(made / name) for name in FILES if not name.startswith("c/")]
    shuffled = data.draw(st.permutations(names))
    cut = data.draw(st.integers(0, len(names)))
    whole = judged(selection.check_changed(names, app.Options())[0])
    together: dict[str, list[tuple[str, str, str]]] = {}
    for part in (shuffled[:cut], shuffled[cut:]):
        if part:
            for netlist, results in judged(selection.check_changed(part, app.Options())[0]).items():
                assert together.setdefault(netlist, results) == results
    assert together == whole


def test_the_whole_project_is_every_top_level_netlist(boards: Path, capsys: Captured) -> None:
    assert run(["check", "--project", "--format", "json"]) == 2
    captured = capsys.readouterr()
    found = [each["netlist"] for each in json.loads(captured.out)["coverage"]]
    assert found == NETLISTS
    assert "c/board.net: left out" in captured.err
    assert "c/broken.cir" in captured.err
    assert run(["check", "--project", "b"]) == 1


def test_a_folder_is_no_netlist_and_no_folder_is_no_project(boards: Path, capsys: Captured) -> None:
    assert run(["check", "a"]) == 2
    assert run(["check", "--project", "nowhere"]) == 2
    assert "there is no such folder" in capsys.readouterr().err
    assert run(["check", "--project", "--changed", "a"]) == 2
    assert run(["check"]) == 2


@pytest.fixture
def with_untracked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Path]:
    """A repository in which one file was never added."""

    def make(missing: str) -> Path:
        for name, text in FILES.items():
            if not name.startswith("c/"):
                (tmp_path / name).parent.mkdir(exist_ok=True)
                (tmp_path / name).write_text(text, encoding="utf-8")
        git(tmp_path, "init", "--quiet")
        git(tmp_path, "add", "--all")
        git(tmp_path, "rm", "--quiet", "--cached", missing)
        monkeypatch.chdir(tmp_path)
        return tmp_path

    return make


def test_an_include_that_nobody_else_has_fails_where_it_would_pass_unseen(
    with_untracked: Callable[[str], Path], capsys: Captured
) -> None:
    folder = with_untracked("lib/models.lib")
    assert run(["check", "a/board.cir"]) == 0, "a plain check judges what is there"
    capsys.readouterr()
    assert run(["check", "--changed", "--", "a/board.cir"]) == 1
    told = "lib/models.lib is read here but git does not track it: for everyone else it is missing [include-missing]"
    assert told in capsys.readouterr().out
    (folder / "isolint.toml").write_text(f'{FACTS}[levels]\ninclude-missing = "warning"\n', encoding="utf-8")
    assert run(["check", "--changed", "--", "a/board.cir"]) == 0, "the level is the project's choice"


def test_settings_that_nobody_else_has_are_told(with_untracked: Callable[[str], Path], capsys: Captured) -> None:
    with_untracked("isolint.toml")
    assert run(["check", "--changed", "--", "a/board.cir"]) == 0
    assert "isolint.toml: counts here, but git does not track it (git add it)" in capsys.readouterr().err


def test_outside_a_repository_nothing_is_asked_of_git(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "board.cir").write_text("* invented\nR1 a b 1k\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert run(["check", "--changed", "--", "board.cir"]) == 0


def test_the_map_is_printed(boards: Path, capsys: Captured) -> None:
    assert run(["facts", "--files", "lib/models.lib"]) == 0
    shown = capsys.readouterr().out
    assert "lib/models.lib: these netlists depend on it\n  a/board.cir\n  b/-x.cir\n  b/my board.CIR\n" in shown
    assert run(["facts", "--files", "a/board.cir"]) == 0
    assert capsys.readouterr().out == (
        "a/board.cir: top-level netlist\n  include   lib/models.lib\n  settings  isolint.toml\n"
    )
    assert run(["facts", "--files", "lib/unused.lib"]) == 0
    assert "no netlist depends on it" in capsys.readouterr().out


# -- what a commit takes away -----------------------------------------------------------------------------------------


@pytest.fixture
def committed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository in which everything is committed, and a deck that runs a board of another folder."""
    files = {**FILES, "bench/bench.cir": '* a bench, invented\nR9 X Y 1k\n.include "../b/my board.CIR"\n'}
    for name in ("c/board.net", "c/broken.cir"):
        del files[name]
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    git(tmp_path, "init", "--quiet")
    git(tmp_path, "add", "--all")
    git(tmp_path, "commit", "--quiet", "--message", "invented")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def judged_now(capsys: Captured, *arguments: str) -> list[str]:
    """The netlists that a run judged."""
    run(["check", "--format", "json", *arguments])
    document = json.loads(capsys.readouterr().out)
    return sorted({each["netlist"] for each in document["results"]})


CHANGES = {
    "deleted settings": (["rm", "isolint.toml"], ["a/board.cir", "b/-x.cir", "bench/bench.cir"]),
    "renamed settings": (["mv", "isolint.toml", "old.toml"], ["a/board.cir", "b/-x.cir", "bench/bench.cir"]),
    "a deleted library": (["rm", "lib/models.lib"], ["a/board.cir", "b/-x.cir", "bench/bench.cir"]),
    "a deleted bench": (["rm", "bench/bench.cir"], ["b/my board.CIR"]),
    "a renamed board": (["mv", "b/my board.CIR", "b/other.cir"], ["bench/bench.cir"]),
    "nothing": (["status"], []),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_commit_that_only_deletes_or_renames_judges_what_depended_on_it(
    committed: Path, capsys: Captured, change: str
) -> None:
    arguments, netlists = CHANGES[change]
    git(committed, *arguments)
    assert judged_now(capsys, "--changed", "--") == netlists


def test_a_list_of_the_files_that_a_branch_changed_decides_as_the_commit_did(committed: Path, capsys: Captured) -> None:
    git(committed, "rm", "--quiet", "bench/bench.cir")
    git(committed, "commit", "--quiet", "--message", "gone")
    names = subprocess.run(
        ["git", "diff", "-z", "--no-renames", "--name-only", "HEAD^"], cwd=committed, check=True, capture_output=True
    ).stdout
    (committed / "list").write_bytes(names)
    assert judged_now(capsys, "--changed-from", "list") == ["b/my board.CIR"]


@pytest.mark.parametrize(
    ("names", "status"),
    [(b"", 0), (b"a/board.cir\0", 0), (b"a/board.cir", 0), (b"b/my board.CIR\0a/board.cir\0", 1), (b"gone.cir\0", 0)],
)
def test_a_list_of_changed_files_keeps_the_status(boards: Path, capsys: Captured, names: bytes, status: int) -> None:
    (boards / "list").write_bytes(names)
    assert run(["check", "--changed-from", "list"]) == status
    done = subprocess.run(
        [sys.executable, "-m", "isolint", "check", "--changed-from", "-"],
        cwd=boards,
        env=environment(),
        input=names,
        capture_output=True,
        check=False,
    )
    assert done.returncode == status
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--changed-from", "lines"], "not separated by NUL"),
        (["--changed-from", "none"], "no such file"),
        (["--changed-from", "lines", "a/board.cir"], "without PATH"),
        (["--changed-from", "lines", "--project"], "without PATH"),
    ],
)
def test_a_list_that_can_not_be_read_is_status_two(
    boards: Path, capsys: Captured, arguments: list[str], words: str
) -> None:
    (boards / "lines").write_bytes(b"a/board.cir\nb/-x.cir\n")
    assert run(["check", *arguments]) == 2
    assert words in capsys.readouterr().err


def test_a_file_of_a_submodule_that_is_checked_out_reaches_everybody(committed: Path, capsys: Captured) -> None:
    library = committed / "origin"
    library.mkdir()
    (library / "models.lib").write_text(LIBRARY, encoding="utf-8")
    git(library, "init", "--quiet")
    git(library, "add", "--all")
    git(library, "commit", "--quiet", "--message", "invented")
    git(committed, "-c", "protocol.file.allow=always", "submodule", "--quiet", "add", "./origin", "ext")
    board = committed / "a/board.cir"
    board.write_text(BOARD.format(ohms="2.2k").replace("../lib", "../ext"), encoding="utf-8")
    assert run(["check", "--changed", "--", "a/board.cir"]) == 0
    (committed / "ext/models.lib").rename(committed / "ext/other.lib")
    board.write_text(BOARD.format(ohms="2.2k").replace("../lib/models", "../ext/other"), encoding="utf-8")
    assert run(["check", "--changed", "--", "a/board.cir"]) == 1
    assert "ext/other.lib is read here but git does not track it" in capsys.readouterr().out


def test_a_baseline_that_was_never_added_accepts_nothing_in_a_hook(committed: Path, capsys: Captured) -> None:
    board = "bench/bench.cir"
    assert run(["baseline", "write", board]) == 0
    assert run(["check", board]) == 0, "a plain check judges what is there"
    capsys.readouterr()
    assert run(["check", "--changed", "--", board]) == 1
    assert "isolint-baseline.toml accepts nothing: git does not track it" in capsys.readouterr().out
    git(committed, "add", "isolint-baseline.toml")
    assert run(["check", "--changed", "--", board]) == 0


@pytest.mark.parametrize("when", ["in the work tree", "staged", "committed"])
def test_a_netlist_that_an_edit_leaves_without_a_judge_is_judged(when: str, committed: Path, capsys: Captured) -> None:
    bench = committed / "bench" / "bench.cir"
    assert "b/my board.CIR" not in judged_now(capsys, "--project")
    bench.write_text(bench.read_text(encoding="utf-8").replace("1k\n", "2k\n"), encoding="utf-8")
    assert judged_now(capsys, "--changed", "bench/bench.cir") == ["bench/bench.cir"]
    bench.write_text('* a bench, invented\nR9 X Y 1k\n.end\n.include "../b/my board.CIR"\n', encoding="utf-8")
    if when != "in the work tree":
        git(committed, "add", "--all")
    if when == "committed":
        git(committed, "commit", "--quiet", "--message", "no longer")
    assert judged_now(capsys, "--changed", "bench/bench.cir") == ["b/my board.CIR", "bench/bench.cir"]
    (committed / "list").write_bytes(b"bench/bench.cir\0")
    assert judged_now(capsys, "--changed-from", "list") == ["b/my board.CIR", "bench/bench.cir"]


@pytest.mark.skipif(os.name == "nt", reason="links need a right there")
def test_a_changed_file_that_a_link_leads_to_counts_under_the_name_of_the_link(tmp_path: Path) -> None:
    (tmp_path / "common").mkdir()
    (tmp_path / "board.cir").write_text("* board\n.include library/models.lib\nR1 a 0 1\n", encoding="utf-8")
    (tmp_path / "common/facts.toml").write_text("top = true\n", encoding="utf-8")
    (tmp_path / "common/models.lib").write_text(LIBRARY, encoding="utf-8")
    (tmp_path / "isolint.toml").symlink_to("common/facts.toml")
    (tmp_path / "library").symlink_to("common")
    options = app.Options(root=str(tmp_path))
    for changed in ("common/facts.toml", "common/models.lib"):
        report, notes = selection.check_changed([str(tmp_path / changed)], options)
        assert [Path(each.netlist).name for each in report.netlists] == ["board.cir"], changed
        assert notes == ()
    _, notes = selection.check_changed([str(tmp_path / "common/other.lib")], options)
    assert len(notes) == 1
