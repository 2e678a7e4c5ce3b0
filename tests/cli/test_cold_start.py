"""A hook starts cold: what a command does not need is not loaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import environment

HEAVY = ("networkx", "numpy", "pint", "scipy")


def loaded_after(arguments: list[str], cwd: Path) -> tuple[int, set[str]]:
    """Run the command line in a new process and give its status and the top-level modules it loaded."""
    code = (
        "import sys\n"
        "from isolint.cli import run\n"
        "status = run(sys.argv[1:])\n"
        "print(status, *sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=cwd,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    status, *modules = done.stderr.splitlines()[-1].split()
    return int(status), set(modules)


def test_checking_the_sound_board_loads_no_heavy_library(repository: Path) -> None:
    status, modules = loaded_after(["check", "fixtures/boards/sluice-gate/sound/board.cir"], repository)
    assert status == 0
    assert modules.isdisjoint(HEAVY)
    assert "click" in modules, "the list of modules must be a real one"


def test_measuring_a_model_loads_no_heavy_library(repository: Path) -> None:
    status, modules = loaded_after(
        ["parts", "measure", "tests/recognition/models/phototransistors.lib", "DEMO_PT02"], repository
    )
    assert status == 0
    assert modules.isdisjoint({"networkx", "numpy", "scipy"})
    assert "isolint" in modules


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["check", "--help"]])
def test_help_loads_no_stage(arguments: list[str], repository: Path) -> None:
    _, modules = loaded_after(arguments, repository)
    assert modules.isdisjoint({*HEAVY, "lark", "tomllib", "json"})


def test_the_collector_is_off_in_the_process_of_the_command_line_only() -> None:
    code = "import gc, sys\nfrom isolint import cli\ncli.run(['--version'])\nprint(gc.isenabled())\n" + (
        "cli.run = lambda arguments: print(gc.isenabled()) or 0\ncli.main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=True,
    )
    assert [line for line in done.stdout.splitlines() if line in ("True", "False")] == ["True", "False"]


@pytest.mark.parametrize("status", [0, 1, 2, 130])
def test_the_process_ends_at_once_with_its_status_and_all_that_it_wrote(status: int) -> None:
    code = (
        "import sys\nfrom isolint import cli\n"
        "class Slow:\n    def __del__(self):\n        print('taken apart')\n"
        "kept = Slow()\n"
        f"def run(arguments):\n    print('said')\n    print('told', file=sys.stderr)\n    return {status}\n"
        "cli.run = run\ncli.main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (status, "said\n", "told\n")
