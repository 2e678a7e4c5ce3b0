"""At a terminal: lines as wide as the window, colours unless not wanted, progress; in a pipe not a byte more."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest

from isolint.cli import run, screen
from tests.conftest import environment

BOARD = Path(__file__).parents[2] / "fixtures" / "boards" / "sluice-gate" / "broken" / "board.cir"
COLOUR = re.compile(r"\x1b\[[0-9;]*m")


def seen(columns: int, *arguments: str, **changes: str) -> str:
    """What a command shows at a terminal of so many columns."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    variables = {**environment(), "TERM": "xterm", **changes}
    variables.pop("COLUMNS", None)
    command = [sys.executable, "-m", "isolint", *arguments]
    with subprocess.Popen(command, env=variables, stdin=theirs, stdout=theirs, stderr=subprocess.DEVNULL) as process:
        os.close(theirs)
        told = b""
        while True:
            try:
                block = os.read(ours, 65536)
            except OSError:
                break
            if not block:
                break
            told += block
        process.wait(timeout=60)
    os.close(ours)
    return told.decode().replace("\r\n", "\n")


def typed(columns: int, answers: list[str], *arguments: str, folder: Path) -> str:
    """What a command shows at a terminal at which each line is typed when the next question stands there."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
    command = [sys.executable, "-m", "isolint", *arguments]
    variables = {**environment(), "TERM": "xterm"}
    told, waiting = b"", list(answers)
    with subprocess.Popen(
        command, env=variables, cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
    ) as process:
        os.close(theirs)
        new = b""
        while True:
            try:
                block = os.read(ours, 65536)
            except OSError:
                break
            if not block:
                break
            told, new = told + block, new + block
            if new.rstrip(b" ").endswith(b"[?]:"):
                os.write(ours, f"{waiting.pop(0) if waiting else '?'}\n".encode())
                new = b""
        process.wait(timeout=60)
    os.close(ours)
    return told.decode().replace("\r\n", "\n")


def piped(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "isolint", *arguments],
        env=environment(),
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    return done.stdout


@pytest.fixture(scope="module")
def narrow() -> str:
    return seen(80, "check", str(BOARD), "--today", "2026-01-01")


def test_lines_keep_to_the_width_of_the_terminal(narrow: str) -> None:
    lines = COLOUR.sub("", narrow).split("\n")
    long = [line for line in lines if len(line) > 80 and " " in line.strip()]
    assert len(lines) > 40
    assert long == []


def test_what_is_wrapped_says_the_same_words_and_stands_further_in(narrow: str) -> None:
    plain = piped("check", str(BOARD), "--today", "2026-01-01")
    assert max(map(len, plain.split("\n"))) > 200
    assert COLOUR.sub("", narrow).split() == plain.split()
    first = next(index for index, line in enumerate(narrow.split("\n")) if "board.cir:" in line)
    assert narrow.split("\n")[first + 1].startswith("  ")


def test_level_words_are_coloured_unless_that_is_not_wanted(narrow: str) -> None:
    assert re.search(r": \x1b\[1;31merror\x1b\[0m: ", narrow)
    assert "\x1b" not in seen(80, "check", str(BOARD), NO_COLOR="1")
    assert "\x1b" not in seen(80, "check", str(BOARD), TERM="dumb")


def test_a_pipe_gets_neither_colours_nor_wrapped_lines() -> None:
    assert "\x1b" not in piped("check", str(BOARD))


def test_what_is_to_be_pasted_is_not_wrapped() -> None:
    line = 'write: [outputs."A_VERY_LONG_NAME_OF_A_NET_THAT_GOES_ON_AND_ON"] ' + "x = 1 " * 20
    text = f"board.cir:1:1: open: asked [slug]\n    missing: it\n      {line}\n             {line}\n    cure: {line}\n"
    rows = list(screen._lines(text, 60, colours=False))
    assert f"      {line}" in rows
    assert f"             {line}" in rows
    assert f"    cure: {line}" not in rows


def test_a_long_run_says_what_it_is_at_and_takes_that_back(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import time

    monkeypatch.setattr(screen, "PATIENCE", 0.02)
    monkeypatch.setattr(screen, "is_terminal", lambda stream: True)
    with screen.watched() as tell:
        tell("one.cir")
        tell("two.cir")
        time.sleep(0.3)
    told = capsys.readouterr().err
    assert "isolint: two.cir, 1 done" in told
    assert told.endswith("\r\x1b[K")


def test_a_short_run_and_a_run_that_nobody_watches_say_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with screen.watched() as tell:
        tell("one.cir")
    assert capsys.readouterr().err == ""


def test_a_folder_is_told_the_option_for_folders(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(["check", str(tmp_path)]) == 2
    assert f"isolint check --project {tmp_path}" in capsys.readouterr().err


@pytest.mark.parametrize("day", ["31.1.2027", "2027-13-01", "20270131", "tomorrow"])
def test_a_day_in_another_form_is_told_the_form_that_is_wanted(day: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--today", day, str(BOARD)]) == 2
    assert "write year, month and day as 2027-06-30" in capsys.readouterr().err


def test_a_type_that_does_not_exist_lists_all_types_with_a_line_each(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "board.cir").write_text("* invented\nXU1 A K E C DEMO_PT1\nR1 A B 1k\n", encoding="utf-8")
    settings = '[elements."XU1"]\ntype = "valve"\n'
    (tmp_path / "isolint.toml").write_text(settings, encoding="utf-8")
    assert run(["check", str(tmp_path / "board.cir")]) == 2
    told = capsys.readouterr().err
    assert "phototransistor: an LED lights a transistor" in told
    assert "relay: a coil moves contacts" in told


def test_exit_status_one_without_a_failure_says_why(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    board = "* invented\nV1 V5 GND 5\nR1 V5 A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\nV2 VB GNDB 5\n"
    (tmp_path / "board.cir").write_text(board, encoding="utf-8")
    assert run(["check", "--strict", str(tmp_path / "board.cir")]) == 1
    told = capsys.readouterr().out
    assert re.search(r"exit status 1 although nothing failed: \d+ open count", told)
    assert run(["check", str(tmp_path / "board.cir")]) == 0
    assert "exit status 1" not in capsys.readouterr().out


DOOR = "* a door contact, invented\nR1 DOOR A 2.2k\nXU1 A GND_FIELD GND DI_DOOR PART77\nR2 +3V3 DI_DOOR 10k\n"
PART = ("1", "1", "1.1 V", "1.2 V", "1.4 V", "10 mA", "80 %", "", "5 mA", "5 V")
SETTINGS = ("5 %", "+3V3", "0.8 V", "2 V", "18 V .. 30 V", "0 V, 0.5 V", "basic", "50 V")


def test_asked_at_a_terminal_a_bare_export_becomes_a_judged_channel(tmp_path: Path) -> None:
    (tmp_path / "board.cir").write_text(DOOR, encoding="utf-8")
    answers = [*PART, *SETTINGS, "basic", "1 W", "600 V", "8 mm", "7 mm"]
    told = typed(80, answers, "init", "--ask", "board.cir", folder=tmp_path)
    assert "PART77 (XU1): what is it?" in told
    assert "1 anode on A, cathode on GND_FIELD, emitter on GND, collector on DI_DOOR" in told
    assert "1 channel: 1 held, 0 failed, 0 open" in " ".join(COLOUR.sub("", told).split())
    typed_lines = {f"[?]: {answer}" for answer in answers}
    checked = told[told.index("board.cir: ") :].split("\n")
    assert all(len(COLOUR.sub("", line)) <= 80 for line in checked if line not in typed_lines)
    again = typed(80, [], "init", "--ask", "board.cir", folder=tmp_path)
    assert "[?]:" not in again, "nothing is asked twice"
