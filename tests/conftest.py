"""What all tests share: the repository, a command line in a process of its own, and how tests may be skipped."""

from __future__ import annotations

import atexit
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Generator
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

REPOSITORY = Path(__file__).resolve().parent.parent

# Hermetic: the same examples in each run, no data base of earlier failures, no clock.
settings.register_profile(
    "isolint", deadline=None, derandomize=True, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("isolint")

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def repository() -> Path:
    """The checkout that is tested."""
    return REPOSITORY


@pytest.fixture(scope="session")
def run_isolint() -> Run:
    """Run `python -m isolint ARGUMENTS...` in a process of its own, from the folder `cwd` (default: the checkout)."""

    def run(*arguments: str, cwd: Path = REPOSITORY) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "isolint", *arguments],
            cwd=cwd,
            env=environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            encoding="utf-8",
            timeout=120,
            check=False,
        )

    return run


def environment() -> dict[str, str]:
    """The environment of a child process: this checkout first on the path, UTF-8 streams."""
    return {**os.environ, **compiled(), "PYTHONPATH": str(REPOSITORY), "PYTHONUTF8": "1"}


@cache
def compiled() -> dict[str, str]:
    """Where nothing compiled may be written beside the sources, a folder for it that all child processes share.

    Each of them would compile the whole package anew.
    """
    if not sys.dont_write_bytecode:
        return {}
    folder = tempfile.TemporaryDirectory()
    atexit.register(folder.cleanup)
    return {"PYTHONPYCACHEPREFIX": folder.name, "PYTHONDONTWRITEBYTECODE": ""}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Fail tests marked `outside` or `benchmark` where they would be skipped: they were asked for by name."""
    report = yield
    asked = item.get_closest_marker("outside") or item.get_closest_marker("benchmark")
    if asked and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"a skip counts as failure here: {report.longrepr}"
    return report
