"""What a logic output turns into heat: its LED, its output and its supply together, each number worked out by hand."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "10 %"
ground = "GNDB"
[inputs."OUT"]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "0 uA"
high_current = "0 uA"
[elements."R*"]
tolerance = "0 %"
power = "1 W"
voltage = "250 V"
[environment]
ambient = ["25 degC", "65 degC"]
life = "10 year"
duty = 0.5
"""
PART = """
[parts.DEMO_HX]
type = "logic-output"
pins = ["anode", "cathode", "vcc", "out", "gnd"]
[parts.DEMO_HX.led]
technology = "AlGaAs"
forward_voltage = { min = "1.3 V", typ = "1.5 V", max = "1.7 V", at = "5 mA" }
forward_current_max = "20 mA"
threshold_current = "3 mA"
off_current = "250 uA"
[parts.DEMO_HX.output]
kind = "open-collector"
low_level = { max = "0.6 V", at = "13 mA" }
current_max = "50 mA"
voltage_max = "7 V"
leakage = "1 uA"
"""
SUPPLY = '[parts.DEMO_HX.supply]\nvoltage = ["4.5 V", "20 V"]\ncurrent = "20 mA"\n'
NETLIST = "* test\nR1 DRIVE A 560\nXU1 A GND VB OUT GNDB DEMO_HX\nR2 VB OUT 1k\nC1 VB GNDB 100n\n"
SUPPLY_WATTS = 20e-3 * 5.5
OUTPUT_WATTS = 0.6 * 5.5e-3


def check(ratings: str, supply: str = SUPPLY, netlist: str = NETLIST, facts: str = FACTS) -> NetlistReport:
    return judge(netlist, facts, parts__toml=f"{PART}{ratings}{supply}")


def heat(ratings: str, supply: str = SUPPLY) -> Result:
    return only(check(ratings, supply), "coupler-overheated")


def bears(result: Result, name: str) -> float:
    """The watts that are held against a rating."""
    return next(item.max or 0.0 for item in result.evidence if item.name == name)


WHOLE = '[parts.DEMO_HX.thermal]\npower_max = "{}"\nderating = {{ from = "45 degC", slope = "1 mW/K" }}\n'


def test_what_the_supply_brings_in_counts_in_the_power_of_the_whole_part() -> None:
    found = heat(WHOLE.format("150 mW"))
    led = bears(found, "power in the LED")
    assert 5e-3 < led < 15e-3
    assert bears(found, "power of LED and output") == pytest.approx(led + OUTPUT_WATTS + SUPPLY_WATTS, rel=1e-4)
    # 20 K above the start of the derating.
    assert found.margin is not None
    assert found.margin.value == pytest.approx((0.150 - 0.020) / (led + OUTPUT_WATTS + SUPPLY_WATTS), rel=1e-4)


def test_a_supply_current_decides_whether_a_part_stays_cool() -> None:
    """120 mW are left at 65 degC; LED and output take about 13 mW, the supply 110 mW."""
    assert heat(WHOLE.format("140 mW")).kind == "fail"
    assert heat(WHOLE.format("140 mW"), SUPPLY.replace("20 mA", "10 mA")).kind == "pass"


def test_what_the_supply_brings_in_counts_in_the_power_of_the_output() -> None:
    output = PART.replace('current_max = "50 mA"', 'current_max = "50 mA"\npower_max = "100 mW"')
    report = judge(NETLIST, FACTS, parts__toml=f"{output}{SUPPLY}")
    found = only(report, "coupler-overheated", "fail")
    assert bears(found, "power of the output") == pytest.approx(OUTPUT_WATTS + SUPPLY_WATTS, rel=1e-4)


def test_what_the_supply_brings_in_heats_the_die_of_the_output() -> None:
    ratings = '[parts.DEMO_HX.thermal]\noutput_to_ambient = "500 K/W"\njunction_max = "125 degC"\n'
    found = heat(ratings)
    name = "power of the output by its thermal resistance"
    assert bears(found, name) == pytest.approx(OUTPUT_WATTS + SUPPLY_WATTS, rel=1e-4)
    (limit,) = (item.limit for item in found.evidence if item.name == name)
    assert limit is not None
    assert limit.value == pytest.approx((125.0 - 65.0) / 500.0)


def test_the_supply_of_the_part_counts_with_its_own_voltage_where_that_is_known() -> None:
    """5.5 V at most, and not the 20 V that the part would stand; those only where nobody says what feeds it."""
    from isolint.preparing import prepare
    from isolint.source import MemoryTree
    from isolint.worstcase.heat import supply_power
    from tests.support import BOARD

    files = {BOARD: NETLIST, "isolint.toml": f"top = true\n{FACTS}", "parts.toml": f"{PART}{SUPPLY}"}
    context, _ = prepare(MemoryTree(files), BOARD, "")
    (channel,) = context.channels
    assert supply_power(channel, 5.5) == pytest.approx(SUPPLY_WATTS)
    assert supply_power(channel, None) == pytest.approx(20e-3 * 20.0)
    found = heat(WHOLE.format("300 mW"))
    assert found.kind == "pass"
    assert bears(found, "power of LED and output") < 0.130
