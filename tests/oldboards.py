"""Old boards for the tests of adoption: each has four faults and sound channels beside them. Invented."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.conftest import REPOSITORY

FAULTS = ("led-unlimited", "transfer-margin-low", "load-missing", "led-reversed")
"""The rules that each board breaks, once each."""

_CHANNEL = """\
R{n}1 DRIVE{n} N{n}01 {limit}
XU{n} {anode} {cathode} GNDB {output} DEMO_PT1
R{n}2 VB OUT{n} {pull}
"""

INJECTED = {
    "barrier": ("ground-tie", "* nothing joins the sides", "R90 GND GNDB 0"),
    "drive": ("led-unlimited", "R51 DRIVE5 N501 470", "R51 DRIVE5 N501 0"),
    "load": ("transfer-margin-low", "R52 VB OUT5 10k", "R52 VB OUT5 1k"),
    "mains switching": ("dc-load-latches", "R82 VLB TRI8 1k", "R82 V24B TRI8 1k"),
    "time, heat": ("coupler-overheated", "R72 V24B LIN7 10k", "R72 V24B LIN7 1k"),
    "reading": ("netlist-malformed", "* every card is whole", "R91 GND"),
}
"""One new fault for each group of rules: the rule, a line of the board, the line in its place."""


def _channel(n: int, limit: str = "470", pull: str = "10k", turned: bool = False, output: str = "") -> str:
    ends = ("GND", f"N{n}01") if turned else (f"N{n}01", "GND")
    return _CHANNEL.format(n=n, limit=limit, anode=ends[0], cathode=ends[1], output=output or f"OUT{n}", pull=pull)


def board(title: str) -> str:
    """The text of one board."""
    return (
        f"* {title}, invented\n.include ../lib/models.lib\n"
        + _channel(1, limit="0")
        + _channel(2, pull="1k")
        + _channel(3, output="N302")
        + _channel(4, turned=True)
        + _channel(5)
        + _channel(6)
        + "R71 DRIVE7 N701 470\nXU7 N701 GND N702 LIN7 GNDB DEMO_PB1\nR72 V24B LIN7 10k\n"
        + "R81 DRIVE8 N801 390\nXU8 N801 GND TRI8 GNDB DEMO_TR1\nR82 VLB TRI8 1k\n"
        + "* nothing joins the sides\n* every card is whole\n"
    )


def make(folder: Path, count: int) -> list[str]:
    """Write `count` boards with a library, settings and part records they share; give their paths below `folder`."""
    shared = REPOSITORY / "fixtures/rules"
    facts = (shared / "isolint.toml").read_text(encoding="utf-8").replace("top = true\n", "")
    (folder / "isolint.toml").write_text(f'{facts}\n[signals."LIN*"]\nuse = "linear"\n', encoding="utf-8")
    shutil.copytree(shared / "parts", folder / "parts")
    (folder / "lib").mkdir()
    (folder / "lib/models.lib").write_text(".model QSW NPN(IS=2e-14 BF=250)\n", encoding="utf-8")
    names = [f"board {n:02}/main.cir" for n in range(1, count + 1)]
    for name in names:
        (folder / name).parent.mkdir()
        (folder / name).write_text(board(name.partition("/")[0]), encoding="utf-8")
    return names
