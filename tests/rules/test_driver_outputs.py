"""Outputs that drive gates: something to drive, the right way round, what they bear, how hot and how fast they are."""

from __future__ import annotations

import pytest

from isolint.checking.driver_heat import loss_share
from isolint.results import NetlistReport, Result
from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["25 degC", "60 degC"]
life = "10 year"
duty = 0.5
[supplies."V5"]
voltage = "5 V"
tolerance = "0 %"
ground = "GND"
[supplies."VG"]
voltage = "15 V"
tolerance = "0 %"
ground = "GNDB"
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "12 mA" }
low = { max = "0.4 V", at = "12 mA" }
source_max = "30 mA"
sink_max = "30 mA"
[elements."M*"]
gate_full_on = "8 V"
gate_voltage = ["-20 V", "20 V"]
gate_threshold_min = "2 V"
gate_charge = "60 nC"
[elements."*"]
tolerance = "0 %"
power = "1 W"
voltage = "500 V"
"""
RATE = '[signals."DRIVE"]\nrate = "20 kHz"\nduty = [0.1, 0.9]\n'
PARTS = """
[parts.DEMO_GD]
type = "gate-driver"
pins = ["anode", "cathode", "vcc", "out", "vee"]
[parts.DEMO_GD.led]
technology = "AlGaAs"
forward_voltage = { min = "1.4 V", typ = "1.5 V", max = "1.6 V", at = "10 mA" }
forward_current_max = "25 mA"
recommended_current_min = "7 mA"
threshold_current = "5 mA"
off_voltage = "0.8 V"
reverse_voltage_max = "5 V"
[parts.DEMO_GD.output]
kind = "push-pull"
high_level = { min = "-1 V", at = "10 mA" }
low_level = { max = "0.5 V", at = "10 mA" }
peak_current_max = "2.5 A"
peak_drop = "2 V"
current_max = "10 mA"
voltage_max = "35 V"
default = "low"
power_max = "250 mW"
derating = { from = "70 degC", slope = "4.8 mW/K" }
[parts.DEMO_GD.timing]
delay_low = { min = "100 ns", max = "350 ns" }
delay_high = { min = "100 ns", max = "350 ns" }
[parts.DEMO_GD.supply]
voltage = ["12 V", "30 V"]
current = "4 mA"
[parts.DEMO_PV]
type = "photovoltaic"
pins = ["anode", "cathode", "pv+", "pv-"]
[parts.DEMO_PV.output]
open_voltage = { min = "9 V", typ = "10 V" }
short_current = { min = "20 uA", drive = "10 mA" }
discharge = true
"""
INPUT = "* outputs that drive gates\nR1 DRIVE A 270\nXU1 A GND VG OUT GNDB DEMO_GD\nC1 VG GNDB 1u\n"
GATE = "R2 OUT G 10\nR3 G GNDB 10k\nM1 VG G GNDB GNDB NPOW\n"
MODEL = ".model NPOW NMOS(VTO=3 KP=10)\n"


def report(cards: str, facts: str = RATE, parts: str = PARTS) -> NetlistReport:
    return judge(f"{INPUT}{cards}{MODEL}", f"{FACTS}{facts}", parts__toml=parts)


def value(found: Result, symbol: str) -> float:
    item = next(item for item in found.evidence if item.symbol == symbol)
    number = item.max if item.max is not None else item.min
    assert number is not None
    return number


@pytest.mark.parametrize(
    ("cards", "kind"),
    [
        (GATE, "pass"),
        ("", "fail"),  # a net with no other pin
        ("C2 OUT GNDB 1n\n", "fail"),
        ("R2 OUT B 100\nQ1 VG B GNDB QN\n.model QN NPN(BF=100)\n", "pass"),  # a buffer takes its level
        ("R2 OUT G 10\nXQ1 D G S DEMO_FET\n", "notApplicable"),  # asked elsewhere
    ],
)
def test_a_gate_driver_drives_something(cards: str, kind: str) -> None:
    assert only(report(cards), "load-missing").kind == kind


ARRAY = "* a photovoltaic coupler\nR1 DRIVE A 270\nXU1 A GND {} DEMO_PV\nM1 D {} S S NPOW\nR2 VG D 100\nR3 S GNDB 1\n"


@pytest.mark.parametrize(
    ("pins", "gate", "kinds"),
    [
        ("G S", "G", ("pass", "pass")),
        ("S G", "G", ("fail", "fail")),  # minus at the gate: no gate is driven, and why
        ("G S", "H", ("fail", "pass")),  # the gate lies elsewhere
    ],
)
def test_a_photovoltaic_output_reaches_a_gate_with_its_plus(pins: str, gate: str, kinds: tuple[str, str]) -> None:
    found = judge(f"{ARRAY.format(pins, gate)}{MODEL}", FACTS, parts__toml=PARTS)
    assert (only(found, "load-missing").kind, only(found, "output-reversed").kind) == kinds


@pytest.mark.parametrize(("ohms", "amps", "kind"), [("10k", 1.5e-3, "pass"), ("1.4k", 10.71e-3, "fail")])
def test_the_resistor_from_gate_to_source_is_a_steady_load(ohms: str, amps: float, kind: str) -> None:
    found = only(report(GATE.replace("10k", ohms)), "output-current-exceeded")
    assert found.kind == kind
    assert value(found, "I_O") == pytest.approx(amps, rel=1e-3)


@pytest.mark.parametrize(("rated", "kind"), [("35 V", "pass"), ("14 V", "fail")])
def test_the_output_stands_its_supply(rated: str, kind: str) -> None:
    found = report(GATE, RATE, PARTS.replace('voltage_max = "35 V"', f'voltage_max = "{rated}"'))
    assert only(found, "output-voltage-exceeded").kind == kind


@pytest.mark.parametrize(
    ("more", "kind"), [('voltage_max = "16 V"\n', "pass"), ('voltage_max = "5.5 V"\n', "fail"), ("", "fail")]
)
def test_a_logic_input_at_the_output_stands_its_supply(more: str, kind: str) -> None:
    stated = f'[inputs."OUT"]\nsupply = "V5"\nlow_max = "1.5 V"\nhigh_min = "3.5 V"\n{more}'
    assert only(report("R2 OUT GNDB 10k\n", RATE + stated), "receiver-overvoltage").kind == kind


@pytest.mark.parametrize(
    ("charge", "rate", "kind"),
    [
        ("60 nC", "20 kHz", "pass"),  # 60 mW + 60 nC * 15 V * 20 kHz = 78 mW of 250 mW
        ("500 nC", "50 kHz", "open"),  # 375 mW if the output took all of it, 112 mW if it took 0.3
        ("2000 nC", "50 kHz", "fail"),  # 450 mW of 0.3 alone
    ],
)
def test_the_charge_of_the_gate_heats_the_driver(charge: str, rate: str, kind: str) -> None:
    facts = f'{RATE.replace("20 kHz", rate)}[elements."M1"]\ngate_charge = "{charge}"\n'
    found = only(report(GATE, facts), "coupler-overheated")
    assert found.kind == kind
    assert value(found, "P_CC") == pytest.approx(60e-3)


def test_the_resistance_of_the_output_tells_its_share() -> None:
    stated = PARTS.replace("peak_drop", 'on_resistance = "5 ohm"\npeak_drop')
    facts = f'{RATE}[elements."M1"]\ngate_charge = "500 nC"\n'
    found = only(report(GATE, facts, stated), "coupler-overheated")
    assert found.kind == "pass"
    assert value(found, "E_SW") == pytest.approx(500e-9 * 15.0 * 5.0 / 15.0)
    assert loss_share(5.0, 10.0) == pytest.approx(1.0 / 3.0)


def test_a_driver_of_which_nobody_says_how_often_it_switches_is_asked_about() -> None:
    found = only(report(GATE, ""), "coupler-overheated")
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ['signals."OUT".rate']


@pytest.mark.parametrize(("rate", "kind"), [("20 kHz", "pass"), ("1 MHz", "fail")])
def test_a_pulse_outlasts_what_the_delays_take_of_it(rate: str, kind: str) -> None:
    found = only(report(GATE, RATE.replace("20 kHz", rate)), "switching-too-slow")
    assert found.kind == kind
    assert value(found, "PWD") == pytest.approx(250e-9)


def test_an_isolator_s_rate_meets_its_pulse_distortion() -> None:
    part = """
[parts.DEMO_IS]
type = "digital-isolator"
pins = ["vdd1", "in", "gnd1", "vdd2", "out", "gnd2"]
groups = [["vdd1", "in", "gnd1"], ["vdd2", "out", "gnd2"]]
[parts.DEMO_IS.supply]
voltage = ["3 V", "16 V"]
[parts.DEMO_IS.timing]
delay_low = "50 ns"
delay_high = "50 ns"
distortion = "5 ns"
"""
    board = "* an isolator\nXU1 V5 DRIVE GND VG OUT GNDB DEMO_IS\nC1 V5 GND 100n\nC2 VG GNDB 100n\n"
    kinds = []
    for rate in ("1 Mbit/s", "150 Mbit/s"):
        facts = f'{FACTS}[signals."DRIVE"]\nrate = "{rate}"\n'
        kinds.append(only(judge(board, facts, parts__toml=part), "switching-too-slow").kind)
    assert kinds == ["pass", "fail"]


def test_each_half_of_a_driver_with_two_outputs_brings_its_own_supply() -> None:
    part = """
[parts.DEMO_TWO]
type = "gate-driver"
pins = ["vdd1", "ina", "inb", "gnd1", "vcca", "outa", "veea", "vccb", "outb", "veeb"]
groups = [["vdd1", "ina", "inb", "gnd1"], ["vcca", "outa", "veea"], ["vccb", "outb", "veeb"]]
[parts.DEMO_TWO.output]
kind = "push-pull"
high_level = { min = "-1 V", at = "10 mA" }
peak_current_max = "4 A"
power_max = "500 mW"
[[parts.DEMO_TWO.supplies]]
pins = ["vdd1", "gnd1"]
voltage = ["3 V", "5.5 V"]
current = "2 mA"
[[parts.DEMO_TWO.supplies]]
pins = ["vcca", "veea"]
voltage = ["10 V", "30 V"]
current = "3 mA"
[[parts.DEMO_TWO.supplies]]
pins = ["vccb", "veeb"]
voltage = ["10 V", "30 V"]
current = "3 mA"
"""
    board = "* two halves\nXU1 V5 DRIVE DRIVE2 GND VH OH SW VG OL GNDB DEMO_TWO\nC1 V5 GND 100n\nC2 VH SW 1u\n"
    board += "C3 VG GNDB 1u\n"
    board += "R1 OH G1 10\nM1 VH G1 SW SW NPOW\nR2 OL G2 10\nM2 SW G2 GNDB GNDB NPOW\n"
    facts = f'{FACTS}{RATE}[supplies."VH"]\nvoltage = "20 V"\ntolerance = "0 %"\nground = "SW"\n'
    found = only(judge(f"{board}{MODEL}", facts, parts__toml=part), "coupler-overheated")
    assert value(found, "P_CC") == pytest.approx(3e-3 * 20.0 + 3e-3 * 15.0)
