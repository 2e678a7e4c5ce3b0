"""Files that commands write: whole or not at all, through no link, over no input, by one writer at a time."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from isolint.cli import files, run
from isolint.errors import IsolintError
from tests import oldboards
from tests.conftest import environment

Captured = pytest.CaptureFixture[str]

posix = pytest.mark.skipif(os.name == "nt", reason="modes, links and locks are of POSIX")

BOARD = """\
* invented
V1 A 0 5
R1 A B 1k
R2 B 0 1k
"""


@pytest.fixture
def repo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A repository with one netlist, and a folder beside it that no run in it may touch."""
    made = tmp_path / "repo"
    (made / ".git").mkdir(parents=True)
    (made / "board.cir").write_text(BOARD, encoding="utf-8")
    (tmp_path / "outside").mkdir()
    monkeypatch.chdir(made)
    return made


def test_a_disk_that_fills_up_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old = tmp_path / "old"
    old.write_text("old", encoding="utf-8")

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(IsolintError, match="no space left"):
        files.store({str(old): "new"})
    assert old.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [old]


@posix
def test_the_mode_of_an_old_file_stays(tmp_path: Path) -> None:
    old = tmp_path / "old"
    old.write_text("old", encoding="utf-8")
    old.chmod(0o640)
    files.store({str(old): "new"})
    assert old.read_text(encoding="utf-8") == "new"
    assert old.stat().st_mode & 0o777 == 0o640


def test_a_device_is_written_to_and_not_replaced() -> None:
    files.store({os.devnull: "x"})
    assert not os.path.isfile(os.devnull)


def test_a_name_that_no_file_can_have_is_an_error() -> None:
    with pytest.raises(IsolintError, match="can't be written"):
        files.store({"a\x00b": "x"})


@posix
@pytest.mark.parametrize("target", ["../outside/settings", "../outside/none"])
def test_nothing_is_written_through_a_link(repo: Path, capsys: Captured, target: str) -> None:
    (repo.parent / "outside/settings").write_text("kept", encoding="utf-8")
    for name, arguments in {
        "report.txt": ["check", "--output", "report.txt", "board.cir"],
        "sides.txt": ["barrier", "--output", "sides.txt", "board.cir"],
        "isolint.toml": ["init", "board.cir"],
    }.items():
        (repo / name).symlink_to(target)
        assert run(arguments) == 2, name
        assert "link" in capsys.readouterr().err, name
        assert (repo / name).is_symlink(), name
        (repo / name).unlink()
    assert [path.name for path in (repo.parent / "outside").iterdir()] == ["settings"]
    assert (repo.parent / "outside/settings").read_text(encoding="utf-8") == "kept"


@posix
def test_a_baseline_that_is_a_link_is_not_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    repo = tmp_path / "repo"
    (repo / ".git").mkdir(parents=True)
    (name,) = oldboards.make(repo, 1)
    (tmp_path / "precious").write_text('format = "isolint-baseline/1"\nresults = []\n', encoding="utf-8")
    (repo / "isolint-baseline.toml").symlink_to("../precious")
    monkeypatch.chdir(repo)
    assert run(["baseline", "write", name]) == 2
    assert (tmp_path / "precious").read_text(encoding="utf-8").endswith("results = []\n")


@posix
def test_a_folder_that_leads_out_of_the_repository_is_no_place_for_an_output(repo: Path, capsys: Captured) -> None:
    (repo / "reports").symlink_to("../outside")
    assert run(["check", "--output", "reports/x.txt", "board.cir"]) == 2
    assert "leads out of" in capsys.readouterr().err
    assert list((repo.parent / "outside").iterdir()) == []
    assert run(["check", "--output", "../outside/x.txt", "board.cir"]) == 0, "named as what it is, it is wanted"


@pytest.mark.parametrize("output", [".git/config", ".git/hooks/pre-commit", "hooks/pre-commit"])
def test_what_git_keeps_for_itself_is_no_place_for_an_output(repo: Path, capsys: Captured, output: str) -> None:
    (repo / ".git" / "hooks").mkdir(parents=True, exist_ok=True)
    (repo / "hooks").symlink_to(".git/hooks")
    assert run(["check", "--output", output, "board.cir"]) == 2
    assert "a file of git itself" in capsys.readouterr().err
    assert not (repo / output).exists()


@pytest.mark.parametrize("output", ["board.cir", "./board.cir", "more.lib", "isolint.toml", "second"])
def test_an_output_that_is_an_input_is_refused(repo: Path, capsys: Captured, output: str) -> None:
    (repo / "board.cir").write_text(BOARD + ".include more.lib\n", encoding="utf-8")
    (repo / "more.lib").write_text("* nothing\n", encoding="utf-8")
    (repo / "isolint.toml").write_text('open = "note"\n', encoding="utf-8")
    os.link(repo / "board.cir", repo / "second")
    before = {path.name: path.read_bytes() for path in repo.iterdir() if path.is_file()}
    for command in ("check", "barrier"):
        assert run([command, "--output", output, "board.cir"]) == 2
        assert "an input of the same run" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in repo.iterdir() if path.is_file()} == before


def test_of_several_files_all_are_exchanged_or_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = [tmp_path / name for name in ("a", "b", "c")]
    for name in names[:2]:
        name.write_text("old", encoding="utf-8")
    replace = os.replace

    def refusing(source: str, target: str) -> None:
        if target == str(names[2]) and source.endswith(files.FRESH):
            raise PermissionError(13, "Permission denied")
        replace(source, target)

    monkeypatch.setattr(os, "replace", refusing)
    with pytest.raises(IsolintError, match="permission denied"):
        files.store({str(name): "new" for name in names})
    assert sorted(tmp_path.iterdir()) == names[:2]
    assert [name.read_text(encoding="utf-8") for name in names[:2]] == ["old", "old"]
    monkeypatch.undo()
    files.store({str(name): "new" for name in names})
    assert sorted(tmp_path.iterdir()) == names
    assert [name.read_text(encoding="utf-8") for name in names] == ["new"] * 3


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_device_that_is_full_leaves_the_files_as_they_are(tmp_path: Path) -> None:
    old = tmp_path / "old"
    old.write_text("old", encoding="utf-8")
    with pytest.raises(IsolintError, match="no space left"):
        files.store({str(old): "new", "/dev/full": "x" * 10000})
    assert old.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [old]


def test_a_file_that_must_be_new_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "isolint.toml"
    files.store({str(path): "first"}, new=True)
    with pytest.raises(IsolintError, match="not overwritten"):
        files.store({str(path): "second"}, new=True)
    assert path.read_text(encoding="utf-8") == "first"
    assert list(tmp_path.iterdir()) == [path]


KILLED = """
import os, signal, sys
from isolint.cli import files
os.fsync = lambda handle: os.kill(os.getpid(), signal.SIGKILL)
files.store({sys.argv[1]: "half"})
"""


@posix
def test_what_a_killed_run_left_behind_is_removed_by_the_next_one(tmp_path: Path) -> None:
    path = tmp_path / "out"
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", KILLED, str(path)], env=environment(), timeout=60, check=False, capture_output=True
        )
        assert done.returncode < 0
        assert len(list(tmp_path.iterdir())) == 1, "each killed run leaves one file, and removes that of the one before"
    files.store({str(path): "whole"})
    assert [(each.name, each.read_text(encoding="utf-8")) for each in tmp_path.iterdir()] == [("out", "whole")]


@posix
def test_what_another_run_is_writing_just_now_is_no_leftover(tmp_path: Path) -> None:
    import contextlib

    with contextlib.ExitStack() as held:
        other, _ = files._created(str(tmp_path), files.FRESH, held)
        files.store({str(tmp_path / "out"): "x"})
        assert os.path.exists(other)
    files.store({str(tmp_path / "out"): "x"})
    assert not os.path.exists(other)


def test_names_of_temporary_files_can_not_be_foretold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []
    opened = os.open

    def watching(path: str, flags: int, mode: int = 0o777) -> int:
        if flags & os.O_CREAT:
            assert flags & os.O_EXCL
            seen.append(os.path.basename(path))
        return opened(path, flags, mode)

    monkeypatch.setattr(os, "open", watching)
    for _ in range(2):
        files.store({str(tmp_path / "out"): "x"})
    assert len(set(seen)) == 2
    assert all(len(name.removeprefix(files.PREFIX).removesuffix(files.FRESH)) == 16 for name in seen)


@posix
@pytest.mark.parametrize("by_file", [False, True])
def test_one_writer_waits_for_the_other(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, by_file: bool) -> None:
    if by_file:
        # As on a system without such locks.
        monkeypatch.setitem(sys.modules, "fcntl", None)
    monkeypatch.setattr(files, "PATIENCE", 0.05)
    folder = [str(tmp_path)]
    with (
        files.only_writer(folder),
        pytest.raises(IsolintError, match="another isolint has been writing here"),
        files.only_writer(folder),
    ):
        raise AssertionError("both write")
    with files.only_writer([str(tmp_path), str(tmp_path)]):
        pass
    assert list(tmp_path.iterdir()) == []


@posix
def test_baselines_that_are_written_at_once_lose_no_entries(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    boards = oldboards.make(tmp_path, 4)
    (tmp_path / "isolint-baseline.toml").write_text('format = "isolint-baseline/1"\nresults = [\n]\n', encoding="utf-8")
    command = [sys.executable, "-m", "isolint", "baseline", "write"]
    writers = [
        subprocess.Popen(
            [*command, board], cwd=tmp_path, env=environment(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        for board in boards
    ]
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0, 0, 0]
    written = (tmp_path / "isolint-baseline.toml").read_text(encoding="utf-8")
    assert [written.count(f'netlist = "{board}"') for board in boards] == [4, 4, 4, 4]
