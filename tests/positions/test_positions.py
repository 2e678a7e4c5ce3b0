"""Each step of finding positions, on boards of few cards."""

from __future__ import annotations

import pytest

from isolint.positions.spoken import (
    family,
    is_reference_name,
    mains_pole,
    reference_letters,
    speaks_of_isolation,
    told_by_letters,
)
from tests.positions.finding import positions_of

LOGIC = """XU1 S1 S2 GND V5 S3 S4 S5 S6 IC1
C1 V5 GND 100n
C2 V5 GND 100n
R1 V5 S1 10k
R2 S2 GND 10k
"""
FIELD = """XU2 T1 T2 GND_FIELD V5F T3 T4 T5 T6 IC2
C3 V5F GND_FIELD 100n
C4 V5F GND_FIELD 100n
R3 V5F T1 10k
R4 T2 GND_FIELD 10k
"""
COUPLER = "XU3 A GND GND_FIELD T1 PART9\nR5 S3 A 680\n"
BOARD = f"* t\n{LOGIC}{FIELD}{COUPLER}"


def asked(text: str, settings: str = "") -> list[str]:
    return [entry.name for entry in positions_of(text, settings)[1].asked]


def test_a_part_between_two_grounds_is_asked_about_and_the_others_are_listed() -> None:
    circuit, found = positions_of(BOARD)
    (entry,) = found.asked
    assert (entry.name, [circuit.path(element) for element in entry.elements]) == ("PART9", ["XU3"])
    assert entry.guess.groups == ((0, 1), (2, 3))
    assert [found.domain(label) for label in entry.guess.domains] == ["GND", "GND_FIELD"]
    assert entry.guess.type == "phototransistor"
    assert [name for name, _ in found.listed] == ["IC1", "IC2"]
    assert (found.unexplained, found.parts) == (3, 3)


def test_the_same_part_on_one_ground_is_listed() -> None:
    assert asked(f"* t\n{LOGIC}XU3 S1 GND GND S2 PART9\n") == []


def test_all_instances_of_a_name_are_one_question_sheets_expanded() -> None:
    block = ".subckt CH A K E C\nXU3 A K E C PART9\n.ends\n* two of them\nX1 A GND GND_FIELD T1 CH\n"
    circuit, found = positions_of(f"* t\n{LOGIC}{FIELD}{block}X2 B GND GND_FIELD T3 CH\nR5 S3 A 680\nR6 S4 B 680\n")
    (entry,) = found.asked
    assert [circuit.path(element) for element in entry.elements] == ["X1.XU3", "X2.XU3"]


def test_a_short_between_the_grounds_makes_one_question_of_the_pair() -> None:
    circuit, found = positions_of(f"{BOARD}L7 GND GND_FIELD 1u\n")
    assert found.asked == ()
    (pair,) = found.pairs
    assert [circuit.path(element) for element in pair.shorts] == ["L7"]
    assert [entry.name for entry in pair.parts] == ["PART9"]


def test_a_short_between_grounds_of_one_family_is_a_star_point() -> None:
    converter = f"* t\n{LOGIC}{FIELD}XU3 S1 GND V5 S2 AGND V5F T1 T2 ADC9\nL7 GND AGND 1u\n"
    circuit, found = positions_of(converter.replace("GND_FIELD", "AGND"))
    assert (found.asked, found.pairs) == ((), ())
    assert [circuit.path(tie.element) for tie in found.stars] == ["L7"]


def test_two_stated_sides_leave_no_doubt_about_a_pair() -> None:
    sides = '[sides.logic]\nnets = ["GND"]\n[sides.field]\nnets = ["GND_FIELD"]\n'
    assert asked(f"{BOARD}L7 GND GND_FIELD 1u\n", sides) == ["PART9"]


def test_one_stated_side_with_both_grounds_leaves_nothing_to_ask() -> None:
    converter = f"* t\n{LOGIC}{FIELD}XU3 S1 GND V5 S2 GND_FIELD V5F T1 T2 ADC9\n"
    assert asked(converter) == ["ADC9"]
    found = positions_of(converter, '[sides.all]\nnets = ["GND", "GND_FIELD"]\n')[1]
    assert (found.asked, found.pairs) == ((), ())


def test_a_resistor_from_side_to_side_hides_nothing() -> None:
    assert asked(f"{BOARD}R9 S5 T5 1k\nR8 S5 V5 1k\n") == ["PART9"]


def test_letters_of_a_connector_are_never_asked_and_told_where_they_carry_two_sides() -> None:
    circuit, found = positions_of(BOARD.replace("XU3", "XJ3"))
    assert found.asked == ()
    assert [circuit.path(element) for element, _ in found.connectors] == ["XJ3"]


def test_an_unknown_part_of_two_pins_between_two_grounds_is_asked_about_and_no_short() -> None:
    _, found = positions_of(f"{BOARD}XU9 GND GND_FIELD GAP2\n")
    assert [name for name, _ in found.across] == ["GAP2"]
    assert [entry.name for entry in found.asked] == ["PART9"]


def test_what_the_settings_leave_out_of_the_simulation_joins_nothing() -> None:
    settings = '[reading]\nsimulation_only = ["L7"]\n'
    assert asked(f"{BOARD}L7 GND GND_FIELD 1u\n", settings) == ["PART9"]


def test_a_lone_line_is_no_mains_pole() -> None:
    assert not positions_of(f"{BOARD}R7 LINE S6 1k\n")[1].has_mains
    assert positions_of(f"{BOARD}R7 L S6 1k\nR8 N S6 1k\n")[1].has_mains


def test_four_pins_from_the_mains_to_one_island_are_perhaps_a_rectifier() -> None:
    text = f"* t\n{LOGIC}XU8 L N RAW GND RECT4\nC8 RAW GND 10u\nC9 RAW GND 10u\nXJ1 L N CON2\n"
    entries = [entry for entry in positions_of(text)[1].asked if entry.name == "RECT4"]
    assert [entry.guess.type for entry in entries] in ([], ["rectifier or choke"])


@pytest.mark.parametrize(
    ("name", "reference"),
    [
        ("COM_ISO", True),
        ("RTN_B", True),
        ("FGND", True),
        ("PE", False),
        ("COM_1", False),
        ("GND", True),
        ("LINE", False),
    ],
)
def test_names_of_references(name: str, reference: bool) -> None:
    assert is_reference_name(name) is reference


@pytest.mark.parametrize(
    ("name", "expected"),
    [("GND", ""), ("AGND", ""), ("GNDA", ""), ("DGND", ""), ("GND_ISO", "iso"), ("AGND_ISO", "iso"), ("GNDS", "gnds")],
)
def test_families_of_grounds(name: str, expected: str) -> None:
    assert family(name) == expected


def test_words_that_speak_of_isolation() -> None:
    assert speaks_of_isolation("GNDISO")
    assert speaks_of_isolation("COM_FIELD")
    assert not speaks_of_isolation("PGND")


def test_poles_and_letters() -> None:
    assert [mains_pole(name) for name in ("N", "AC_L", "MAINS", "LED")] == ["neutral", "line", "line", ""]
    letters = [reference_letters(*each) for each in (("XU3", "X"), ("U3", "U"), ("XRLY2", "X"), ("X1", "X"))]
    assert letters == ["u", "u", "rly", ""]
    assert told_by_letters("rly") == "relay"


def test_a_short_between_two_grounds_of_one_side_hides_no_part_that_lies_across() -> None:
    """Three reference names in turns are two sides where a resistor of 0 ohm joins two of them."""
    rows = "XU3 V5 GND S3 S4 GND N1 V5F GND_FIELD T5 T6 GND2 T7 PART9\nR9 GND_FIELD GND2 {}\n"
    turns = rows.replace("GND2 T7", "GND2 GND_FIELD")
    assert asked(f"* t\n{LOGIC}{FIELD}{turns.format(0)}") == ["PART9"]
    assert asked(f"* t\n{LOGIC}{FIELD}{turns.format('10k')}") == []


def test_a_part_with_an_leds_resistor_on_the_mains_poles_is_no_rectifier() -> None:
    mains = "* t\nV1 L N SIN(0 325 50)\nR1 L LD 47\nV2 5V GND 5\nR3 5V A1 330\nR4 K1 GND 1k\nR5 MT N 1m\n{}\n"
    (lit,) = positions_of(mains.format("XU2 A1 K1 MT LD PART9"))[1].asked
    assert lit.guess.type == "phototriac"
    (bridge,) = positions_of(mains.format("R6 K1 A1 1k\nXU2 A1 K1 MT LD PART9"))[1].asked
    assert bridge.guess.type == "rectifier or choke"


def test_a_diode_across_an_led_with_a_resistor_makes_no_transformer_of_it() -> None:
    (entry,) = positions_of(f"{BOARD}D9 GND A DX\n")[1].asked
    assert entry.guess.type == "phototransistor"


def test_a_part_straight_across_a_fed_supply_is_no_coupler_with_an_led() -> None:
    module = "* t\n{}XM1 VIN GND EN VO COM TRIM PART9\nC1 VIN GND 1u\nC2 VO COM 1u\nR1 VO COM 100\n"
    fed, lit = (
        positions_of(module.format(card))[1].asked[0].guess.type for card in ("V1 VIN GND 24\n", "R9 V VIN 1k\n")
    )
    assert fed == "isolated-supply"
    assert lit != "isolated-supply"
