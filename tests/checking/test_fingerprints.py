"""The fault itself as what a baseline knows: whoever carries it, and whatever a tool calls the nets."""

from __future__ import annotations

from isolint.checking.baselines import Baseline, entry, match, read, text
from isolint.results import Result
from tests.checking.boards import FACTS
from tests.support import judge

ROW = """\
* Two LEDs in series behind one resistor, invented
R1 DRIVE A 47
XU1 A B GNDB OUT DEMO_PT1
XU2 B GND GNDB OUT2 DEMO_PT1
R2 VB OUT 10k
R3 VB OUT2 10k
"""


def results(board: str) -> tuple[Result, ...]:
    return judge(board, FACTS).results


def held(board: str) -> Baseline:
    """The baseline of a board, read back from its file."""
    entries = [made for result in results(board) if (made := entry(result, "board.cir")) is not None]
    return read(text(entries).encode(), "isolint-baseline.toml")


def states(board: str, baseline: Baseline) -> list[str | None]:
    found = match(results(board), [baseline], "board.cir", lambda path: True)
    assert found.stale == ()
    return [result.baseline_state for result in found.results if result.kind in ("fail", "open")]


def test_a_shared_fault_that_another_card_carries_now_is_known() -> None:
    other = ROW.replace("XU1", "XU9")  # of a chain the first by name carries its fault
    (was,), (now,) = ([each for each in results(board) if each.kind == "fail"] for board in (ROW, other))
    assert was.subject != now.subject and was.fingerprint != now.fingerprint
    assert was.group_fingerprint == now.group_fingerprint
    assert states(other, held(ROW)) == ["unchanged"]


def test_a_baseline_without_groups_is_read_as_before() -> None:
    old = held(ROW)
    plain = Baseline(old.file, tuple(each._replace(group="") for each in old.entries))
    assert 'group = "' in text(old.entries) and "group" not in text(plain.entries)
    assert states(ROW, read(text(plain.entries).encode(), plain.file)) == ["unchanged"]


def test_another_fault_of_the_same_rule_is_not_taken_for_the_one_that_is_known() -> None:
    other = (
        ROW.replace("R1 DRIVE A 47", "R1 DRIVE A 470")
        + "R5 DRIVE3 C 47\nXU5 C GND GNDB OUT3 DEMO_PT1\nR6 VB OUT3 10k\n"
    )
    found = match(results(other), [held(ROW)], "board.cir", lambda path: True)
    assert [each.baseline_state for each in found.results if each.rule == "led-overdriven" and each.kind == "fail"] == [
        "new"
    ]


def test_no_name_that_a_tool_made_up_stands_in_a_group() -> None:
    board = ROW.replace(" B ", " N001 ").replace(" A ", " N$2 ")
    for result in results(board):
        assert not any(name in part for part in result.group for name in ("n001", "n$2"))
