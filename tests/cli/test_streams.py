"""Streams in every state: a reader that left, a full disk, a narrow encoding, a stream closed before the start."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from isolint.cli import streams
from tests.conftest import environment

ANSWER = """
import sys
from isolint import app
from isolint.cli import main
from tests.reports.sample import REPORT
app.check = lambda paths, options: REPORT._replace(netlists=REPORT.netlists * {copies})
sys.argv = ["isolint", "check", "board.cir"]
main()
"""

posix = pytest.mark.skipif(os.name == "nt", reason="needs a POSIX shell")


def shell(line: str, copies: int = 1, **changes: str) -> subprocess.CompletedProcess[str]:
    """Run the sample report through a shell line in which `$ISOLINT` stands for the command."""
    code = ANSWER.format(copies=copies)
    variables = {**environment(), **changes, "CODE": code, "PYTHON": sys.executable}
    return subprocess.run(
        ["sh", "-c", line.replace("$ISOLINT", '"$PYTHON" -c "$CODE"')],
        env=variables,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


@posix
@pytest.mark.parametrize("copies", [1, 3000])
def test_a_reader_that_closes_the_pipe_early_changes_neither_status_nor_standard_error(copies: int) -> None:
    done = shell("{ $ISOLINT; echo status $? >&2; } | true", copies)
    assert done.stderr == "status 1\n"


@posix
def test_closed_standard_streams_are_no_error() -> None:
    done = shell("$ISOLINT >&- 2>&-; echo $?")
    assert done.stdout == "1\n"


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told_and_is_status_two() -> None:
    done = shell("$ISOLINT >/dev/full; echo $?")
    assert done.stdout == "2\n"
    assert done.stderr.startswith("isolint: standard output: the results can't be written: no space left")
    assert len(done.stderr.splitlines()) == 1


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_help_on_a_full_disk_is_told_and_is_status_two() -> None:
    done = shell('"$PYTHON" -m isolint check --help >/dev/full; echo $?')
    assert (done.stdout, done.stderr) == ("2\n", "isolint: the job could not be done: no space left on device\n")


def test_characters_that_the_stream_lacks_are_written_as_escapes(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    streams.deliver("4.7 µF\n")
    assert raw.getvalue().splitlines() == [b"4.7 \\xb5F"]


def test_complaints_carry_the_name_of_the_program_on_each_line(capsys: pytest.CaptureFixture[str]) -> None:
    streams.complain("one\ntwo\x07")
    assert capsys.readouterr().err == "isolint: one\nisolint: two\\x07\n"
