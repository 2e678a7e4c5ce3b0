"""Transistors beside couplers: the wrong way round, without a load, with one that burns; one card from a sound one."""

from __future__ import annotations

import pytest

from tests.rules.test_receivers import FACTS, INPUT, PARTS
from tests.support import judge, only

MODELS = """.model QN NPN(IS=2e-14 BF=250 BR=4)
.model QP PNP(IS=2e-14 BF=250 BR=4)
.model MN NMOS(VTO=1.5 KP=1)
.model MP PMOS(VTO=-1.5 KP=1)
"""
COUPLER = """[parts.DEMO_PT]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
"""
LIT = ".title demonstration\nR1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT\n"
NMOS = f"{LIT}R2 VB OUT 10k\n"
DIVIDED = f"{LIT}R2 OUT G 10k\nR3 V24 G 10k\n"
READ = ".title demonstration\nR2 VB OUT 10k\nXU1 A K GNDB OUT DEMO_PT\nR4 DRIVE B 4.7k\n"


def wrong(cards: str, facts: str = "") -> set[tuple[str, str]]:
    """What fails or is open of a board, as far as it concerns transistors and resistors."""
    report = judge(f"{cards}{MODELS}", f"{FACTS}{facts}", parts__toml=PARTS + COUPLER)
    asked = ("transistor-miswired", "resistor-overloaded")
    return {(r.kind, r.rule) for r in report.results if r.kind in ("fail", "open") and r.rule in asked}


EXCHANGED = {("fail", "transistor-miswired")}
UNKNOWN = {("open", "transistor-miswired")}
HOT = {("fail", "resistor-overloaded")}


@pytest.mark.parametrize(
    ("cards", "found"),
    [
        (NMOS + "M1 D OUT GNDB GNDB MN\nRL V24 D 240\n", set()),
        (NMOS + "M1 GNDB OUT D D MN\nRL V24 D 240\n", EXCHANGED),
        # A resistor beside the transistor leaves most of the voltage across it.
        (NMOS + "M1 GNDB OUT D D MN\nRL V24 D 240\nRB D GNDB 10k\n", EXCHANGED),
        (NMOS + "M1 D OUT GNDB GNDB MN\n", UNKNOWN),
        (NMOS + "M1 D OUT S S MN\nRL V24 D 240\n", UNKNOWN),
        (NMOS + "M1 D OUT GNDB GNDB MN\nRL GNDB D 240\n", EXCHANGED),
        # Somebody off the sheet may feed a net on which nothing else lies.
        (NMOS + "M1 D OUT GNDB GNDB MN\nRL VMOTOR D 240\n", set()),
        (DIVIDED + "M1 D G V24 V24 MP\nRL D GNDB 240\n", set()),
        (DIVIDED + "M1 V24 G D D MP\nRL D GNDB 240\n", EXCHANGED),
        (NMOS + "R3 OUT B 4.7k\nQ1 D B GNDB QN\nRL V24 D 2.4k\n", set()),
        (NMOS + "R3 OUT B 4.7k\nQ1 GNDB B D QN\nRL V24 D 2.4k\n", EXCHANGED),
        (DIVIDED + "Q1 D G V24 QP\nRL D GNDB 2.4k\n", set()),
        (DIVIDED + "Q1 V24 G D QP\nRL D GNDB 2.4k\n", EXCHANGED),
        # Two back to back block both ways, and one of them lies backwards on purpose.
        (NMOS + "M1 GNDB OUT S S MN\nM2 D OUT S S MN\nRL V24 D 240\n", set()),
    ],
)
def test_a_transistor_that_the_output_drives_lies_the_right_way_round(cards: str, found: set[tuple[str, str]]) -> None:
    assert wrong(cards) == found


@pytest.mark.parametrize(
    ("cards", "found"),
    [
        ("R1 V5 A 390\nQ1 K B GND QN\n", set()),
        ("R1 V5 A 390\nQ1 GND B K QN\n", EXCHANGED),
        ("R1 K GND 390\nQ1 A B V5 QP\n", set()),
        ("R1 K GND 390\nQ1 V5 B A QP\n", EXCHANGED),
        ("R1 E A 390\nR5 K GND 1\nQ1 V5 B E QN\n", set()),
        ("R1 E A 390\nR5 K GND 1\nQ1 E B V5 QN\n", EXCHANGED),
    ],
)
def test_a_bipolar_transistor_that_lights_an_led_lies_the_right_way_round(
    cards: str, found: set[tuple[str, str]]
) -> None:
    assert wrong(f"{READ}{cards}", INPUT) == found


def test_of_what_two_couplers_drive_one_speaks() -> None:
    second = "R5 DRIVE A2 470\nXU2 A2 GND GNDB OUT DEMO_PT\n"
    report = judge(f"{NMOS}{second}M1 GNDB OUT D D MN\nRL V24 D 240\n{MODELS}", FACTS, parts__toml=PARTS + COUPLER)
    found = [r for r in report.results if r.rule == "transistor-miswired" and r.kind != "notApplicable"]
    assert [(r.kind, r.subject, r.where.line) for r in found] == [("fail", "XU1", 7)]


@pytest.mark.parametrize(
    ("cards", "rated", "watts"),
    [
        # 26.4 V over 240 ohm less 1 %
        ("M1 D OUT GNDB GNDB MN\nRL V24 D 240\n", "3 W", 26.4**2 / (240 * 0.99)),
        ("M1 D OUT GNDB GNDB MN\nRL V24 D 240\n", "6 W", None),
        # The larger of two in series: 160 of 240 ohm
        ("M1 D OUT GNDB GNDB MN\nRL V24 E 160\nRM E D 80\n", "3 W", 26.4**2 * 160 / (240**2 * 0.99)),
    ],
)
def test_a_resistor_in_the_load_of_a_driven_transistor_takes_its_power(
    cards: str, rated: str, watts: float | None
) -> None:
    stated = f'[elements."RL"]\npower = "{rated}"\n'
    report = judge(f"{NMOS}{cards}{MODELS}", FACTS + stated, parts__toml=PARTS + COUPLER)
    found = only(report, "resistor-overloaded")
    assert found.kind == ("pass" if watts is None else "fail")
    if watts is not None:
        (power,) = [item for item in found.evidence if item.symbol == "P"]
        assert power.max == pytest.approx(watts, rel=1e-6)


def test_a_resistor_of_which_nobody_states_the_power_may_stand_for_a_lamp() -> None:
    facts = FACTS.replace('[elements."R*"]', '[elements."R?"]').replace('power = "10 W"', 'power = "1 W"')
    cards = f"{NMOS}M1 D OUT GNDB GNDB MN\nRLAMP V24 D 24\n{MODELS}"
    assert only(judge(cards, facts, parts__toml=PARTS + COUPLER), "resistor-overloaded").kind == "pass"


def test_equal_couplers_with_transistors_are_judged_each_for_its_own_load() -> None:
    cards = ".title demonstration\n"
    for at, load in enumerate(("2.4k", "2.4k", "2.4k", "24")):
        cards += f"R1{at} DRIVE A{at} 470\nXU{at} A{at} GND GNDB O{at} DEMO_PT\nR2{at} VB O{at} 10k\n"
        cards += f"M{at} D{at} O{at} GNDB GNDB MN\nRL{at} V24 D{at} {load}\n"
    report = judge(f"{cards}{MODELS}", FACTS, parts__toml=PARTS + COUPLER)
    assert {r.subject for r in report.results if (r.kind, r.rule) == ("fail", "resistor-overloaded")} == {"XU3"}
