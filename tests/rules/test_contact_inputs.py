"""A logic input that reads the contact of a relay: both levels, and no more than it stands."""

from __future__ import annotations

import pytest

from isolint.results import Result
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[supplies."V5"]
voltage = "5 V"
tolerance = "0 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "0 %"
ground = "GNDB"
[supplies."VB24"]
voltage = "24 V"
tolerance = "0 %"
ground = "GNDB"
[elements."R*"]
tolerance = "0 %"
[inputs."IN*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "0 A"
high_current = "0 A"
voltage_max = "5.5 V"
"""
PARTS = """
[parts.DEMO_K5]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_K5.coil]
resistance = "100 ohm"
voltage = "5 V"
[parts.DEMO_K5.contact]
voltage_max = "250 V"
current_max = "8 A"
current_min = "0.1 mA"
voltage_min = "0.1 V"
"""
LEVELS, STANDS = "output-level-invalid", "receiver-overvoltage"


def said(contact: str, rule: str, facts: str = "") -> list[Result]:
    cards = f"contacts\nXK1 V5 GND {contact} DEMO_K5\n"
    return [one for one in judge(cards, FACTS + facts, parts__toml=PARTS).results if one.rule == rule]


def kinds(contact: str, rule: str, facts: str = "") -> list[str]:
    return [one.kind for one in said(contact, rule, facts)]


def test_a_dry_contact_with_a_pull_up_makes_both_levels() -> None:
    contact = "GNDB IN1 DEMO_K5\nR1 VB IN1 10k\n*"
    assert kinds(contact, LEVELS) == ["pass", "pass"]
    assert kinds(contact, STANDS) == ["pass"]


def test_without_any_resistor_nothing_holds_the_input_while_the_contact_is_open() -> None:
    (result,) = said("GNDB IN1", LEVELS)
    assert result.kind == "fail"
    assert "nothing holds input IN1 while it is open" in result.message
    assert said("GNDB IN1", STANDS) == []


def test_a_pull_up_inside_the_receiver_holds_it() -> None:
    assert kinds("GNDB IN1", LEVELS, '[inputs."IN1"]\npull_up = "20 kohm"\nsupply = "VB"\n') == ["pass", "pass"]


@pytest.mark.parametrize(
    ("ohms", "level", "stands"),
    [
        pytest.param("39k", "pass", "pass", id="24 V by 10 of 49: 4.90 V"),
        pytest.param("100k", "fail", "pass", id="24 V by 10 of 110: 2.18 V"),
        pytest.param("20k", "pass", "fail", id="24 V by 10 of 30: 8.00 V"),
    ],
)
def test_24_volts_over_a_contact_are_divided_for_an_input_of_5_volts(ohms: str, level: str, stands: str) -> None:
    contact = f"VB24 X DEMO_K5\nR1 X IN1 {ohms}\nR2 IN1 GNDB 10k\n*"
    assert said(contact, LEVELS)[0].kind == level
    assert kinds(contact, STANDS) == [stands]
