"""The hook under the real pre-commit framework, in a repository with one sound and one broken board."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import REPOSITORY

pytestmark = [pytest.mark.outside, pytest.mark.xdist_group("pre-commit")]

SOUND = "fixtures/boards/sluice-gate/sound"
BROKEN = "fixtures/boards/sluice-gate/broken"


def call(*command: str, cwd: Path, **changes: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command,
        cwd=cwd,
        env={**os.environ, **changes},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=600,
        check=False,
    )


def try_hook(hook_repository: Path, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the hook over all files of a repository; the framework keeps its environments beside the hook's."""
    commit(folder)
    command = ("-m", "pre_commit", "try-repo", str(hook_repository), "isolint", "--all-files", "--verbose")
    return call(sys.executable, *command, cwd=folder, PRE_COMMIT_HOME=str(hook_repository.parent / "cache"))


def commit(folder: Path) -> None:
    """Make a repository of a folder with all its files in one commit."""
    identity = ("-c", "user.name=tests", "-c", "user.email=tests@example.org", "-c", "commit.gpgsign=false")
    for arguments in (("init", "--quiet"), ("add", "--all"), ("commit", "--quiet", "--message", "all")):
        done = call("git", *identity, *arguments, cwd=folder)
        assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def hook_repository(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This checkout as a repository with a commit, which is what the framework clones."""
    folder = tmp_path_factory.mktemp("hook") / "isolint"
    ignored = shutil.ignore_patterns(
        ".git", ".venv*", ".*_cache", "__pycache__", "*.egg-info", "build", "dist", "tests"
    )
    shutil.copytree(REPOSITORY, folder, ignore=ignored)
    commit(folder)
    return folder


def test_the_manifest_is_valid() -> None:
    manifest = str(REPOSITORY / ".pre-commit-hooks.yaml")
    done = call(sys.executable, "-m", "pre_commit", "validate-manifest", manifest, cwd=REPOSITORY)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(("board", "status"), [(SOUND, 0), (BROKEN, 1)], ids=["sound", "broken"])
def test_the_hook_judges_a_board(hook_repository: Path, tmp_path: Path, board: str, status: int) -> None:
    shutil.copytree(REPOSITORY / board, tmp_path / "boards/gate board")
    done = try_hook(hook_repository, tmp_path)
    assert done.returncode == status, done.stdout + done.stderr
    assert ("Passed" if status == 0 else "Failed") in done.stdout
    assert "boards/gate board/board.cir: " in done.stdout
    assert (": error: " in done.stdout) == bool(status)


def test_names_that_look_like_options_are_files(hook_repository: Path, tmp_path: Path) -> None:
    shutil.copytree(REPOSITORY / SOUND, tmp_path, dirs_exist_ok=True)
    (tmp_path / "board.cir").rename(tmp_path / "--strict.CIR")
    done = try_hook(hook_repository, tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "--strict.CIR: 0 failures" in done.stdout
