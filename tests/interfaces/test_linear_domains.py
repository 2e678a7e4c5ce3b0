"""A linear coupler has two domains: LED and servo diode, and the output diode."""

from __future__ import annotations

import pytest

from tests.interfaces.finding import FoundBoard, board

RECORD = """
[parts.DEMO_LIN1]
type = "linear"
pins = ["led-", "led+", "pd1-", "pd1+", "pd2+", "pd2-"]
source = "invented for the tests"
"""
FACTS = (
    '[supplies."V5"]\nvoltage = "5 V"\nground = "GND"\n[supplies."VB"]\nvoltage = "5 V"\nground = "GNDB"\n'
    '[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GNDB"]\n'
)


def coupler(diodes: str, record: str = RECORD) -> FoundBoard:
    """The four nets of the diodes: servo cathode and anode, output anode and cathode."""
    cards = f"R1 V5 A 470\nR9 K GND 100\nXU1 K A {diodes} DEMO_LIN1\nR3 S V5 10k\nR4 P VB 10k"
    return board(cards, FACTS, record)


def joints(found: FoundBoard) -> list[str]:
    return [join.kind for join in found.interfaces.separation.joins]


def test_the_servo_diode_on_the_led_s_side_joins_nothing() -> None:
    found = coupler("S GND P GNDB")
    (part,) = found.recognition.parts.values()
    assert part.groups == (
        (0, 1, 2, 3),
        (4, 5),
    )
    assert joints(found) == []


@pytest.mark.parametrize("diodes", ["S GNDB P GND", "S GNDB P GNDB", "S GND P GND"])
def test_a_diode_on_the_wrong_side_is_a_joint(diodes: str) -> None:
    assert joints(coupler(diodes)) != []


@pytest.mark.parametrize(
    "names", ['"pd1-", "pd1+", "pd2+", "pd2-"', '"pdk1", "pda1", "pda2", "pdk2"', '"k1", "a1", "a2", "k2"']
)
def test_the_names_of_the_pins_tell_the_servo_diode(names: str) -> None:
    record = RECORD.replace('"pd1-", "pd1+", "pd2+", "pd2-"', names)
    assert joints(coupler("S GND P GNDB", record)) == []


def test_names_that_do_not_tell_leave_three_groups() -> None:
    groups = 'groups = [["led-", "led+"], ["pda", "pdb"], ["pdc", "pdd"]]\n'
    record = RECORD.replace('"pd1-", "pd1+", "pd2+", "pd2-"', '"pda", "pdb", "pdc", "pdd"') + groups
    found = coupler("S GND P GNDB", record)
    assert len(next(iter(found.recognition.parts.values())).groups) == 3
