"""Barriers may name a side as reports print it: by its reference net, where nobody stated the side."""

from __future__ import annotations

import pytest

from isolint.errors import SettingsError
from tests.support import judge, only

NETLIST = """* Two sides (demonstration)
V1 V5 GND 5
R1 V5 A 330
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 10k
V2 VB GNDB 5
"""
TIED = f"{NETLIST}R9 GND GNDB 0\n"


def _barrier(one: str, other: str) -> str:
    return f'[[barriers]]\nbetween = ["{one}", "{other}"]\ninsulation = "basic"\n'


def test_a_barrier_takes_the_names_that_reports_print() -> None:
    printed = [side.name for side in judge(NETLIST).sides]
    report = judge(NETLIST, _barrier(*printed))
    assert only(report, "ground-tie").kind == "pass"
    assert [barrier.sides for barrier in report.barriers] == [tuple(printed)]
    tie = only(judge(TIED, _barrier(*printed)), "ground-tie")
    assert (tie.kind, tie.level, tie.subject) == ("fail", "error", "GND | GNDB")


def test_a_stated_side_may_stand_beside_one_that_is_named_by_its_ground() -> None:
    stated = '[sides.logic]\nnets = ["GND"]\n'
    assert only(judge(NETLIST, stated + _barrier("logic", "GNDB")), "ground-tie").kind == "pass"
    assert only(judge(TIED, stated + _barrier("logic", "GNDB")), "ground-tie").kind == "fail"


def test_a_side_that_is_not_there_is_no_pass() -> None:
    results = judge(NETLIST, _barrier("GND", "ELSEWHERE")).results
    (found,) = [result for result in results if result.kind == "open" and result.rule == "ground-tie"]
    assert "no net of side ELSEWHERE is in this netlist" in found.message


@pytest.mark.parametrize("name", ["logik", "GN*"])
def test_what_is_almost_a_stated_side_or_a_pattern_is_a_mistake(name: str) -> None:
    stated = '[sides.logic]\nnets = ["GND"]\n'
    with pytest.raises(SettingsError, match="there is no side"):
        judge(NETLIST, stated + _barrier(name, "GNDB"))
