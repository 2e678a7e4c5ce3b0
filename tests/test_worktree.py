"""What git knows of a work tree: tracked files, those of submodules too, what a commit takes away, what files held."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from isolint.worktree import earlier, former, taken_away, untracked

IDENTITY = ("-c", "user.name=tests", "-c", "user.email=tests@example.org", "-c", "commit.gpgsign=false")


def git(folder: Path, *arguments: str) -> None:
    command = ["git", *IDENTITY, "-c", "protocol.file.allow=always", *arguments]
    subprocess.run(command, cwd=folder, check=True, capture_output=True)


def commit(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message", "invented")


@pytest.fixture
def repo(tmp_path: Path) -> Path:
    """A repository with two files and a submodule that is checked out."""
    library = tmp_path / "library"
    library.mkdir()
    git(library, "init", "--quiet")
    commit(library, {"models/m.lib": "* models\n"})
    made = tmp_path / "repo"
    made.mkdir()
    git(made, "init", "--quiet")
    commit(made, {"a.cir": "* a\n", "isolint.toml": ""})
    git(made, "submodule", "--quiet", "add", str(library), "ext")
    git(made, "commit", "--quiet", "--message", "with a submodule")
    return made


def test_a_file_of_a_checked_out_submodule_is_tracked(repo: Path) -> None:
    (repo / "ext/models/own.lib").write_text("* never added\n", encoding="utf-8")
    (repo / "new.lib").write_text("* never added\n", encoding="utf-8")
    asked = ["a.cir", "ext/models/m.lib", "ext/models/own.lib", "new.lib"]
    assert untracked(repo, asked)() == {"ext/models/own.lib", "new.lib"}


def test_a_submodule_that_is_broken_hides_nothing_of_the_repository(repo: Path) -> None:
    (repo / "ext/.git").write_text("gitdir: ../nowhere\n", encoding="utf-8")
    (repo / "new.lib").write_text("* never added\n", encoding="utf-8")
    assert untracked(repo, ["a.cir", "new.lib"])() == {"new.lib"}


def test_a_commit_takes_away_what_it_deletes_and_what_it_renames(repo: Path) -> None:
    assert taken_away(repo) == ()
    git(repo, "mv", "a.cir", "b\n.cir")
    git(repo, "rm", "--quiet", "isolint.toml")
    assert taken_away(repo) == ("a.cir", "isolint.toml")
    git(repo, "mv", "b\n.cir", "c.cir")
    git(repo, "commit", "--quiet", "--message", "moved")
    assert taken_away(repo) == ()


def test_a_comparison_of_two_revisions_takes_away_what_the_newer_lacks(
    repo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    git(repo, "mv", "a.cir", "b.cir")
    git(repo, "commit", "--quiet", "--message", "moved")
    assert taken_away(repo) == ()
    monkeypatch.setenv("PRE_COMMIT_FROM_REF", "HEAD^")
    monkeypatch.setenv("PRE_COMMIT_TO_REF", "HEAD")
    assert taken_away(repo) == ("a.cir",)
    monkeypatch.setenv("PRE_COMMIT_FROM_REF", "--output=written")
    assert taken_away(repo) == ()
    assert not (repo / "written").exists()


def test_what_a_file_held_is_known_before_and_after_the_commit_that_took_it_away(repo: Path) -> None:
    git(repo, "rm", "--quiet", "a.cir")
    assert former(repo, ["a.cir", "never.cir"]) == {"a.cir": b"* a\n"}
    git(repo, "commit", "--quiet", "--message", "gone")
    assert former(repo, ["a.cir", "never.cir"]) == {"a.cir": b"* a\n"}


def test_names_with_line_feeds_and_wild_cards_are_names(repo: Path) -> None:
    commit(repo, {"x\ny.cir": "one", "*.cir": "two"})
    git(repo, "rm", "--quiet", "--", "x\ny.cir", ":(literal)*.cir")
    assert former(repo, ["*.cir", "x\ny.cir"]) == {"*.cir": b"two", "x\ny.cir": b"one"}


def test_nothing_of_the_repository_is_run(repo: Path) -> None:
    witness = repo.parent / "witness"
    program = repo.parent / "program"
    program.write_text(f"#!/bin/sh\ntouch {witness}\n", encoding="utf-8")
    program.chmod(0o755)
    for key in ("core.fsmonitor", "diff.external", "filter.f.smudge", "filter.f.clean", "core.sshCommand"):
        git(repo, "config", key, str(program))
    (repo / ".gitattributes").write_text("* filter=f diff=f\n", encoding="utf-8")
    witness.unlink(missing_ok=True)
    untracked(repo, ["a.cir"])()
    taken_away(repo)
    former(repo, ["a.cir"])
    assert not witness.exists()


def test_outside_a_repository_and_without_git_nothing_is_known(
    repo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert untracked(tmp_path, ["a.cir"])() == set()
    assert (taken_away(tmp_path), former(tmp_path, ["a.cir"])) == ((), {})
    monkeypatch.setenv("PATH", os.devnull)
    assert untracked(repo, ["new.cir"])() == set()
    assert (taken_away(repo), former(repo, ["a.cir"])) == ((), {})


def test_what_files_held_is_that_of_the_last_commit_or_before_the_one_that_changed_them(
    repo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def standing(name: str) -> bytes | None:
        return (repo / name).read_bytes() if (repo / name).is_file() else None

    (repo / "a.cir").write_text("* changed\n", encoding="utf-8")
    (repo / "new.cir").write_text("* new\n", encoding="utf-8")
    wanted = {"a.cir": b"* a\n", "new.cir": None}
    assert earlier(repo, ["a.cir", "new.cir"], standing) == wanted
    git(repo, "add", "--all")
    assert earlier(repo, ["a.cir", "new.cir"], standing) == wanted
    git(repo, "commit", "--quiet", "--message", "changed")
    assert earlier(repo, ["a.cir", "new.cir"], standing) == wanted
    commit(repo, {"a.cir": "* again\n"})
    (repo / "a.cir").write_text("* not committed\n", encoding="utf-8")
    assert earlier(repo, ["a.cir"], standing) == {"a.cir": b"* again\n"}
    monkeypatch.setenv("PRE_COMMIT_FROM_REF", "HEAD~2")
    monkeypatch.setenv("PRE_COMMIT_TO_REF", "HEAD")
    assert earlier(repo, ["a.cir", "new.cir"], standing) == wanted


def test_without_a_commit_and_outside_of_a_repository_nothing_is_known_of_before(tmp_path: Path) -> None:
    (tmp_path / "a.cir").write_text("* a\n", encoding="utf-8")
    assert earlier(tmp_path, ["a.cir"], lambda name: b"") == {}
    git(tmp_path, "init", "--quiet")
    assert earlier(tmp_path, ["a.cir"], lambda name: b"") == {}
