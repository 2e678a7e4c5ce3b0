"""Switching outputs on mains and on direct current: boards that came out clean, the published sums, and their traps."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from isolint.checking.switched_load import SeriesCircuit, rise
from isolint.results import NetlistReport, Result
from isolint.units import show
from tests.support import judge, only

LED = """
[{part}.led]
forward_voltage = {{ min = "1.0 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }}
forward_current_max = "60 mA"
reverse_voltage_max = "6 V"
recommended_current_min = "7 mA"
"""
DRIVE = """top = true
parts = ["p.toml"]
[outputs."DRV"]
supply = "V5"
high = { min = "4.4 V", at = "16 mA" }
low = { max = "0.4 V", at = "16 mA" }
source_max = "20 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[environment]
ambient = ["0 degC", "40 degC"]
[elements."R*"]
tolerance = "1 %"
power = "1 kW"
voltage = "700 V"
[sides.logic]
nets = ["GND"]
kind = "hazardous"
[sides.mains]
nets = ["N"]
kind = "hazardous"
"""


def supply(rms: str = "230 V", name: str = "L", more: str = "") -> str:
    """An AC supply against N with 10 % of tolerance."""
    head = f'[supplies."{name}"]\nvoltage = "{rms}"\ntolerance = "10 %"\nkind = "ac"\n'
    return f'{head}frequency = "50 Hz"\nground = "N"\n{more}'


def dc(volts: str = "24 V") -> str:
    return f'[supplies."V24"]\nvoltage = "{volts}"\ntolerance = "20 %"\nground = "N"\n'


def record(kind: str, pins: str, table: str, values: Mapping[str, str], name: str = "DEMO_X") -> str:
    """A record of a type with an LED, and what its one table states."""
    lines = "\n".join(f"{key} = {value}" for key, value in values.items())
    head = f'[parts.{name}]\ntype = "{kind}"\npins = [{pins}]\n'
    led = LED.format(part=f"parts.{name}") if "anode" in pins and kind != "scr" else ""
    return f"{head}{led}\n[parts.{name}.{table}]\n{lines}\n"


def coupler(**stated: str) -> str:
    """A phototriac."""
    values = {"current_max": '"7 mA"', "zero_crossing": "false", **stated}
    return record("phototriac", '"anode", "cathode", "t1", "t2"', "trigger", values)


def triac(**stated: str) -> str:
    return record("triac", '"mt2", "gate", "mt1"', "thyristor", stated, "DEMO_T")


def mosfet(pins: str = '"anode", "cathode", "load1", "load2"', **stated: str) -> str:
    return record("mosfet-output", pins, "output", stated)


def heater(gate: str = "390", load: str = "R3 M2 N 52", supplied: str = "L") -> str:
    """A coupler that fires a triac, which switches a load against N."""
    return f"* board\nR1 DRV A 300\nXU1 A GND T1 G DEMO_X\nR2 T1 M2 {gate}\nXT1 M2 G {supplied} DEMO_T\n{load}\n"


def direct(load: str = "R3 T1 L 8k", other: str = "N") -> str:
    return f"* board\nR1 DRV A 300\nXU1 A GND T1 {other} DEMO_X\n{load}\n"


def judged(cards: str, settings: str, *records: str) -> NetlistReport:
    return judge(cards, DRIVE.removeprefix("top = true\n") + settings, p__toml="".join(records))


def of(report: NetlistReport, rule: str, role: str = "") -> Result:
    """The one result of a rule and role."""
    (found,) = [each for each in report.results if each.rule == rule and each.role == role]
    return found


def margin(result: Result) -> float:
    assert result.margin is not None
    return round(result.margin.value, 2)


# -- boards that came out clean ------------------------------------------------------


def test_33_ohm_in_the_gate_path_of_230_volts_fail_and_the_sum_can_be_redone() -> None:
    found = of(judged(heater("33", "R3 M2 N 0.01"), supply(), coupler(surge_current='"1 A"'), triac()), FIRES)
    assert (found.kind, margin(found)) == ("fail", 0.09)
    assert "10.9 A" in found.message and "it stands 1 A" in found.message
    assert found.evidence[0].formula.startswith("I_pk = V_pk / R = 357.796 / 32.6")
    assert found.remedy.startswith("R2 (board.cir:4): 390 ohm or more")


def test_a_part_for_250_volts_on_the_peak_of_230_volts_fails() -> None:
    found = of(judged(direct(), supply(), coupler(blocking_voltage='"250 V"')), BLOCKS)
    assert (found.kind, margin(found)) == ("fail", 0.58)
    assert "429 V is wanted" in found.message


def test_ten_ohm_on_24_volts_fail_through_a_mosfet_output_for_0_4_ampere() -> None:
    board = direct("R3 T1 V24 10")
    found = of(judged(board, dc(), mosfet(voltage_max='"60 V"', current_max='"0.4 A"')), CARRIES)
    assert (found.kind, margin(found)) == ("fail", 0.14)
    assert "2.91 A" in found.message


# -- blocking ------------------------------------------------------------------------

FIRES, BLOCKS, CARRIES, LATE = (
    "gate-path-resistor-low",
    "blocking-voltage-low",
    "output-current-exceeded",
    "triac-fires-late",
)


@pytest.mark.parametrize(
    ("rms", "blocks", "kind", "expected"),
    [
        ("230 V", "600 V", "pass", 1.40),
        ("230 V", "400 V", "fail", 0.93),
        ("230 V", "250 V", "fail", 0.58),
        ("120 V", "400 V", "pass", 1.79),
        ("120 V", "250 V", "pass", 1.12),
    ],
)
def test_the_peak_with_its_margin_is_blocked(rms: str, blocks: str, kind: str, expected: float) -> None:
    found = of(judged(direct(), supply(rms), coupler(blocking_voltage=f'"{blocks}"')), BLOCKS)
    assert (found.kind, margin(found)) == (kind, expected)


def test_a_part_of_which_nobody_states_what_it_blocks_is_asked_about_on_mains_and_passes_on_24_volts() -> None:
    assert of(judged(direct(), supply(), coupler()), BLOCKS).kind == "open"
    assert of(judged(direct(), supply("24 V"), coupler()), BLOCKS).kind == "pass"


def test_two_phases_of_three_do_not_add_their_peaks_where_their_angle_is_stated() -> None:
    board, part = direct("R3 T1 L1 8k", "L2"), coupler(blocking_voltage='"800 V"')
    two = supply("230 V", "L1") + supply("230 V", "L2", 'phase = "120 deg"\n')
    found = of(judged(board, two, part), BLOCKS)
    assert (found.kind, margin(found)) == ("pass", 1.08)
    unstated = of(judged(board, supply("230 V", "L1") + supply("230 V", "L2"), part), BLOCKS)
    # The first that waits for the phase carries it.
    assert unstated.blocked_by == CARRIES
    report = judged(board, supply("230 V", "L1") + supply("230 V", "L2"), part)
    assert 'supplies."L2".phase' in [fact.key for each in report.results for fact in each.missing]


def test_a_lagging_load_rings_across_its_switch_beyond_the_peak() -> None:
    load = '[loads."M"]\nkind = "motor"\npower_factor = 0.5\ncurrent = "2.2 A"\nreturn = "N"\n'
    board = direct("R3 T1 M 0.001\nR4 T1 S 39\nC1 S L 10n", "L")
    report = judged(board, supply() + load, coupler(blocking_voltage='"600 V"'))
    found = of(report, BLOCKS)
    assert found.kind == "fail"
    assert "610 V" in found.message or "611 V" in found.message
    measured = judged(board, supply() + load + 'off_voltage = "450 V"\n', coupler(blocking_voltage='"600 V"'))
    assert of(measured, BLOCKS).kind == "pass"


# -- gate path -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rms", "ohms", "surge", "expected"),
    [("220 V", "330", "1 A", 0.95), ("240 V", "330", "1 A", 0.88), ("230 V", "390", "1 A", 1.08)],
)
def test_the_gate_path_keeps_to_the_surge_current(rms: str, ohms: str, surge: str, expected: float) -> None:
    report = judged(heater(ohms, "R3 M2 N 0.01"), supply(rms), coupler(surge_current=f'"{surge}"'), triac())
    assert margin(of(report, FIRES)) == expected


def test_a_resistor_from_gate_to_main_terminal_limits_nothing_and_one_in_either_lead_does() -> None:
    part = coupler(surge_current='"1 A"')
    beside = judged(heater("33", "R3 M2 N 0.01\nR5 G L 330"), supply(), part, triac())
    assert of(beside, FIRES).kind == "fail"
    halves = "* board\nR1 DRV A 300\nXU1 A GND T1 T2 DEMO_X\nR2 T1 M2 200\nR5 T2 G 200\nXT1 M2 G L DEMO_T\nR3 M2 N 52\n"
    assert of(judged(halves, supply(), part, triac()), FIRES).kind == "pass"


def test_a_zero_crossing_part_fires_below_its_inhibit_voltage_so_that_39_ohm_do() -> None:
    stated = {"zero_crossing": "true", "surge_current": '"1 A"'}
    crossing = coupler(**stated, inhibit_voltage='"20 V"')
    assert of(judged(heater("39"), supply(), crossing, triac()), FIRES).kind == "pass"
    assert of(judged(heater("39"), supply(), coupler(**stated), triac()), FIRES).kind == "fail"


def test_a_snubber_behind_the_gate_resistor_feeds_the_gate_path_too() -> None:
    board = heater("390", "R3 M2 N 52\nR4 T1 S 10\nC1 S L 100n")
    report = judged(board, supply(), coupler(surge_current='"1 A"'), triac())
    assert of(report, FIRES).kind == "fail"


def test_a_thyristor_of_which_nothing_is_known_is_asked_about() -> None:
    report = judged(heater("33"), supply(), coupler(surge_current='"1 A"'))
    asked = [fact.key for each in report.results if each.kind == "open" for fact in each.missing]
    assert 'elements."XT1".part' in asked
    assert report.coverage.answers[0].state == "open"


# -- firing, holding -----------------------------------------------------------------


def test_it_fires_at_twenty_volts_which_is_late_on_24_volts_only() -> None:
    gate = triac(gate_current='"100 mA"', gate_voltage='"2 V"')
    part = coupler(on_voltage='"3 V"')
    settings = '[elements."R2"]\ntolerance = "0 %"\n'
    mains = of(judged(heater("150", "R3 M2 N 0.01"), supply("115 V") + settings, part, gate), LATE)
    assert mains.kind == "pass"
    low = of(judged(heater("150", "R3 M2 N 0.01"), supply("24 V") + settings, part, gate), LATE)
    assert (low.kind, low.level) == ("fail", "warning")
    never = of(judged(heater("1k", "R3 M2 N 0.01"), supply("24 V") + settings, part, gate), LATE)
    assert (never.kind, never.level) == ("fail", "error")


def test_a_lamp_of_five_watts_does_not_keep_a_triac_on() -> None:
    lamp = '[loads."P"]\nkind = "lamp"\ncurrent = ["21.7 mA", "25 mA"]\nreturn = "N"\n'
    latching = triac(latching_current='"50 mA"')
    found = of(judged(heater("390", "R3 M2 P 0.001"), supply() + lamp, coupler(), latching), "load-current-low")
    # 30.7 mA over 50 mA is 0.61 at 25 degC, and less at 0 degC.
    assert (found.kind, margin(found)) == ("fail", 0.45)


def test_a_thyristor_on_direct_current_never_opens_and_unfiltered_rectified_current_lets_it() -> None:
    holds = coupler(holding_current='"0.5 mA"')
    found = of(judged(direct("R3 T1 V24 100"), dc(), holds), "dc-load-latches")
    assert found.kind == "fail" and "291 mA" in found.message
    bridge = "R3 T1 P 100\nD1 L P DD\nD2 N P DD\nD3 M L DD\nD4 M N DD\n.model DD D\n"
    assert of(judged(direct(bridge, "M"), supply("24 V"), holds), "dc-load-latches").kind == "pass"
    smoothed = judged(direct(bridge + "C1 P M 100u\n", "M"), supply("24 V"), holds)
    assert of(smoothed, "dc-load-latches").kind == "fail"
    use = '[signals."T1"]\nuse = "latch"\n'
    stays = of(judged(direct("R3 T1 V24 100"), dc() + use, holds), "dc-load-latches")
    assert stays.kind == "fail"


# -- snubber -------------------------------------------------------------------------


def test_the_rise_behind_a_snubber_is_that_of_the_series_circuit() -> None:
    impedance = 253.0 / 2.2
    load = SeriesCircuit(impedance * 0.5, impedance * math.sqrt(0.75) / (2 * math.pi * 50.0), 39.0, 10e-9)
    step = 253.0 * math.sqrt(2.0) * math.sqrt(0.75)
    assert rise(load, step, 50.0) == pytest.approx(5.43e6, rel=2e-3)
    assert rise(load._replace(snubber_ohms=100.0, farads=100e-9), step, 50.0) == pytest.approx(1.63e6, rel=3e-3)
    assert rise(load._replace(farads=1e-9), step, 50.0) == pytest.approx(17.4e6, rel=5e-3)


@pytest.mark.parametrize(("farads", "kind"), [("10n", "fail"), ("100n", "pass")])
def test_a_motor_needs_a_snubber_that_the_thyristor_stands(farads: str, kind: str) -> None:
    load = '[loads."M2"]\nkind = "motor"\npower_factor = 0.5\ncurrent = "2.2 A"\nreturn = "N"\noff_voltage = "450 V"\n'
    switch = triac(commutating_slew='"5 V/us"', commutating_slope='"0.1 A/ms"')
    board = heater("390", f"R3 M2 N 1MEG\nR4 M2 S 39\nC1 S L {farads}")
    found = of(judged(board, supply() + load, coupler(), switch), "snubber-missing")
    assert found.kind == kind
    three = triac(commutating_slope='"8 A/ms"')
    bare = of(judged(heater("390", "R3 M2 N 1MEG"), supply() + load, coupler(), three), "snubber-missing")
    assert bare.kind == "pass"


def test_nothing_is_asked_of_a_heater_and_the_kind_of_a_load_off_the_board_is() -> None:
    plain = judged(heater(), supply(), coupler(), triac())
    assert [each for each in plain.results if each.rule == "snubber-missing" and each.kind in ("fail", "open")] == []
    away = '[loads."M2"]\ncurrent = "2.2 A"\nreturn = "N"\n'
    board = "* board\nR1 DRV A 300\nXU1 A GND T1 G DEMO_X\nR2 T1 M2 390\nXT1 M2 G L DEMO_T\n"
    found = of(judged(board, supply() + away, coupler(), triac()), "snubber-missing")
    assert [fact.key for fact in found.missing] == ['loads."M2".kind']


# -- MOSFET outputs ------------------------------------------------------------------


def test_a_mosfet_output_stands_the_peak_of_24_volts_alternating() -> None:
    found = of(
        judged(direct(), supply("24 V"), mosfet(voltage_max='"40 V"', current_max='"1 A"')), "output-voltage-exceeded"
    )
    assert (found.kind, margin(found)) == ("pass", 1.07)
    over = judged(direct("R3 T1 V24 1k"), dc("110 V"), mosfet(voltage_max='"60 V"', current_max='"1 A"'))
    assert of(over, "output-voltage-exceeded").kind == "fail"
    silent = judged(direct("R3 T1 V24 1k"), dc(), mosfet(current_max='"1 A"'))
    assert of(silent, "output-voltage-exceeded").kind == "open"


def test_a_one_way_output_conducts_backwards_on_alternating_voltage() -> None:
    stated = {"voltage_max": '"60 V"', "current_max": '"1 A"'}
    one_way = mosfet('"anode", "cathode", "drain", "source"', **stated)
    assert of(judged(direct(), supply("24 V"), one_way), "output-reversed").kind == "fail"
    assert of(judged(direct("R3 T1 V24 1k"), dc(), one_way), "output-reversed").kind == "pass"
    turned = "* board\nR1 DRV A 300\nXU1 A GND N T1 DEMO_X\nR3 T1 V24 1k\n"
    assert of(judged(turned, dc(), one_way), "output-reversed").kind == "fail"
    assert of(judged(direct(), supply("24 V"), mosfet(**stated)), "output-reversed").kind == "pass"


def test_a_switch_without_two_voltages_behind_it_switches_nothing() -> None:
    part = mosfet(voltage_max='"60 V"', current_max='"1 A"')
    assert of(judged(direct("R3 T1 N 1k"), dc(), part), "load-missing").kind == "fail"
    away = of(judged(direct("R3 T1 P 1k"), dc(), part), "load-missing")
    assert (away.kind, [fact.key for fact in away.missing]) == ("open", ['supplies."P".voltage'])


def test_who_takes_the_current_of_a_valve_off_the_board_is_asked() -> None:
    valve = '[loads."P"]\nkind = "inductive"\ncurrent = "0.3 A"\nreturn = "V24"\n'
    board = "* board\nR1 DRV A 300\nXU1 A GND P N DEMO_X\n"
    part = mosfet(voltage_max='"60 V"', current_max='"1 A"')
    asked = of(judged(board, dc() + valve, part), "output-voltage-exceeded", "clamp")
    assert [fact.key for fact in asked.missing] == ['loads."P".clamped']
    clamped = judged(board, dc() + valve + "clamped = true\n", part)
    assert {each.kind for each in clamped.results if each.rule == "output-voltage-exceeded"} == {"pass"}
    bare = judged(board, dc() + valve + "clamped = false\n", part)
    assert of(bare, "output-voltage-exceeded", "clamp").kind == "fail"


# -- trigger current -----------------------------------------------------------------


def test_the_rule_of_one_and_a_half_times_the_trigger_current_is_just_enough_at_freezing() -> None:
    factor = 1.0 + 0.4 * 25.0 / 65.0
    assert factor * 1.3 == pytest.approx(1.5, rel=1e-3)
    bare = coupler().replace('recommended_current_min = "7 mA"\n', "")
    found = of(judged(direct(), supply(), bare), "trigger-margin-low")
    needed = 7e-3 * factor * 1.3
    assert show(needed, "A") in found.message
    assert found.kind == "open"


def test_a_zero_crossing_part_cannot_control_phases() -> None:
    use = '[signals."A"]\nuse = "phase-control"\n'
    crossing = judged(direct(), supply() + use, coupler(zero_crossing="true"))
    assert (of(crossing, "switching-mode-wrong").kind, of(crossing, "switching-mode-wrong").level) == ("fail", "error")
    assert of(judged(direct(), supply() + use, coupler()), "switching-mode-wrong").kind == "pass"
    silent = coupler().replace("zero_crossing = false\n", "")
    assert only(judged(direct(), supply() + use, silent), "switching-mode-wrong").kind == "open"
