"""What a person sees of an audit at a terminal, what a log holds, and that Ctrl-C there loses nothing."""

from __future__ import annotations

import io
import os
import pty
import re
import subprocess
import sys
import termios
import time
from collections import deque
from pathlib import Path

import pytest

from isolint.archive.auditing import Progress
from isolint.cli.progress import shown, words
from tests.archive.stores import documents, judged, run, small
from tests.conftest import REPOSITORY, environment

pytestmark = [
    pytest.mark.xdist_group("archive"),
    pytest.mark.skipif(os.name == "nt", reason="pseudo terminals are of other systems"),
]

TIED = "* tied\nXU1 a k e c DEMO_PT1\nR1 a V5 1k\nR2 c V5B 1k\nR3 k GND 0\nR4 e GNDB 0\nR9 GND GNDB 0\n.end\n"


class Seen:
    """An audit by one process at a terminal of 120 columns that is its own, so that keys reach it."""

    def __init__(self, folder: Path, store: Path) -> None:
        import fcntl
        import struct

        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, 120, 0, 0))
        words = ["audit", str(folder), "--root", str(folder), "--store", str(store), "--today", "2026-01-01"]
        # The session's terminal is the one on which it is opened first.
        code = (
            "import fcntl, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); from isolint.cli import main; "
            "sys.argv[0] = 'isolint'; main()"
        )
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *words, "--jobs", "1"],
            cwd=REPOSITORY,
            env={**environment(), "TERM": "xterm"},
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
        )
        os.close(theirs)
        self.told = ""

    def read(self, until: str = "") -> str:
        """Everything that is shown until a text comes, or until the end."""
        while not until or not re.search(until, self.told):
            try:
                block = os.read(self._ours, 65536)
            except OSError:  # what the other end says when nobody holds it any more
                break
            if not block:
                break
            self.told += block.decode()
        return self.told

    def press(self, key: bytes) -> None:
        os.write(self._ours, key)

    def end(self) -> int:
        self.read()
        os.close(self._ours)
        return self.process.wait(timeout=60)


def test_a_terminal_shows_one_line_that_is_drawn_anew_and_leaves_the_sum(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 150)
    for at in range(8):
        (folder / f"a{at}.cir").write_text(f"{TIED}* {at}\n", encoding="utf-8")
    seen = Seen(folder, tmp_path / "store.db")
    assert seen.end() == 1
    lines = seen.told.split("\r\x1b[K")
    drawn = [line for line in lines if " of 158 " in line]
    assert len(drawn) >= 2, seen.told
    assert all(len(line) < 120 and "\n" not in line for line in drawn)
    assert re.search(
        r"isolint: \d+ of 158 \(\d+ %\), \d+\.\d/s, \d+:\d\d:\d\d left, 8 with failures, at b\d+\.cir", seen.told
    )
    # The line is gone in the end, and the sum stands alone.
    assert lines[-1].startswith("158 files = 158 judged\r\n")


def test_ctrl_c_at_a_terminal_ends_soon_with_its_status_and_loses_nothing(tmp_path: Path) -> None:
    folder = small(tmp_path / "boards", 400)
    run(folder, tmp_path / "whole.db")
    path = tmp_path / "store.db"
    seen = Seen(folder, path)
    seen.read(r"isolint: [1-9]\d* of 400 ")
    begin = time.monotonic()
    seen.press(b"\x03")
    assert seen.end() == 130
    assert time.monotonic() - begin < 8.0
    assert seen.told.endswith("\r\x1b[Kisolint: interrupted\r\n")
    assert "Traceback" not in seen.told
    before = judged(path)
    assert 0 < len(before) < 400
    assert set(documents(path)) == set(before)
    assert run(folder, path).judged == 400 - len(before)
    assert documents(path) == documents(tmp_path / "whole.db")


class Log(io.StringIO):
    def isatty(self) -> bool:
        return False


def test_a_log_gets_a_plain_line_each_ten_seconds_and_quiet_none(monkeypatch: pytest.MonkeyPatch) -> None:
    for quiet in (False, True):
        log, now = Log(), [0.0]

        def clock(now: list[float] = now) -> float:
            return now[0]

        monkeypatch.setattr(sys, "stderr", log)
        with shown(quiet, clock) as tell:
            for second in range(35):
                now[0] = float(second)
                tell(Progress(2 * second, 100, second, 0, 0, "a\x1b[2J.cir"))
        told = log.getvalue()
        assert "\x1b" not in told and "\r" not in told
        assert told.count("\n") == (0 if quiet else 3)
        assert quiet or "isolint: 20 of 100 (20 %), 2.0/s, 0:00:40 left, at a" in told


def test_the_rate_is_that_of_the_last_minute() -> None:
    history = deque([(100.0, 1000), (160.0, 1030)])
    line = words(Progress(1030, 2030, 30, 7, 2, "x.cir"), history)
    assert line == "1030 of 2030 (50 %), 0.5/s, 0:33:20 left, 7 with failures, 2 not judged, at x.cir"
