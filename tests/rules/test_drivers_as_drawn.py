"""Gate drivers as bridges are drawn: floating and bootstrap supplies, logic inputs, pairs, loads on a local rail."""

from __future__ import annotations

import pytest

from isolint.checking.calculation import sheet
from isolint.preparing import prepare
from isolint.results import NetlistReport, Result
from isolint.source import MemoryTree
from tests.support import judge

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["0 degC", "50 degC"]
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VG"]
voltage = "15 V"
tolerance = "5 %"
ground = "GNDB"
[supplies."BUS"]
voltage = "48 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRV?"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
[elements."M*"]
gate_full_on = "8 V"
turn_on_time = "30 ns"
turn_off_time = "30 ns"
gate_voltage = ["-20 V", "20 V"]
gate_threshold_min = "2 V"
"""
RECORDS = """
[parts.DEMO_GX]
type = "gate-driver"
pins = ["vdd1", "in", "gnd1", "vcc", "out", "gnd"]
groups = [["vdd1", "in", "gnd1"], ["vcc", "out", "gnd"]]
[parts.DEMO_GX.input]
pull = "down"
high_ratio = 0.7
low_ratio = 0.3
current = "1 uA"
voltage_max = "5.5 V"
[parts.DEMO_GX.output]
low_level = { max = "0.3 V", at = "10 mA" }
high_level = { min = "-0.3 V", at = "10 mA" }
peak_current_max = "2.5 A"
default = "low"
[[parts.DEMO_GX.supplies]]
pins = ["vdd1", "gnd1"]
voltage = ["3 V", "5.5 V"]
[[parts.DEMO_GX.supplies]]
pins = ["vcc", "gnd"]
voltage = ["10 V", "30 V"]
[parts.DEMO_GX.timing]
delay_high = { min = "20 ns", max = "70 ns" }
delay_low = { min = "20 ns", max = "70 ns" }
[parts.DEMO_PSX]
type = "isolated-supply"
pins = ["in+", "in-", "out+", "out-"]
[parts.DEMO_PSX.output]
voltage = ["14.3 V", "15.7 V"]
"""
BRIDGE = """* a half bridge, its upper driver on a bootstrap supply
XU1 V5 DRVH GND BST OUTH SW DEMO_GX
D1 VG BST DFAST
C1 BST SW 1u
R1 OUTH GH 10
M1 BUS GH SW SW MSW
XU2 V5 DRVL GND VG OUTL GNDB DEMO_GX
C2 VG GNDB 1u
R2 OUTL GL 10
M2 SW GL GNDB GNDB MSW
L1 SW LOAD 1m
R3 LOAD GNDB 10
C3 V5 GND 1u
C4 V5 GND 100n
.model DFAST D(BV=100)
.model MSW NMOS(VTO=3 KP=5)
"""
EQUAL = 'turn_on_time = "30 ns"\nturn_off_time = "30 ns"\n'
PAIR = '[[pairs]]\nchannels = ["{}", "{}"]\ndead_time = "{}"\n'


def judged(board: str, facts: str = "", records: str = "") -> NetlistReport:
    return judge(board, FACTS + facts, parts__toml=RECORDS + records)


def of(report: NetlistReport, rule: str, subject: str) -> list[Result]:
    return [result for result in report.results if (result.rule, result.subject) == (rule, subject)]


def kinds(report: NetlistReport, rule: str, subject: str) -> list[str]:
    return [result.kind for result in of(report, rule, subject)]


def test_a_driver_that_returns_to_the_source_of_its_transistor_leaves_the_gate_at_its_low_level() -> None:
    report = judged(BRIDGE)
    for part in ("XU1", "XU2"):
        assert kinds(report, "gate-drive-low", part) == ["pass"]
        assert kinds(report, "gate-voltage-exceeded", part) == ["pass"]


def test_a_converter_whose_return_is_the_source_puts_nothing_between_both() -> None:
    fed = judged(BRIDGE + "XPS1 V5 GND VG GNDB DEMO_PSX\n")
    assert kinds(fed, "gate-drive-low", "XU2") == ["pass"]


@pytest.mark.parametrize(("first", "second"), [("XU1", "XU2"), ("XU2", "XU1")])
def test_the_dead_time_of_drivers_with_logic_inputs_is_held_against_their_delays(first: str, second: str) -> None:
    short = of(judged(BRIDGE, PAIR.format(first, second, "40 ns")), "dead-time-short", first)
    assert [(result.kind, result.margin and round(result.margin.value, 2)) for result in short] == [("fail", 0.8)]
    enough = judged(BRIDGE, PAIR.format(first, second, "60 ns"))
    assert kinds(enough, "dead-time-short", first) == ["pass"]
    assert kinds(enough, "dead-time-short", second) == []


def test_a_half_bridge_of_drivers_with_logic_inputs_is_asked_for_its_dead_time() -> None:
    (asked,) = of(judged(BRIDGE), "dead-time-short", "XU1")
    assert (asked.kind, [fact.key for fact in asked.missing]) == ("open", ["pairs"])
    named = of(judged(BRIDGE, PAIR.format("XU1", "XU9", "1 us")), "dead-time-short", "XU1")
    assert [result.kind for result in named] == ["open", "open"]
    assert any("XU9, which is no channel" in result.message for result in named)


def test_levels_count_at_an_input_that_has_a_pull_down_inside_too() -> None:
    low = (
        '[outputs."DRVX"]\nsupply = "V5"\nhigh = { min = "2.9 V", at = "8 mA" }\nlow = { max = "0.4 V", at = "8 mA" }\n'
    )
    missed = judged(BRIDGE.replace("DRVL", "DRVX"), low)
    assert kinds(missed, "logic-level-missed", "XU2") == ["fail"]
    assert kinds(missed, "logic-level-missed", "XU1") == ["pass"]
    open_input = judged(BRIDGE.replace("XU2 V5 DRVL", "XU2 V5 LOOSE"))
    assert kinds(open_input, "logic-level-missed", "XU2") == []
    assert kinds(open_input, "input-floating", "XU2") == ["pass"]


def test_two_supplies_on_references_that_move_against_each_other_are_no_supply() -> None:
    floating = '[supplies."VX"]\nvoltage = "-5 V"\ntolerance = "5 %"\nground = "SW"\n'
    crossed = judged(BRIDGE.replace("VG OUTL GNDB", "VG OUTL VX"), floating)
    found = [result for result in of(crossed, "supply-out-of-range", "XU2") if result.role == "vcc"]
    assert [result.kind for result in found] == ["open"]
    assert "VG against GNDB and VX against SW are stated, and SW moves" in found[0].message


LIT = """
[parts.DEMO_LX]
type = "logic-output"
pins = ["anode", "cathode", "vcc", "output", "gnd"]
"""


def test_an_led_on_the_rail_of_a_zener_diode_does_not_end_the_judging_of_what_it_supplies() -> None:
    rail = "R5 VG REG 220\nD5 GNDB REG DZ\nC5 REG GNDB 1u\n.model DZ D(BV=5.1 IBV=5m)\n"
    lit = "R6 REG A 1k\nXU3 A GNDB V5 OUT GND DEMO_LX\nR7 V5 OUT 10k\n"
    reads = "XU4 REG DRVB GNDB V5 Q GND DEMO_GX\n"
    alone = judged(BRIDGE + rail + lit + reads.replace("DRVB", "GNDB"), records=LIT)
    assert not [result for result in alone.results if "itself failed" in result.message]
    assert kinds(alone, "supply-out-of-range", "XU4") != []
    (asked,) = of(alone, "led-unlimited", "XU3")
    assert [fact.key for fact in asked.missing] == ['supplies."REG".voltage']
    assert "supplies XU4" in asked.message


def test_the_sheet_of_a_gate_driver_with_an_led_has_no_load_that_conducts() -> None:
    led = RECORDS.replace('"vdd1", "in", "gnd1", "vcc"', '"anode", "cathode", "vcc"').replace(
        'groups = [["vdd1", "in", "gnd1"], ["vcc", "out", "gnd"]]\n', ""
    )
    led = led[: led.index("[parts.DEMO_GX.input]")] + led[led.index("[parts.DEMO_GX.output]") :]
    led = led[: led.index("[[parts.DEMO_GX.supplies]]")] + led[led.index("[parts.DEMO_GX.timing]") :]
    board = "* a driver\nR1 DRVH A 270\nXU1 A GND VG OUTL GNDB DEMO_GX\nR2 OUTL GL 10\nM2 VG GL GNDB GNDB MSW\n"
    files = {"board.cir": f"{board}.model MSW NMOS(VTO=3 KP=5)\n", "isolint.toml": f"top = true\n{FACTS}"}
    context, _ = prepare(MemoryTree({**files, "parts.toml": led}), "board.cir", "")
    sections = sheet(context, context.channels[0])
    assert sections and not [section.crashed for section in sections if section.crashed]


@pytest.mark.parametrize(
    ("off", "kind", "margin"), [("30 ns", "pass", 1.2), ("55 ns", "fail", 0.8), ("", "open", 0.06)]
)
def test_what_transistors_take_longer_to_turn_off_than_to_turn_on_is_dead_time_too(
    off: str, kind: str, margin: float
) -> None:
    # 50 ns of the drivers and 0 or 25 ns of the transistors, of 60 ns; unstated 1 us.
    times = f'turn_on_time = "30 ns"\nturn_off_time = "{off}"\n' if off else ""
    facts = FACTS.replace(EQUAL, times) + PAIR.format("XU1", "XU2", "60 ns")
    (found,) = of(judge(BRIDGE, facts, parts__toml=RECORDS), "dead-time-short", "XU1")
    assert (found.kind, found.margin and round(found.margin.value, 2)) == (kind, margin)
