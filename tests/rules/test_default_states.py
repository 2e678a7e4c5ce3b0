"""Levels without a signal: of isolators by their record, of couplers in the dark, and what is not reached."""

import pytest

from isolint.checking.demonstration import SHARED, merged
from tests.support import judge

SETTINGS = merged(*(SHARED[name] for name in ("driver", "receiver", "conditions", "barrier")))
RECORD = """\
[parts.DEMO_DI]
type = "digital-isolator"
pins = ["vdd1", "in", "gnd1", "gnd2", "out", "vdd2"]
source = "invented for this test"
[parts.DEMO_DI.output]
kind = "{kind}"
{default}
"""
SLUG = "default-state-wrong"
ISOLATOR = "XU1 V5 DRIVE GND GNDB OUT VB DEMO_DI\n"


def told(cards: str, safe: str, default: str = "", kind: str = "push-pull", net: str = "OUT") -> list[tuple[str, str]]:
    """Kind and keys of what is missing, of what is said of a safe level."""
    facts = merged(SETTINGS, f'[signals."{net}"]\nsafe = "{safe}"\n')
    record = RECORD.format(kind=kind, default=f'default = "{default}"' if default else "")
    report = judge(f"* board\n{cards}", f'parts = ["p.toml"]\n{facts}', p__toml=record)
    found = [result for result in report.results if result.rule == SLUG]
    return [(result.kind, " ".join(fact.key for fact in result.missing)) for result in found]


@pytest.mark.parametrize(("safe", "default", "kind"), [
    ("low", "low", "pass"), ("low", "high", "fail"), ("high", "high", "pass"), ("high", "low", "fail"),
])  # fmt: skip
def test_an_isolator_goes_where_its_record_says(safe: str, default: str, kind: str) -> None:
    assert told(ISOLATOR, safe, default) == [(kind, "")]


def test_a_default_that_is_not_stated_is_asked_for() -> None:
    assert told(ISOLATOR, "low") == [("open", "parts.DEMO_DI.output.default")]


@pytest.mark.parametrize(("pull", "low", "high"), [
    ("R1 VB OUT 10k", "fail", "pass"), ("R1 OUT GNDB 10k", "pass", "fail"), ("", "fail", "fail"),
    ("R1 VB OUT 10k\nR2 OUT GNDB 10k", "open", "open"),
])  # fmt: skip
def test_an_output_that_lets_go_leaves_its_net_to_what_pulls(pull: str, low: str, high: str) -> None:
    assert told(ISOLATOR + pull, "low", "hi-z") == [(low, "")]
    assert told(ISOLATOR + pull, "high", "hi-z") == [(high, "")]


def test_high_of_an_output_that_only_pulls_down_needs_a_pull_up() -> None:
    assert told(ISOLATOR, "high", "high", "open-collector") == [("fail", "")]
    assert told(f"{ISOLATOR}R1 VB OUT 10k", "high", "high", "open-collector") == [("pass", "")]
    assert told(f"{ISOLATOR}R1 VB OUT 10k", "low", "low", "open-collector") == [("pass", "")]


def test_a_level_counts_behind_a_resistor() -> None:
    far = "XU1 V5 DRIVE GND GNDB NEAR VB DEMO_DI\nR1 NEAR OUT 100\n"
    assert told(far, "low", "low") == [("pass", "")]
    assert told(far, "high", "low") == [("fail", "")]


def test_a_dark_led_leaves_a_pull_up_high_and_a_pull_down_low() -> None:
    up = "R1 DRIVE A 470\nXU1 A GND GNDB OUT DEMO_PT1\nR2 VB OUT 10k\n"
    down = "R1 DRIVE A 470\nXU1 A GND OUT VB DEMO_PT1\nR2 OUT GNDB 4.7k\n"
    assert told(up, "low") == told(down, "high") == [("fail", "")]
    assert told(up, "high") == told(down, "low") == [("pass", "")]


def test_a_level_behind_a_transistor_is_not_computed() -> None:
    inverter = f"{ISOLATOR}R1 OUT B 10k\nQ1 LOAD B GNDB QN\nR2 VB LOAD 10k\n.model QN NPN(BF=200)\n"
    assert told(inverter, "low", "low", net="LOAD") == [("open", "")]


def test_nothing_is_asked_where_no_safe_level_is_stated() -> None:
    assert told(ISOLATOR, "?") == []
