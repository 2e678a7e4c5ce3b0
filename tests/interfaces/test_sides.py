"""Which nets are a side, what lies between sides, what is placed by facts (design: Sides and bridges)."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.interfaces.conduction import conduct
from isolint.interfaces.islands import partition
from isolint.interfaces.sides import dump
from tests.conftest import REPOSITORY, environment
from tests.interfaces.boards import (
    BARRIER,
    BOARD,
    SIDES,
    bleeder,
    circuit_of,
    joins_of,
    nets_of,
    network_of,
    recognise_by_name,
    sides_of,
)

FIELD = {"GNDF", "V24F", "A1", "IN_1", "RLYB", "B1", "C1"}
LOGIC = {"GND", "V3V3", "DI1", "DO1", "A2"}


def test_a_sound_board_has_two_sides_and_no_join() -> None:
    circuit, separation = sides_of(BOARD, SIDES + BARRIER)
    assert dump(separation, circuit).splitlines() == [
        "(side field reference=GNDF supplies=V24F elements=7: A1 B1 C1 GNDF IN_1 RLYB V24F)",
        "(side logic reference=GND supplies=V3V3 elements=5: A2 DI1 DO1 GND V3V3)",
        "(barrier field | logic stated: XU1 XU2)",
    ]


def test_without_facts_a_side_is_named_after_its_reference() -> None:
    assert nets_of(BOARD) == {"GNDF": FIELD, "GND": LOGIC}


def test_side_of_net_points_at_the_side() -> None:
    _, separation = sides_of(BOARD)
    for index, side in enumerate(separation.sides):
        assert all(separation.side_of_net[net] == index for net in side.nets)
    assert set(separation.side_of_net) == set().union(*(side.nets for side in separation.sides))


def test_a_netlist_without_barrier_parts_and_facts_has_no_sides() -> None:
    assert nets_of("V1 VCC GND 5\nR1 VCC OUT 1k\nR2 OUT GND 1k") == {}


# A probe element between the far end of a stub and the field ground, the stub being known by a coupler's group.
CONDUCTORS = {
    "R": "R9 P GNDF 100",
    "R without value": "R9 P GNDF {UNKNOWN}",
    "L": "L9 P GNDF 1u",
    "V": "V9 P GNDF 0",
    "I": "I9 P GNDF 1m",
    "D": "D9 P GNDF DX",
    "Q base": "Q9 X P GNDF NX",
    "M gate": "M9 X P GNDF GNDF MX",
    "M bulk": "M9 X Y Z P MX\nR8 X GNDF 1k",
    "J": "J9 X P GNDF JX",
    "S": "S9 P GNDF ctl ctr SX",
    "E": "E9 P GNDF ctl ctr 2",
    "G": "G9 P GNDF ctl ctr 2",
    "B": "B9 P GNDF V={1}",
    "T": "T9 P GNDF X Y Z0=50 TD=1n",
    "C with Rpar": "C9 P GNDF 1n Rpar=10k",
    "black box": "XB P GNDF DEMO_OPAMP",
}
MODELS = ".model DX D\n.model NX NPN\n.model MX NMOS\n.model JX NJF\n.model SX SW\n"


@pytest.mark.parametrize("card", CONDUCTORS.values(), ids=CONDUCTORS)
def test_what_conducts_puts_its_pins_on_one_side(card: str) -> None:
    assert "P" in nets_of(BOARD + MODELS + "XU3 P P2 Q1 Q2 DEMO_PT\n" + card + "\n")["GNDF"]


INSULATORS = {
    "C": "C9 P GNDF 1n",
    "K": "L8 P P2 1m\nL9 GNDF A1 1m\nK9 L8 L9 0.9",
    "S control": "S9 V24F GNDF P P2 SX",
    "E control": "E9 SIG GNDF LOOSE LOOSE2 2",
    "barrier part": "XU4 P P2 A1 GNDF DEMO_PT",
}


@pytest.mark.parametrize("card", INSULATORS.values(), ids=INSULATORS)
def test_what_does_not_conduct_leaves_its_pins_apart(card: str) -> None:
    assert "P" not in nets_of(BOARD + MODELS + "XU3 P P2 Q1 Q2 DEMO_PT\n" + card + "\n")["GNDF"]


def test_a_barrier_part_joins_the_pins_of_each_group() -> None:
    nets = nets_of("XU1 A K VDD2 OUT GND2 DEMO_LO")
    assert sorted(map(sorted, nets.values())) == [["A", "K"], ["GND2", "OUT", "VDD2"]]


def test_k_coupled_windings_stay_apart() -> None:
    netlist = "V1 P1 GNDP SIN(0 100 50)\nL1 P1 GNDP 1m\nL2 S1 GNDS 1m\nK1 L1 L2 0.99\nR1 S1 GNDS 1k"
    facts = '[sides.a]\nnets = ["GNDP"]\n[sides.b]\nnets = ["GNDS"]\n'
    assert nets_of(netlist, facts) == {"a": {"P1", "GNDP"}, "b": {"S1", "GNDS"}}


def test_a_winding_that_shares_the_primary_ground_still_leaves_the_secondary_apart() -> None:
    netlist = "V1 P1 GNDP SIN(0 100 50)\nXT1 P1 GNDP AUX GNDP S1 GNDS DEMO_XFMR\nR1 S1 GNDS 1k\nR2 AUX GNDP 1k"
    assert joins_of(netlist) == []
    assert joins_of(netlist.replace("GNDS", "GNDP")) == ["joined-grounds XT1.1+2 | XT1.3+4: XT1"]


def test_both_channels_of_a_dual_coupler_may_share_a_ground() -> None:
    netlist = (
        "V1 V24F GNDF 24\nV2 V3V3 GND 3.3\nR1 V3V3 A1 1k\nR2 V3V3 A2 1k\n"
        "XU1 A1 GND A2 GND C1 GNDF C2 GNDF DEMO_DUAL\nR3 V24F C1 1k\nR4 V24F C2 1k"
    )
    assert joins_of(netlist) == []
    assert joins_of(netlist.replace("C2 GNDF", "C2 GND")) == ["joined-grounds XU1.3+4 | XU1.7+8: XU1"]


def test_channels_of_a_dual_coupler_may_lead_both_ways() -> None:
    netlist = (
        "V1 V24F GNDF 24\nV2 V3V3 GND 3.3\nR1 V3V3 A1 1k\nR2 V24F A2 1k\n"
        "XU1 A1 GND A2 GNDF C1 GNDF C2 GND DEMO_DUAL\nR3 V24F C1 1k\nR4 V3V3 C2 1k"
    )
    assert joins_of(netlist) == []


def test_a_relay_may_switch_the_supply_of_its_own_side() -> None:
    netlist = "V1 V24F GNDF 24\nXK1 V24F K1 V24F LAMP DEMO_RELAY\nR1 K1 GNDF 1k\nR2 LAMP GNDF 1k"
    assert joins_of(netlist) == []


# -- resistance ----------------------------------------------------------------------------------------------------


def test_ten_times_470_kohm_across_is_one_bridge_of_4_7_megohm() -> None:
    circuit, separation = sides_of(BOARD + bleeder("GND", "GNDF"), SIDES)
    assert not separation.joins
    (bridge,) = separation.bridges
    assert bridge.sides == ("field", "logic")
    assert bridge.kind == "resistance"
    assert bridge.value == pytest.approx(4.7e6)
    assert [circuit.name(element) for element in bridge.elements] == [f"RB{number}" for number in range(10)]


def test_two_times_470_kohm_across_are_a_tie() -> None:
    assert joins_of(BOARD + bleeder("GND", "GNDF", 2), SIDES) == ["joined-nets field | logic: RB0"]


def test_the_limit_is_what_is_stated() -> None:
    one = BOARD + "R9 GND GNDF 5meg\n"
    assert joins_of(one, SIDES) == []
    assert joins_of(one, SIDES + '[limits]\ninsulating_resistance = "10 Mohm"\n') == ["joined-nets field | logic: R9"]
    assert joins_of(one.replace("5meg", "999k"), SIDES) == ["joined-nets field | logic: R9"]
    assert joins_of(one.replace("5meg", "1meg"), SIDES) == []


def test_high_resistances_in_parallel_are_a_tie_together() -> None:
    four = "".join(f"R9{number} GND GNDF 3meg\n" for number in range(4))
    (text,) = joins_of(BOARD + four, SIDES)
    assert text.startswith("joined-nets field | logic: ")
    assert joins_of(BOARD + "R91 GND GNDF 3meg\nR92 GND GNDF 3meg\n", SIDES) == []


def test_a_non_linear_element_in_a_bridge_counts_zero() -> None:
    bridge = "R91 GND m1 {one}\nD9 m1 m2 DX\nR92 m2 GNDF {other}\n.model DX D\n"
    _, separation = sides_of(BOARD + bridge.format(one="600k", other="600k"), SIDES)
    assert [round(b.value or 0) for b in separation.bridges] == [1_200_000]
    assert joins_of(BOARD + bridge.format(one="600k", other="300k"), SIDES) != []


def test_an_island_that_hangs_on_one_side_by_a_high_resistance_belongs_to_it() -> None:
    netlist = BOARD + "R9 GND S1 10meg\nD9 S1 S2 DX\n.model DX D\n"
    assert nets_of(netlist)["GND"] == LOGIC | {"S1", "S2"}


def test_an_island_with_its_own_supply_does_not_belong_to_what_it_hangs_on() -> None:
    netlist = BOARD + "R9 GND S1 10meg\nD9 S1 S2 DX\n.model DX D\nXU3 S1 S2 P Q DEMO_PT\n"
    assert "S1" in nets_of(netlist)["GND"]
    stated = nets_of(netlist, '[supplies.S1]\nvoltage = "5 V"\n')
    assert stated["S1"] == {"S1", "S2"}


def test_a_high_resistance_never_makes_one_side_of_what_faces_it() -> None:
    netlist = "R1 L1 A 1k\nXU1 A K DI GND DEMO_PT\nV1 V3 GND 3.3\nR2 DI V3 1k\nR9 K GND 10meg\n"
    assert joins_of(netlist) == []
    assert nets_of(netlist)["GND"] == {"GND", "V3", "DI"}


def test_capacitors_across_are_in_the_inventory() -> None:
    circuit, separation = sides_of(BOARD + "C9 GND GNDF 2.2n\nC8 V3V3 GND 100n\n", SIDES)
    assert [(b.sides, b.kind, b.value) for b in separation.bridges] == [(("field", "logic"), "capacitance", 2.2e-9)]
    assert circuit.name(separation.bridges[0].elements[0]) == "C9"


# -- facts ---------------------------------------------------------------------------------------------------------

WITHOUT_SOURCES = "\n".join(line for line in BOARD.splitlines() if not line.startswith("V"))
SUPPLIES = '[supplies.V24F]\nvoltage = "24 V"\nground = "GNDF"\n[supplies."V3*"]\nvoltage = "3.3 V"\nground = "gnd"\n'


def test_a_supply_belongs_to_the_side_of_its_stated_ground_without_a_card() -> None:
    netlist = "R1 V24F A 2k2\nXU1 A K1 DI1 E1 DEMO_PT\nR2 DI1 V3V3 10k\nR3 K1 GNDF 0\nR4 E1 GND 0\n"
    assert nets_of(netlist, SUPPLIES) == {"GNDF": {"V24F", "A", "K1", "GNDF"}, "GND": {"V3V3", "DI1", "E1", "GND"}}


def test_facts_alone_place_what_no_source_places() -> None:
    assert nets_of(WITHOUT_SOURCES, SUPPLIES) == {"GNDF": FIELD, "GND": LOGIC}
    assert joins_of(WITHOUT_SOURCES, SUPPLIES) == []


def test_outputs_and_inputs_belong_to_the_side_of_their_supply() -> None:
    netlist = (
        "R1 MCU_1 A 470\nXU1 A K OUT GNDF DEMO_PT\nR2 MCU_2 K 0\nR3 OUT DI_F 1k\nR4 V3V3 GND 1k\nR5 V24F GNDF 1k\n"
    )
    ports = '[outputs."MCU_*"]\nsupply = "V3V3"\n[inputs.DI_F]\nsupply = "V24F"\n'
    nets = nets_of(netlist, SUPPLIES + ports)
    assert {"MCU_1", "MCU_2", "A", "K"} <= nets["GND"]
    assert "DI_F" in nets["GNDF"]


def test_supplies_whose_common_ground_is_not_in_the_netlist_are_one_side() -> None:
    facts = '[supplies."VF*"]\nvoltage = "5 V"\nground = "RETURN"\n'
    nets = nets_of("R1 VF1 A 1k\nXU1 A K C E DEMO_PT\nR2 K VF2 1k", facts)
    assert nets["VF1"] == {"VF1", "VF2", "A", "K"}


def test_two_nets_of_a_stated_side_are_one_side_and_do_not_conduct() -> None:
    netlist = BOARD.replace("XU2 A2 GND RLYB", "XU2 A2 GND2 RLYB") + "R8 GND2 DO1 1k\n"
    facts = SIDES.replace('["GND"]', '["GND", "PWR"]')
    both = "R91 GND GNDF 3meg\nV9 PWR N9 5\nR92 N9 PX 1k\n"
    assert {"GND", "PWR", "N9", "PX"} <= nets_of(netlist + both, facts)["logic"]
    assert joins_of(netlist + both, facts) == []


def test_the_reference_is_the_ground_of_the_supplies_before_stated_nets_before_ground_names() -> None:
    netlist = "V1 VA RTN 5\nR0 RTN COM 0\nR1 VA A 1k\nXU1 A COM C E DEMO_PT\n"

    def reference(facts: str) -> str:
        circuit, separation = sides_of(netlist, facts)
        return next(circuit.net_name(side.reference) for side in separation.sides if side.reference >= 0)

    assert reference("") == "COM"
    assert reference('[sides.x]\nnets = ["A"]\n') == "A"
    assert reference('[sides.x]\nnets = ["A"]\n[supplies.VA]\nvoltage = "5 V"\nground = "RTN"\n') == "RTN"


def test_names_of_nets_are_compared_without_case_and_by_pattern() -> None:
    facts = '[sides.field]\nnets = ["gnd?"]\n[sides.logic]\nnets = ["gnd"]\n'
    assert nets_of(BOARD, facts) == {"field": FIELD, "logic": LOGIC}


def test_a_shield_or_earth_may_be_a_side_of_its_own() -> None:
    netlist = BOARD + "C9 PE GND 1n\nR9 PE SH 0\n"
    _, separation = sides_of(netlist, SIDES + '[sides.earth]\nnets = ["PE"]\nkind = "earth"\n')
    earth = next(side for side in separation.sides if side.name == "earth")
    assert (earth.kind, len(earth.nets)) == ("earth", 2)
    assert not separation.joins


def test_ground_to_chassis_without_a_barrier_is_no_join() -> None:
    assert joins_of(BOARD + "R9 GND CHASSIS 0\nR8 CHASSIS PE 0\n") == []


def test_a_stated_barrier_whose_side_is_nowhere_cannot_be_judged() -> None:
    facts = SIDES + '[sides.mains]\nnets = ["L"]\n' + BARRIER.replace("logic", "mains")
    _, separation = sides_of(BOARD, facts)
    (barrier,) = (barrier for barrier in separation.barriers if barrier.stated >= 0)
    assert "mains" in barrier.undecidable


def test_a_barrier_stated_without_a_part_between_is_listed() -> None:
    facts = SIDES + '[sides.earth]\nnets = ["PE"]\n' + BARRIER.replace("field", "earth")
    _, separation = sides_of(BOARD + "C9 PE GND 1n\n", facts)
    assert [(b.sides, b.stated) for b in separation.barriers] == [(("earth", "logic"), 0), (("field", "logic"), -1)]


# -- node 0 --------------------------------------------------------------------------------------------------------

SHEET = BOARD.replace("GNDF", "0").replace("GND", "0")
SIMULATED = '[reading]\nsimulation_ground = "0"\n'


def test_gnd_and_node_0_are_different_nets() -> None:
    _, separation = sides_of(BOARD.replace("GNDF", "0"))
    assert not separation.joins
    assert [side.name for side in separation.sides] == ["0", "GND"]
    assert separation.notes == ("assumed: GND: a net of its own, not node 0",)


def test_a_declared_simulation_ground_joins_nothing_and_nothing_passes() -> None:
    _, separation = sides_of(SHEET, SIMULATED)
    assert not separation.joins
    assert len(separation.barriers) == 2
    assert all("simulation" in barrier.undecidable for barrier in separation.barriers)


def test_a_declared_simulation_ground_places_no_supply() -> None:
    facts = SIMULATED + '[supplies."V*"]\nvoltage = "5 V"\nground = "0"\n'
    _, separation = sides_of(SHEET, facts)
    assert not separation.joins
    assert all(barrier.undecidable for barrier in separation.barriers)


def test_with_a_simulation_ground_other_ties_are_still_found() -> None:
    assert joins_of(SHEET + "R9 A1 DI1 4k7\n", SIMULATED) == [
        "joined-nets XU1.anode+cathode | XU1.collector+emitter: R9"
    ]


def test_a_board_that_uses_node_0_for_one_side_only_is_judged() -> None:
    facts = SIMULATED + SIDES
    _, separation = sides_of(BOARD + "R9 GND 0 1\nR8 GNDF 0 1\n", facts)
    assert not separation.joins
    assert [barrier.undecidable for barrier in separation.barriers] == [""]


# -- stimuli, straddlers -------------------------------------------------------------------------------------------


def test_simulation_only_elements_are_left_out_and_listed() -> None:
    netlist = BOARD + "VCM GND GNDF SIN(0 1000 1k)\n"
    circuit, separation = sides_of(netlist, SIDES + '[reading]\nsimulation_only = ["vcm*"]\n')
    assert not separation.joins
    assert [circuit.path(element) for element in separation.ignored] == ["VCM"]
    assert joins_of(netlist, SIDES) == ["joined-nets field | logic: VCM"]


STRADDLERS = {
    "E": "E9 SIGF GNDF DI1 GND 10",
    "G": "G9 SIGF GNDF DI1 GND 10",
    "S": "S9 SIGF GNDF DI1 GND SX",
    "F": "VS DI1 DS 0\nRS DS GND 1k\nF9 SIGF GNDF VS 10",
    "H": "VS DI1 DS 0\nRS DS GND 1k\nH9 SIGF GNDF VS 10",
    "W": "VS DI1 DS 0\nRS DS GND 1k\nW9 SIGF GNDF VS WX",
    "B": "B9 SIGF GNDF V={2*V(DI1,GND)}",
}


@pytest.mark.parametrize("letter", STRADDLERS)
def test_a_controlled_element_across_a_barrier_is_open(letter: str) -> None:
    netlist = BOARD + STRADDLERS[letter] + "\nR9 SIGF GNDF 1k\n.model SX SW\n.model WX CSW\n"
    assert joins_of(netlist, SIDES) == [f"joined-nets open field | logic: {letter}9"]


@pytest.mark.parametrize("letter", ["E", "G", "S"])
def test_a_controlled_element_within_one_side_is_no_matter(letter: str) -> None:
    card = STRADDLERS[letter].replace("DI1 GND", "A1 GNDF")
    assert joins_of(BOARD + card + "\n.model SX SW\n", SIDES) == []


def test_a_control_net_that_nothing_else_touches_has_no_side() -> None:
    assert joins_of(BOARD + "E9 SIGF GNDF LOOSE LOOSER 10\nR9 SIGF GNDF 1k\n", SIDES) == []


@given(
    st.lists(
        st.tuples(st.integers(0, 7), st.integers(0, 7), st.sampled_from([1e3, 3e5, 1e6, 4e6])), min_size=1, max_size=20
    )
)
def test_two_references_are_one_island_when_the_resistance_between_is_below_the_limit(
    edges: list[tuple[int, int, float]],
) -> None:
    names = ["GNDA", "GNDB", *(f"n{number}" for number in range(2, 8))]
    edges = [(one, other, ohms) for one, other, ohms in edges if one != other]
    cards = [f"R{index} {names[one]} {names[other]} {ohms}" for index, (one, other, ohms) in enumerate(edges)]
    circuit = circuit_of("\n".join([*cards, "C1 GNDA GNDB 1n"]))
    links = conduct(circuit, recognise_by_name(circuit), frozenset())
    one, other = circuit.find_net("GNDA"), circuit.find_net("GNDB")
    assert one is not None and other is not None
    islands = partition(links, [one, other], [], 1e6)
    joined = islands.of(one) == islands.of(other)
    assert joined == (network_of(edges).effective(0, 1) < 1e6 * (1 - 1e-12))


def test_a_sound_board_loads_neither_networkx_nor_numpy() -> None:
    code = (
        "import sys\n"
        "from tests.interfaces.boards import BOARD, SIDES, bleeder, sides_of\n"
        "_, found = sides_of(BOARD + bleeder('GND', 'GNDF'), SIDES)\n"
        "assert not found.joins and len(found.sides) == 2\n"
        "print(sorted({'networkx', 'numpy'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=REPOSITORY, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.stdout.strip() == "[]", done.stderr
