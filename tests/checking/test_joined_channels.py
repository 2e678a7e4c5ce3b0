"""A channel that a joint runs through is not judged beside it: one fault, one result."""

from __future__ import annotations

from tests.support import complaints, judge

FACTS = """
[environment]
ambient = ["0 degC", "60 degC"]
[elements."R*"]
tolerance = "1 %"
power = "1 W"
[supplies."V1"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND1"
[supplies."V2"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND2"
[outputs."DRV*"]
supply = "V1"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
sink_max = "16 mA"
[inputs."OUT*"]
supply = "V2"
low_max = "1.5 V"
high_min = "3.5 V"
low_current = "1 uA"
high_current = "1 uA"
"""
ONE = "R1 DRV1 A1 470\nXU1 A1 GND1 GND2 OUT1 DEMO_PT1\nR2 V2 OUT1 10k\n"
TWO = "R3 DRV2 A2 470\nXU2 A2 GND1 GND2 {collector} DEMO_PT1\nR4 V2 OUT2 10k\n"


def test_a_collector_wired_to_the_other_side_is_one_bridge() -> None:
    report = judge("* board\n" + ONE + TWO.format(collector="DRV1"), FACTS)
    assert [rule for rule, _, _ in complaints(report)] == ["bridge-conducting"]


def test_a_diode_from_an_output_to_the_other_side_is_one_bridge() -> None:
    report = judge("* board\n" + ONE + TWO.format(collector="OUT2") + "D9 OUT1 DRV2 DX\n.model DX D\n", FACTS)
    assert [rule for rule, _, _ in complaints(report)] == ["bridge-conducting"]


def test_without_the_joint_nothing_is_wrong() -> None:
    assert complaints(judge("* board\n" + ONE + TWO.format(collector="OUT2"), FACTS)) == []


FUNCTIONAL = """
[sides.one]
nets = ["GND1"]
[sides.two]
nets = ["GND2"]
[[barriers]]
between = ["one", "two"]
insulation = "functional"
"""


def test_what_joins_the_sides_of_a_functional_barrier_hides_no_channel() -> None:
    """It is told as a note; what is wrong with the channels that it runs through is told as well."""
    joined = ONE.replace("470", "47") + TWO.format(collector="OUT2") + "R9 OUT1 A1 100k\n"
    report = judge("* board\n" + joined, FACTS + FUNCTIONAL)
    assert ("led-overdriven", "fail", "XU1") in complaints(report)
    assert {result.level for result in report.results if result.rule == "bridge-conducting"} == {"note"}
    strict = judge("* board\n" + joined, FACTS)
    assert [rule for rule, _, _ in complaints(strict)] == ["bridge-conducting"]
