"""A copy of the tree to which a test adds what a contributor would add."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.conftest import compiled

ROOT = Path(__file__).parents[1]


def copy_of_tree(folder: Path) -> Path:
    """A copy of package, grammars, fixtures and tests in a folder."""
    leave = shutil.ignore_patterns("__pycache__", "*.egg-info", ".*")
    for name in ("isolint", "grammars", "fixtures", "tests"):
        shutil.copytree(ROOT / name, folder / name, ignore=leave)
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def add_line(file: Path, before: str, line: str) -> None:
    """Add one line in front of the one line that holds a text."""
    lines = file.read_text(encoding="utf-8").splitlines()
    (index,) = [number for number, text in enumerate(lines) if text == before]
    lines.insert(index, line)
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")


def python(tree: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run Python in a copy, so that the copy's package is the one that is imported."""
    command: Sequence[str] = (sys.executable, *words)
    env = {**os.environ, **compiled()}
    return subprocess.run(command, cwd=tree, env=env, capture_output=True, text=True, timeout=120, check=False)
