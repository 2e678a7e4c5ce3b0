"""A stated field line belongs to the side of the LED that it drives: the stray element is blamed, not its resistor."""

from __future__ import annotations

import pytest

from tests.interfaces.boards import joins_of, path_of

LINES = '[lines."IN_*"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]\n'
FACTS = LINES + (
    '[supplies.V5]\nvoltage = "5 V"\nground = "GND"\n'
    '[inputs."DI_*"]\nsupply = "V5"\nlow_max = "0.8 V"\nhigh_min = "2 V"\n'
    '[sides.field]\nnets = ["GNDF"]\n[sides.logic]\nnets = ["GND"]\n'
)
INPUT = "R1 IN_1 A 2k2\nXU1 A GNDF DI_1 GND DEMO_PT\nR2 V5 DI_1 10k\n.model DX D\n"
RETURN = "XU1 IN_1 K DI_1 GND DEMO_PT\nR1 K GNDF 2k2\nR2 V5 DI_1 10k\n.model DX D\n"
FUSED = "R0 IN_1 IN_1F 100\n" + INPUT.replace("R1 IN_1", "R1 IN_1F")
SECOND = "R3 IN_2 A2 2k2\nXU2 A2 GNDF DI_2 GND DEMO_PT\nR4 V5 DI_2 10k\n"


@pytest.mark.parametrize("board", [INPUT, RETURN, FUSED, INPUT + "D8 GNDF A DX\n"])
@pytest.mark.parametrize("card", ["D9 IN_1 DI_1 DX", "D9 DI_1 IN_1 DX", "R9 IN_1 DI_1 1k", "R9 IN_1 GND 0"])
def test_a_stray_between_a_line_and_the_logic_is_blamed(board: str, card: str) -> None:
    assert joins_of(board, FACTS) == []
    assert joins_of(board + card + "\n", FACTS) == [f"joined-nets field | logic: {card.split()[0]}"]


def test_a_stray_between_a_line_and_the_logic_supply_is_one_shared_supply() -> None:
    assert joins_of(INPUT + "R9 IN_1 V5 1k\n", FACTS) == ["joined-supplies field | logic: R9"]


def test_the_path_leads_over_the_led_of_the_line() -> None:
    assert path_of(INPUT + "D9 IN_1 DI_1 DX\n", FACTS) == "GNDF XU1 A R1 IN_1 D9 DI_1 XU1 GND"


def test_two_strays_from_two_lines_are_one_result_that_names_both() -> None:
    strays = "D9 IN_1 DI_1 DX\nD8 IN_2 DI_2 DX\n"
    assert joins_of(INPUT + SECOND + strays, FACTS) == ["joined-nets field | logic: D9,D8"]


def test_a_line_needs_no_stated_sides_to_belong_to_its_led() -> None:
    facts = FACTS.partition("[sides.field]")[0]
    assert joins_of(INPUT + "D9 IN_1 DI_1 DX\n", facts) == ["joined-nets GND | GNDF: D9"]


DRIVEN = (
    '[outputs."DO_*"]\nsupply = "V5"\nhigh = { min = "4 V", at = "4 mA" }\nlow = { max = "0.4 V", at = "4 mA" }\n'
    + FACTS
)


def test_a_stray_from_a_line_to_an_led_that_an_output_drives_is_blamed() -> None:
    other = "R5 DO_1 B 470\nXU3 B GND OUTF GNDF DEMO_PT\n"
    assert joins_of(INPUT + other, DRIVEN) == []
    assert joins_of(INPUT + other + "R9 IN_1 B 1k\n", DRIVEN) == ["joined-nets field | logic: R9"]


@pytest.mark.parametrize("card", ["R9 K GND 0", "D9 K GND DX", "D9 GND K DX", "L9 GND K 1u"])
def test_a_stray_from_a_cathode_to_the_ground_of_its_output_is_blamed(card: str) -> None:
    assert joins_of(RETURN + card + "\n", FACTS) == [f"joined-nets field | logic: {card.split()[0]}"]


def test_a_line_that_drives_leds_of_both_sides_belongs_to_neither() -> None:
    wrong = INPUT + "R5 IN_1 A3 2k2\nXU3 A3 GND OUTF GNDF DEMO_PT\n"
    (text,) = joins_of(wrong, FACTS)
    assert text.startswith("joined-nets field | logic: ")


@pytest.mark.parametrize("pull_up", ["", "R4 V5 IN_1 10k\n"])
def test_an_output_wired_to_a_line_that_drives_an_led_is_the_stray(pull_up: str) -> None:
    stray = f"R3 IN_2 A2 2k2\nXU2 A2 GNDF IN_1 GND DEMO_PT\n{pull_up}"
    (text,) = joins_of(INPUT + stray, FACTS)
    assert "XU2" in text
    assert "R1" not in text


def test_an_output_line_that_is_read_back_lies_where_its_coupler_does() -> None:
    output = "R5 DO_1 B 470\nXU3 B GND IN_3 GNDF DEMO_PT\nR6 V24F IN_3 10k\n"
    back = "R7 IN_3 C 2k2\nXU4 C GNDF DI_3 GND DEMO_PT\nR8 V5 DI_3 10k\n"
    supply = DRIVEN + '[supplies.V24F]\nvoltage = "24 V"\nground = "GNDF"\n'
    assert joins_of(output + back, supply) == []
    assert joins_of(output + back + "R9 IN_3 DI_3 1k\n", supply) == ["joined-nets field | logic: R9"]
