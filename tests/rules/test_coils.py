"""Coils and their clamps in small netlists, each a legal or a wrong way to take the current."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[supplies."V24"]
voltage = "24 V"
tolerance = "10 %"
ground = "GND"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
"""
PARTS = """
[parts.DEMO_KX]
type = "relay"
pins = ["coil1", "coil2", "com", "no"]
[parts.DEMO_KX.coil]
resistance = "4.8 kohm"
pull_in = "16.8 V"
[parts.DEMO_PX]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
"""
MODELS = """
.model QN NPN(IS=2e-14 BF=250)
.model QP PNP(IS=2e-14 BF=200)
.model MN NMOS(VTO=2 KP=1)
.model MP PMOS(VTO=-2 KP=1)
.model DS D(IS=10n N=1.9 BV=200)
.model DZ D(IS=1n BV=33 IBV=1m)
.model DL D(IS=1n BV=12 IBV=1m)
.model SW SW(VT=1 RON=1)
"""
RELAY = "XK1 V24 N C1 C2 DEMO_KX\n"


def check(netlist: str, facts: str = "") -> NetlistReport:
    return judge(f"* demonstration\n{netlist}{MODELS}", f"{FACTS}{facts}", parts__toml=PARTS)


def coils(netlist: str, facts: str = "") -> list[tuple[str, str]]:
    """Subject and kind of every coil."""
    return [(result.subject, result.kind) for result in found(netlist, facts)]


def found(netlist: str, facts: str = "") -> list[Result]:
    return [result for result in check(netlist, facts).results if result.rule == "coil-clamp-missing"]


def driven(net: str) -> str:
    """A coupler whose output drives a net."""
    return f"XU9 LA LK {net} V24 DEMO_PX\n"


SWITCHES = {
    "bipolar": "Q1 N B GND QN\nR1 B GND 10k\n",
    "mos": "M1 N G GND MN\nR1 G GND 10k\n",
    "switch": "S1 N GND CTL GND SW\nR1 CTL GND 10k\n",
    "behind a resistor": "R2 N N2 10\nQ1 N2 B GND QN\nR1 B GND 10k\n",
    "behind a diode": "D9 N N2 DS\nQ1 N2 B GND QN\nR1 B GND 10k\n",
    "behind an ammeter": "V9 N N2 0\nQ1 N2 B GND QN\nR1 B GND 10k\n",
    "coupler": "XU1 A K GND N DEMO_PX\nR1 V5 A 470\nR2 K GND 1\n",
}


@pytest.mark.parametrize("switch", SWITCHES)
def test_every_kind_of_switch_needs_a_clamp(switch: str) -> None:
    assert coils(f"{RELAY}{SWITCHES[switch]}") == [("XK1", "fail")]
    assert coils(f"{RELAY}{SWITCHES[switch]}D1 N V24 DS\n") == [("XK1", "pass")]


CLAMPS = {
    "diode": "D1 N V24 DS\n",
    "diode and resistor": "D1 N M DS\nR9 M V24 1k\n",
    "zener across the switch": "D1 GND N DZ\n",
    "diode and zener": "D1 M V24 DS\nD2 M N DZ\n",
    "resistor and capacitor": "R9 N M 1k\nC9 M V24 470n\n",
    "capacitor across the switch": "C9 N GND 1u\n",
    "to a reservoir": "D1 N M DS\nC9 M GND 10u\nR9 M GND 10k\n",
}
NO_CLAMPS = {
    "small capacitor": "C9 N GND 1n\n",
    "rectifier in reverse across the switch": "D1 GND N DS\n",
    "resistor alone": "R9 N GND 1k\n",
    "bypass of the supply": "C9 V24 GND 10u\n",
    "resistor and bypass": "R9 N GND 10k\nC9 V24 GND 10u\n",
    "far too large a resistor": "D1 N M DS\nR9 M V24 1Meg\n",
}


@pytest.mark.parametrize("clamp", CLAMPS)
def test_what_takes_the_current_is_accepted(clamp: str) -> None:
    assert coils(f"{RELAY}{SWITCHES['bipolar']}{CLAMPS[clamp]}") == [("XK1", "pass")]


@pytest.mark.parametrize("clamp", NO_CLAMPS)
def test_what_does_not_take_the_current_is_not_accepted(clamp: str) -> None:
    assert coils(f"{RELAY}{SWITCHES['bipolar']}{NO_CLAMPS[clamp]}") == [("XK1", "fail")]


@pytest.mark.parametrize(
    ("diode", "fault"),
    [
        ("D1 V24 N DS\n", "conducts while the coil is energised"),
        ("D1 N GND DS\n", "conducts while the switch is open"),
        ("D1 N V24 DL\n", "conducts while the coil is energised"),
        ("D1 N V5 DS\n", "conducts while the switch is open"),
    ],
    ids=["across the coil", "across the switch", "zener below the supply", "to a lower supply"],
)
def test_a_diode_the_wrong_way_round_is_named(diode: str, fault: str) -> None:
    (result,) = found(f"{RELAY}{SWITCHES['bipolar']}{diode}")
    assert result.kind == "fail"
    assert fault in result.message
    assert "D1" in result.message
    assert result.where.line == 5


@pytest.mark.parametrize(
    "netlist",
    [
        "XK1 N GND C1 C2 DEMO_KX\nQ1 N B V24 QP\nR1 B V24 10k\n",
        "XK1 N GND C1 C2 DEMO_KX\nM1 N G V24 MP\nR1 G V24 10k\n",
        "XK1 N GND C1 C2 DEMO_KX\nQ1 V24 B N QN\nR1 B GND 10k\n",
        "XK1 N GND C1 C2 DEMO_KX\nXU1 A K N V24 DEMO_PX\nR1 V5 A 470\nR2 K GND 1\n",
        "XK1 GND N C1 C2 DEMO_KX\nS1 N V24 CTL GND SW\nR1 CTL GND 10k\n",
    ],
    ids=["pnp", "p-channel", "emitter follower", "coupler follower", "switch"],
)
def test_a_coil_on_ground_has_its_diode_to_ground(netlist: str) -> None:
    assert coils(netlist) == [("XK1", "fail")]
    assert coils(f"{netlist}D1 GND N DS\n") == [("XK1", "pass")]
    (result,) = found(f"{netlist}D1 N GND DS\n")
    assert (result.kind, "wrong way round" in result.message) == ("fail", True)


def test_a_coil_between_two_switches_has_one_diode_across_or_two_to_the_rails() -> None:
    bridge = "XK1 P N C1 C2 DEMO_KX\nQ1 P B1 V24 QP\nR1 B1 V24 10k\nQ2 N B2 GND QN\nR2 B2 GND 10k\n"
    assert coils(bridge) == [("XK1", "fail")]
    assert coils(f"{bridge}D1 N P DS\n") == [("XK1", "pass")]
    assert coils(f"{bridge}D1 N V24 DS\nD2 GND P DS\n") == [("XK1", "pass")]


def test_the_body_diode_of_the_other_transistor_of_a_half_bridge_takes_the_current() -> None:
    bridge = f"L1 N GND 10m Rser=10\nM1 V24 G1 N MN\nR1 G1 N 10k\n{driven('G1')}"
    assert coils(bridge) == [("L1", "fail")]
    assert coils(f"{bridge}M2 N G2 GND MN\nR2 G2 GND 10k\n") == [("L1", "pass")]


def test_windings_filters_and_inductors_that_nothing_interrupts_are_no_coils() -> None:
    windings = f"L1 V24 N 1m\nL2 S GND 1m\nK1 L1 L2 0.98\nQ1 N B GND QN\nR1 B GND 10k\nR2 S GND 1k\n{driven('B')}"
    assert coils(windings) == []
    assert coils(windings.replace("K1 L1 L2 0.98\n", "")) == [("L1", "fail")]
    assert coils(f"L1 V24 F 10u\nC1 F GND 10u\nR1 F N 1k\nQ1 N B GND QN\nR2 B GND 10k\n{driven('B')}") == []
    assert coils("L1 V24 F 10u\nR1 F GND 1k\n") == []
    assert coils(f"L1 V24 V5 10u\nR1 V5 N 1k\nQ1 N B GND QN\nR2 B GND 10k\n{driven('B')}") == []


SOLENOID = "L1 V24 N 1m\nQ1 N B GND QN\nR1 B GND 10k\n"


def test_an_inductor_is_a_coil_only_where_a_coupler_switches_it() -> None:
    assert coils(SOLENOID) == []
    assert coils(SOLENOID + "XU9 LA LK OTHER V24 DEMO_PX\nR9 OTHER GND 1k\n") == []
    assert coils(SOLENOID + driven("B")) == [("L1", "fail")]


@pytest.mark.parametrize(
    "way",
    ["R5 B C 1k\n", "D5 C B DS\n", "Q5 V24 C B QN\n", "M5 V24 C B 0 MN\nR6 C GND 1k\n", "Q5 B D GND QN\nR5 C D 1k\n"],
)
def test_a_coupler_switches_a_coil_through_what_it_drives(way: str) -> None:
    assert coils(SOLENOID + way + driven("C")) == [("L1", "fail")]


def test_the_output_of_a_coupler_switches_an_inductor_itself() -> None:
    assert coils("L1 V24 N 1m\nXU9 LA LK GND N DEMO_PX\n") == [("L1", "fail")]


def test_an_inductor_that_feeds_several_switches_is_a_filter() -> None:
    two = "L1 V24 F 10u\nR1 F N1 1k\nQ1 N1 B GND QN\nR2 F N2 1k\nQ2 N2 B GND QN\nR3 B GND 10k\n"
    assert coils(two + driven("B")) == []


def test_a_lamp_beside_the_diode_is_no_wrong_diode() -> None:
    lamp = "R9 V24 L 2.2k\nD9 L N DS\n"
    assert coils(f"{RELAY}{SWITCHES['bipolar']}D1 N V24 DS\n{lamp}") == [("XK1", "pass")]


def test_a_relay_that_nothing_switches_needs_no_clamp() -> None:
    assert coils("XK1 V24 GND C1 C2 DEMO_KX\n") == [("XK1", "notApplicable")]


def test_a_driver_that_nobody_explained_is_open_and_asks_for_the_relays_clamp() -> None:
    (result,) = found(f"{RELAY}XD1 IN GND N V24 SOMETHING\n")
    assert (result.kind, [fact.key for fact in result.missing]) == ("open", ["parts.DEMO_KX.coil.internal_clamp"])
    assert coils(f"{RELAY}XD1 IN GND N V24 SOMETHING\n", '[elements."XD1"]\nordinary = true\n') == [
        ("XK1", "notApplicable")
    ]


@pytest.mark.parametrize(("drive", "kind"), [("push-pull", "notApplicable"), ("open-drain", "open")])
def test_only_outputs_that_let_go_may_need_a_clamp(drive: str, kind: str) -> None:
    facts = f'[outputs."N"]\nsupply = "V24"\ndrive = "{drive}"\nlow = {{ max = "0.4 V", at = "10 mA" }}\n'
    assert coils(RELAY, facts) == [("XK1", kind)]


def test_a_small_part_across_the_switch_that_nobody_explained_is_open() -> None:
    (result,) = found(f"{RELAY}{SWITCHES['bipolar']}XD1 N GND SUPPRESSOR\n")
    assert result.kind == "open"
    assert "XD1" in result.message


def test_a_clamp_on_another_side_of_the_barrier_is_none() -> None:
    facts = (
        '[supplies."V12X"]\nvoltage = "48 V"\nground = "GNDX"\n[sides.a]\nnets = ["GND"]\n[sides.b]\nnets = ["GNDX"]\n'
    )
    netlist = f"{RELAY}{SWITCHES['bipolar']}"
    report = check(f"{netlist}D1 N V24 DS\nR8 V12X GNDX 1k\n", facts)
    assert [result.kind for result in report.results if result.rule == "coil-clamp-missing"] == ["pass"]


@pytest.mark.parametrize(("across", "kinds"), [("SW V24B", {"pass"}), ("V24B SW", {"fail"}), ("", {"fail"})])
def test_a_coil_drawn_as_inductance_and_resistance_is_clamped_by_a_diode_over_both(
    across: str, kinds: set[str]
) -> None:
    diode = f"D1 {across} DFLY\n" if across else ""
    netlist = f"* t\nR1 V5 A 470\nXU1 A GND GNDB SW DEMO_PT1\nR5 V24B MID 2.2k\nL1 MID SW 1\n{diode}"
    facts = '[supplies.V5]\nvoltage = "5 V"\nground = "GND"\n[supplies.V24B]\nvoltage = "24 V"\nground = "GNDB"\n'
    report = judge(f"{netlist}.model DFLY D(IS=10n N=1.9 BV=200)\n", facts)
    found = [result for result in report.results if result.rule == "coil-clamp-missing" and "L1" in result.message]
    assert {result.kind for result in found} == kinds
