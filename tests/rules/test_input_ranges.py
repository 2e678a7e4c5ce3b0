"""Signals of isolated amplifiers against their linear range, by hand."""

from __future__ import annotations

from datetime import date

from isolint.checking.engine import run
from isolint.preparing import prepare
from isolint.rules import RULES
from isolint.source import MemoryTree
from tests.support import BOARD

FACTS = """
top = true
parts = ["parts.toml"]
[elements."R*"]
tolerance = "0 %"
[supplies."HV"]
voltage = "400 V"
tolerance = "10 %"
ground = "GNDP"
{}
"""
RECORD = """
[parts.DEMO_A]
type = "isolated-amplifier"
pins = ["vdd1", "in+", "in-", "gnd1", "gnd2", "out-", "out+", "vdd2"]
{}
"""
RANGE = '[parts.DEMO_A.input]\nrange = ["-0.2 V", "0.2 V"]\n'
AMPLIFIER = "XU1 VA {} {} GNDP GND ON OP V5 DEMO_A\n"
SHUNT = f"* board\n{AMPLIFIER.format('INP', 'GNDP')}R1 S INP 10\nR2 S GNDP 4m\n"
AMPS = '[signals."S"]\ncurrent = ["{} A", "{} A"]\n'


def told(cards: str, signals: str, record: str = RANGE) -> list[tuple[str, float | None, list[str]]]:
    """Kind, margin and missing keys of what the rule says of the one amplifier."""
    tree = MemoryTree({BOARD: cards, "isolint.toml": FACTS.format(signals), "parts.toml": RECORD.format(record)})
    asked = [rule for rule in RULES if rule.slug == "input-range-exceeded"]
    found = [
        one for one in run(prepare(tree, BOARD, "")[0], asked, False, date(2026, 1, 1)) if one.rule == asked[0].slug
    ]
    return [(one.kind, one.margin and round(one.margin.value, 3), [fact.key for fact in one.missing]) for one in found]


def test_a_current_through_the_shunt_counts_either_way() -> None:
    # 50 A * 4 mohm = 200 mV of 200 mV
    assert told(SHUNT, AMPS.format(-50, 50)) == [("pass", 1.0, [])]
    assert told(SHUNT, AMPS.format(-60, 50)) == [("fail", 0.833, [])]
    assert told(SHUNT.replace("4m", "5m"), AMPS.format(-50, 50)) == [("fail", 0.8, [])]


def test_the_tolerance_of_the_shunt_counts_and_is_asked_for_where_nobody_states_it() -> None:
    exact = AMPS.format(-50, 50)
    assert told(SHUNT, f'{exact}[elements."R2"]\ntolerance = "1 %"\n') == [("fail", 0.99, [])]


def test_two_shunts_in_parallel_share_the_current() -> None:
    assert told(f"{SHUNT}R3 S GNDP 4m\n", AMPS.format(-100, 100)) == [("pass", 1.0, [])]


def test_a_range_of_one_sign_only_has_no_room_for_the_other() -> None:
    one_way = '[parts.DEMO_A.input]\nrange = ["0 V", "0.25 V"]\n'
    assert told(SHUNT, AMPS.format(0, 50), one_way) == [("pass", 1.25, [])]
    assert told(SHUNT, AMPS.format(-1, 50), one_way)[0][0] == "fail"


def test_a_divider_from_a_stated_supply_or_signal() -> None:
    wide = '[parts.DEMO_A.input]\nrange = ["0 V", "2 V"]\n'
    cards = f"* board\n{AMPLIFIER.format('INP', 'GNDP')}R1 HV A 1meg\nR2 A INP 1meg\nR3 INP GNDP 10k\n"
    # 440 V * 10 kohm / 2.01 Mohm = 2.19 V
    assert told(cards, "", wide) == [("fail", 0.914, [])]
    assert told(cards.replace("10k", "9k"), "", wide) == [("pass", 1.015, [])]
    signal = cards.replace("HV", "SIG")
    assert told(signal, '[signals."SIG"]\nrange = ["0 V", "402 V"]\n', wide) == [("pass", 1.0, [])]


def test_the_range_of_a_net_at_the_input_counts_as_it_is() -> None:
    assert told(SHUNT, '[signals."S"]\nrange = ["-0.25 V", "0.1 V"]\n') == [("fail", 0.8, [])]


def test_what_is_missing_is_asked_for_where_the_other_is_stated() -> None:
    assert told(SHUNT, "") == [("open", None, ['signals."S".range'])]
    assert told(SHUNT, AMPS.format(-50, 50), "") == [("open", None, ["parts.DEMO_A.input.range"])]
    assert told(SHUNT, "", "") == []
