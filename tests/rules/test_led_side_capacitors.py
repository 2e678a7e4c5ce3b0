"""Capacitors on the LED's side of a link: what they add to its edges, against transients written from the diode."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from tests.rules.test_boards_in_time import LOGIC, PART, check, value
from tests.support import only

DRIVER = """
[supplies."VZ"]
voltage = "5 V"
tolerance = "0 %"
ground = "GND"
[outputs."VX"]
supply = "VZ"
high = { min = "4.99 V", at = "10 mA" }
low = { max = "0.01 V", at = "10 mA" }
source_max = "50 mA"
sink_max = "50 mA"
[signals."VX"]
rate = "2400 baud"
"""
QUICK = PART + (
    'capacitance = "2 nF"\nsaturated = { storage = "5 us", turn_on = "3 us", turn_off = "20 us", load = "1.9 kohm", '
    'drive = "16 mA", supply = "5 V" }\n'
)
OUTPUT = "XU1 A GND GNDB OUT DEMO_T\nR2 VB OUT 10k\n"


def amps_of(volts: float, ohms: float) -> float:
    """Current of an LED of 1.2 V at 6 mA behind some ohms."""

    def over(amps: float) -> float:
        return (ohms + 3.0) * amps + 1.75 * 0.02569 * math.log1p(amps / 3e-14) - volts

    return 0.0 if volts <= 0.0 else float(brentq(over, 0.0, 100.0))


def simulated(source: float, ohms: float, farads: float, behind: float, start: float, amps: float) -> float:
    """Seconds until the LED has some amperes, the capacitor charged by a source through a resistor."""

    def slope(_: float, state: list[float]) -> list[float]:
        return [((source - state[0]) / ohms - amps_of(state[0], behind)) / farads]

    def reached(_: float, state: list[float]) -> float:
        return amps_of(state[0], behind) - amps

    reached.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slope, (0.0, 20.0 * ohms * farads), [start], events=reached, rtol=1e-8, atol=1e-10)
    assert found.t_events[0].size == 1
    return float(found.t_events[0][0])


@pytest.mark.parametrize(
    ("ohms", "farads", "behind"),
    [(680.0, 10e-6, 100.0), (330.0, 1e-6, 0.0), (1e3, 100e-9, 47.0), (220.0, 4.7e-6, 220.0)],
)
def test_a_capacitor_on_the_side_of_the_led_adds_what_a_transient_says(
    ohms: float, farads: float, behind: float
) -> None:
    link = f"R1 VX M {ohms:g}\nC1 M GND {farads:g}\nR9 M A {behind:g}\n{OUTPUT}"
    found = only(check(link, DRIVER, QUICK), "switching-too-slow")
    rest = brentq(lambda volts: (5.0 - volts) / (ohms + 1.0) - amps_of(volts, behind), 0.0, 5.0)
    need, leave = value(found, "I_1") / 0.6, value(found, "I_2") / 2.0
    on = simulated(4.99, ohms + 1.0, farads, behind, 0.0, need)
    off = simulated(0.0, ohms + 1.0, farads, behind, rest, leave)
    assert 0.98 * on < value(found, "t_LED_on") < 1.35 * on
    assert 0.98 * off < value(found, "t_LED_off") < 1.35 * off


@pytest.mark.parametrize(("card", "kind"), [("C1 A GND 100n", "fail"), ("C1 A GND 10p", "pass")])
def test_a_logic_output_waits_for_its_led_too(card: str, kind: str) -> None:
    """470 ohm and 100 nF are 47 us, a bit of 100 kbaud is 10 us."""
    link = f"R1 VX A 390\n{card}\nXU1 A GND VB OUT GNDB DEMO_L\nR2 VB OUT 1k\nC2 VB GNDB 100n\n"
    found = only(check(link, DRIVER.replace("2400 baud", "100 kbaud"), LOGIC), "switching-too-slow")
    assert found.kind == kind


@pytest.mark.parametrize(
    ("card", "kind"),
    [("C1 A GND 10u", "fail"), ("C1 A GND 1n", "pass"), ("C1 VX A 1u", "pass"), ("C1 VX GND 10u", "pass")],
)
def test_a_link_is_no_faster_than_its_led(card: str, kind: str) -> None:
    """Across the LED 10 uF outlast many bits; 1 nF, one across the resistor and one at the driver do not slow it."""
    found = only(check(f"R1 VX A 680\n{card}\n{OUTPUT}", DRIVER, QUICK), "switching-too-slow")
    assert found.kind == kind


def test_several_capacitors_that_matter_are_not_judged_together() -> None:
    cards = f"R1 VX M 330\nC1 M GND 1u\nR9 M A 330\nC2 A GND 1u\n{OUTPUT}"
    found = only(check(cards, DRIVER, QUICK), "switching-too-slow")
    assert found.kind == "open"
    assert "C1, C2" in found.message
