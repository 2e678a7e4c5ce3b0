"""The tolerance of a Zener diode counts where its voltage does, stated or not."""

from __future__ import annotations

import pytest

from tests.support import judge

BOARD = """* t
R1 IN Z 1k
D1 A Z DZEN
XU1 A GND GNDB OUT DEMO_PT1
R2 VB OUT 22k
.model DZEN D(IS=1n N=1.5 BV=12)
"""
FACTS = """[lines.IN]
on = ["24 V", "24 V"]
off = ["0 V", "0 V"]
[supplies.VB]
voltage = "5 V"
tolerance = "0 %"
ground = "GNDB"
[inputs.OUT]
supply = "VB"
low_max = "1.5 V"
high_min = "3.5 V"
[elements."R*"]
tolerance = "0 %"
power = "2 W"
[environment]
ambient = ["25 degC", "25 degC"]
"""


def led_current(more: str) -> float:
    result = next(result for result in judge(BOARD, FACTS + more).results if result.rule == "led-overdriven")
    found = next(evidence.max for evidence in result.evidence if evidence.symbol == "IF")
    assert found is not None
    return found


@pytest.mark.parametrize("percent", [1.0, 5.0, 20.0])
def test_a_stated_tolerance_moves_the_current_by_its_volts_over_the_resistor(percent: float) -> None:
    exact, wide = (
        led_current('[elements.D1]\ntolerance = "0 %"\n'),
        led_current(f'[elements.D1]\ntolerance = "{percent} %"\n'),
    )
    assert wide - exact == pytest.approx(12.0 * percent / 100.0 / 1e3, rel=0.1)


def test_unstated_it_is_five_percent_at_worst() -> None:
    assert led_current("") == pytest.approx(led_current('[elements.D1]\ntolerance = "5 %"\n'))


def test_a_rectifier_has_no_voltage_to_tolerate() -> None:
    rectifier = BOARD.replace("D1 A Z DZEN", "D1 Z A DZEN").replace("BV=12", "BV=400")
    assumed = [a.name for r in judge(rectifier, FACTS).results for a in r.assumptions]
    assert assumed
    assert "tolerance of D1" not in assumed
