"""A fault that channels of one network share is one result."""

from __future__ import annotations

from tests.checking.test_joined_channels import FACTS
from tests.support import complaints, judge

STRING = (
    "R1 DRV1 A1 {ohms}\nXU1 A1 M GND2 OUT1 DEMO_PT1\nXU2 M GND1 GND2 OUT2 DEMO_PT1\nR2 V2 OUT1 10k\nR4 V2 OUT2 10k\n"
)


def test_two_leds_in_series_on_a_weak_output_are_one_failure() -> None:
    report = judge("* board\n" + STRING.format(ohms=220), FACTS)
    assert [rule for rule, _, _ in complaints(report)] == ["drive-headroom-low"]
    others = [r for r in report.results if r.rule == "drive-headroom-low" and r.kind == "notApplicable"]
    assert [result.blocked_by for result in others] == ["drive-headroom-low"]


def test_two_leds_in_series_without_a_resistor_are_one_failure() -> None:
    report = judge("* board\n" + STRING.format(ohms=0), FACTS)
    assert [rule for rule, _, _ in complaints(report)] == ["led-unlimited"]


def test_two_channels_with_a_fault_of_their_own_each_are_two_failures() -> None:
    apart = "R1 DRV1 A1 220\nXU1 A1 GND1 GND2 OUT1 DEMO_PT1\nR2 V2 OUT1 10k\n"
    other = "R3 DRV2 A2 220\nXU2 A2 GND1 GND2 OUT2 DEMO_PT1\nR4 V2 OUT2 10k\n"
    report = judge("* board\n" + apart + other, FACTS)
    assert [rule for rule, _, _ in complaints(report)] == ["drive-headroom-low", "drive-headroom-low"]
