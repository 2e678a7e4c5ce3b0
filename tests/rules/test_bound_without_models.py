"""Transistors and diodes without a model hide no LED current that is too large whatever they are."""

from __future__ import annotations

import pytest

from isolint.results import NetlistReport
from tests.support import judge

RECORD = """
[parts.DEMO_PX]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_PX.led]
forward_current_max = "50 mA"
"""
LOAD = "XU1 A K GND2 OUT DEMO_PX\nV2 VB GND2 5\nR2 VB OUT 10k\n"
LOW_SIDE = "V1 V24 GND 24\nR1 V24 A {ohms}\nQ1 K B GND QX\nRB IO B {base}\n"
HIGH_SIDE = "V1 V24 GND 24\nR1 K GND {ohms}\nQ1 A B V24 QX\nRB IO B {base}\n"
MOS = "V1 V24 GND 24\nR1 V24 A {ohms}\nM1 K G GND GND MX\nRB IO G {base}\n"
PROTECTED = "V1 V24 GND 24\nR1 V24 A {ohms}\nD1 K A DX\nR3 K GND 0.1\n"


def judged(drive: str, facts: str = "", **values: str) -> NetlistReport:
    netlist = f"* a drive without models\n{drive.format(**{'ohms': '100', 'base': '1k', **values})}{LOAD}"
    return judge(netlist, f'parts = ["p.toml"]\n{facts}', p__toml=RECORD)


def failing(report: NetlistReport) -> set[str]:
    return {result.rule for result in report.results if result.kind == "fail" and result.level == "error"}


@pytest.mark.parametrize("drive", [LOW_SIDE, HIGH_SIDE, MOS, PROTECTED])
def test_24_volts_through_100_ohm_fail_whatever_has_no_model(drive: str) -> None:
    report = judged(drive)
    assert failing(report) == {"led-overdriven"}
    (found,) = (result for result in report.results if result.kind == "fail" and result.level == "error")
    assert "of which there is no .model" in found.message
    assert "R1" in found.remedy


@pytest.mark.parametrize("drive", [LOW_SIDE, HIGH_SIDE, MOS])
def test_what_something_else_drives_needs_no_fact_about_that(drive: str) -> None:
    report = judged(f"{drive}XU9 IO GND V33 A1 A2 A3 A4 DEMO_MCU\n", "[elements.XU9]\nordinary = true\n")
    assert failing(report) == {"led-overdriven"}


@pytest.mark.parametrize("drive", [LOW_SIDE, HIGH_SIDE, MOS, PROTECTED])
def test_what_may_hold_stays_a_question(drive: str) -> None:
    report = judged(drive, ohms="2.2k")
    assert not failing(report)
    asked = {fact.key for result in report.results if result.kind == "open" for fact in result.missing}
    assert drive == PROTECTED or asked & {".model QX", ".model MX"}
    passed = [result for result in report.results if result.rule == "led-overdriven" and result.kind == "pass"]
    assert drive == PROTECTED or not passed


@pytest.mark.parametrize(
    ("drive", "values"),
    [
        (LOW_SIDE, {"base": "47k"}),  # with so little base current the transistor may limit it
        (LOW_SIDE, {"ohms": "450"}),  # 56 mA at the worst, 49.6 mA with 10 ohm in the switch
        ("V1 V24 GND 24\nQ1 V24 B A QX\nRB IO B 1k\nR1 K GND 100\n", {}),  # a follower
        ("V1 V24 GND 24\nR1 V24 A 100\nQ1 K B E QX\nRE E GND 100\nRB IO B 1k\n", {}),  # a regulator
        ("V1 V24 GND 24\nR1 V24 A 100\nQ1 K B GND QX\nQ2 B B GND QX\nRB V24 B 2.2k\n", {}),  # a mirror
        ("V1 V24 GND 24\nR1 V24 A 100\nQ1 K B GND QX\nRB IO B 1k\nQ2 B S GND QX\nRS S GND 1k\n", {}),  # a limiter
        ("V1 V24 GND 24\nR1 V24 A 100\nQ1 K B GND QX\nRB A B 1k\n", {}),  # a base that hangs on the LED
        ("V1 V24 GND 24\nR1 V24 A 100\nD1 V24 A DX\nR3 K GND 0.1\n", {"ohms": "1k"}),
    ],
)
def test_what_its_model_may_limit_stays_a_question(drive: str, values: dict[str, str]) -> None:
    report = judged(drive, **values)
    overdriven = [result for result in report.results if result.rule == "led-overdriven" and result.kind == "fail"]
    assert not any("of which there is no .model" in result.message for result in overdriven)
    if "D1" not in drive:
        assert not failing(report)


@pytest.mark.parametrize("drive", [LOW_SIDE, HIGH_SIDE, MOS])
def test_no_resistor_is_told_without_the_model(drive: str) -> None:
    assert failing(judged(drive, ohms="0")) == {"led-unlimited"}


@pytest.mark.parametrize("drive", [LOW_SIDE, MOS])
def test_with_its_model_it_is_judged_by_that(drive: str) -> None:
    models = ".model QX NPN(BF=200)\n.model MX NMOS(VTO=1 KP=10)\nV3 IO GND 5\n"
    report = judged(drive + models)
    assert "led-overdriven" in failing(report)
    assert not any("no .model" in result.message for result in report.results)
