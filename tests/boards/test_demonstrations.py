"""Demonstration boards of the kinds of couplers: sound without a question, broken exactly where their comments say."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.boards.test_boards import cards
from tests.expectations import expectations
from tests.support import complaints, differences, judge_file

BOARDS = Path(__file__).parents[2] / "fixtures" / "boards"
MISTAKES = {"kiln": 13, "two-axis": 12, "io-module": 12, "bench-supply": 10}
UNWRITTEN = {
    "kiln": {"XPS1"},
    "two-axis": {"XPS1", "XPS2", "XU2", "XU3", "XU4", "XU5", "XU6", "XU7"},
    "io-module": {"XPS1", "XU6"},
    "bench-supply": {"XPS1", "XU6"},
}
"""Parts with questions for which this version has no rule: they can't be held."""


@pytest.mark.parametrize("board", MISTAKES)
def test_every_channel_of_the_sound_board_is_held(board: str) -> None:
    folder = BOARDS / board / "sound"
    report = judge_file(folder, folder / "board.cir")
    assert complaints(report) == []
    states = {one.subject: one.state for one in report.coverage.answers}
    assert {subject for subject, state in states.items() if state != "held"} <= UNWRITTEN[board]
    assert states and "failed" not in states.values()


@pytest.mark.parametrize("board", MISTAKES)
def test_the_broken_board_fails_exactly_where_its_comments_say(board: str) -> None:
    folder = BOARDS / board / "broken"
    text = (folder / "board.cir").read_text(encoding="utf-8")
    slugs = [expected.slug for expected in expectations(text)]
    assert len(slugs) == len(set(slugs)) == MISTAKES[board]
    assert differences(judge_file(folder, folder / "board.cir"), text) == []


@pytest.mark.parametrize("board", MISTAKES)
def test_one_card_a_mistake_and_nothing_else_is_changed(board: str) -> None:
    sound, broken = BOARDS / board / "sound", BOARDS / board / "broken"
    pairs = list(zip(cards(sound / "board.cir"), cards(broken / "board.cir"), strict=True))
    differing = [one for one, other in pairs if one != other and not one.startswith(".title")]
    assert len(differing) == MISTAKES[board]
    for name in ("isolint.toml", "parts/demo.toml"):
        assert (sound / name).read_bytes() == (broken / name).read_bytes()
