"""The pump controller: threshold input, follower, darlington and AC input, sound and with one mistake in each."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.results import NetlistReport
from tests.expectations import expectations
from tests.support import complaints, differences, judge_file

BOARD = Path(__file__).parents[2] / "fixtures" / "boards" / "pump-station"
CHANNELS = ["XU2", "XU3", "XU4", "XU5"]


def judged(version: str) -> NetlistReport:
    """The report of one version of the board."""
    return judge_file(BOARD / version, BOARD / version / "board.cir")


def text(version: str) -> str:
    """The netlist of one version."""
    return (BOARD / version / "board.cir").read_text(encoding="utf-8")


def cards(version: str) -> list[str]:
    """The cards of one version, comments left out."""
    return [line for line in text(version).splitlines() if line and not line.startswith("*")]


def test_the_sound_board_has_no_failure_and_nothing_open() -> None:
    report = judged("sound")
    assert complaints(report) == []
    assert [coupler.part for coupler in report.couplers] == CHANNELS
    assert report.coverage.judged == 4


@pytest.mark.parametrize(
    ("rule", "subject"),
    [
        ("input-thresholds-missed", "XU2"),
        ("transfer-margin-low", "XU3"),
        ("output-level-invalid", "XU4"),
        ("led-overdriven", "XU5"),
        ("led-reverse-exceeded", "XU5"),
        *(("led-not-off", name) for name in CHANNELS[:3]),
        *(("dark-current-high", name) for name in CHANNELS),
    ],
)
def test_the_sound_board_passes_rules_that_apply_rather_than_skipping_them(rule: str, subject: str) -> None:
    kinds = {r.kind for r in judged("sound").results if (r.rule, r.subject) == (rule, subject)}
    assert kinds == {"pass"}


def test_the_broken_board_fails_exactly_where_its_comments_say() -> None:
    assert differences(judged("broken"), text("broken")) == []
    assert len(expectations(text("broken"))) == 4


def test_each_mistake_is_a_change_of_one_card() -> None:
    differing = [pair for pair in zip(cards("sound"), cards("broken"), strict=True) if pair[0] != pair[1]]
    assert [new.split()[0] for _, new in differing] == ["R11", "R23", "R33", "R41"]
    for name in ("isolint.toml", "models.lib", "parts/demo.toml"):
        assert (BOARD / "sound" / name).read_bytes() == (BOARD / "broken" / name).read_bytes()
