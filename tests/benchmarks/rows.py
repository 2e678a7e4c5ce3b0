"""What is measured: each row is a command, the command it is compared with, and the limit of the ratio."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.conftest import REPOSITORY

BOARD = "fixtures/boards/sluice-gate/sound/board.cir"
FOLDER = "{folder}"
"""Stands in a command for the folder that the row's `make` filled."""

IMPORTS = (sys.executable, "-c", "import click, lark, networkx")
CHANNELS = 4
ELEMENTS = 200


@dataclass(frozen=True, slots=True)
class Row:
    """One ratio: wall time of `subject` over that of `reference`, both run cold, at most `limit`."""

    name: str
    subject: tuple[str, ...]
    reference: tuple[str, ...]
    limit: float
    make: Callable[[Path], None] | None = None


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


HOOK = (sys.executable, "-m", "isolint", "check", "--changed", "--", f"{FOLDER}/board000/main.cir")

ROWS = (
    Row(
        name="nominal and all corners of one channel with one switching input / python -c pass, fifty times each",
        subject=(sys.executable, "-m", "tests.benchmarks.channel", "analyse", "50"),
        reference=(sys.executable, "-m", "tests.benchmarks.channel", "passes", "50"),
        limit=1.0,
    ),
    Row(
        name="cold check of the sound board / import of click, lark, networkx",
        subject=(sys.executable, "-m", "isolint", "check", BOARD),
        reference=IMPORTS,
        limit=0.8,
    ),
    Row(
        name="hook on one changed sound board of 200 elements / import of click, lark, networkx",
        subject=HOOK,
        reference=IMPORTS,
        limit=1.0,
        make=lambda folder: repository(folder, 1),
    ),
    Row(
        name="hook on one change among 500 sound boards / import of click, lark, networkx",
        subject=HOOK,
        reference=IMPORTS,
        limit=2.0,
        make=lambda folder: repository(folder, 500),
    ),
)
