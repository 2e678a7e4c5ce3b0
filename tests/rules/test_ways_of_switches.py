"""Boards beside those of mains switching that differ by one card: the wrong one is told, the legal one is not."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.rules.test_mains_switching import (
    CARRIES,
    FIRES,
    coupler,
    dc,
    direct,
    heater,
    judged,
    margin,
    mosfet,
    of,
    supply,
    triac,
)

DIODE = ".model DD D\n"
MOSFET = {"voltage_max": '"60 V"', "current_max": '"1 A"'}


def kinds(report: NetlistReport, rule: str) -> set[str]:
    return {each.kind for each in report.results if each.rule == rule}


# -- resistors beside each other -----------------------------------------------------


@pytest.mark.parametrize("beside", ["R12 T1 M2 390", "R12 T1 X 195\nR13 X M2 195"])
def test_two_gate_resistors_beside_each_other_are_half_of_one(beside: str) -> None:
    part = coupler(surge_current='"1 A"')
    assert of(judged(heater("390"), supply(), part, triac()), FIRES).kind == "pass"
    found = of(judged(heater("390", f"R3 M2 N 0.01\n{beside}"), supply(), part, triac()), FIRES)
    assert (found.kind, margin(found)) == ("fail", 0.54)
    assert "R = 357.796 / 193" in found.evidence[0].formula
    dead = of(judged(heater("390", "R3 M2 N 52\nR12 T1 X 10\nC9 X Y 1n"), supply(), part, triac()), FIRES)
    assert dead.kind == "pass"


def test_two_loads_beside_each_other_take_twice_the_current_of_one() -> None:
    switch = triac(current_rms='"8 A"')
    assert of(judged(heater("390", "R3 M2 N 40"), supply(), coupler(), switch), CARRIES).kind == "pass"
    both = of(judged(heater("390", "R3 M2 N 40\nR4 M2 N 40"), supply(), coupler(), switch), CARRIES)
    assert (both.kind, margin(both)) == ("fail", 0.63)
    chains = judged(direct("R3 T1 V24 36\nR4 T1 Y 18\nR5 Y V24 18"), dc(), mosfet(**MOSFET))
    assert (of(chains, CARRIES).kind, margin(of(chains, CARRIES))) == ("fail", 0.62)


def test_a_bridge_of_resistors_is_solved_and_not_added() -> None:
    bridge = "R3 T1 Y 30\nR4 T1 Z 30\nR5 Y V24 30\nR6 Z V24 30\nR7 Y Z 5"
    found = of(judged(direct(bridge), dc(), mosfet(**MOSFET)), CARRIES)
    assert margin(found) == round(30 * 0.99 / 28.8, 2)


def test_a_diode_beside_a_load_hides_neither_its_resistance_nor_its_current() -> None:
    board = direct(f"R3 T1 V24 100\nD1 T1 V24 DD\n{DIODE}")
    found = of(judged(board, dc(), mosfet(**MOSFET)), CARRIES)
    assert (found.kind, margin(found)) == ("pass", 3.44)
