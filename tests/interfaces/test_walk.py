from __future__ import annotations

import pytest

from isolint.interfaces.entities import Boundary
from tests.interfaces.finding import FoundBoard, board

PT1 = "XU1 {a} {k} {e} {c} DEMO_PT1\n"
"""Anode, cathode, emitter, collector."""

OUT = "R9 +5V OUT 10k\n"
OUTPUT = '[outputs."DRIVE"]\nsupply = "V3V3"\n'


def driven(netlist: str, facts: str = "", a: str = "A", k: str = "GND") -> FoundBoard:
    """One coupler with its LED between `a` and `k` and a pull-up on its output."""
    return board(netlist + "\n" + PT1.format(a=a, k=k, e="GNDF", c="OUT") + OUT, facts)


def loaded(netlist: str, facts: str = "", c: str = "OUT", e: str = "GNDF") -> FoundBoard:
    """One coupler with a fed LED and its output between `c` and `e`."""
    return board(PT1.format(a="+5V", k="GND", e=e, c=c) + netlist, facts)


def held(found: FoundBoard, name: str) -> str | None:
    net = found.circuit.find_net(name)
    assert net is not None
    boundary = found.walker.held(net)
    return None if boundary is None else boundary.kind


# -- the resistor, wherever it sits -----------------------------------------------------------------------------


def test_a_resistor_is_found_in_the_anode_leg() -> None:
    assert driven("R1 DRIVE A 470", OUTPUT).drive() == "R1: ground GND, output DRIVE"


def test_a_resistor_is_found_in_the_cathode_leg() -> None:
    assert driven("R1 K GND 470", OUTPUT, a="DRIVE", k="K").drive() == "R1: output DRIVE, ground GND"


def test_resistors_are_found_in_both_legs_and_the_return() -> None:
    found = driven("R1 DRIVE A 220\nR2 K RET 220\nR3 RET GND 10", OUTPUT, k="K")
    assert found.drive() == "R1 R2 R3: output DRIVE, ground GND"


def test_the_resistor_in_a_switch_s_emitter_and_base_is_found() -> None:
    found = driven("R1 +12V A 1k\nQ1 K B EM QSW\nR2 EM GND 100\nR3 DRIVE B 4.7k\n.model QSW NPN", OUTPUT, k="K")
    assert found.drive() == "R1 Q1 R3 R2: supply +12V, output DRIVE, ground GND"


def test_a_low_side_port_ends_the_walk_at_both_ends() -> None:
    assert driven("R1 +5V A 470", OUTPUT, k="DRIVE").drive() == "R1: output DRIVE, supply +5V"


def test_parallel_and_shunt_elements_belong_to_the_drive() -> None:
    found = driven("R1 DRIVE A 470\nD1 GND A DX\nQ1 A B GND QS\nR2 DRIVE2 B 10k\n.model DX D\n.model QS NPN", OUTPUT)
    assert found.drive() == "R1 D1 Q1 R2: ground GND, output DRIVE, loose DRIVE2"


def test_a_mos_switch_is_walked_to_its_gate_and_source() -> None:
    found = driven("R1 +5V A 470\nM1 K G S S MX\nR2 S GND 1\nR3 DRIVE G 100\n.model MX NMOS", OUTPUT, k="K")
    assert found.drive() == "R1 M1 R3 R2: supply +5V, output DRIVE, ground GND"


def test_a_switch_is_walked_through_but_not_into_its_control() -> None:
    found = driven("S1 +5V A CTRL 0 SM\nR1 K GND 1k\nR5 CTRL GND 1\n.model SM SW", k="K")
    assert found.drive() == "S1 R1: supply +5V, ground GND"


def test_a_capacitor_inside_the_network_is_listed() -> None:
    assert driven("R1 DRIVE A 470\nC1 A GND 1n", OUTPUT).drive() == "R1 C1: ground GND, output DRIVE"
    only = driven("R1 DRIVE A 470\nR2 K M 10\nC1 M GND 1u", OUTPUT, k="K")
    assert only.drive() == "R1 R2 C1: output DRIVE, loose M, ground GND"


@pytest.mark.parametrize("far", ["FAR", "+12V"])
def test_a_capacitor_that_leads_out_of_the_network_does_not_belong_to_it(far: str) -> None:
    found = driven(f"R1 DRIVE A 470\nC1 A {far} 1n\nR5 {far} +12V 1k", OUTPUT)
    assert found.drive() == "R1: ground GND, output DRIVE"


def test_current_sources_and_inductors_are_walked_through() -> None:
    assert driven("I1 +12V A 10m").drive() == "I1: ground GND, supply +12V"
    assert driven("R1 DRIVE B 470\nL1 B A 10u", OUTPUT).drive() == "L1 R1: ground GND, output DRIVE"


def test_a_source_between_inner_nets_is_walked_through() -> None:
    found = driven("V1 A M 0\nR1 DRIVE M 470", OUTPUT)
    assert found.drive() == "V1 R1: ground GND, output DRIVE"
    floating = driven("V1 A M 5\nR1 M K 470", k="K")
    assert floating.drive() == "V1 R1: ground K"


def test_the_walk_goes_through_sheets() -> None:
    found = board(
        "Xin IN GNDF DI GND s\nR9 +3V3 DI 10k\n.subckt s in com out ref\nR1 in A 1k\nR2 K com 1k\n"
        "XU2 A K ref out DEMO_PT1\n.ends",
        '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]\n[inputs."DI"]\nsupply = "+3V3"',
    )
    assert found.drive("Xin.XU2") == "Xin.R1 Xin.R2: line IN, ground GNDF"
    assert found.load("Xin.XU2") == "R9: input DI, ground GND, supply +3V3"


# -- several LEDs in one loop -----------------------------------------------------------------------------------


def test_leds_of_two_couplers_in_series_are_branches_of_each_other_s_drive() -> None:
    found = board(
        "R1 DRIVE A 330\nXU1 A M GNDF O1 DEMO_PT1\nXU2 M GND GNDF O2 DEMO_PT1\nR2 +5V O1 1k\nR3 +5V O2 1k", OUTPUT
    )
    assert found.branches(found.channel("XU1").drive) == ["XU2 M GND"]
    assert found.branches(found.channel("XU2").drive) == ["XU1 A M"]
    assert found.drive("XU2") == "XU1 R1: ground GND, output DRIVE"
    assert found.load("XU1") == "R2: ground GNDF, supply +5V"


def test_both_leds_of_a_dual_part_in_one_loop() -> None:
    # anode1 cathode1 cathode2 anode2 gnd out2 out1 vcc
    found = board("R1 DRIVE A 330\nXU1 A M GND M GNDF O2 O1 VCC DEMO_LO2\nR2 VCC O1 1k\nR3 VCC O2 1k", OUTPUT)
    first, second = found.channels
    assert found.branches(first.drive) == ["XU1 GND M"]
    assert found.branches(second.drive) == ["XU1 A M"]
    assert first.drive.complete
    assert second.drive.complete


def test_anti_parallel_leds_of_two_couplers_stay_apart() -> None:
    found = board(
        "R1 DRIVE A 330\nXU1 A B GNDF O1 DEMO_PT1\nXU2 B A GNDF O2 DEMO_PT1\nR4 B DRIVE2 330",
        OUTPUT + '[outputs."DRIVE2"]\nsupply = "V3V3"',
    )
    assert found.branches(found.channel("XU1").drive) == ["XU2 B A"]
    assert found.drive("XU1") == "R1 XU2 R4: output DRIVE, output DRIVE2"


def test_the_coil_of_a_relay_belongs_to_the_load_and_its_contact_does_not() -> None:
    found = loaded("XK1 +24V OUT +24V VALVE NC DEMO_K1\nD1 OUT +24V DX\n.model DX D")
    assert found.branches(found.channel("XU1").load) == ["XK1 +24V OUT"]
    assert "VALVE" not in found.load()


# -- where a walk stops -----------------------------------------------------------------------------------------


def test_stated_nets_hold_before_their_names_say_anything() -> None:
    facts = (
        '[supplies."ODD"]\nvoltage = "9 V"\nground = "ODDREF"\n[outputs."+5V"]\nsupply = "ODD"\n'
        '[lines."+12V"]\non = ["15 V", "30 V"]\n[inputs."DI"]\nsupply = "ODD"\n'
    )
    found = board("R1 ODD ODDREF 1\nR2 +5V +12V 1\nR3 DI N1 1", facts)
    expected = {"ODD": "supply", "oddref": "ground", "+5V": "output", "+12V": "line", "DI": None, "N1": None}
    assert {name: held(found, name) for name in expected} == expected


def test_a_net_is_held_by_a_source_to_a_reference() -> None:
    found = board(
        "V1 A GND 5\nV2 GND B 5\nV3 C GND PULSE(0 5 0 1n)\nV4 D GND 0\nV5 E A 5\nV6 F GND {X}\nV7 H GND\n"
        "V8 I GND AC 1\nR1 A B 1\nR2 C D 1\nR3 E F 1\nR4 H I 1"
    )  # fmt: skip
    expected = {"A": "supply", "B": "supply", "C": "output", "D": None, "E": None, "F": "supply", "H": None, "I": None}
    assert {name: held(found, name) for name in expected} == expected


def test_a_source_that_exists_in_the_simulation_only_holds_nothing() -> None:
    found = board("VCM1 A GND 5\nR1 A GND 1", '[reading]\nsimulation_only = ["VCM*"]')
    assert held(found, "A") is None


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("12V", "supply"), ("+5V", "supply"), ("V24_FIELD", "supply"), ("VCC", "supply"), ("/3V3", "supply"),
        ("GND_ISO", "ground"), ("COM", "ground"), ("0", "ground"), ("V_SENSE", None), ("VCC_OK", None),
        ("GNDSENSE_FB", None), ("COMP", None), ("COMMS", None), ("EARTH_FAULT", None), ("RELAY_COM", None),
    ],
)  # fmt: skip
def test_a_name_holds_a_net_where_nothing_else_does(name: str, kind: str | None) -> None:
    assert held(board(f"R1 {name} x 1k"), name) == kind


def test_a_side_s_stated_net_is_its_reference_where_it_has_no_other() -> None:
    netlist = "R1 RTNF VF 1\nR2 SHIELD GNDB 1\nV1 VF RTNF 24"
    found = board(netlist, '[sides.field]\nnets = ["RTNF"]\n[sides.logic]\nnets = ["GNDB", "SHIELD"]')
    expected = {"RTNF": "ground", "VF": "supply", "GNDB": "ground", "SHIELD": None}
    assert {name: held(found, name) for name in expected} == expected


def test_a_declared_simulation_ground_holds_in_the_solver() -> None:
    assert held(board("R1 REF x 1", '[reading]\nsimulation_ground = "REF"'), "REF") == "ground"


def test_a_part_that_nobody_explained_ends_the_walk_and_is_named() -> None:
    found = driven("R1 A M 470\nXU7 M N +5V GND DEMO_MCU\nR5 N far 1")
    assert found.drive() == "R1: ground GND, part M by XU7"


@pytest.mark.parametrize(
    "card", ["E1 M GND far GND 1", "B1 M GND V=1", "T1 M GND far GND Z0=50", "W1 M far V9 WM", "U1 M far DEMO_U"]
)
def test_what_can_not_be_solved_ends_the_walk_and_is_named(card: str) -> None:
    found = driven(f"R1 A M 470\n{card}\nR5 far zz 1")
    assert found.drive() == f"R1: ground GND, part M by {card[:2]}"


def test_the_walk_goes_through_the_output_of_another_coupler() -> None:
    found = board("R1 A M 470\nXU1 A GND GNDF O1 DEMO_PT1\nXU2 +5VF GNDF M +24V DEMO_PT1")
    assert found.drive("XU1") == "R1: ground GND, supply +24V, output of XU2"


def test_the_output_of_a_coupler_on_another_side_ends_the_walk() -> None:
    found = board("R1 A M 470\nXU1 A GND GNDF O1 DEMO_PT1\nXU2 +5V GND M +24V DEMO_PT1")
    assert found.drive("XU1") == "R1: ground GND, part M by XU2"


def test_outputs_in_series_lie_in_each_other_s_load() -> None:
    found = board("XU1 +5V GND M OUT DEMO_PT1\nXU2 +5V GND GNDF M DEMO_PT1\nR1 +24V OUT 10k")
    assert found.load("XU1") == "R1: supply +24V, ground GNDF, output of XU2"
    assert found.load("XU2") == "R1: ground GNDF, supply +24V, output of XU1"


def test_outputs_across_the_same_nets_are_no_part_of_each_other_s_load() -> None:
    found = board("XU1 +5V GND GNDF OUT DEMO_PT1\nXU2 +5V GND GNDF OUT DEMO_PT1\nR1 +24V OUT 10k")
    assert found.load("XU1") == "R1: ground GNDF, supply +24V"


def test_the_walk_goes_through_an_input_of_two_leds() -> None:
    ac = '[parts.DEMO_AC]\ntype = "phototransistor"\npins = ["anode1", "anode2", "collector", "emitter"]\n'
    ac += 'groups = [["anode1", "anode2"], ["collector", "emitter"]]\n'
    ac += '[[parts.DEMO_AC.channels]]\ninput = ["anode1", "anode2"]\noutput = ["collector", "emitter"]\n'
    found = board("R1 DRIVE A 470\nXU1 A M GNDF O1 DEMO_PT1\nXU2 M GND O2 GNDF DEMO_AC", OUTPUT, ac)
    assert found.kinds() == {"XU1": "phototransistor", "XU2": "phototransistor"}
    assert found.drive("XU1") == "R1 XU2: output DRIVE, ground GND"
    assert found.suspects() == {}


def test_an_ordinary_declaration_of_resistors_does_not_stop_a_walk() -> None:
    assert (
        driven("R1 DRIVE A 470", OUTPUT + '[elements."R*"]\nordinary = true').drive() == "R1: ground GND, output DRIVE"
    )


def test_a_net_that_nothing_else_touches_is_loose() -> None:
    assert driven("R1 CONN A 470").drive() == "R1: ground GND, loose CONN"
    assert driven("R1 CONN A 470\nC1 CONN GND 1n").drive() == "R1 C1: ground GND, loose CONN"
    assert driven("R1 A GND 470", k="LEFT").drive() == "R1: loose LEFT, ground GND"


def test_where_nothing_feeds_a_drive_every_net_of_it_may_come_from_elsewhere() -> None:
    found = driven("R1 CONN A 470\nD1 GND CONN DX\n.model DX D")
    assert found.drive() == "R1 D1: ground GND, loose CONN"
    assert (
        driven("R1 CONN A 470\nD1 GND CONN DX\nR2 CONN +5V 1k\n.model DX D").drive()
        == "R1 D1 R2: ground GND, supply +5V"
    )


def test_a_network_that_is_too_large_is_given_up() -> None:
    def chain(count: int) -> FoundBoard:
        return driven("\n".join(f"R{100 + n} n{n} n{n + 1} 1" for n in range(count)), a="n0")

    assert chain(79).channel("XU1").drive.complete
    large = chain(5000).channel("XU1").drive
    assert not large.complete
    assert len(large.elements) <= 80


# -- loads ------------------------------------------------------------------------------------------------------


DI = '[inputs."DI"]\nsupply = "+3V3"\nlow_max = "0.8 V"\n'


def test_an_input_of_a_controller_is_named_as_input_and_the_controller_is_not() -> None:
    found = loaded("R1 +3V3 DI 10k\nXU7 DI +3V3 GND DEMO_MCU", DI, c="DI", e="GND")
    assert found.load() == "R1: input DI, ground GND, supply +3V3"


def test_an_input_behind_a_filter_is_found_and_the_walk_goes_on() -> None:
    found = loaded("R1 +3V3 OUT 10k\nR2 OUT DI 1k\nC1 DI GND 1n\nR3 DI GND 100k\nXU7 DI DEMO_MCU x", DI, e="GND")
    assert found.load() == "R1 R2 C1 R3: ground GND, supply +3V3, input DI"


def test_without_a_stated_input_the_controller_is_named() -> None:
    found = loaded("R1 +3V3 OUT 10k\nXU7 OUT +3V3 GND DEMO_MCU", e="GND")
    assert found.load() == "R1: part OUT by XU7, ground GND, supply +3V3"


def test_two_couplers_on_one_pull_up_have_the_same_load() -> None:
    found = board(
        "XU1 +5V GND GNDF DI DEMO_PT1\nXU2 +5V GND GNDF DI DEMO_PT1\nR1 +3V3 DI 10k", '[inputs."DI"]\nsupply = "+3V3"'
    )
    assert found.load("XU1") == "R1: input DI, ground GNDF, supply +3V3"
    other = board("XU1 +5V GND GNDF O DEMO_PT1\nXU2 +5V GND GNDF O DEMO_PT1\nR1 +3V3 O 10k")
    assert other.load("XU1") == "R1: ground GNDF, supply +3V3"


def test_an_open_base_pin_is_loose_and_its_resistor_belongs_to_the_load() -> None:
    # anode cathode emitter collector base
    opened = board("XU1 +5V GND GNDF OUT BASE DEMO_PD1\nR1 +5V OUT 1k")
    assert opened.load() == "R1: ground GNDF, loose BASE, supply +5V"
    fitted = board("XU1 +5V GND GNDF OUT BASE DEMO_PD1\nR1 +5V OUT 1k\nR2 BASE GNDF 100k")
    assert fitted.load() == "R1 R2: ground GNDF, supply +5V"


def test_an_emitter_follower_s_load_hangs_on_the_emitter() -> None:
    found = loaded(
        "R1 E B 10k\nR2 B GNDF 10k\nQ1 C B GNDF QX\nXK1 +24V C +24V VALVE NC DEMO_K1\n.model QX NPN", c="+24V", e="E"
    )
    assert found.load() == "R1 R2 Q1 XK1: supply +24V, ground GNDF"


def test_the_load_of_a_logic_output_reaches_its_ground() -> None:
    found = board("XU1 +5V GND VB OUT RTN DEMO_LO1\nR1 VB OUT 1k\nV1 VB RTN 5")
    assert found.load() == "R1: ground RTN, supply VB by V1"


def test_a_gate_is_read_against_its_source_whatever_hangs_on_its_drain() -> None:
    found = loaded("R1 +12V OUT 10k\nM1 DRAIN OUT GNDF GNDF MX\nXJ1 DRAIN DEMO_CONN x\n.model MX NMOS")
    assert found.load() == "R1 M1: ground GNDF, supply +12V"
    follower = loaded("R1 +12V OUT 10k\nM1 +24V OUT S S MX\nR2 S GNDF 1k\n.model MX NMOS")
    assert follower.load() == "R1 M1 R2: ground GNDF, supply +12V, supply +24V"
    both = loaded("R1 +12V OUT 10k\nR3 OUT DRAIN 1k\nM1 DRAIN OUT GNDF GNDF MX\n.model MX NMOS")
    assert both.load() == "R1 R3 M1: ground GNDF, supply +12V"


def test_a_transistor_s_base_is_walked_to_its_collector() -> None:
    found = loaded("R1 +12V OUT 10k\nQ1 C OUT GNDF QX\nR2 C +24V 1k\n.model QX NPN")
    assert found.load() == "R1 Q1 R2: ground GNDF, supply +12V, supply +24V"


def test_a_held_output_ends_at_once() -> None:
    assert loaded("R1 +5V +24V 1", c="+24V").load() == "-: supply +24V, ground GNDF"


def test_boundaries_are_values() -> None:
    found = driven("R1 DRIVE A 470", OUTPUT)
    drive, ground = found.circuit.find_net("DRIVE"), found.circuit.find_net("GND")
    assert found.channel("XU1").drive.boundary == (Boundary(ground or 0, "ground"), Boundary(drive or 0, "output"))


# -- outputs that let go ----------------------------------------------------------------------------------------


def test_what_pulls_the_net_of_an_output_that_may_lose_its_power_belongs_to_the_drive() -> None:
    netlist = "R1 +5V DRIVE 390\nR2 DRIVE A 100"
    assert driven(netlist, OUTPUT).drive() == "R2: ground GND, output DRIVE"
    floating = "R2 R1: ground GND, output DRIVE, supply +5V"
    assert driven(netlist, OUTPUT + "unpowered = true\n").drive() == floating
    assert driven(netlist, OUTPUT + "unpowered = false\n").drive() == "R2: ground GND, output DRIVE"
    assert driven(netlist, OUTPUT + 'drive = "open-drain"\n').drive() == floating
