"""States, headroom, what is missing, and properties of drive networks through the main job."""

from __future__ import annotations

from itertools import pairwise

import pytest
from scipy.optimize import brentq

from isolint.checking.calculation import sheet
from isolint.worstcase.network import NotSolvable
from isolint.worstcase.solve import solve
from isolint.worstcase.uncertain import KINDEST, WORST, Lacking, Setting
from tests.worstcase.boards import (
    COLD,
    FACTS,
    HOT,
    PART,
    board,
    channel,
    context,
    drive,
    most,
    report,
    result,
    vf_max,
    vf_min,
    without,
)

# -- states -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cards", "words"),
    [
        ("V1 IN GND PULSE(0 5 0 1u 1u 1m 2m)\nR1 IN A 470", "IN high"),
        ("V1 IN GND PWL(0 0 1m 4 2m 5)\nR1 IN A 470", "IN high"),
        ("V1 IN GND SIN(0 5 50)\nR1 IN A 470", "IN high"),
        ("S1 V5 N1 C GND SWI\nR1 N1 A 470\n.model SWI SW(RON=1 ROFF=1G)", "S1 on"),
        ("R1 V5 N1 470\nV9 N1 A PULSE(0 3 0 1u 1u 1m 2m)", "V9 low"),
    ],
)
def test_moving_sources_and_switches_are_inputs(cards: str, words: str) -> None:
    found = drive(board(cards))
    assert (found.on_words, found.states) == (words, 2)
    assert not found.fixed


def test_a_pulse_source_has_both_its_levels() -> None:
    found = drive(board("V1 IN GND PULSE(0 5 0 1u 1u 1m 2m)\nR1 IN A 470"))
    assert found.current.low.value == pytest.approx((4.75 - vf_max(COLD)) / 474.7, rel=1e-6)


def test_a_line_is_on_over_its_whole_stated_interval() -> None:
    facts = FACTS + '\n[lines."FIELD"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]\n'
    found = drive(board("R1 FIELD A 2.2k"), facts)
    assert found.on_words == "FIELD on"
    assert found.current.low.value == pytest.approx((15 - vf_max(COLD)) / 2222, rel=1e-6)
    assert found.current.high.value == pytest.approx(most(30, 2178, HOT), rel=1e-6)


def test_all_combinations_of_two_outputs_are_tried_and_the_one_with_most_current_is_on() -> None:
    found = drive(board("R1 DRIVE1 A 470\nR2 DRIVE2 A 1k"))
    assert (found.on_words, found.states) == ("DRIVE1 high, DRIVE2 high", 4)


def test_exclusive_outputs_are_never_high_together() -> None:
    facts = FACTS.replace('sink_max = "20 mA"', 'sink_max = "20 mA"\nexclusive = "one"')
    found = drive(board("R1 DRIVE1 A 470\nR2 DRIVE2 A 1k"), facts)
    assert (found.on_words, found.states) == ("DRIVE1 high, DRIVE2 low", 3)


def test_more_than_six_inputs_are_open() -> None:
    cards = "\n".join(f"R{i} DRIVE{i} A 10k" for i in range(1, 8))
    with pytest.raises(Lacking, match="7 switching inputs"):
        drive(board(cards))
    assert drive(board(cards.replace("R7 DRIVE7 A 10k", ""))).states == 64


def test_a_fixed_supply_without_a_switch_has_no_headroom() -> None:
    found = drive(board("R1 V5 A 470"))
    assert (found.fixed, found.on_words) == (True, "supply present")
    assert result(report(board("R1 V5 A 470")), "drive-headroom-low").kind == "notApplicable"


# -- headroom ---------------------------------------------------------------------------------------------------


def test_port_headroom_is_the_guaranteed_over_the_port_s_own_largest_current() -> None:
    """A bleed resistor beside the LED adds to what the port gives."""
    found = result(report(board("R1 DRIVE A 470\nR2 A GND 1k")), "drive-headroom-low")
    own = brentq(lambda i: 5.25 - 470 * 0.99 * i - vf_min(i - (5.25 - 465.3 * i) / 990, HOT), 7e-3, 11e-3)
    assert found.margin is not None
    assert found.margin.value == pytest.approx(20e-3 / own, rel=1e-4)
    assert found.margin.required == 1.3


def test_gain_at_worst_is_half_of_bf_unless_stated() -> None:
    cards = "R2 V5 A 330\nR1 DRIVE B 4.7k\nQ1 K B GND QN\n.model QN NPN(IS=1e-14 BF=200 BR=2)"
    netlist = board(cards, coupler="XU1 A K OUT GNDB DEMO_A\n")
    assert drive(netlist).switches[0].gain == pytest.approx(100)
    assert drive(netlist, setting=KINDEST).switches[0].gain == pytest.approx(200)
    for stated in (80, 300):
        facts = FACTS + f'\n[elements."Q1"]\ngain_min = {stated}\n'
        assert drive(netlist, facts).switches[0].gain == pytest.approx(stated)


def test_a_bjt_s_required_current_is_that_of_an_ideal_switch() -> None:
    """A base resistor of 1 Mohm starves the transistor: headroom far below 1, though little current flows."""
    cards = "R2 V5 A 330\nR1 DRIVE B 1Meg\nQ1 K B GND QN\n.model QN NPN(IS=1e-14 BF=200 BR=2)"
    (switch,) = drive(board(cards, coupler="XU1 A K OUT GNDB DEMO_A\n")).switches
    assert switch.required == pytest.approx(most(5.25, 330 * 0.99, HOT), rel=0.05)
    assert switch.available / switch.required < 0.1


def test_an_emitter_resistor_makes_a_transistor_no_switch() -> None:
    cards = "R1 DRIVE B 1k\nQ1 K B E QN\nR2 E GND 150\n.model QN NPN(BF=200)"
    assert drive(board(cards, coupler="XU1 V5 K OUT GNDB DEMO_A\n")).switches == ()


def test_an_emitter_grounded_through_0_ohm_is_still_a_switch() -> None:
    cards = "R2 V5 A 330\nR1 DRIVE B 4.7k\nQ1 K B E QN\nR3 E GND 0\n.model QN NPN(BF=200)"
    assert len(drive(board(cards, coupler="XU1 A K OUT GNDB DEMO_A\n")).switches) == 1


def test_a_transistor_that_inverts_the_drive_before_a_switch_does_not_make_it_a_current_source() -> None:
    cards = "R2 V5 A 330\nR3 V5 B 4.7k\nQ1 K B GND QN\nR1 DRIVE B2 10k\nQ2 B B2 GND QN\n.model QN NPN(BF=200 BR=2)"
    found = drive(board(cards, coupler="XU1 A K OUT GNDB DEMO_A\n"))
    assert found.on_words == "DRIVE low"
    assert [switch.element for switch in found.switches] == [
        context(board(cards, coupler="XU1 A K OUT GNDB DEMO_A\n")).circuit.find("Q1")
    ]


def test_two_transistors_that_regulate_the_current_are_no_switches() -> None:
    cards = "R3 DRIVE B 10k\nQ1 K B E QN\nR1 E GND 68\nQ2 B E GND QN\n.model QN NPN(IS=1e-14 BF=200)"
    found = drive(board(cards, coupler="XU1 V5 K OUT GNDB DEMO_A\n"))
    assert found.current.nominal == pytest.approx(0.66 / 68, rel=0.08)
    assert [switch.kind for switch in found.switches if switch.required > 5e-3] == []


# -- what is missing --------------------------------------------------------------------------------------------


def test_a_net_that_nothing_drives_is_open_and_offers_a_line() -> None:
    with pytest.raises(Lacking, match="nothing in this netlist drives net FIELD") as reason:
        drive(board("R1 FIELD A 470"))
    assert [fact.key for fact in reason.value.missing] == ['lines."FIELD".on']


def test_a_part_that_nobody_explains_on_the_drive_is_open() -> None:
    facts = FACTS + '\n[elements."XM1"]\nordinary = true\n'
    with pytest.raises(Lacking, match="goes to XM1, and nobody says what drives it"):
        drive(board("R1 IO A 470\nXM1 IO V5 GND DEMO_MCU"), facts)


def test_a_network_without_a_path_to_a_reference_is_not_solvable_in_circuit_words() -> None:
    found = context(board("C2 V5 A 1u\nR5 A K 1k\nC1 K GND 1u", coupler="XU1 A K OUT GNDB DEMO_A\n"))
    made = found.analysis.drives().assemble(channel(found), {})
    network = made.network(made.nominal(WORST), 25.0)
    with pytest.raises(NotSolvable, match="no DC path from"):
        solve(network, 25.0)


def test_an_led_that_conducts_in_no_state_gives_nothing_and_fails() -> None:
    """Blocked by a capacitor: no LED current, so no output current; never a pass."""
    netlist = board("R1 V5 A 470\nR5 K M 100\nR6 K M 100\nC1 M GND 1u", coupler="XU1 A K OUT GNDB DEMO_A\n")
    found = report(netlist)
    assert result(found, "led-undriven").kind == "fail"
    assert "C1" in result(found, "led-undriven").message
    margin = result(found, "transfer-margin-low")
    assert (margin.kind, margin.blocked_by) == ("notApplicable", "led-undriven")


def test_a_switch_and_its_supply_in_conflict_are_open_not_a_traceback() -> None:
    found = report(board("V1 V5 GND 5\nR1 V5 A 470\nR2 V5 GND 0"))
    assert not any("isolint itself failed" in item.message for item in found.results)


# -- properties -------------------------------------------------------------------------------------------------

TOPOLOGIES = {
    "port": ("R1 DRIVE A 470", "XU1 A GND OUT GNDB DEMO_A\n"),
    "sink": ("R1 V5 A 470", "XU1 A DRIVE OUT GNDB DEMO_A\n"),
    "bleed": ("R1 V5 A 470\nR2 A GND 1k", "XU1 A GND OUT GNDB DEMO_A\n"),
    "npn": ("R2 V5 A 330\nR1 DRIVE B 4.7k\nQ1 K B GND QN\n.model QN NPN(BF=200 BR=2)", "XU1 A K OUT GNDB DEMO_A\n"),
    "source": (
        "R1 DRIVE B 1k\nD1 B GND DZ\nQ1 K B E QN\nR2 E GND 150\n.model QN NPN(BF=200)\n.model DZ D(BV=2.4)",
        "XU1 V5 K OUT GNDB DEMO_A\n",
    ),
    "series": ("R1 V5 A 220", "XU1 A M OUT GNDB DEMO_A\nXU2 M GND OUT2 GNDB DEMO_A\n"),
    "mos": ("R2 V5 A 330\nM1 K DRIVE GND GND MN\n.model MN NMOS(VTO=1.5 KP=0.5)", "XU1 A K OUT GNDB DEMO_A\n"),
}


@pytest.mark.parametrize("name", TOPOLOGIES)
def test_nominal_lies_inside_both_ends(name: str) -> None:
    cards, coupler = TOPOLOGIES[name]
    found = drive(
        board(cards, coupler=coupler, load="R9 VB OUT 10k\nR8 VB OUT2 10k\n" if name == "series" else "R9 VB OUT 10k\n")
    )
    for quantity in (found.current, *(port.current for port in found.ports)):
        assert quantity.low.value - 1e-12 <= quantity.nominal <= quantity.high.value + 1e-12


@pytest.mark.parametrize("name", TOPOLOGIES)
def test_widening_a_tolerance_never_narrows(name: str) -> None:
    """Supplies of ports left out: a port's line starts at the supply's minimum; less supply is less resistance."""
    cards, coupler = TOPOLOGIES[name]
    load = "R9 VB OUT 10k\nR8 VB OUT2 10k\n" if name == "series" else "R9 VB OUT 10k\n"
    narrow = drive(board(cards, coupler=coupler, load=load)).current
    for wider in (
        FACTS.replace('tolerance = "1 %"', 'tolerance = "3 %"'),
        FACTS.replace('["0 degC", "60 degC"]', '["-20 degC", "75 degC"]'),
        FACTS.replace(
            'voltage = "5 V"\ntolerance = "5 %"\nground = "GND"\n',
            'voltage = "5 V"\ntolerance = "8 %"\nground = "GND"\n',
        ),
    ):
        if name in ("port", "npn", "source") and "8 %" in wider:
            continue
        wide = drive(board(cards, coupler=coupler, load=load), wider).current
        assert wide.low.value <= narrow.low.value + 1e-12
        assert wide.high.value >= narrow.high.value - 1e-12


@pytest.mark.parametrize("name", TOPOLOGIES)
def test_a_relaxed_default_never_widens(name: str) -> None:
    cards, coupler = TOPOLOGIES[name]
    load = "R9 VB OUT 10k\nR8 VB OUT2 10k\n" if name == "series" else "R9 VB OUT 10k\n"
    facts = without(FACTS, "tolerance", "ambient")
    ends = [
        drive(board(cards, coupler=coupler, load=load), facts, setting=Setting(rest=share)).current
        for share in (0.0, 0.5, 1.0)
    ]
    for wide, narrow in pairwise(ends):
        assert wide.low.value <= narrow.low.value + 1e-12
        assert wide.high.value >= narrow.high.value - 1e-12


def test_every_topology_has_a_sheet_whose_loop_closes() -> None:
    for cards, coupler in TOPOLOGIES.values():
        found = context(board(cards, coupler=coupler))
        assert any(
            line.text.startswith("loop = ") for section in sheet(found, channel(found)) for line in section.lines
        )


# -- several couplers in one package ------------------------------------------------------------------------------

DUAL = PART.replace(
    'pins = ["anode", "cathode", "collector", "emitter"]',
    'pins = ["anode1", "cathode1", "anode2", "cathode2", "collector1", "emitter1", "collector2", "emitter2"]',
).replace(
    "[parts.DEMO_A.led]",
    '[[parts.DEMO_A.channels]]\nname = "1"\ninput = ["anode1", "cathode1"]\noutput = ["collector1", "emitter1"]\n'
    '[[parts.DEMO_A.channels]]\nname = "2"\ninput = ["anode2", "cathode2"]\noutput = ["collector2", "emitter2"]\n'
    "[parts.DEMO_A.led]",
)


def test_two_leds_of_one_package_in_series_vary_on_their_own() -> None:
    netlist = board(
        "R1 V5 A 220", coupler="XU1 A M M GND OUT GNDB OUT2 GNDB DEMO_A\n", load="R9 VB OUT 10k\nR8 VB OUT2 10k\n"
    )
    for subject in ("XU1 channel 1", "XU1 channel 2"):
        found = drive(netlist, part=DUAL, subject=subject)
        assert found.current.low.value == pytest.approx((4.75 - 2 * vf_max(COLD)) / 222.2, rel=1e-6)
        assert sum(name.startswith("forward voltage of") for name, _ in found.current.low.at) == 2


def test_four_leds_of_two_packages_in_series_are_told_apart() -> None:
    netlist = board(
        "R1 V5 A 100",
        coupler="XU1 A B B C OUT GNDB OUT2 GNDB DEMO_A\nXU2 C D D GND OUT3 GNDB OUT4 GNDB DEMO_A\n",
        load="R9 VB OUT 10k\nR8 VB OUT2 10k\nR7 VB OUT3 10k\nR6 VB OUT4 10k\n",
    )
    facts = FACTS.replace(
        'voltage = "5 V"\ntolerance = "5 %"\nground = "GND"\n', 'voltage = "12 V"\ntolerance = "0 %"\nground = "GND"\n'
    )
    found = drive(netlist, facts, DUAL, subject="XU1 channel 1")
    assert sum(name.startswith("forward voltage of") for name, _ in found.current.high.at) == 4
    assert not any("isolint itself failed" in item.message for item in report(netlist, facts, DUAL).results)
