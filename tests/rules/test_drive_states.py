"""Off states, ports, reverse voltage, resistors and field thresholds of drives, against numbers worked out by hand."""

from __future__ import annotations

import math
import re

import pytest

from isolint.checking.demonstration import merged
from isolint.preparing import prepare
from isolint.results import Evidence, NetlistReport, Result
from isolint.source import MemoryTree
from tests.support import judge, only

FACTS = """
[supplies."V3"]
voltage = "3.3 V"
tolerance = "5 %"
ground = "GND"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
[outputs."OPEN*"]
supply = "V5"
drive = "open-drain"
low = { max = "0.4 V", at = "8 mA" }
sink_max = "16 mA"
voltage_max = "30 V"
[inputs."OUT*"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
voltage_max = "5.5 V"
[elements."R*"]
tolerance = "1 %"
power = "5 W"
voltage = "500 V"
[environment]
ambient = ["25 degC", "60 degC"]
life = "10 year"
duty = 0.5
"""
LOAD = "R2 VB OUT 22k\n"
LOGIC = "R1 V5 A 330\nXU1 A OPEN1 VB OUT GNDB DEMO_LO1\nR2 VB OUT 2.2k\nC1 VB GNDB 100n\n"


def check(netlist: str, more: str = "", **files: str) -> NetlistReport:
    """A netlist under the facts above, with further ones."""
    return judge(f"* test\n{netlist}", merged(FACTS, more), None, **files)


def evidence(result: Result, symbol: str) -> Evidence:
    """The first evidence line of a result with this symbol."""
    return next(item for item in result.evidence if item.symbol == symbol)


def maximum(result: Result, symbol: str) -> float:
    """The upper end of an evidence line."""
    value = evidence(result, symbol).max
    assert value is not None
    return value


def kinds(report: NetlistReport, rule: str) -> list[str]:
    """The kinds of all results of a rule."""
    return [result.kind for result in report.results if result.rule == rule]


# -- off state ----------------------------------------------------------------------------------------------------


def test_the_leakage_of_an_open_drain_output_flows_through_the_led() -> None:
    found = only(check(LOGIC, '[outputs."OPEN*"]\noff_leakage = "300 uA"\n'), "led-not-off")
    assert found.kind == "fail"
    # No resistor across the LED: all of it, against 250 uA of the record.
    assert maximum(found, "IF_off") == pytest.approx(300e-6, rel=1e-3)
    assert found.margin is not None
    assert found.margin.value == pytest.approx(250 / 300, rel=1e-3)


def test_a_resistor_across_the_led_carries_the_leakage() -> None:
    report = check(LOGIC + "R3 A OPEN1 1k\n", '[outputs."OPEN*"]\noff_leakage = "300 uA"\n')
    found = only(report, "led-not-off")
    assert found.kind == "pass"
    assert maximum(found, "VF_off") == pytest.approx(300e-6 * 1010, rel=1e-3)


def test_leakage_that_nobody_stated_is_an_assumption_of_at_most_ten_microamperes() -> None:
    found = only(check(LOGIC), "led-not-off")
    assert found.kind == "pass"
    assert maximum(found, "IF_off") == pytest.approx(10e-6, rel=1e-2)
    assert any(item.name == "off leakage of output OPEN1" for item in found.assumptions)


BARE = """
[parts.DEMO_BARE]
type = "logic-output"
pins = ["anode", "cathode", "vcc", "out", "gnd"]
[parts.DEMO_BARE.led]
technology = "AlGaAs"
forward_voltage = { min = "1.3 V", typ = "1.5 V", max = "1.75 V", at = "10 mA" }
forward_current_max = "20 mA"
reverse_voltage_max = "5 V"
threshold_current = "5 mA"
[parts.DEMO_BARE.output]
kind = "open-collector"
voltage_max = "7 V"
current_max = "50 mA"
low_level = { max = "0.6 V", at = "13 mA" }
leakage = "100 uA"
"""


@pytest.mark.parametrize(
    ("leakage", "kind"), [("1 uA", "pass"), ("90 uA", "pass"), ("300 uA", "open"), ("1.2 mA", "fail")]
)
def test_a_logic_output_without_off_figures_is_off_below_a_fiftieth_of_its_threshold_and_not_above_a_fifth(
    leakage: str, kind: str
) -> None:
    more = f'parts = ["parts.toml"]\n[outputs."OPEN*"]\noff_leakage = "{leakage}"\n'
    report = check(LOGIC.replace("DEMO_LO1", "DEMO_BARE"), more, parts__toml=BARE)
    found = only(report, "led-not-off")
    assert found.kind == kind
    if kind == "open":
        assert [fact.key for fact in found.missing] == ["parts.DEMO_BARE.led.off_current"]
        assert found.missing[0].file == "parts.toml"


def test_a_push_pull_port_of_a_lower_supply_can_not_switch_the_led_off_and_that_is_one_fault() -> None:
    port = (
        '[outputs."PORT"]\nsupply = "V3"\nhigh = { min = "2.9 V", at = "4 mA" }\nlow = { max = "0.4 V", at = "8 mA" }\n'
    )
    report = check(
        f"R1 V5 A 390\nXU1 A PORT GNDB OUT DEMO_PT1\n{LOAD}", port + 'source_max = "8 mA"\nsink_max = "16 mA"\n'
    )
    assert [result.rule for result in report.results if result.kind in ("fail", "open")] == ["led-not-off"]
    found = only(report, "led-not-off")
    # 5.25 V - 3.135 V (the unloaded port, its supply's minimum) - 1.0 V over 386 ohm, at 60 degC.
    assert maximum(found, "IF_off") == pytest.approx((5.25 - 3.135 - 0.95) / 386.1, rel=0.05)


def test_a_port_on_the_leds_own_supply_switches_it_off() -> None:
    found = only(check(f"R1 V5 A 470\nXU1 A DRIVE GNDB OUT DEMO_PT1\n{LOAD}"), "led-not-off")
    assert found.kind == "pass"
    # A current pushed back into the port finds it at its supply: at most the spread of that supply is left.
    assert maximum(found, "IF_off") < 10e-6


def test_a_line_that_leaks_is_judged_at_its_voltage_and_with_its_leakage() -> None:
    line = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["0 V", "0.2 V"]\nleakage = "1.5 mA"\n'
    netlist = f"R1 IN A 2.2k\nR3 A GND {{0}}\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"
    assert only(check(netlist.format("330"), line), "led-not-off").kind == "pass"
    found = only(check(netlist.format("3.3k"), line), "led-not-off")
    assert found.kind == "fail"
    assert "IN off and leaking" in found.message


def test_nothing_that_switches_is_no_off_state() -> None:
    found = only(check(f"R1 V5 A 470\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"), "led-not-off")
    assert found.kind == "notApplicable"


def test_a_state_between_on_and_off_fails_and_is_named() -> None:
    netlist = f"R1 DRIVE1 A 390\nR4 DRIVE2 A 390\nR3 A GND 390\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"
    found = only(check(netlist), "led-not-off")
    assert found.kind == "fail"
    assert "DRIVE1 low, DRIVE2 high" in found.message or "DRIVE1 high, DRIVE2 low" in found.message


PAIR = f"R1 ONE A 390\nXU1 A TWO GNDB OUT DEMO_PT1\n{LOAD}"


@pytest.mark.parametrize(("exclusive", "states"), [("", 4), ('exclusive = "either"\n', 3)])
def test_an_exclusive_set_removes_the_combination_in_which_two_are_active(exclusive: str, states: int) -> None:
    levels = 'supply = "V5"\nhigh = { min = "4.4 V", at = "8 mA" }\nlow = { max = "0.4 V", at = "8 mA" }\n'
    limits = 'source_max = "16 mA"\nsink_max = "16 mA"\n'
    facts = "".join(f'[outputs."{name}"]\n{levels}{limits}{exclusive}' for name in ("ONE", "TWO"))
    files = {"board.cir": f"* test\n{PAIR}", "isolint.toml": f"top = true\n{FACTS}{facts}"}
    context, _ = prepare(MemoryTree(files), "board.cir", "")
    assert len(context.analysis.drives().states(context.channels[0])) == states


def test_an_unpowered_output_has_a_third_state() -> None:
    facts = '[outputs."DRIVE*"]\nunpowered = true\noff_leakage = "20 uA"\nvoltage_max = "5.5 V"\n'
    found = only(check(f"R1 V5 A 470\nXU1 A DRIVE GNDB OUT DEMO_PT1\n{LOAD}", facts), "led-not-off")
    assert "DRIVE hi-z" in found.message
    assert maximum(found, "IF_off") == pytest.approx(20e-6, rel=1e-2)


def test_a_pull_up_lights_the_led_while_the_output_in_its_net_is_without_power() -> None:
    unpowered = '[outputs."DRIVE*"]\nunpowered = true\noff_leakage = "1 uA"\nvoltage_max = "5.5 V"\n'
    netlist = f"R3 V5 DRIVE 10k\nR1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"
    assert only(check(netlist), "led-not-off").kind == "pass"
    found = only(check(netlist, unpowered), "led-not-off")
    assert found.kind == "fail"
    assert "DRIVE hi-z" in found.message
    assert maximum(found, "IF_off") == pytest.approx((5.25 - 0.8) / (10470 * 0.99), rel=0.03)


def test_more_than_six_switching_inputs_stay_open() -> None:
    drives = "".join(f"R1{n} DRIVE{n} A 2.7k\n" for n in range(7))
    report = check(f"{drives}XU1 A GND GNDB OUT DEMO_PT1\n{LOAD}")
    found = [result for result in report.results if result.kind == "open"]
    assert [result.rule for result in found] == ["led-unlimited"]
    assert "7 switching inputs" in found[0].message


def test_pulled_together_a_lot_of_led_current_is_no_off_state_of_an_open_drain_net_with_a_pull_up() -> None:
    """The pull-up on the output's own net feeds the LED while the output is in high impedance."""
    report = check(
        f"R1 V5 OPEN1 390\nXU1 OPEN1 GND GNDB OUT DEMO_PT1\n{LOAD}", '[outputs."OPEN*"]\noff_leakage = "1 uA"\n'
    )
    found = only(report, "led-overdriven")
    assert found.kind == "pass"
    assert maximum(found, "IF") == pytest.approx((5.25 - 1.0) / 386.1, rel=0.02)


# -- dark current -------------------------------------------------------------------------------------------------


def test_dark_current_doubles_each_eight_kelvins_at_worst() -> None:
    found = only(check(f"R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}"), "dark-current-high")
    amps = 100e-9 * 2.0 ** (35 / 8)
    assert found.kind == "pass"
    assert maximum(found, "I_dark") == pytest.approx(amps, rel=1e-6)
    level = evidence(found, "off level").min
    assert level == pytest.approx(4.75 - (amps + 1e-6) * 22e3 * 1.01, rel=1e-5)
    assert evidence(found, "I_dark").formula.endswith("= 1e-7 * 2 ** ((60 - 25) / 8) = 2.0749 uA")


def test_a_hot_point_of_the_record_wins() -> None:
    hot = BARE.replace("DEMO_BARE", "DEMO_HOT").replace('"logic-output"', '"phototransistor"')
    hot = hot.replace('"vcc", "out", "gnd"', '"collector", "emitter"').split("[parts.DEMO_HOT.output]")[0]
    hot += '[parts.DEMO_HOT.output]\ndark_current = { max = "100 nA", at = "25 degC", hot = ["10 uA", "85 degC"] }\n'
    facts = f'parts = ["parts.toml"]\n{FACTS}'
    report = judge(f"* test\nR1 DRIVE A 470\nXU1 A GND OUT GNDB DEMO_HOT\n{LOAD}", facts, parts__toml=hot)
    found = only(report, "dark-current-high")
    # A factor of 100 over 60 K: in 35 K 100 ^ (35 / 60).
    assert maximum(found, "I_dark") == pytest.approx(100e-9 * 100 ** (35 / 60), rel=1e-4)


def test_dark_currents_of_couplers_on_one_net_add_and_the_same_fault_is_not_said_of_the_led() -> None:
    netlist = (
        "R1 DRIVE1 A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR3 DRIVE2 C 470\nXU2 C GND GNDB OUT DEMO_PT1\nR2 VB OUT 1Meg\n"
    )
    report = check(netlist)
    found = next(result for result in report.results if result.rule == "dark-current-high")
    assert [item.symbol for item in found.evidence].count("I_dark") == 2
    assert {result.blocked_by for result in report.results if result.rule == "led-not-off"} == {"dark-current-high"}


def test_too_much_dark_current_is_cured_by_a_smaller_resistor_that_it_flows_through() -> None:
    drive = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\n"
    found = only(check(f"{drive}R2 VB OUT 1Meg\nC2 OUT GNDB 1n\n"), "dark-current-high")
    assert found.kind == "fail"
    ohms = re.match(r"R2 \(.*\): (\d+) kohm or less, or a part with less dark current", found.remedy)
    assert ohms is not None, found.remedy
    # 1.25 V are to spare (4.75 V - 3.5 V) for 2.07 uA of dark current and 1 uA of the input, the resistor + 1 %.
    most = 1.25 / (100e-9 * 2 ** (35 / 8) + 1e-6) / 1.01
    assert 0.85 * most < float(ohms[1]) * 1e3 <= most
    assert only(check(f"{drive}R2 VB OUT {ohms[1]}k\nC2 OUT GNDB 1n\n"), "dark-current-high").kind == "pass"


def test_dark_current_into_an_open_base_switches_the_transistor() -> None:
    stage = "R1 DRIVE A 470\nXU1 A GND E VB DEMO_PT1\nR2 E B 2.2k\nQ1 C B GNDB QN\nR4 VB C 4.7k\n"
    stage += ".model QN NPN(IS=2e-14 BF=250)\n"
    more = '[elements."Q1"]\ngain_min = 100\n'
    assert kinds(check(stage, more), "dark-current-high") == ["fail"]
    found = only(check(f"{stage}R5 B GNDB 47k\n", more), "dark-current-high")
    assert found.kind == "pass"
    # All of the dark current through 47 kohm + 1 %.
    assert maximum(found, "off level") == pytest.approx(100e-9 * 2 ** (35 / 8) * 47e3 * 1.01, rel=0.01)


# -- reverse voltage ----------------------------------------------------------------------------------------------

REVERSED = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["-3 V", "0.5 V"]\nreverse = "30 V"\n'


def test_a_reversed_line_divides_over_the_resistors_around_the_led() -> None:
    report = check(f"R1 IN A 2.2k\nR3 A GND 1k\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}", REVERSED)
    found = only(report, "led-reverse-exceeded")
    assert found.kind == "fail"
    assert maximum(found, "V_R") == pytest.approx(30 * 1010 / (1010 + 2178), rel=1e-4)


def test_the_reverse_limit_that_no_record_states_is_an_interval() -> None:
    line = REVERSED.replace("30 V", "5.5 V", 2).replace('"15 V", "5.5 V"', '"15 V", "30 V"')
    bare = BARE.replace('reverse_voltage_max = "5 V"\n', "")
    facts = f'parts = ["parts.toml"]\n{FACTS}{line.replace("5.5 V", "4 V")}'
    netlist = "* test\nR1 IN A 1.8k\nXU1 A GND VB OUT GNDB DEMO_BARE\nR2 VB OUT 2.2k\nC1 VB GNDB 100n\n"
    found = only(judge(netlist, facts, parts__toml=bare), "led-reverse-exceeded")
    # 4 V against 3 to 5 V of a logic output's LED.
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ["parts.DEMO_BARE.led.reverse_voltage_max"]


# -- ports --------------------------------------------------------------------------------------------------------


def test_an_open_pin_rises_to_the_leds_supply() -> None:
    facts = '[outputs."OPEN*"]\noff_leakage = "1 uA"\nvoltage_max = "3.6 V"\n'
    found = only(check(f"R1 V5 A 470\nXU1 A OPEN1 GNDB OUT DEMO_PT1\n{LOAD}", facts), "driver-port-overloaded")
    assert found.kind == "fail"
    assert 4.9 < maximum(found, "V_pin") < 5.25


def test_a_port_that_is_sound_hides_no_other_that_is_overloaded() -> None:
    facts = '[outputs."OPEN*"]\noff_leakage = "1 uA"\nvoltage_max = "{}"\n'
    netlist = f"R1 DRIVE A 470\nXU1 A OPEN1 GNDB OUT DEMO_PT1\n{LOAD}"
    assert kinds(check(netlist, facts.format("30 V")), "driver-port-overloaded") == ["pass"]
    report = check(netlist, facts.format("2 V"))
    assert kinds(report, "driver-port-overloaded") == ["fail"]
    assert "OPEN1" in only(report, "driver-port-overloaded").message


def test_what_a_pin_takes_that_nobody_states_is_open_when_its_supply_is_exceeded() -> None:
    pin = '[outputs."LOW"]\nsupply = "V3"\ndrive = "open-drain"\nlow = { max = "0.4 V", at = "8 mA" }\n'
    pin += 'sink_max = "16 mA"\noff_leakage = "1 uA"\n'
    report = check(f"R1 V5 A 470\nXU1 A LOW GNDB OUT DEMO_PT1\n{LOAD}", pin)
    found = only(report, "driver-port-overloaded")
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ['outputs."LOW".voltage_max']


def test_the_currents_of_a_group_add_and_exclusive_outputs_count_once() -> None:
    netlist = "".join(
        f"R1{n} DRIVE{n} A{n} 470\nXU{n} A{n} GND GNDB OUT{n} DEMO_PT1\nR2{n} VB OUT{n} 22k\n" for n in (1, 2, 3)
    )
    group = '[outputs."DRIVE*"]\ngroup = "bank"\n[groups.bank]\ncurrent_max = "20 mA"\n'
    one = (5.25 - 1.0) / (470 * 0.99)

    def total(facts: str) -> tuple[str, float]:
        found = next(result for result in check(netlist, facts).results if result.role == "group bank")
        return found.kind, maximum(found, "I_group")

    kind, amps = total(group)
    assert kind == "fail"
    assert amps == pytest.approx(3 * one, rel=0.02)
    kind, amps = total(group + '[outputs."DRIVE1"]\nexclusive = "set"\n[outputs."DRIVE2"]\nexclusive = "set"\n')
    assert kind == "pass"
    assert amps == pytest.approx(2 * one, rel=0.02)


def test_one_output_for_two_drive_networks_gives_both_currents() -> None:
    netlist = "".join(
        f"R1{n} DRIVE A{n} 390\nXU{n} A{n} GND GNDB OUT{n} DEMO_PT1\nR2{n} VB OUT{n} 22k\n" for n in (1, 2)
    )
    report = check(netlist)
    found = next(result for result in report.results if result.role == "DRIVE together")
    assert found.kind == "fail"
    assert maximum(found, "I_port") == pytest.approx(2 * (5.25 - 1.0) / (390 * 0.99), rel=0.02)


# -- resistors ----------------------------------------------------------------------------------------------------


def test_the_power_in_a_series_resistor_is_its_current_squared_times_its_resistance() -> None:
    line = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["0 V", "0.5 V"]\n[elements."R1"]\npower = "0.25 W"\n'
    found = only(check(f"R1 IN A 2.2k\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}", line), "resistor-overloaded", "fail")
    assert found.level == "warning"
    assert maximum(found, "P") == pytest.approx((30 - 1.01) ** 2 / 2178, rel=0.01)
    assert found.where.line == 2


@pytest.mark.parametrize(("ohms", "kind"), [("15k", "pass"), ("2.2k", "open"), ("330", "fail")])
def test_ratings_that_nobody_states_pass_little_power_and_fail_hopeless_power(ohms: str, kind: str) -> None:
    facts = (
        FACTS.replace('power = "5 W"\nvoltage = "500 V"\n', "")
        + '[lines."IN"]\non = ["22 V", "26 V"]\noff = ["0 V", "0.5 V"]\n'
    )
    report = judge(
        f"* test\nR1 IN A {ohms}\nXU1 A GND GNDB OUT DEMO_PULSE\nR2 VB OUT 47k\n",
        f'parts = ["p.toml"]\n{facts}',
        p__toml=PULSE,
    )
    found = [result for result in report.results if result.rule == "resistor-overloaded" and result.role == "R1"]
    assert {result.kind for result in found} <= {kind}
    assert kind in kinds(report, "resistor-overloaded")
    if kind == "open":
        assert [fact.key for fact in found[0].missing] == ['elements."R1".power']


PULSE = """
[parts.DEMO_PULSE]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_PULSE.led]
technology = "GaAs"
forward_voltage = { min = "1.05 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }
forward_current_max = "100 mA"
pulse_current_max = "500 mA"
reverse_voltage_max = "6 V"
off_current = "20 uA"
[parts.DEMO_PULSE.transfer]
ratio = { min = "80 %", max = "160 %", current = "5 mA", voltage = "5 V" }
versus_current = [["0.5 mA", 0.40], ["1 mA", 0.60], ["5 mA", 1.00], ["500 mA", 0.40]]
ageing = { remaining = 0.8 }
[parts.DEMO_PULSE.output]
saturation_voltage = { max = "0.3 V", at = "2.4 mA", drive = "8 mA" }
dark_current = { max = "100 nA", at = "25 degC" }
"""


# -- field thresholds ---------------------------------------------------------------------------------------------

TYPE = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["-3 V", "5 V"]\nstandard = "IEC 61131-2 type {0}"\n'
ZENER = "R1 IN A 2.2k\nR3 B GND {0}\nD1 B A DZ\nXU1 B GND GNDB OUT DEMO_PT1\n{1}.model DZ D(IS=1e-14 BV=5.1 IBV=1m)\n"


def test_the_current_of_the_line_is_that_through_everything_on_it() -> None:
    facts = TYPE.format(1) + '[elements."D1"]\ntolerance = "0 %"\n'
    plain = only(check(ZENER.format("1k", LOAD), facts), "input-thresholds-missed")
    more = only(check(ZENER.format("1k", LOAD) + "R9 IN GND 10k\n", facts), "input-thresholds-missed")
    least = [evidence(result, "min").min or 0.0 for result in (plain, more)]
    assert least[0] == pytest.approx((15 - 5.1 - 0.03 - 1.42) / 2222, rel=0.01)
    assert least[1] - least[0] == pytest.approx(15 / 10100, rel=1e-3)


def test_the_turn_on_voltage_is_the_sum_of_all_drops_at_the_led_current_that_switches() -> None:
    found = only(check(ZENER.format("1k", LOAD), TYPE.format(1)), "input-thresholds-missed")
    amps, volts = maximum(found, "IF_on"), maximum(found, "V_on")
    # V_on = VF + VZ + R1 (IF_on + VF / R3), VZ + 5 %, R1 + 1 %, R3 - 1 %; VF not lowered below its test current.
    current = amps + 1.4 / 990
    zener = 5.1 * 1.05 + 0.0257 * math.log(current / 1e-3)
    assert volts == pytest.approx(1.4 + zener + 2222 * current, rel=0.02)


def test_the_current_that_must_not_switch_is_larger_for_type_3() -> None:
    assert only(check(ZENER.format("1k", LOAD), TYPE.format(1)), "input-thresholds-missed").kind == "pass"
    line = TYPE.format(3).replace("15 V", "11 V")
    found = only(check(ZENER.format("1k", LOAD), line), "input-thresholds-missed")
    assert found.kind == "fail"
    assert "1.5 mA into IN" in found.message


def test_a_standard_that_is_not_known_is_open() -> None:
    found = only(check(ZENER.format("1k", LOAD), TYPE.format(9)), "input-thresholds-missed")
    assert found.kind == "open"
    assert [fact.key for fact in found.missing] == ['lines."IN".standard']


def test_a_line_without_a_standard_is_not_judged_by_one() -> None:
    line = '[lines."IN"]\non = ["15 V", "30 V"]\noff = ["0 V", "0.5 V"]\n'
    assert kinds(check(f"R1 IN A 2.2k\nXU1 A GND GNDB OUT DEMO_PT1\n{LOAD}", line), "input-thresholds-missed") == [
        "notApplicable"
    ]
