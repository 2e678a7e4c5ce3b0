"""The outputs of digital isolators, by hand."""

from __future__ import annotations

from datetime import date

from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.rules import RULES
from isolint.source import MemoryTree
from tests.support import BOARD

FACTS = """
top = true
parts = ["parts.toml"]
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[supplies."V3"]
voltage = "3.3 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE*"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
[inputs."RX"]
"""
RECORD = """
[parts.DEMO_DI]
type = "digital-isolator"
pins = ["vdd1", "in", "gnd1", "gnd2", "out", "vdd2"]
[parts.DEMO_DI.output]
kind = "push-pull"
{}
[parts.DEMO_DI.supply]
voltage = ["3.0 V", "5.5 V"]
"""
DROPS = 'high_level = { min = "-0.4 V", at = "4 mA" }\nlow_level = { max = "0.4 V", at = "4 mA" }'
CMOS = 'supply = "VB"\nlow_max = "1.5 V"\nhigh_min = "3.5 V"\n'
SMALL = 'supply = "V3"\nlow_max = "0.8 V"\nhigh_min = "2 V"\n'
LEVEL, OVER, JOINED = "output-level-invalid", "receiver-overvoltage", "outputs-joined"


def told(
    rule: str, reader: str, supply: str, levels: str = DROPS, more: str = "", net: str = "RX"
) -> list[tuple[str, float | None, list[str]]]:
    """Kind, margin and missing keys of what a rule says of the one isolator."""
    cards = f"* board\nXU1 V5 DRIVE GND GNDB {net} {supply} DEMO_DI\n{more}"
    tree = MemoryTree({BOARD: cards, "isolint.toml": FACTS + reader, "parts.toml": RECORD.format(levels)})
    asked = [one for one in RULES if one.slug == rule]
    found = [one for one in run(prepare(tree, BOARD, "")[0], asked, False, date(2026, 1, 1)) if one.rule == rule]
    return [(one.kind, one.margin and round(one.margin.value, 3), [fact.key for fact in one.missing]) for one in found]


def test_the_lowest_high_level_is_the_lowest_supply_without_what_it_loses() -> None:
    # (4.75 V - 0.4 V) / 3.5 V; 3.135 V - 0.4 V; the low level has more
    assert told(LEVEL, CMOS, "VB") == [("pass", 1.243, [])]
    assert told(LEVEL, CMOS, "V3") == [("fail", 0.781, [])]
    assert told(LEVEL, SMALL, "V3") == [("pass", 1.367, [])]


def test_a_low_level_that_is_too_high_for_the_input_fails() -> None:
    assert told(LEVEL, CMOS.replace("1.5 V", "0.3 V"), "VB") == [("fail", 0.75, [])]


def test_levels_that_nobody_stated_leave_it_open_only_between() -> None:
    assert told(LEVEL, CMOS, "VB", "") == [("pass", 1.243, [])]
    assert told(LEVEL, CMOS, "V3", "")[0][0] == "fail"
    kind, margin, missing = told(LEVEL, CMOS.replace("3.5 V", "4.5 V"), "VB", "")[0]
    assert (kind, margin, missing) == ("open", 0.967, ["parts.DEMO_DI.output.high_level"])


def test_a_level_above_zero_loses_as_much_as_at_the_lowest_supply_of_the_range() -> None:
    # 3.0 V - 2.6 V = 0.4 V
    absolute = DROPS.replace("-0.4 V", "2.6 V")
    assert told(LEVEL, CMOS, "VB", absolute) == [("pass", 1.243, [])]


def test_a_level_holds_up_to_its_current() -> None:
    # 5.25 V / 1 kohm = 5.25 mA of 4 mA
    kind, _, missing = told(LEVEL, CMOS, "VB", more="R1 RX GNDB 1k\n")[0]
    assert (kind, missing) == ("open", ["parts.DEMO_DI.output.high_level"])


def test_an_input_stands_its_rating_else_its_supply() -> None:
    assert told(OVER, f'{SMALL}voltage_max = "3.6 V"\n', "VB") == [("fail", 0.686, [])]
    assert told(OVER, SMALL, "VB") == [("open", 0.717, ['inputs."RX".voltage_max'])]
    # What is on the isolator's own supply sees no more than that.
    assert told(OVER, SMALL, "V3") == []


def test_a_resistor_between_passes_the_level_on() -> None:
    rated = f'{SMALL}voltage_max = "3.6 V"\n'
    assert told(OVER, rated, "VB", more="R1 A RX 100\n", net="A") == [("fail", 0.686, [])]
    # With another one to ground it divides, and is not looked at.
    assert told(OVER, rated, "VB", more="R1 A RX 1k\nR2 RX GNDB 2k\n", net="A") == []


def test_a_supply_out_of_its_range_is_no_matter_of_levels() -> None:
    twelve = f'{SMALL}[supplies."V12"]\nvoltage = "12 V"\nground = "GNDB"\n'
    assert told(OVER, twelve, "V12") == told(LEVEL, twelve, "V12") == []


def test_a_stated_output_counts_where_a_controller_lies_and_the_isolator_tells_its_own_levels() -> None:
    reader = CMOS + '[outputs."TX"]\nsupply = "VB"\n[elements."XM1"]\nordinary = true\n'
    controller = "XM1 TX VB GNDB CONTROLLER\n"
    assert [kind for kind, _, _ in told(JOINED, reader, "VB", more=controller, net="TX")] == ["fail"]
    assert [kind for kind, _, _ in told(JOINED, reader, "VB", "", more=controller, net="TX")] == ["pass"]
    assert [kind for kind, _, _ in told(JOINED, reader, "VB", more="", net="TX")] == ["pass"]
    only = reader.replace('[elements."XM1"]', 'exclusive = "bus"\n[elements."XM1"]')
    assert [kind for kind, _, _ in told(JOINED, only, "VB", more=controller, net="TX")] == ["pass"]
