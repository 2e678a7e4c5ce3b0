"""The hooks under the real pre-commit framework, installed from a wheelhouse, on repositories made here."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests import oldboards
from tests.conftest import REPOSITORY

pytestmark = [pytest.mark.outside, pytest.mark.xdist_group("pre-commit")]

SOUND = "fixtures/boards/sluice-gate/sound"
BROKEN = "fixtures/boards/sluice-gate/broken"
IDENTITY = ("-c", "user.name=tests", "-c", "user.email=tests@example.org", "-c", "commit.gpgsign=false")


def call(*command: str, cwd: Path, **changes: str) -> subprocess.CompletedProcess[str]:
    variables = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    return subprocess.run(
        command,
        cwd=cwd,
        env={**variables, **changes},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=900,
        check=False,
    )


def git(folder: Path, *arguments: str) -> str:
    done = call("git", *IDENTITY, *arguments, cwd=folder)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture(scope="module")
def wheelhouse(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with everything that installing isolint needs: the one step for which an index is asked."""
    folder = tmp_path_factory.mktemp("wheelhouse")
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"], "wheel"]
    done = call(sys.executable, "-m", "pip", "download", "--quiet", "--dest", str(folder), *wanted, cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


@pytest.fixture(scope="module")
def hook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This checkout as a repository with a commit, which is what the framework clones."""
    folder = tmp_path_factory.mktemp("hook") / "isolint"
    ignored = shutil.ignore_patterns(
        ".git", ".venv*", ".*_cache", ".hypothesis", "__pycache__", "*.egg-info", "build", "dist", "tests"
    )
    shutil.copytree(REPOSITORY, folder, ignore=ignored)
    git(folder, "init", "--quiet")
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message", "all")
    return folder


class Boards:
    """A repository of boards that uses the hooks; the framework keeps one environment for all of them."""

    def __init__(self, folder: Path, hook: Path, wheelhouse: Path) -> None:
        self.folder = folder
        self.variables = {
            "PIP_NO_INDEX": "1",
            "PIP_FIND_LINKS": str(wheelhouse),
            "PRE_COMMIT_HOME": str(hook.parent / "cache"),
        }
        git(folder, "init", "--quiet")
        revision = git(hook, "rev-parse", "HEAD")
        hooks = "".join(f"      - id: {name}\n" for name in ("isolint", "isolint-project"))
        text = f"repos:\n  - repo: {hook}\n    rev: {revision}\n    hooks:\n{hooks}"
        (folder / ".pre-commit-config.yaml").write_text(text, encoding="utf-8")

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run the file-driven hook on what is staged, or as `arguments` say."""
        arguments = arguments or ("isolint",)
        return call(sys.executable, "-m", "pre_commit", "run", *arguments, cwd=self.folder, **self.variables)

    def isolint(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run this checkout's isolint in the repository."""
        return call(sys.executable, "-m", "isolint", *arguments, cwd=self.folder, PYTHONPATH=str(REPOSITORY))

    def write(self, name: str, text: str) -> None:
        (self.folder / name).parent.mkdir(parents=True, exist_ok=True)
        (self.folder / name).write_text(text, encoding="utf-8")

    def stage(self) -> None:
        git(self.folder, "add", "--all")

    def commit(self) -> None:
        self.stage()
        git(self.folder, "commit", "--quiet", "--message", "boards")


@pytest.fixture
def boards(tmp_path: Path, hook: Path, wheelhouse: Path) -> Boards:
    """An empty repository that uses the hooks."""
    return Boards(tmp_path, hook, wheelhouse)


def test_the_manifest_is_valid() -> None:
    manifest = str(REPOSITORY / ".pre-commit-hooks.yaml")
    done = call(sys.executable, "-m", "pre_commit", "validate-manifest", manifest, cwd=REPOSITORY)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("name", ["isolint", "isolint-project"])
def test_both_hooks_can_be_tried_without_an_index(name: str, boards: Boards, hook: Path) -> None:
    shutil.copytree(REPOSITORY / BROKEN, boards.folder / "boards/gate board")
    boards.commit()
    command = ("-m", "pre_commit", "try-repo", str(hook), name, "--all-files", "--verbose")
    done = call(sys.executable, *command, cwd=boards.folder, **boards.variables)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Failed" in done.stdout
    assert done.stdout.count("boards/gate board/board.cir:") > 8


@pytest.mark.parametrize(("board", "status"), [(SOUND, 0), (BROKEN, 1)], ids=["sound", "broken"])
def test_the_hook_judges_a_board(board: str, status: int, boards: Boards) -> None:
    shutil.copytree(REPOSITORY / board, boards.folder, dirs_exist_ok=True)
    (boards.folder / "board.cir").rename(boards.folder / "--strict board.CIR")
    boards.stage()
    done = boards.run("isolint", "--verbose")
    assert done.returncode == status, done.stdout + done.stderr
    assert "--strict board.CIR: " in done.stdout
    assert (": error: " in done.stdout) == bool(status)


def test_a_changed_library_checks_what_includes_it(boards: Boards) -> None:
    oldboards.make(boards.folder, 2)
    assert boards.isolint("baseline", "write", ".").returncode == 0
    boards.commit()
    boards.write("lib/models.lib", ".model QSW NPN(IS=1e-14 BF=250)\n")
    boards.stage()
    done = boards.run("isolint", "--verbose")
    assert done.returncode == 0, done.stdout
    assert done.stdout.count(" in the baseline; ") == 3, "two boards and their sum"


def test_a_commit_that_only_deletes_is_not_stopped(boards: Boards) -> None:
    oldboards.make(boards.folder, 2)
    assert boards.isolint("baseline", "write", ".").returncode == 0
    boards.commit()
    git(boards.folder, "rm", "--quiet", "board 02/main.cir")
    assert boards.run().returncode == 0


def test_staged_content_is_judged_and_not_what_lies_in_the_folder(boards: Boards) -> None:
    oldboards.make(boards.folder, 1)
    assert boards.isolint("baseline", "write", ".").returncode == 0
    boards.commit()
    sound = oldboards.board("board 01")
    _, line, broken = oldboards.INJECTED["drive"]
    boards.write("board 01/main.cir", sound.replace(line, broken))
    boards.stage()
    boards.write("board 01/main.cir", sound)
    assert boards.run().returncode == 1, "the staged board is broken, the one in the folder is sound"
    boards.write("board 01/main.cir", sound + "* staged\n")
    boards.stage()
    boards.write("board 01/main.cir", sound.replace(line, broken))
    assert boards.run().returncode == 0


def test_an_include_that_was_never_added_stops_the_commit(boards: Boards) -> None:
    boards.write("board.cir", "* invented\n.include models.lib\nR1 a b 1k\n")
    boards.write("models.lib", ".model QN NPN\n")
    git(boards.folder, "add", "board.cir")
    done = boards.run()
    assert done.returncode == 1
    assert "models.lib is read here but git does not track it" in done.stdout


def test_an_open_result_that_matters_is_visible_since_it_fails(boards: Boards) -> None:
    facts = '[sides.field]\nnets = ["GNDF"]\n[sides.logic]\nnets = ["GND"]\n'
    boards.write(
        "board.cir",
        "* an unknown part between two sides, invented\nR1 V5 GND 1k\nR2 V24 GNDF 1k\nX1 V5 GND V24 GNDF WHAT\n",
    )
    boards.write("isolint.toml", facts)
    boards.stage()
    done = boards.run()
    assert done.returncode == 1, done.stdout
    assert ": open: " in done.stdout


def test_fifty_old_boards_are_adopted_and_a_new_fault_of_each_group_stops_the_commit(boards: Boards) -> None:
    oldboards.make(boards.folder, 50)
    boards.commit()
    counted = json.loads(boards.isolint("check", "--project", "--format", "json").stdout)
    assert (counted["summary"]["failures"], counted["summary"]["netlists"]) == (200, 50)
    assert boards.run("--all-files").returncode == 1
    assert boards.isolint("baseline", "write", ".").returncode == 0
    boards.stage()
    done = boards.run("--all-files")
    assert done.returncode == 0, done.stdout
    assert done.stdout.count("Passed") == 2
    boards.commit()
    sound = oldboards.board("board 07")
    for number, (group, (rule, line, broken)) in enumerate(oldboards.INJECTED.items()):
        boards.write("board 07/main.cir", sound.replace(line, broken))
        boards.stage()
        done = boards.run()
        assert done.returncode == 1, f"{group}: {done.stdout}"
        errors = [each for each in done.stdout.splitlines() if ": error: " in each]
        assert [each.rpartition(" ")[2] for each in errors] == [f"[{rule}]"], group
        boards.write("board 07/main.cir", f"{sound}* fixed {number}\n")
        boards.stage()
        done = boards.run()
        assert done.returncode == 0, f"{group}: {done.stdout}"
