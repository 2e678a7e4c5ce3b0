"""Every block of the README is run, but for the two commands that set up an environment.

```console: each `$ ` line is run in a repository that holds the demonstration boards; below it the expected output,
where a line `...` stands for one or more lines and ` ...` at the end of a line for the rest of it.
```sh: run as a script that must succeed. ```toml: read as settings. ```netlist: checked.
```yaml: the hook it names must exist.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from isolint import project
from isolint.reports import formats
from tests.conftest import REPOSITORY, environment

README = (REPOSITORY / "README.md").read_text(encoding="utf-8")
SETUP = "python3 -m venv .venv && "


@dataclass(frozen=True)
class Fence:
    """One fenced block with the line on which it begins."""

    language: str
    text: str
    line: int


def blocks() -> list[Fence]:
    found = re.finditer(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    return [Fence(each[1], each[2], README.count("\n", 0, each.start()) + 1) for each in found]


def of(language: str) -> list[Any]:
    chosen = [block for block in blocks() if block.language == language and not block.text.startswith(SETUP)]
    return [pytest.param(block, id=f"line {block.line}") for block in chosen]


@pytest.fixture
def boards(tmp_path: Path) -> Path:
    """A repository of its own that holds the demonstration boards and nothing else."""
    shutil.copytree(REPOSITORY / "fixtures/boards", tmp_path / "fixtures/boards")
    subprocess.run(["git", "init", "--quiet"], cwd=tmp_path, check=True, stdin=subprocess.DEVNULL)
    return tmp_path


PLAIN = 'isolint() { python_isolint "$@"; }'


def shell(script: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a script in which `isolint` is this checkout's."""
    python = shlex.quote(sys.executable)
    return subprocess.run(
        ["bash", "-euo", "pipefail", "-c", f'python_isolint() {{ {python} -m isolint "$@"; }}\n{PLAIN}\n{script}'],
        cwd=folder,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )


def expect(output: str, pattern: str) -> None:
    """Compare line by line; a line `...` stands for one or more lines, ` ...` at the end for the rest of the line."""
    regex = ""
    for line in pattern.splitlines():
        if line == "...":
            regex += r"(?:.*\n)+?"
        elif line.endswith(" ..."):
            regex += re.escape(line.removesuffix(" ...")) + r".*\n"
        else:
            regex += re.escape(line) + r"\n"
    assert re.fullmatch(regex, output), f"{pattern}\n-- does not describe --\n{output}"


def test_two_commands_set_up_an_environment_and_every_other_block_has_a_test() -> None:
    assert sum(block.text.startswith(SETUP) for block in blocks()) == 2
    assert {block.language for block in blocks()} == {"sh", "console", "toml", "yaml", "netlist"}
    assert len(blocks()) == README.count("\n```") / 2


def test_the_two_commands_name_what_exists() -> None:
    first, second = (block.text.strip() for block in blocks() if block.text.startswith(SETUP))
    assert (REPOSITORY / first.rsplit(" ", 1)[1]).is_file()
    extra = re.search(r"'\.\[(\w+)\]'", second)
    assert extra
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))
    assert extra[1] in project["project"]["optional-dependencies"]


@pytest.mark.skipif(os.name == "nt", reason="needs bash")
@pytest.mark.parametrize("block", of("console"))
def test_console_blocks_print_what_they_say(block: Fence, boards: Path) -> None:
    sessions = re.split(r"^\$ ", block.text, flags=re.MULTILINE)
    assert sessions[0] == ""
    for session in sessions[1:]:
        command, _, pattern = session.partition("\n")
        done = shell(command, boards)
        assert done.returncode in (0, 1), done.stderr
        assert done.stderr == ""
        expect(done.stdout, pattern)


@pytest.mark.skipif(os.name == "nt", reason="needs bash")
@pytest.mark.parametrize("block", of("sh"))
def test_shell_blocks_succeed(block: Fence, boards: Path) -> None:
    done = shell(block.text, boards)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("block", of("toml"))
def test_settings_are_accepted(block: Fence, boards: Path) -> None:
    (boards / "isolint.toml").write_text(block.text, encoding="utf-8")
    (boards / "board.cir").write_text("* a divider, invented\nR1 GND V3V3 1k\nR2 V3V3 GND_FIELD 1k\n", encoding="utf-8")
    done = shell("isolint facts board.cir", boards)
    assert done.returncode == 0, done.stderr
    for key in re.findall(r"(?m)^(\w+) = ", block.text.partition("[[waivers]]")[0]):
        assert re.search(rf"\b{key} = ", done.stdout), key
    assert done.stdout.count("waivers[") == block.text.count("[[waivers]]")


@pytest.mark.parametrize("block", of("netlist"))
def test_netlists_are_read_without_complaint(block: Fence, boards: Path) -> None:
    (boards / "board.cir").write_text(block.text, encoding="utf-8")
    done = shell("isolint check board.cir || true", boards)
    assert done.stderr == ""
    assert "; 1 channel: " in done.stdout
    assert "100 % of cards read\n" in done.stdout
    assert "netlist-malformed" not in done.stdout
    assert ": warning: " in done.stdout
    assert "[ground-tie]" in done.stdout


def recipes() -> list[Any]:
    return [each for each in of("yaml") if "repos:" not in each.values[0].text]


@pytest.mark.parametrize("block", [each for each in of("yaml") if "repos:" in each.values[0].text])
def test_hooks_that_are_named_exist(block: Fence) -> None:
    manifest = yaml.safe_load((REPOSITORY / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    named = [hook["id"] for repository in yaml.safe_load(block.text)["repos"] for hook in repository["hooks"]]
    assert named
    assert set(named) <= {hook["id"] for hook in manifest}


def jobs_of(recipe: Any) -> dict[str, Any]:
    """The jobs by name, whichever forge's file they stand in."""
    found: dict[str, Any] = recipe.get("jobs", recipe)
    return found


def commands(job: Any) -> list[tuple[str, str]]:
    """The commands of a job, each with the condition under which its step runs."""
    steps = job.get("steps", job.get("script", ()))
    named = [{"run": step} if isinstance(step, str) else step for step in steps]
    return [(step["run"], str(step.get("if", ""))) for step in named if "run" in step]


FORGES = ("github", "gitlab", "gitea")
DRY = """
isolint() {
  if [ "$1" != post ]; then python_isolint "$@"; return; fi
  python_isolint "$@" --dry-run > posted
  grep -q '^POST https://' posted
}
"""
"""What posts is run dry, and must have something to send."""


def script(job: Any, works: bool = True) -> str:
    """The script of a job as its forge runs it. works: whether the job before it did.

    Nothing is installed, and nothing is fetched from a server.
    """
    made = ["STATUS=0"]
    for command, condition in commands(job):
        if command.startswith(("pip install", "git init", "git fetch")) or ("!= 'success'" in condition and works):
            continue
        if "== 'success'" in condition and not works:
            continue
        # Steps of a workflow are shells of their own, lines of a script are not.
        own = f"( {command}\n)" if "steps" in job else command
        if "steps" not in job:
            made.append(own)
        elif "failure()" in condition:
            made.append(f"if [ $STATUS != 0 ]; then {own}; fi")
        else:
            made.append(f"if [ $STATUS = 0 ]; then {own} || STATUS=$?; fi")
    return "\n".join([*made, "exit $STATUS"])


@pytest.mark.skipif(os.name == "nt", reason="needs bash")
@pytest.mark.parametrize("works", [True, False], ids=["judged", "not judged"])
@pytest.mark.parametrize("block", recipes())
def test_every_command_of_a_recipe_for_a_forge_runs_on_the_demonstration_boards(
    block: Fence, works: bool, boards: Path
) -> None:
    """As the forge runs the jobs: once for a request that can be judged, once for one whose netlist can't be read."""
    identity = "-c user.name=me -c user.email=me@example.org"
    board = "fixtures/boards/sorting-line/sound"
    change = f"sed -i 's,^R13 .*,R13 +3V3 /MCU/DI_GATE 2.2k,' {board}/board.cir"
    if not works:
        change = f"printf '\\0' > {board}/board.cir"
    made = (
        f"git add . && git {identity} commit --quiet -m before && {change} && git {identity} commit --quiet -am after"
    )
    assert shell(f"{made}; git update-ref FETCH_HEAD HEAD", boards).returncode == 0
    known = "BASE=$(git rev-parse HEAD^) HEAD=$(git rev-parse HEAD) CI_COMMIT_SHA=$(git rev-parse HEAD^) "
    known += "NUMBER=7 FAILED= "
    known += "GITHUB_REPOSITORY=owner/board CI_PROJECT_PATH=owner/board GITHUB_SERVER_URL=https://git.example.org"
    jobs = {name: job for name, job in jobs_of(yaml.safe_load(block.text)).items() if name != "push"}
    for name, job in jobs.items():
        done = shell(f"export {known}\n{DRY}\n{script(job, works)}", boards)
        # The last word of a job for members is what the change brought; a job that judged nothing never passes.
        expected = {0} if works and name != "isolint" else {1} if works else {0, 2} if name == "post" else {1, 2}
        assert done.returncode in expected, (name, done.returncode, done.stdout + done.stderr)
        if not works:
            (boards / "review.json").unlink(missing_ok=True)  # as after a job that died
    assert ("the last run failed" in (boards / "posted").read_text()) == (not works)


@pytest.mark.skipif(os.name == "nt", reason="needs bash")
@pytest.mark.parametrize("block", recipes())
def test_what_is_pushed_to_the_default_branch_is_checked_as_a_whole(block: Fence, boards: Path) -> None:
    job = jobs_of(yaml.safe_load(block.text)).get("push")
    if job is None:
        assert "forks" in block.text.splitlines()[0]
        return
    shutil.copytree(boards / "fixtures/boards/sluice-gate/sound", boards / "only")
    shutil.rmtree(boards / "fixtures")
    done = shell(f"git add . && {{ {script(job)}\n}}", boards)
    # What was found decides; the boards may hold questions.
    assert done.returncode in (0, 1), done.stdout + done.stderr
    assert (boards / "isolint.xml").read_text().startswith("<?xml") and "channels" in done.stdout


def test_each_forge_has_a_recipe_for_members_and_one_for_strangers() -> None:
    texts = [each.values[0].text for each in recipes()]
    for forge in FORGES:
        own = [text for text in texts if f"--forge {forge}" in text]
        assert ["forks" in text.splitlines()[0] for text in own] == [False, True], forge
        assert "push" in jobs_of(yaml.safe_load(own[0])), forge


@pytest.mark.parametrize("forge", FORGES)
def test_a_recipe_for_strangers_lets_no_job_both_read_the_request_and_write(forge: str) -> None:
    texts = [each.values[0].text for each in recipes()]
    (text,) = (each for each in texts if "forks" in each.splitlines()[0] and f"--forge {forge}" in each)
    recipe = yaml.safe_load(text)
    first, second = jobs_of(recipe)["review"], jobs_of(recipe)["post"]
    assert not any("checkout" in step.get("uses", "") for job in (first, second) for step in job.get("steps", ()))
    read, written = ([command for command, _ in commands(job)] for job in (first, second))
    assert any("--policy base" in command for command in read) and not any("isolint post" in each for each in read)
    assert any("isolint post" in command for command in written) and not any(each.startswith("git") for each in written)
    assert "TOKEN" not in str(first)
    if forge == "github":
        assert recipe["permissions"] == {} and first["permissions"] == {"contents": "read"}
        assert second["permissions"] == {"pull-requests": "write"}
    if forge == "gitlab":
        # The token is a variable of an environment that the second job alone is in, and that one has no repository.
        assert second["environment"] == "isolint" and "environment" not in first
        assert second["variables"] == {"GIT_STRATEGY": "none"}
        assert all(
            "$CI_COMMIT_BRANCH == $CI_DEFAULT_BRANCH" in rule["if"] for job in (first, second) for rule in job["rules"]
        )


def manifest() -> list[dict[str, Any]]:
    found = yaml.safe_load((REPOSITORY / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    assert isinstance(found, list)
    return found


def test_the_endings_of_the_hooks_are_those_that_are_named() -> None:
    sentence = README.split("The hook starts for each changed file")[1].split("in either case")[0]
    endings = re.findall(r"`\.(\w+)`", sentence)
    assert len(endings) > 10
    assert {f".{ending}" for ending in endings} >= set(project.NETLISTS)
    for hook in manifest():
        for ending in endings:
            assert re.search(hook["files"], f"boards/a.{ending}")
            assert re.search(hook["files"], f"boards/A.{ending.upper()}")
        for other in ("board.cir.txt", "board.circuit", "cir", "a.tomlx"):
            assert not re.search(hook["files"], other)
        accepted = re.search(r"\(([\w|]+)\)", hook["files"])
        assert accepted
        assert set(accepted[1].split("|")) == set(endings)


def test_the_hooks_keep_to_documented_fields_and_to_options_that_exist() -> None:
    by_changes, whole = manifest()
    assert by_changes["entry"] == "isolint check --changed --"
    assert whole["entry"] == "isolint check --project"
    assert whole["pass_filenames"] is False
    for hook in (by_changes, whole):
        assert hook["require_serial"] is True
        assert hook["always_run"] is True, "a commit may only delete or rename"
        documented = {"id", "name", "description", "entry", "language", "files", "require_serial", "pass_filenames"}
        assert set(hook) <= documented | {"always_run"}
        assert "types" not in hook, "netlists in UTF-16 count as binary"


def test_every_format_is_described() -> None:
    table = README.split("| format | for |")[1].split("\n\n")[0]
    assert re.findall(r"(?m)^\| `([\w-]+)` \|", table) == list(formats.FORMATS)
