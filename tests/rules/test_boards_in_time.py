"""Whole netlists whose drive changes with time: what was taken at its peak before, and speeds worked out by hand."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport, Result
from tests.support import judge, only

FACTS = """
parts = ["parts.toml"]
[supplies."VB"]
voltage = "3.465 V"
tolerance = "0 %"
ground = "GNDB"
[supplies."V5"]
voltage = "5 V"
tolerance = "5 %"
ground = "GND"
[inputs."OUT"]
supply = "VB"
low_max = "0.8 V"
high_min = "2.0 V"
low_current = "0 A"
high_current = "0 A"
voltage_max = "3.6 V"
hysteresis = true
[elements."R*"]
tolerance = "0 %"
power = "10 W"
voltage = "1 kV"
[elements."C*"]
tolerance = "0 %"
[environment]
ambient = ["25 degC", "25 degC"]
life = "10 year"
duty = 1.0
"""
PART = """
[parts.DEMO_T]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_T.led]
forward_voltage = { min = "1.2 V", typ = "1.2 V", max = "1.2 V", at = "6 mA" }
forward_current_max = "60 mA"
off_voltage = "0.8 V"
[parts.DEMO_T.transfer]
ratio = { min = "60 %", max = "200 %", current = "5 mA", voltage = "5 V" }
versus_current = [["10 uA", 1.0], ["60 mA", 1.0]]
versus_temperature = [["0 degC", 1.0], ["100 degC", 1.0]]
versus_voltage = [["0.1 V", 1.0], ["10 V", 1.0]]
ageing = { remaining = 1.0 }
[parts.DEMO_T.output]
saturation_voltage = { max = "0.3 V", at = "2 mA", drive = "10 mA" }
dark_current = { max = "1 nA", at = "25 degC", hot = ["2 nA", "100 degC"] }
[parts.DEMO_T.timing]
rise = "18 us"
fall = "18 us"
load = "100 ohm"
"""


def check(cards: str, facts: str = "", part: str = PART) -> NetlistReport:
    return judge(f"* in time\n{cards}", f"{FACTS}{facts}", parts__toml=part)


def value(result: Result, symbol: str) -> float:
    found = next(item for item in result.evidence if item.symbol == symbol)
    number = found.max if found.max is not None else found.min
    assert number is not None
    return number


# 4 to 8 mA through 1 kohm.
LINK = "R1 VX A 1k\nXU1 A GND GNDB OUT DEMO_T\nR2 VB OUT 4.65k\nC1 OUT GNDB 100p\n"
CURRENT = """[outputs."VX"]
supply = "V9"
high = { min = "5.24 V", at = "10 mA" }
low = { max = "0.1 V", at = "1 mA" }
high_max = "9.12 V"
source_max = "50 mA"
[supplies."V9"]
voltage = ["9 V", "9.12 V"]
ground = "GND"
"""


@pytest.mark.parametrize(
    ("rate", "kind", "margin"),
    [("9600 baud", "open", 0.330), ("2400 baud", "pass", 1.318), ("115200 baud", "fail", 0.027)],
)
def test_a_link_follows_as_fast_as_it_was_worked_out_by_hand(rate: str, kind: str, margin: float) -> None:
    found = only(check(LINK, f'{CURRENT}[signals."VX"]\nrate = "{rate}"\n'), "switching-too-slow")
    assert found.kind == kind
    assert value(found, "t_on") == pytest.approx(9.97e-6, rel=0.02)
    assert value(found, "t_off") == pytest.approx(79.0e-6, rel=0.02)
    assert value(found, "f_max") == pytest.approx(3164.0, rel=0.02)
    assert found.margin is not None
    assert found.margin.value == pytest.approx(margin, rel=0.03)


def test_without_a_rate_the_largest_one_is_told() -> None:
    found = only(check(LINK, CURRENT), "switching-too-slow")
    assert found.kind == "notApplicable"
    assert value(found, "f_max") == pytest.approx(3164.0, rel=0.02)


def test_a_tenth_of_the_time_is_a_tenth_of_the_current() -> None:
    """10 % of duty into 47 ms: less the ripple a tenth of the margin that it would have as direct current."""
    cards = LINK.replace("C1 OUT GNDB 100p", "C1 OUT GNDB 10u")
    still = only(check(cards, CURRENT), "transfer-margin-low").margin
    pulsed = only(check(cards, f'{CURRENT}[signals."VX"]\nrate = "1 kHz"\nduty = 0.1\n'), "transfer-margin-low")
    assert pulsed.kind == "fail"
    assert still is not None and pulsed.margin is not None
    assert still.value > 1.2
    assert pulsed.margin.value == pytest.approx(0.1 * still.value, rel=0.03)


@pytest.mark.parametrize(("volts", "ohms"), [("230 V", "66k"), ("24 V", "6.8k")])
def test_half_waves_into_a_large_capacitor_have_their_mean(volts: str, ohms: str) -> None:
    """The crest would pass; the mean of a half wave is a third of it, and the ripple takes some more."""
    rest = 'tolerance = "10 %"\nkind = "ac"\nfrequency = "50 Hz"\nground = "GND"\n'
    supply = f'[supplies."L"]\nvoltage = "{volts}"\n{rest}'
    load = "R2 VB OUT 2.2k\n{0}.model DREC D(IS=5n N=1.9 BV=800)\n"
    cards = f"R1 L B {ohms}\nD1 B A DREC\nXU1 A GND GNDB OUT DEMO_T\n{load}"
    use = '[signals."OUT"]\nuse = "pulses"\n'
    crest = only(check(cards.format(""), f"{supply}{use}"), "transfer-margin-low")
    held = only(check(cards.format("C1 OUT GNDB 100u\n"), f"{supply}{use}"), "transfer-margin-low")
    assert crest.kind == "pass"
    assert held.kind == "fail"
    assert crest.margin is not None and held.margin is not None
    assert 0.25 < held.margin.value / crest.margin.value < 0.318


def test_duty_one_is_direct_current() -> None:
    still = only(check(LINK, CURRENT), "transfer-margin-low").margin
    always = only(check(LINK, f'{CURRENT}[signals."VX"]\nrate = "1 kHz"\nduty = 1.0\n'), "transfer-margin-low").margin
    assert still is not None and always is not None
    assert always.value == pytest.approx(still.value, rel=2e-3)
