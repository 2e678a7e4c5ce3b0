"""Ctrl-C and a machine without memory, at any moment: the status, one line, and no file half written."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.conftest import REPOSITORY, environment

BOARD = "fixtures/boards/sluice-gate/broken/board.cir"

posix = pytest.mark.skipif(os.name == "nt", reason="signals are of POSIX")

AT = """
import os, signal, sys
class Finder:
    def find_spec(self, name, path=None, target=None):
        if name == {module!r}:
            {does}
from isolint.cli import main
sys.meta_path.insert(0, Finder())
main()
"""
INTERRUPT = "os.kill(os.getpid(), signal.SIGINT)"
EXHAUST = "raise MemoryError"

MODULES = ["click", "isolint.cli.check", "isolint.app", "isolint.netlist.reader", "isolint.rules.led_unlimited",
           "isolint.reports.text", "isolint.reports.escape"]  # fmt: skip
"""One for each part of the way, from the first that the command line loads to the last."""


def ended(code: str, *arguments: str, cwd: Path = REPOSITORY) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        cwd=cwd,
        env=environment(),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    return done.returncode, done.stderr


@posix
@pytest.mark.parametrize("module", MODULES)
def test_an_interrupt_ends_with_its_status_and_one_line(module: str) -> None:
    assert ended(AT.format(module=module, does=INTERRUPT), "check", BOARD) == (130, "isolint: interrupted\n")


@pytest.mark.parametrize("module", MODULES)
def test_a_machine_without_memory_ends_with_its_status_and_one_line(module: str) -> None:
    status, words = ended(AT.format(module=module, does=EXHAUST), "check", BOARD)
    assert status == 2
    assert len(words.splitlines()) == 1
    assert words.startswith("isolint: ")
    assert "machine" in words


WRITING = """
import os, signal, sys
from isolint import cli
from isolint.cli import files
real = getattr(os, {call!r})
def interrupted(*arguments):
    os.kill(os.getpid(), signal.SIGINT)
    os.kill(os.getpid(), signal.SIGINT)
    return real(*arguments)
os.{call} = interrupted
cli.run = lambda arguments: files.store({{"a": "new", "b": "new", "c": "new"}}) or 0
cli.main()
"""


@posix
@pytest.mark.parametrize("call", ["fsync", "urandom", "chmod", "link", "replace"])
def test_an_interrupt_while_files_are_written_leaves_the_old_ones(tmp_path: Path, call: str) -> None:
    for name in ("a", "b"):
        (tmp_path / name).write_text("old", encoding="utf-8")
    assert ended(WRITING.format(call=call), cwd=tmp_path) == (130, "isolint: interrupted\n")
    assert {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()} == {"a": "old", "b": "old"}


WRAPPED = """
import os, signal
from isolint.rows import Row
def interrupted(self, owner, name):
    {does}
Row.__set_name__ = interrupted
from isolint.cli import main
main()
"""


@posix
def test_an_interrupt_while_a_class_is_made_ends_with_its_status_and_one_line() -> None:
    assert ended(WRAPPED.format(does=INTERRUPT), "check", BOARD) == (130, "isolint: interrupted\n")


def test_a_machine_without_memory_while_a_class_is_made_is_told() -> None:
    status, words = ended(WRAPPED.format(does=EXHAUST), "check", BOARD)
    assert (status, "machine" in words, len(words.splitlines())) == (2, True, 1)


STARTED = "from isolint.cli import main\nprint('started', flush=True)\nmain()\n"


@posix
def test_an_interrupt_at_any_moment_leaves_no_traceback() -> None:
    draw = random.Random(1)
    seen = set()
    for _ in range(8):
        process = subprocess.Popen(
            [sys.executable, "-c", STARTED, "check", BOARD],
            cwd=REPOSITORY,
            env=environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert process.stdout is not None
        assert process.stdout.readline() == b"started\n"
        time.sleep(0.01 + 0.3 * draw.random())
        process.send_signal(signal.SIGINT)
        _, words = process.communicate(timeout=60)
        assert (process.returncode, words) in ((130, b"isolint: interrupted\n"), (1, b""))
        seen.add(process.returncode)
    assert 130 in seen
