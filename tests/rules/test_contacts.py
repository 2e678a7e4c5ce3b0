"""What contacts of relays bear, by hand."""

from __future__ import annotations

from datetime import date

import pytest

from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.results import Result
from isolint.rules import RULES
from isolint.source import MemoryTree
from tests.support import BOARD

FACTS = """
parts = ["parts.toml"]
[environment]
ambient = ["0 degC", "60 degC"]
[supplies."V24"]
voltage = "24 V"
tolerance = "5 %"
ground = "GND"
[supplies."L"]
kind = "ac"
voltage = "230 V"
tolerance = "10 %"
frequency = "50 Hz"
ground = "N"
[supplies."VDC"]
voltage = {}
tolerance = "5 %"
ground = "N"
[supplies."V5"]
voltage = "5 V"
ground = "GND"
[outputs."PORT"]
supply = "V5"
drive = "open-drain"
low = {{ max = "0.4 V", at = "30 mA" }}
sink_max = "30 mA"
voltage_max = "60 V"
[elements."R*"]
tolerance = "1 %"
[loads."H"]
return = "N"
{}
"""
RECORD = """
[parts.DEMO_K]
type = "relay"
pins = ["coil1", "coil2", "com1", "no1", "com2", "no2"]
[parts.DEMO_K.coil]
resistance = "1440 ohm"
voltage = "24 V"
internal_clamp = true
[parts.DEMO_K.contact]
{}
"""
ONE = "* board\nXK1 V24 PORT L H C2 N2 DEMO_K\n"
VOLTS, AMPS, LEAST = "output-voltage-exceeded", "output-current-exceeded", "load-current-low"
RATED = 'voltage_max = "250 V"\ncurrent_max = "8 A"\n'


def said(cards: str, load: str, contact: str, direct: str = '"24 V"') -> list[Result]:
    """What the three rules say of the contacts of a board."""
    settings = f"top = true\n{FACTS.format(direct, load)}"
    tree = MemoryTree({BOARD: cards, "isolint.toml": settings, "parts.toml": RECORD.format(contact)})
    asked = [rule for rule in RULES if rule.slug in (VOLTS, AMPS, LEAST)]
    return list(run(prepare(tree, BOARD, "")[0], asked, False, date(2026, 1, 1)))


def told(
    rule: str, load: str, contact: str = RATED, cards: str = ONE, direct: str = '"24 V"'
) -> tuple[str, float | None, list[str]]:
    """Kind, margin and missing keys of what a rule says of the one contact that switches something."""
    (result,) = [one for one in said(cards, load, contact, direct) if one.rule == rule and "inrush" not in one.role]
    assert result.part == "XK1"
    return result.kind, result.margin and round(result.margin.value, 3), [fact.key for fact in result.missing]


def test_a_heater_counts_with_the_resistive_rating() -> None:
    assert told(AMPS, 'kind = "resistive"\ncurrent = "8 A"') == ("pass", 1.0, [])
    assert told(AMPS, 'kind = "resistive"\ncurrent = "8.1 A"') == ("fail", 0.988, [])


@pytest.mark.parametrize(
    ("kind", "key", "share"),
    [
        ("inductive", "inductive_current_max", 0.2),
        ("transformer", "inductive_current_max", 0.2),
        ("motor", "motor_current_max", 0.15),
        ("lamp", "lamp_current_max", 0.1),
    ],
)
def test_a_share_from_memory_leaves_it_open_and_a_stated_rating_fails(kind: str, key: str, share: float) -> None:
    amps = f'kind = "{kind}"\ncurrent = "{8.0 * share} A"'
    assert told(AMPS, amps) == ("pass", 1.0, [])
    assert told(AMPS, f'kind = "{kind}"\ncurrent = "5 A"') == (
        "open",
        round(8.0 * share / 5.0, 3),
        [f"parts.DEMO_K.contact.{key}"],
    )
    assert told(AMPS, f'kind = "{kind}"\ncurrent = "5 A"', f'{RATED}{key} = "4 A"\n') == ("fail", 0.8, [])
    assert told(AMPS, f'kind = "{kind}"\ncurrent = "9 A"')[0] == "fail"


def test_a_kind_that_nobody_states_is_asked_for() -> None:
    assert told(AMPS, 'current = "0.8 A"') == ("pass", 1.0, [])
    assert told(AMPS, 'current = "1 A"') == ("open", 0.8, ['loads."H".kind'])


def test_the_rating_on_direct_current_counts_there() -> None:
    cards = "* board\nXK1 V24 PORT VDC H C2 N2 DEMO_K\n"
    load = 'kind = "resistive"\ncurrent = "1 A"'
    assert told(AMPS, load, cards=cards) == ("pass", 8.0, [])
    missing = ["parts.DEMO_K.contact.current_max_dc"]
    assert told(AMPS, load, cards=cards, direct='"110 V"') == ("open", 0.8, missing)
    stated = f'{RATED}current_max_dc = "0.3 A"\nvoltage_max_dc = "110 V"\n'
    assert told(AMPS, load, stated, cards, '"110 V"') == ("fail", 0.3, [])
    assert told(VOLTS, load, stated, cards, '"110 V"') == ("fail", 0.952, [])


def test_a_rating_of_250_volts_is_meant_for_mains_of_230() -> None:
    load = 'kind = "resistive"\ncurrent = "1 A"'
    assert told(VOLTS, load) == ("pass", 1.087, [])
    assert told(VOLTS, load, RATED.replace("250 V", "125 V")) == ("fail", 0.543, [])
    # 30 to 400 V, where nobody states it
    assert told(VOLTS, load, 'current_max = "8 A"\n') == ("open", 0.13, ["parts.DEMO_K.contact.voltage_max"])


def test_the_inrush_is_held_against_what_the_contact_makes() -> None:
    load = 'kind = "resistive"\ncurrent = "1 A"\ninrush = "60 A"'

    def first(contact: str) -> tuple[str, float | None, list[str]]:
        (found,) = [one for one in said(ONE, load, contact) if one.role.startswith("inrush")]
        return found.kind, found.margin and round(found.margin.value, 3), [fact.key for fact in found.missing]

    assert first(f'{RATED}inrush_max = "50 A"\n') == ("fail", 0.833, [])
    assert first(f'{RATED}inrush_max = "60 A"\n') == ("pass", 1.0, [])
    # 60 A on a contact for 8 A: 1 to 10 times its rating, from memory
    assert first(RATED) == ("open", 0.133, ["parts.DEMO_K.contact.inrush_max"])


def test_a_load_that_is_too_small_is_a_warning() -> None:
    load = 'kind = "resistive"\ncurrent = ["5 mA", "6 mA"]'
    stated = f'{RATED}current_min = "10 mA"\n'
    assert told(LEAST, load, stated) == ("fail", 0.5, [])
    assert [one.level for one in said(ONE, load, stated) if one.rule == LEAST] == ["warning"]
    assert told(LEAST, load) == ("open", 0.05, ["parts.DEMO_K.contact.current_min"])


def test_two_poles_of_one_relay_in_series_are_both_judged() -> None:
    cards = "* board\nXK1 V24 PORT L P1 N P2 DEMO_K\nR1 P1 P2 23\n"
    found = [(one.role, one.kind) for one in said(cards, "", RATED) if one.rule == AMPS]
    # 253 V / (23 ohm * 0.99) = 11.1 A
    assert found == [("com1-no1", "fail"), ("com2-no2", "fail")]


def test_a_contact_that_leads_to_nothing_known_is_asked_nothing() -> None:
    assert said("* board\nXK1 V24 PORT A B C2 N2 DEMO_K\n", "", "") == []
