"""Each value that a cure prints is put on the card: the failure is gone, and the channel fails in nothing new."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

import pytest

from isolint import app
from isolint.interfaces.entities import Channel
from isolint.results import NetlistReport, Result
from isolint.source import MemoryTree
from isolint.worstcase.load import Load, LoadAnalyser
from tests.rules.test_pages import examples, of_example
from tests.support import BOARD, FIXTURES, TODAY, judge_briefly, judge_example, judge_fixture, of_netlist

VALUE = r"(?P<path>[\w.*]+) \((?P<file>[^():\s]+):(?P<line>\d+)\): (?:fit a series resistor, )?(?P<number>[\d.]+) "
VALUE += r"(?P<unit>[munpkMG]?)ohm or (?:more|less)"
TEXTS = (".cir", ".net", ".sp", ".ckt", ".lib", ".toml", ".inc", ".sub")


class CureBoard(NamedTuple):
    """The files of a board, and which of them is its netlist."""

    files: Mapping[str, str]
    netlist: str


def _folder(root: Path) -> dict[str, str]:
    return {
        path.relative_to(root).as_posix(): path.read_text(encoding="utf-8")
        for path in sorted(root.rglob("*"))
        if path.suffix in TEXTS
    }


HELD = _folder(FIXTURES)
FAILING = [
    FIXTURES / name
    for name, text in HELD.items()
    if name.endswith((".cir", ".net", ".sp")) and "* expect" in text and "expect: none" not in text
]
"""All netlists of fixtures with something that fails."""


def _judged(board: CureBoard) -> NetlistReport:
    return app.check_in(MemoryTree(dict(board.files)), board.netlist, "", TODAY)[0]


def _changed(board: CureBoard, cure: re.Match[str]) -> CureBoard:
    """The board with the card's value replaced, in a block in all of its instances."""
    file = posixpath.join(posixpath.dirname(board.netlist), cure["file"])
    lines = board.files[file].split("\n")
    at = int(cure["line"]) - 1
    words = lines[at].split()
    assert words[0].casefold() == cure["path"].rpartition(".")[2].casefold()
    scale = cure["unit"].replace("M", "meg")
    words[3] = f"{cure['number']}{scale}"
    lines[at] = " ".join(words)
    return board._replace(files={**board.files, file: "\n".join(lines)})


def _failing(report: NetlistReport, channel: tuple[str, str]) -> set[tuple[str, str]]:
    return {
        (result.rule, result.role)
        for result in report.results
        if result.kind == "fail" and (result.part, result.channel) == channel
    }


def _without_the_fault(board: CureBoard, report: NetlistReport, result: Result, cure: re.Match[str]) -> list[str]:
    """What is wrong with a cure, for the failure that it is printed for and the channel's others."""
    other = _changed(board, cure)
    channel = (result.part, result.channel)
    before, after = _failing(report, channel), _failing(judge_briefly(other.files, other.netlist), channel)
    found = [f"{rule} ({role}) fails now" for rule, role in sorted(after - before)]
    if (result.rule, result.role) in after:
        found.append("the failure is still there")
    return [f"{result.rule} {channel}: {cure[0]}: {problem}" for problem in found]


def _wrong_cures(board: CureBoard, report: NetlistReport) -> list[str]:
    failures = [result for result in report.results if result.kind == "fail"]
    cures = [(result, cure) for result in failures for cure in re.finditer(VALUE, result.remedy)]
    return [problem for result, cure in cures for problem in _without_the_fault(board, report, result, cure)]


@pytest.mark.parametrize("path", [*map(of_netlist, FAILING)])
def test_a_printed_value_cures_its_failure_and_brings_no_other(path: Path) -> None:
    board = CureBoard(HELD, path.relative_to(FIXTURES).as_posix())
    assert _wrong_cures(board, judge_fixture(path)) == []


@pytest.mark.parametrize(
    ("slug", "section", "netlist", "settings"), [of_example(each) for each in examples() if each[1] == "Fails"]
)
def test_a_value_that_a_page_prints_cures_its_failure(slug: str, section: str, netlist: str, settings: str) -> None:
    board = CureBoard({BOARD: netlist, "isolint.toml": f"top = true\n{settings}"}, BOARD)
    assert _wrong_cures(board, judge_example(netlist, settings)) == []


WINDOW = """* An LED from field wiring (demonstration)
R1 IN A 240
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT {}
"""


def _said(netlist: str) -> str:
    files = {**_folder(FIXTURES / "rules"), BOARD: netlist}
    (found,) = [r for r in _judged(CureBoard(files, BOARD)).results if r.kind == "fail" and r.rule == "led-overdriven"]
    return found.remedy


def test_a_value_that_harms_something_else_is_not_printed_where_a_larger_one_harms_nothing() -> None:
    # 620 ohm spare the LED and need 3 W of a resistor for 2 W.
    said = _said(WINDOW.format("10k"))
    assert said == "R1 (board.cir:2): 910 ohm or more"
    assert re.fullmatch(VALUE, said)


def test_where_no_value_satisfies_all_both_ends_are_said_and_what_makes_room() -> None:
    assert _said(WINDOW.format("360")) == (
        "no value of R1 (board.cir:2) satisfies all: at least 620 ohm for this, at most 560 ohm for "
        "transfer-margin-low; a part with a higher minimum ratio, or a larger load resistor, would make room"
    )


def test_a_search_solves_the_load_a_few_times_only(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Channel] = []
    analyse = LoadAnalyser.analyse

    def counted(analyser: LoadAnalyser, channel: Channel) -> Load:
        asked.append(channel)
        return analyse(analyser, channel)

    monkeypatch.setattr(LoadAnalyser, "analyse", counted)
    _judged(CureBoard(HELD, "rules/transfer-margin-low/base-shunted.cir"))
    assert 0 < len(asked) <= 8
