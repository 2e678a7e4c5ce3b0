"""What is measured: each row is a command, the command it is compared with, and the limit of the ratio."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tests.benchmarks.netlists import TEXTS
from tests.bounded.boards import BOARDS
from tests.conftest import REPOSITORY

BOARD = "fixtures/boards/sluice-gate/sound/board.cir"
FOLDER = "{folder}"
"""Stands in a command for the folder that the row's `make` filled."""

IMPORTS = (sys.executable, "-c", "import click, lark, networkx")
CHANNELS = 4
ELEMENTS = 200


@dataclass(frozen=True, slots=True)
class RatioRow:
    """One ratio: wall time of `subject` over that of `reference`, both run cold, at most `limit`.

    Without a `reference` the subject measures both in one process and prints the two numbers, a line a round. `slow`
    rows take more than a few seconds. `unit` is that of the numbers: seconds, or megabytes.
    """

    name: str
    subject: tuple[str, ...]
    reference: tuple[str, ...]
    limit: float
    make: Callable[[Path], None] | None = None
    slow: bool = False
    unit: Literal["s", "MB"] = "s"


def sound_board(number: int) -> str:
    """A sound board of 200 elements: four channels and filters. Invented."""
    cards = [f"* board {number} of a row of boards, invented", ".include ../lib/models.lib"]
    for k in range(1, CHANNELS + 1):
        cards += [f"R{k}1 DRIVE{k} N{k}01 470", f"XU{k} N{k}01 GND GNDB OUT{k} DEMO_PT1", f"R{k}2 VB OUT{k} 10k"]
    for k in range((ELEMENTS - 3 * CHANNELS) // 2):
        cards += [f"R9{k:03} V5 F{k:03} 10k", f"C9{k:03} F{k:03} GND 100n"]
    return "\n".join(cards) + "\n"


def repository(folder: Path, boards: int) -> None:
    """A git repository of sound boards that share settings, part records and a library."""
    shared = REPOSITORY / "fixtures/rules"
    facts = (shared / "isolint.toml").read_text(encoding="utf-8").replace("top = true\n", "")
    (folder / "isolint.toml").write_text(facts, encoding="utf-8")
    shutil.copytree(shared / "parts", folder / "parts")
    (folder / "lib").mkdir()
    (folder / "lib/models.lib").write_text(".model QSW NPN(IS=2e-14 BF=250)\n", encoding="utf-8")
    for number in range(boards):
        (folder / f"board{number:03}").mkdir()
        (folder / f"board{number:03}/main.cir").write_text(sound_board(number), encoding="utf-8")
    for arguments in (("init", "--quiet"), ("add", "--all")):
        subprocess.run(["git", *arguments], cwd=folder, check=True, stdin=subprocess.DEVNULL)


def changed_board(folder: Path) -> None:
    """A repository of 500 sound boards whose last commit changes one value of one of them, which stays sound."""
    repository(folder, 500)
    board = folder / "board000/main.cir"
    text = board.read_text(encoding="utf-8")
    assert "OUT1 10k" in text
    for written in (text, text.replace("OUT1 10k", "OUT1 12k")):
        board.write_text(written, encoding="utf-8")
        commit = ("-c", "user.name=x", "-c", "user.email=x@example.org", "commit", "--quiet", "--all", "--message", "x")
        subprocess.run(["git", *commit], cwd=folder, check=True, stdin=subprocess.DEVNULL)


HOOK = (sys.executable, "-m", "isolint", "check", "--changed", "--", f"{FOLDER}/board000/main.cir")

COLD: tuple[RatioRow, ...] = (
    RatioRow(
        name="nominal and all corners of one channel with one switching input / python -c pass, fifty times each",
        subject=(sys.executable, "-m", "tests.benchmarks.channel", "analyse", "50"),
        reference=(sys.executable, "-m", "tests.benchmarks.channel", "passes", "50"),
        limit=1.0,
    ),
    RatioRow(
        name="cold check of the sound board / import of click, lark, networkx",
        subject=(sys.executable, "-m", "isolint", "check", BOARD),
        reference=IMPORTS,
        limit=0.8,
    ),
    RatioRow(
        name="hook on one changed sound board of 200 elements / import of click, lark, networkx",
        subject=HOOK,
        reference=IMPORTS,
        limit=1.0,
        make=lambda folder: repository(folder, 1),
    ),
    RatioRow(
        name="hook on one change among 500 sound boards / import of click, lark, networkx",
        subject=HOOK,
        reference=IMPORTS,
        limit=2.0,
        make=lambda folder: repository(folder, 500),
    ),
    RatioRow(
        name="review of one changed board among 500 / check of the same change",
        subject=(sys.executable, "-m", "isolint", "review", FOLDER, "--base", "HEAD^"),
        reference=HOOK,
        limit=2.5,
        make=changed_board,
    ),
)


def _written(folder: Path, kind: str, size: int) -> None:
    """A generated netlist as a file, so that making it leaves no memory behind in the process that is measured."""
    (folder / "board.cir").write_text(TEXTS[kind](size), encoding="utf-8")


READING = (sys.executable, "-m", "tests.benchmarks.reading")
MILLION = 1_000_000


def _against_split(name: str, kind: str, size: int, limit: float) -> RatioRow:
    return RatioRow(f"reading {name} / SPLIT", (*READING, "split", kind, str(size)), (), limit, slow=size >= MILLION)


READING_ROWS: tuple[RatioRow, ...] = (
    _against_split("one million cards without expressions", "plain", MILLION, 3.0),
    _against_split("one million mixed cards, 5 % with expressions", "few", MILLION, 12.0),
    _against_split("one million cards, 20 % with an expression of its own", "unique", MILLION, 7.0),
    _against_split("one card over 6,000 continuation lines", "long", 6_000, 3.0),
    RatioRow(
        name="reading one million mixed cards / a hundred thousand",
        subject=(*READING, "growth", "few", str(MILLION), "100000"),
        reference=(),
        limit=12.0,
        slow=True,
    ),
    RatioRow(
        name="memory that reading a hundred thousand mixed cards takes at most, in MB",
        subject=(*READING, "memory", f"{FOLDER}/board.cir", "100000"),
        reference=(),
        limit=50.0,
        make=lambda folder: _written(folder, "few", 100_000),
        unit="MB",
    ),
)

HIERARCHY = (sys.executable, "-m", "tests.benchmarks.hierarchy")

SIZE_ROWS: tuple[RatioRow, ...] = (
    RatioRow(
        name="connectivity of one million flat edges / networkx build and components",
        subject=(*HIERARCHY, "edges", str(MILLION)),
        reference=(),
        limit=0.10,
        slow=True,
    ),
    RatioRow(
        name="1,000 instances of 1,000 elements, one definition / flattened with a dictionary union-find",
        subject=(*HIERARCHY, "blocks", "1000", "1000", "1"),
        reference=(),
        limit=0.01,
    ),
    RatioRow(
        name="1,000 instances of 1,000 elements, fifty definitions / flattened with a dictionary union-find",
        subject=(*HIERARCHY, "blocks", "1000", "1000", "50"),
        reference=(),
        limit=0.05,
    ),
    RatioRow(
        name="check of 3,507 definitions placed twice whose parts nobody explains / SPLIT",
        subject=(*HIERARCHY, "definitions", "3507"),
        reference=(),
        limit=120.0,
        slow=True,
    ),
    RatioRow(
        name="check of a flat sheet of 3,507 definitions that nobody explains / SPLIT",
        subject=(*HIERARCHY, "flat-definitions", "3507"),
        reference=(),
        limit=30.0,
    ),
    RatioRow(
        name="check of one million flat elements with 20 couplers / lark on all cards and networkx on all",
        subject=(*HIERARCHY, "flat", str(MILLION), "20"),
        reference=(),
        limit=0.20,
        slow=True,
    ),
    RatioRow(
        name="check of 1,000 instances of 1,000 elements with a coupler each / the same flattened",
        subject=(*HIERARCHY, "repeated", "1000", "1000"),
        reference=(),
        limit=0.05,
        slow=True,
    ),
)

POSITION_ROWS: tuple[RatioRow, ...] = (
    RatioRow(
        name="positions of unexplained parts among 100,000 elements with 400,000 pins / SPLIT",
        subject=(sys.executable, "-m", "tests.benchmarks.positions", "100000", "400000"),
        reference=(),
        limit=20.0,
        slow=True,
    ),
)

QUICK_BOARDS = ("2 x 2 LED matrix", "five drivers on one LED", "12 rails on one LED", "40 resistors in series")

TIGHTER = {"5,000 equal couplers": 25.0, "150 sides": 25.0}
"""Boards with a limit of their own."""

BOUNDED_ROWS: tuple[RatioRow, ...] = tuple(
    RatioRow(
        name=f"{name} / import of click, lark, networkx",
        subject=(sys.executable, "-m", "tests.bounded", name),
        reference=IMPORTS,
        limit=TIGHTER.get(name, 30.0),
        slow=name not in QUICK_BOARDS,
    )
    for name in BOARDS
)
"""Boards that are small to write and large to judge."""

MANY = (sys.executable, "-m", "tests.benchmarks.many")

MANY_ROWS: tuple[RatioRow, ...] = (
    RatioRow(
        name="peak memory of a check of 500 boards / of 50",
        subject=(*MANY, "memory", FOLDER, "500", "50"),
        reference=(),
        limit=1.3,
        make=lambda folder: repository(folder, 500),
        slow=True,
        unit="MB",
    ),
    RatioRow(
        name="time of a board in a check of 50 / a check of one, cold",
        subject=(*MANY, "time", FOLDER, "50"),
        reference=(),
        limit=0.3,
        make=lambda folder: repository(folder, 50),
        slow=True,
    ),
)
"""Many boards in one run."""

ARCHIVES = (sys.executable, "-m", "tests.benchmarks.archives")

ARCHIVE_ROWS: tuple[RatioRow, ...] = (
    RatioRow("audit of 2,000 boards by two processes / by one", (*ARCHIVES, "jobs", "2000"), (), 1 / 1.7, slow=True),
    RatioRow("a board in an audit of 200 / a cold check of it", (*ARCHIVES, "long", "200"), (), 0.3, slow=True),
    RatioRow(
        "audit of 2,000 boards that have not changed / the first one", (*ARCHIVES, "warm", "2000"), (), 0.05, slow=True
    ),
    RatioRow(
        name="memory of an audit of 10,000 boards / of 1,000",
        subject=(*ARCHIVES, "memory", "10000", "1000"),
        reference=(),
        limit=1.3,
        slow=True,
        unit="MB",
    ),
)

ROWS = (*COLD, *READING_ROWS, *SIZE_ROWS, *POSITION_ROWS, *MANY_ROWS, *BOUNDED_ROWS, *ARCHIVE_ROWS)
