"""What joins two sides: one result a fault, its rule, path and cut; each failing board differs by one card."""

from __future__ import annotations

import subprocess
import sys

import pytest

from isolint.interfaces.sides import dump
from tests.conftest import REPOSITORY, environment
from tests.interfaces.boards import (
    BARRIER,
    BOARD,
    SIDES,
    bleeder,
    joins_of,
    nets_of,
    path_of,
    sides_of,
)

FUNCTIONAL = BARRIER + 'insulation = "functional"\n'
SUPPLIES = '[supplies.V24F]\nvoltage = "24 V"\nground = "GNDF"\n[supplies.V3V3]\nvoltage = "3.3 V"\nground = "GND"\n'
WITHOUT_SOURCES = "\n".join(line for line in BOARD.splitlines() if not line.startswith("V"))


def swapped(old: str, new: str, board: str = BOARD) -> str:
    """The board with one card changed."""
    assert board.count(old) == 1
    return board.replace(old, new)


# -- joined-grounds ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("facts", ["", SIDES, SIDES + BARRIER])
@pytest.mark.parametrize(
    "card", ["R9 GND GNDF 0", "R9 GND GNDF 9.9", "L9 GND GNDF 1u", "V9 GND GNDF 0", "R9 GNDF GND 1m"]
)
def test_two_references_joined_below_10_ohm_are_a_ground_tie(card: str, facts: str) -> None:
    names = "field | logic" if facts else "GND | GNDF"
    assert joins_of(BOARD + card + "\n", facts) == [f"joined-grounds {names}: {card.split()[0]}"]


@pytest.mark.parametrize(
    "card", ["R9 GND GNDF 10", "R9 GND GNDF 4k7", "D9 GND GNDF DX", "V9 GND GNDF 5", "I9 GND GNDF 1m"]
)
def test_two_references_joined_by_anything_else_are_bridged(card: str) -> None:
    expected = [f"joined-nets field | logic: {card.split()[0]}"]
    assert joins_of(BOARD + card + "\n.model DX D\n", SIDES) == expected


def test_the_path_goes_from_reference_to_reference() -> None:
    assert path_of(BOARD + "L9 GND m 1u\nR9 m GNDF 0\n", SIDES) == "GNDF R9 m L9 GND"


def test_the_path_with_the_least_resistance_tells_the_tie() -> None:
    both = BOARD + "R9 GND GNDF 4k7\nL8 GND m1 1u\nL9 m1 GNDF 1u\n"
    _, separation = sides_of(both, SIDES)
    (join,) = separation.joins
    assert join.kind == "joined-grounds"
    assert path_of(both, SIDES) == "GNDF L9 m1 L8 GND"
    assert join.resistance == 0.0


def test_a_tie_names_stated_sides_or_the_pins_that_face_each_other() -> None:
    tied = BOARD + "R9 GND GNDF 0\n"
    assert [join.subject for join in sides_of(tied, SIDES)[1].joins] == ["field | logic"]
    assert [join.subject for join in sides_of(tied)[1].joins] == ["XU1.anode+cathode | XU1.collector+emitter"]


def test_all_couplers_concerned_are_named() -> None:
    (join,) = sides_of(BOARD + "R9 GND GNDF 0\n", SIDES)[1].joins
    assert join.couplers == ("XU1", "XU2")


def test_an_emitter_on_the_wrong_ground_is_one_tie_through_that_part() -> None:
    wrong = swapped("DI1 GND DEMO_PT", "DI1 GNDF DEMO_PT")
    for facts in ("", SIDES, SIDES + BARRIER):
        circuit, separation = sides_of(wrong, facts)
        (join,) = separation.joins
        assert (join.kind, join.level, join.subject) == ("joined-grounds", "error", "XU1")
        assert circuit.net_name(join.shared_net) == "GNDF"
        assert [circuit.path(element) for element in join.cut] == ["XU1"]


def test_the_sides_are_shown_apart_where_a_part_ties_them() -> None:
    circuit, separation = sides_of(swapped("DI1 GND DEMO_PT", "DI1 GNDF DEMO_PT"), SIDES)
    assert dump(separation, circuit).splitlines()[:3] == [
        "(side field reference=GNDF supplies=V24F elements=7: A1 B1 C1 GNDF IN_1 RLYB V24F)",
        "(side logic reference=GND supplies=V3V3 elements=5: A2 DI1 DO1 GND V3V3)",
        "(barrier field | logic: XU1 XU2)",
    ]


def test_an_output_on_the_ground_of_its_led_is_a_tie() -> None:
    assert joins_of(swapped("RLYB GNDF DEMO_PT", "RLYB GND DEMO_PT"), SIDES) == [
        "joined-grounds XU2.anode+cathode | XU2.collector+emitter: XU2"
    ]


def test_a_board_with_one_ground_only_is_one_result() -> None:
    (join,) = sides_of(BOARD.replace("GNDF", "GND"))[1].joins
    assert (join.kind, join.subject, join.couplers) == ("joined-grounds", "XU1, XU2", ("XU1", "XU2"))


def test_a_resistor_to_the_wrong_ground_is_blamed_and_not_the_part() -> None:
    wrong = swapped("DI1 GND DEMO_PT", "DI1 E1 DEMO_PT") + "RE E1 GNDF 100\n"
    assert joins_of(wrong, SIDES) == ["joined-nets field | logic: RE"]
    assert joins_of(wrong.replace("E1 GNDF 100", "E1 GND 100"), SIDES) == []


def test_a_net_named_by_two_sides_is_a_tie_of_the_sides() -> None:
    facts = SIDES.replace('["GNDF"]', '["GNDF", "GND"]')
    circuit, separation = sides_of(BOARD, facts)
    (join,) = separation.joins
    assert (join.kind, join.sides, circuit.net_name(join.shared_net)) == ("joined-grounds", ("field", "logic"), "GND")


# -- joined-supplies -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("facts", ["", SIDES, SIDES + SUPPLIES])
def test_a_pull_up_on_the_wrong_supply_is_one_shared_supply(facts: str) -> None:
    names = "field | logic" if facts else "GND | GNDF"
    assert joins_of(swapped("R2 DI1 V3V3", "R2 DI1 V24F"), facts) == [f"joined-supplies {names}: R2"]


def test_an_led_resistor_on_the_wrong_supply_is_one_shared_supply() -> None:
    assert joins_of(swapped("R3 DO1 A2", "R3 V24F A2"), SIDES) == ["joined-supplies field | logic: R3"]


def test_supplies_tied_to_each_other_are_shared() -> None:
    for card in ("R9 V3V3 V24F 0", "L9 V3V3 V24F 1u", "D9 V24F V3V3 DX"):
        expected = [f"joined-supplies field | logic: {card.split()[0]}"]
        assert joins_of(BOARD + card + "\n.model DX D\n", SIDES) == expected


def test_stated_supplies_without_cards_are_shared_just_so() -> None:
    wrong = swapped("R2 DI1 V3V3", "R2 DI1 V24F", WITHOUT_SOURCES)
    assert joins_of(wrong, SIDES + SUPPLIES) == ["joined-supplies field | logic: R2"]
    assert path_of(wrong, SIDES + SUPPLIES) == "GNDF = V24F R2 DI1 XMCU GND"


LOGIC = """
V1 V24F GNDF 24
V2 V3V3 GND 3.3
R1 TXD A1 470
XU1 A1 GND V24F OUTF GNDF DEMO_LO
R2 OUTF V24F 1k
R3 FIELD B1 470
XU2 B1 GNDF V3V3 RXD GND DEMO_LO
R4 RXD V3V3 1k
"""


@pytest.mark.parametrize("facts", ["", SIDES])
def test_vdd2_on_the_wrong_side_is_one_shared_supply(facts: str) -> None:
    names = "field | logic" if facts else "GND | GNDF"
    assert joins_of(LOGIC, facts) == []
    assert joins_of(LOGIC.replace("V24F OUTF GNDF", "V3V3 OUTF GNDF"), facts) == [f"joined-supplies {names}: XU1"]


def test_gnd2_on_the_wrong_side_is_one_tie() -> None:
    wrong = LOGIC.replace("V24F OUTF GNDF", "V24F OUTF GND")
    assert joins_of(wrong, SIDES) == ["joined-grounds XU1.anode+cathode | XU1.supply+output+ground: XU1"]


def test_an_output_pin_on_the_wrong_side_is_one_bridge() -> None:
    wrong = LOGIC.replace("V24F OUTF GNDF", "V24F RXD GNDF")
    assert joins_of(wrong, SIDES) == ["joined-nets field | logic: XU1"]


# -- joined-nets ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("card", ["R9 A1 DI1 4k7", "R9 A1 DO1 4k7", "D9 DI1 A1 DX", "R9 RLYB DI1 0", "L9 IN_1 DO1 1m"])
def test_a_stray_element_between_signals_is_the_bridge(card: str) -> None:
    expected = [f"joined-nets field | logic: {card.split()[0]}"]
    assert joins_of(BOARD + card + "\n.model DX D\n", SIDES) == expected


def test_the_path_of_a_stray_resistor_is_told_element_by_element() -> None:
    assert path_of(BOARD + "R9 A1 DI1 4k7\n", SIDES) == "GNDF XU1 A1 R9 DI1 XMCU GND"
    (join,) = sides_of(BOARD + "R9 A1 DI1 4k7\n", SIDES)[1].joins
    assert (join.subject, join.resistance) == ("R9", 4700.0)


def test_a_collector_on_a_net_of_the_other_side_is_one_bridge_at_that_part() -> None:
    assert joins_of(swapped("GNDF DI1 GND", "GNDF RLYB GND"), SIDES) == ["joined-nets field | logic: XU1"]
    assert joins_of(swapped("GNDF DI1 GND", "GNDF A1 GND"), SIDES) == ["joined-nets field | logic: XU1"]


def test_several_elements_that_join_two_sides_are_one_result() -> None:
    both = BOARD + "R9 GND GNDF 0\nR10 A1 DI1 4k7\n"
    assert joins_of(both, SIDES) == ["joined-grounds field | logic: R9,R10"]
    assert joins_of(both.replace("R9 GND GNDF 0\n", ""), SIDES) == ["joined-nets field | logic: R10"]


def test_a_chain_with_one_element_shorted_is_a_tie() -> None:
    chain = bleeder("GND", "GNDF", 3, "600k")
    assert joins_of(BOARD + chain, SIDES) == []
    assert joins_of(BOARD + chain + "R9 bleed1 GNDF 0\n", SIDES) == ["joined-nets field | logic: RB0"]


def test_a_bleeder_beside_the_fault_is_no_part_of_it() -> None:
    circuit, separation = sides_of(BOARD + bleeder("GND", "GNDF") + "R9 GND GNDF 0\n", SIDES)
    (join,) = separation.joins
    assert [circuit.path(element) for element in join.cut] == ["R9"]
    assert [round(bridge.value or 0) for bridge in separation.bridges] == [4_700_000]


def test_a_tie_beside_high_resistances_that_are_one_together_is_one_result() -> None:
    many = "".join(f"R8{number} GND GNDF 4.7meg\n" for number in range(10))
    (text,) = joins_of(BOARD + many + "R9 GND GNDF 0\n", SIDES)
    assert text.startswith("joined-grounds field | logic: R9,")


def test_field_inputs_without_a_reference_are_named_after_their_pins() -> None:
    inputs = (
        "R1 IN_1 A1 2k2\nXU1 A1 RET DI1 GND DEMO_PT\nR2 DI1 V3V3 10k\n"
        "R3 IN_2 A2 2k2\nXU2 A2 RET DI2 GND DEMO_PT\nR4 DI2 V3V3 10k\nV1 V3V3 GND 3.3\n"
    )
    names = "GND | XU1.anode+cathode"
    assert joins_of(inputs) == []
    assert joins_of(inputs + "R9 RET GND 0\n") == [f"joined-nets {names}: R9"]
    # A bleeder leads to no reference.
    assert joins_of(inputs + bleeder("RET", "GND") + "R9 RET GND 0\n") == [f"joined-nets {names}: R9"]
    assert joins_of(inputs + "R9 A2 DI1 1k\n") == [f"joined-nets {names}: R9"]
    assert joins_of(inputs.replace("A1 RET", "A1 GND").replace("A2 RET", "A2 GND")) == [
        "joined-grounds XU1.anode+cathode | XU1.collector+emitter: XU1,XU2"
    ]


# -- several sides, several grounds --------------------------------------------------------------------------------

THREE = """
V1 V24F GNDF 24
V2 V3V3 GND 3.3
XU1 A1 GNDF DI1 GND DEMO_PT
R1 V24F A1 2k2
R2 DI1 V3V3 10k
XU2 A2 GND DL GNDL DEMO_PT
R3 V3V3 A2 1k
R4 DL V5L 1k
XIS V24F GNDF V5L GNDL DEMO_IS
"""


def test_ties_between_different_sides_are_different_results() -> None:
    assert joins_of(THREE) == []
    assert joins_of(THREE + "R90 GND GNDF 0\nR91 GND GNDL 0\n") == [
        "joined-grounds GND | GNDF: R90",
        "joined-grounds GND | GNDL: R91",
    ]
    assert joins_of(THREE + "R90 GND GNDF 0\nR91 DI1 DL 4k7\nR92 GNDF GNDL 0\n") == [
        "joined-grounds GND | GNDF: R90",
        "joined-nets GND | GNDL: R91",
        "joined-grounds GNDF | GNDL: R92",
    ]


def test_sides_joined_through_a_third_one_are_no_result_of_their_own_but_are_named() -> None:
    joins = sides_of(THREE + "R90 GND GNDF 0\nR91 GND GNDL 0\n")[1].joins
    assert {coupler for join in joins for coupler in join.couplers} == {"XU1", "XU2", "XIS"}


TWO_GROUNDS = (
    BOARD.replace("XU1 A1 GNDF DI1 GND", "XU1 A1 GNDF DI1 AGND").replace("XMCU V3V3 GND", "XMCU V3V3 AGND")
    + "LFB AGND GND 1u\nRX AGND AIN 1k\nRY AIN V3V3 1k\n"
)


def test_a_ferrite_between_two_grounds_of_one_side_is_no_tie() -> None:
    assert joins_of(TWO_GROUNDS) == []
    assert joins_of(TWO_GROUNDS, SIDES.replace('["GND"]', '["GND", "AGND"]')) == []


def test_a_tie_to_one_of_two_grounds_of_a_side_is_one_result() -> None:
    assert joins_of(TWO_GROUNDS + "R9 GND GNDF 0\n") == ["joined-grounds GND | GNDF: R9"]
    assert joins_of(TWO_GROUNDS + "R9 AGND GNDF 0\n") == ["joined-grounds AGND | GNDF: R9"]
    assert joins_of(TWO_GROUNDS + "R9 AIN A1 1k\n") == ["joined-nets AGND | GNDF: R9"]


def test_an_ammeter_inside_one_side_is_no_tie() -> None:
    netlist = BOARD.replace("R6 C1 V24F", "VAM V24F VM 0\nR6 C1 VM")
    assert joins_of(netlist, SIDES) == []


STAR = BOARD + "R90 GND PE 0\nR91 GNDF PE 0\n"
EARTH = SIDES + '[sides.earth]\nnets = ["PE"]\nkind = "earth"\n'
BOND = '[[bonds]]\nbetween = ["{}", "earth"]\n'


def test_a_star_point_of_stated_bonds_is_no_join() -> None:
    assert joins_of(STAR, EARTH + BOND.format("logic") + BOND.format("field")) == []


def test_a_third_side_joined_through_a_bond_counts() -> None:
    assert joins_of(STAR, EARTH + BOND.format("logic")) == ["joined-grounds earth | field: R91"]
    assert joins_of(STAR, EARTH) == ["joined-grounds earth | field: R91", "joined-grounds earth | logic: R90"]


def test_bonds_do_not_excuse_what_a_stated_barrier_forbids() -> None:
    facts = EARTH + BOND.format("logic") + BOND.format("field") + BARRIER
    assert joins_of(STAR, facts) == ["joined-grounds earth | field: R91"]


def test_stated_sides_are_kept_apart_without_a_coupler_between() -> None:
    netlist = "V1 VA GNDA 5\nV2 VB GNDB 5\nR1 VA GNDA 1k\nR2 VB GNDB 1k\n"
    facts = '[sides.a]\nnets = ["GNDA"]\n[sides.b]\nnets = ["GNDB"]\n'
    assert joins_of(netlist, facts) == []
    assert joins_of(netlist + "R9 GNDA GNDB 0\n", facts) == ["joined-grounds a | b: R9"]
    assert joins_of(netlist + "R9 GNDA GNDB 0\n") == []


# -- levels --------------------------------------------------------------------------------------------------------


def test_a_tie_on_a_functional_barrier_is_a_note() -> None:
    assert joins_of(BOARD + "R9 GND GNDF 0\n", SIDES + FUNCTIONAL) == ["joined-grounds note field | logic: R9"]
    assert joins_of(BOARD + "R9 GND GNDF 0\n", SIDES + FUNCTIONAL.replace("functional", "basic")) == [
        "joined-grounds field | logic: R9"
    ]


def test_a_shared_ground_where_only_a_functional_barrier_is_stated_is_a_note() -> None:
    wrong = swapped("DI1 GND DEMO_PT", "DI1 GNDF DEMO_PT")
    assert [join.level for join in sides_of(wrong, SIDES + FUNCTIONAL)[1].joins] == ["note"]


# -- node 0 --------------------------------------------------------------------------------------------------------

SHEET = BOARD.replace("GNDF", "0").replace("GND", "0")


def test_sides_that_meet_only_in_node_0_are_one_warning_for_the_netlist() -> None:
    circuit, separation = sides_of(SHEET)
    (join,) = separation.joins
    assert (join.kind, join.level, join.node_0_only) == ("joined-grounds", "warning", True)
    assert join.couplers == ("XU1", "XU2")
    assert (join.subject, circuit.net_name(join.shared_net)) == ("node 0", "0")
    assert len(separation.barriers) == 2


def test_node_0_between_stated_sides_is_one_error() -> None:
    stated = SIDES.replace("GNDF", "V24F").replace("GND", "V3V3")
    for facts in (stated, stated + BARRIER):
        (join,) = sides_of(SHEET, facts)[1].joins
        assert (join.kind, join.level, join.node_0_only, join.subject) == (
            "joined-grounds",
            "error",
            False,
            "field | logic",
        )


def test_another_tie_in_a_sheet_with_node_0_is_an_error_beside_the_warning() -> None:
    levels = {(join.kind, join.level) for join in sides_of(SHEET + "R9 A1 DI1 4k7\n")[1].joins}
    assert ("joined-grounds", "error") in levels


def test_node_0_tied_to_a_ground_with_another_name_is_a_tie_like_any_other() -> None:
    one = BOARD.replace("GNDF", "0")
    assert joins_of(one) == []
    assert joins_of(one + "VTIE GND 0 0\n") == ["joined-grounds 0 | GND: VTIE"]


def test_two_grounds_that_meet_only_in_node_0_are_a_warning_until_sides_are_stated() -> None:
    netlist = BOARD + "VT1 GND 0 0\nRT2 GNDF 0 1m\n"
    (join,) = sides_of(netlist)[1].joins
    assert (join.level, join.node_0_only) == ("warning", True)
    assert joins_of(netlist, SIDES) == ["joined-grounds field | logic: RT2"]


# -- parts that nobody explained -----------------------------------------------------------------------------------


def test_a_black_box_across_is_open_until_it_is_called_ordinary() -> None:
    for pins in ("GND GNDF V24F FOO", "DI1 A1 FOO", "V3V3 RLYB"):
        unknown = BOARD + f"XA {pins} DEMO_WHAT\n"
        assert joins_of(unknown, SIDES) == ["joined-nets open field | logic: XA"]
        assert joins_of(unknown.replace("DEMO_WHAT", "DEMO_OPAMP"), SIDES) in (
            ["joined-nets field | logic: XA"],
            ["joined-supplies field | logic: XA"],
        )


def test_a_black_box_across_does_not_hide_a_proven_tie() -> None:
    both = BOARD + "XA GND GNDF FOO DEMO_WHAT\nR9 GND GNDF 0\n"
    assert joins_of(both, SIDES) == ["joined-grounds field | logic: R9", "joined-nets open field | logic: XA"]


def test_two_black_boxes_across_are_one_open_result() -> None:
    both = BOARD + "XA GND GNDF DEMO_WHAT\nXB DI1 A1 DEMO_WHAT\n"
    circuit, separation = sides_of(both, SIDES)
    (join,) = separation.joins
    assert sorted(circuit.path(element) for element in join.unknown) == ["XA", "XB"]


def test_a_black_box_on_two_references_is_open_without_any_coupler() -> None:
    netlist = "V1 V24F GNDF 24\nV2 V3V3 GND 3.3\nXA V24F GNDF V3V3 GND DEMO_WHAT\n"
    assert joins_of(netlist) == ["joined-nets open GND | GNDF: XA"]
    assert joins_of(netlist + "LFB GND GNDF 1u\n") == []


def test_a_black_box_within_one_side_is_no_join() -> None:
    assert joins_of(BOARD + "XA GND V3V3 DI1 DEMO_WHAT\n", SIDES) == []


# -- against networkx on the unreduced graph -----------------------------------------------------------------------


def test_the_same_input_gives_the_same_text_whatever_the_hash_seed() -> None:
    code = (
        "from tests.interfaces.boards import sides_of, tangle\n"
        "from isolint.interfaces.sides import dump\n"
        "for seed in range(60):\n"
        "    circuit, separation = sides_of(*tangle(seed))\n"
        "    print(dump(separation, circuit))\n"
    )
    texts = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=REPOSITORY,
            env={**environment(), "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(texts) == 1


# -- a relay's pole called COM -------------------------------------------------------------------------------------

RELAY = "XK9 V24F RK COM NO DEMO_RELAY\nD91 RK V24F DX\nR90 RK GNDF 1k\nR91 COM V24F 100\n.model DX D\n"


def test_a_relay_that_switches_its_own_side_at_a_pole_called_com_is_no_join() -> None:
    assert joins_of(BOARD + RELAY + "R92 NO GNDF 1k\n", SIDES) == []
    (text,) = joins_of(BOARD + RELAY + "R92 NO GND 1k\n", SIDES)
    assert text.startswith("joined-supplies field | logic: ")


def test_a_return_called_com_is_a_reference_though_a_relay_switches_it() -> None:
    returns = "R93 COM X 1k\nR94 COM Y 1k\n"
    assert joins_of(BOARD + RELAY.replace("R91 COM V24F 100\n", returns), SIDES) == []
    assert nets_of(BOARD + RELAY.replace("R91 COM V24F 100\n", returns), SIDES)["COM"] >= {"COM", "NO"}


def test_high_resistances_that_join_only_together_are_one_bridge_of_all_of_them() -> None:
    two = BOARD + "R97 GND GNDF 2meg\nR98 A1 DI1 2meg\n"
    assert joins_of(two, SIDES + SUPPLIES) == []
    board = two + "R99 V24F V3V3 2meg\n"
    (join,) = sides_of(board, SIDES + SUPPLIES)[1].joins
    assert joins_of(board, SIDES + SUPPLIES) == ["joined-nets field | logic: R97,R98,R99"]
    assert join.resistance == pytest.approx(2e6 / 3)


# -- what a supply shares, and what it does not -----------------------------------------------------------------------


def test_a_pull_up_on_a_supply_of_which_only_the_name_is_known_is_one_shared_supply() -> None:
    bare = "XU1 A GNDF DI GND DEMO_PT\nR1 24V_F A 2k2\nR2 {} DI 10k\nR3 5V GND 10k\nR4 24V_F GNDF 10k\n"
    assert joins_of(bare.format("5V")) == []
    assert joins_of(bare.format("24V_F")) == ["joined-supplies GND | GNDF: R2"]


def test_a_clamp_from_a_supply_to_earth_is_a_bridge() -> None:
    earth = SIDES + '[sides.earth]\nnets = ["PE"]\nkind = "earth"\n'
    assert joins_of(BOARD + "R98 PE SHIELD 1\n", earth + SUPPLIES) == []
    clamp = BOARD + "R98 PE SHIELD 1\nD99 PE V24F DX\n.model DX D\n"
    assert joins_of(clamp, earth + SUPPLIES) == ["joined-nets earth | field: D99"]
