"""What the sheet says a relay, a solid-state relay and a triac would have to bear in the place of a switch."""

from __future__ import annotations

import pytest

from isolint.checking.switch_choice import choice_sections
from isolint.preparing import prepare
from isolint.results import WorksheetSection
from isolint.source import MemoryTree
from tests.rules.test_mains_switching import DRIVE, coupler, dc, direct, heater, mosfet, supply, triac

LOAD = '[loads."M2"]\nkind = "motor"\ncurrent = ["0.5 A", "3 A"]\npower_factor = 0.5\nreturn = "N"\n'
BOARD = heater(load="")


def sections(cards: str, settings: str, *records: str) -> list[WorksheetSection]:
    files = {"board.cir": cards, "isolint.toml": DRIVE + settings, "p.toml": "".join(records)}
    context, _ = prepare(MemoryTree(files), "board.cir", "")
    return list(choice_sections(context))


def told(cards: str, settings: str, *records: str) -> tuple[str, str, str, str]:
    (section,) = sections(cards, settings, *records)
    load, relay, complete, fired = (line.text for line in section.lines)
    return load, relay, complete, fired


def test_four_lines_say_what_each_kind_of_switch_bears_of_a_motor() -> None:
    load, relay, complete, fired = told(BOARD, supply() + LOAD, coupler(), triac())
    assert load == ("the load: 358 V alternating at most, 500 mA to 3 A, motor; how often it is switched is not stated")
    # Contacts carry 0.15 of their resistive rating of a motor; 253 V have a peak of 357.8 V, of which 1.2 is wanted.
    assert "I_rated = I / share = 3 / 0.15 = 20 A" in relay
    assert "V_blocks = margin * V_pk = 1.2 * 357.796 = 429.36 V" in complete
    assert "P = V_on * I = 1.6 * 3 = 4.8 W of heat" in complete
    assert "I_pk = sqrt2 * I_min = 1.414214 * 0.5 = 707.11 mA to latch with" in fired
    assert "opens up to 10 ms late" in fired and "a snubber" in fired
    assert all(line.endswith("nothing known rules it out") for line in (relay, complete, fired))


@pytest.mark.parametrize(
    ("more", "at", "words"),
    [
        ('[signals."DRV"]\nuse = "phase-control"\n', 1, "ruled out: contacts don't follow phase control"),
        ('[signals."DRV"]\nrate = "20 Hz"\n', 1, "ruled out: 20 Hz are too fast, no contact lasts"),
        ('off_current_max = "50 uA"\n', 2, "ruled out: it leaks 0.1 mA and more, the load is off below 50 uA"),
        ('off_current_max = "5 uA"\n', 3, "ruled out: it leaks 10 uA and more"),
    ],
)
def test_what_rules_one_out_is_said_beside_it_alone(more: str, at: int, words: str) -> None:
    load = LOAD + more if more.startswith("off") else more + LOAD
    lines = told(BOARD, supply() + load, coupler(), triac())
    assert words in lines[at]
    if at != 3:
        assert [index for index, line in enumerate(lines) if "ruled out" in line] == [at]


def test_a_rate_makes_operations_over_the_life_of_the_board() -> None:
    rate = '[signals."DRV"]\nrate = "0.01 Hz"\n'
    _, relay, _, _ = told(BOARD, supply() + rate + LOAD, coupler(), triac())
    # Ten years of 365.25 days
    assert "N = rate * life = 0.01 * 3.15576e+08 = 3155800 operations" in relay
    assert "contacts last 100,000 under full load" in relay


def test_a_small_load_is_less_than_what_latches_and_what_a_relay_of_triacs_asks_for() -> None:
    small = LOAD.replace('["0.5 A", "3 A"]', '["0.5 mA", "3 mA"]')
    _, relay, complete, fired = told(BOARD, supply() + small, coupler(), triac())
    assert "ruled out: the load is less than any asks for" in complete
    assert "ruled out: the load is less than any latches with" in fired
    assert "nothing known rules it out" in relay


def test_a_triac_on_direct_current_never_opens_again() -> None:
    load = '[loads."T1"]\nkind = "resistive"\ncurrent = "0.3 A"\nreturn = "V24"\n'
    _, _, complete, fired = told(direct(load=""), dc() + load, mosfet(current_max='"1 A"', voltage_max='"60 V"'))
    assert "MOSFETs for 300 mA" in complete
    assert fired.endswith("ruled out: on direct current it never opens again")


def test_of_a_load_that_nobody_states_nothing_is_compared() -> None:
    assert sections(heater(), supply(), coupler(), triac()) == []
