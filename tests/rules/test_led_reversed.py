"""What an LED must get once it is turned round before it is said to lie the wrong way."""

from __future__ import annotations

import pytest

from isolint.results import Result
from tests.support import judge, only

FACTS = """
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[supplies."VB"]
voltage = "5 V"
tolerance = "5 %"
ground = "GNDB"
[outputs."DRIVE"]
supply = "V5"
high = { min = "4.4 V", at = "8 mA" }
low = { max = "0.4 V", at = "8 mA" }
source_max = "16 mA"
"""


def turned(ohms: str, anode: str = "GND", cathode: str = "A") -> Result:
    netlist = f"* test\nR1 DRIVE A {ohms}\nXU1 {anode} {cathode} GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    return only(judge(netlist, FACTS), "led-reversed")


@pytest.mark.parametrize(("ohms", "kind"), [("470", "fail"), ("20k", "fail"), ("68k", "pass"), ("470k", "pass")])
def test_less_than_a_tenth_of_a_milliampere_lights_no_led_either_way_round(ohms: str, kind: str) -> None:
    """5 V less some 1.1 V over 20 kohm are 190 uA, over 68 kohm 60 uA, over 470 kohm 8 uA."""
    found = turned(ohms)
    assert found.kind == kind
    if kind == "fail":
        assert "0.1 mA is the least that counts" in found.message
    else:
        assert "conducts in no state, either way round" in found.message


def test_how_far_a_reversed_led_is_from_dark_is_its_measure() -> None:
    much, little = turned("470").measure, turned("20k").measure
    assert much is not None
    assert little is not None
    assert little.value == pytest.approx((5.0 - 1.05) / 20e3, rel=0.05)
    assert much.value > 40 * little.value
    assert much.larger_is_worse


def test_the_right_way_round_conducts() -> None:
    found = turned("470k", "A", "GND")
    assert found.kind == "pass"
    assert "conducts forwards" in found.message
