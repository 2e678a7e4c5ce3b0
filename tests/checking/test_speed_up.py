"""Capacitors across the resistor of an LED: small ones do no harm, large ones ask for a pulse limit and meet it."""

from __future__ import annotations

import pytest

from tests.rules.test_receivers import FACTS, INPUT
from tests.support import judge

PART = """[parts.DEMO_PT]
type = "phototransistor"
pins = ["anode", "cathode", "emitter", "collector"]
[parts.DEMO_PT.led]
forward_voltage = {{ min = "1.1 V", typ = "1.2 V", max = "1.4 V", at = "10 mA" }}
forward_current_max = "50 mA"
{}
"""
BOARD = "* an LED on an output\nR1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT\nR2 VB OUT 10k\n"


def told(cards: str, stated: str = "") -> list[tuple[str, str]]:
    report = judge(f"{BOARD}{cards}", f"{FACTS}{INPUT}", parts__toml=PART.format(stated))
    return [(r.kind, r.message) for r in report.results if r.rule == "led-overdriven" and "across" in r.role]


@pytest.mark.parametrize(
    ("cards", "stated", "kinds"),
    [
        ("C1 DRIVE A 1n\n", "", ["pass"]),
        ("C1 DRIVE A 150n\n", "", ["pass"]),  # 180 nF at 20 % more, at most 5.25 V: 0.95 uC
        ("C1 DRIVE A 1u\n", "", ["open"]),
        ("C1 DRIVE A 1u\n", 'pulse_current_max = "50 A"', ["pass"]),
        ("C1 DRIVE A 1u\n", 'pulse_current_max = "0.1 A"', ["fail"]),
        ("C1 A GND 1u\n", "", []),  # across the LED: it only slows it
        ("C1 V5 GND 1u\n", "", []),
    ],
)
def test_what_passes_at_an_edge_is_harmless_or_meets_the_pulse_limit(cards: str, stated: str, kinds: list[str]) -> None:
    assert [kind for kind, _ in told(cards, stated)] == kinds


def test_where_nothing_else_limits_the_current_the_source_does() -> None:
    ((kind, message),) = told("C1 DRIVE A 1u\n", 'pulse_current_max = "1 A"')
    assert kind == "fail"
    assert "1 A are allowed in a pulse" in message
