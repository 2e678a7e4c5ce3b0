"""Types, style and the direction of imports, by the tools that judge them; `pytest` is the one entry point."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import environment

TOOLS = {
    "types": [sys.executable, "-m", "mypy", "--no-error-summary"],
    "lint": [sys.executable, "-m", "ruff", "check", "--no-cache", "."],
    "format": [sys.executable, "-m", "ruff", "format", "--no-cache", "--check", "."],
    # The tool has no module to run; this is what its console script does.
    "imports": [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
}


@pytest.mark.parametrize("tool", TOOLS)
def test_the_tree_satisfies_the_tool(tool: str, repository: Path) -> None:
    done = subprocess.run(
        TOOLS[tool],
        cwd=repository,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, f"{done.stdout}\n{done.stderr}"


@pytest.mark.parametrize("folder", ["isolint", "tests"])
def test_no_module_grows_over_five_hundred_lines(folder: str, repository: Path) -> None:
    lengths = {
        path.relative_to(repository).as_posix(): path.read_text(encoding="utf-8").count("\n")
        for path in (repository / folder).rglob("*.py")
    }
    assert len(lengths) > 10
    assert {name: length for name, length in lengths.items() if length > 500} == {}


def _functions(repository: Path) -> dict[str, int]:
    """The lines of each function and method, by file and line."""
    found: dict[str, int] = {}
    for folder in ("isolint", "tests"):
        for path in (repository / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                    assert node.end_lineno is not None
                    name = f"{path.relative_to(repository).as_posix()}:{node.lineno} {node.name}"
                    found[name] = node.end_lineno - node.lineno + 1
    return found


def test_no_function_grows_over_sixty_lines(repository: Path) -> None:
    lengths = _functions(repository)
    assert len(lengths) > 5000
    assert {name: length for name, length in lengths.items() if length > 60} == {}


def test_at_most_one_function_of_twenty_has_more_than_ten_ways_through_it(repository: Path) -> None:
    # No function has more than 15, which `lint` says.
    limit = ["--select", "C901", "--config", "lint.mccabe.max-complexity=10", "--output-format", "json", "--exit-zero"]
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--no-cache", *limit, "isolint"],
        cwd=repository,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=True,
    )
    over = json.loads(done.stdout)
    assert {one["code"] for one in over} == {"C901"}
    assert len(over) <= 0.05 * sum(name.startswith("isolint/") for name in _functions(repository))


def test_no_module_name_stands_in_two_folders(repository: Path) -> None:
    folders: dict[str, list[str]] = {}
    for path in sorted((repository / "isolint").rglob("*.py")):
        if not path.stem.startswith("__"):
            folders.setdefault(path.stem, []).append(path.parent.name)
    assert len(folders) > 100
    assert {name: found for name, found in folders.items() if len(found) > 1} == {}


def test_no_class_name_stands_in_two_folders(repository: Path) -> None:
    folders: dict[str, set[str]] = {}
    for folder in ("isolint", "tests"):
        for path in sorted((repository / folder).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ClassDef):
                    folders.setdefault(node.name, set()).add(path.parent.relative_to(repository).as_posix())
    assert len(folders) > 300
    assert {name: found for name, found in folders.items() if len(found) > 1} == {}


def test_each_folder_says_what_comes_in_and_what_goes_out(repository: Path) -> None:
    for path in sorted((repository / "isolint").glob("*/__init__.py")):
        docstring = path.read_text(encoding="utf-8").removeprefix('"""').partition('"""')[0]
        lines = docstring.strip().splitlines()
        assert 3 <= len(lines) <= 12, path
        assert "In:" in docstring or "in:" in docstring, path
        assert "Out:" in docstring or "out:" in docstring, path


def test_the_developers_guide_names_every_folder_and_none_that_is_gone(repository: Path) -> None:
    guide = (repository / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`isolint/(\w+)/`", guide))
    assert named == {path.parent.name for path in (repository / "isolint").glob("*/__init__.py")}
    for path in re.findall(r"`((?:isolint|tests|fixtures|grammars)/[\w/.-]+)`", guide):
        if not path.endswith(("isolint/grammars", "slug")):
            assert (repository / path).exists(), path
