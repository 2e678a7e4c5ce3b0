"""Many channels on one net: what is so of the net is decided once, and no failure gets lost for their number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import pytest

from isolint import app
from isolint.checking import cures, direct_paths, many_paths
from isolint.interfaces import walk
from isolint.results import NetlistReport
from isolint.worstcase.off import OffAnalyser
from tests.support import complaints, judge_files

FIXTURES = Path(__file__).parents[2] / "fixtures" / "rules"
MANY = 8
"""More channels than a network that is followed holds, once `small` has made that little."""


@pytest.fixture(autouse=True)
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(direct_paths, "MAX_ELEMENTS", 6)
    monkeypatch.setattr(walk, "MAX_ELEMENTS", 6)


def judged(cards: str) -> NetlistReport:
    files = {path.relative_to(FIXTURES).as_posix(): path.read_text() for path in FIXTURES.glob("parts/*.toml")}
    files |= {"isolint.toml": (FIXTURES / "isolint.toml").read_text(), "board.cir": f"an invented board\n{cards}"}
    return judge_files(files, app.Options(today=date(2026, 1, 1)))


def each(cards: str, count: int) -> str:
    return "".join(cards.replace("#", str(number)) for number in range(1, count + 1))


TO_ANODE = "R# DRIVE# A# 470\nXU# A# {} GNDB OUT# DEMO_PT1\nRL# VB OUT# 10k\n"
FROM_CATHODE = "R# {} K# 470\nXU# DRIVE# K# GNDB OUT# DEMO_PT1\nRL# VB OUT# 10k\n"
ABREAST = "R# DRIVE# A# 470\nXU# A# GND GNDB OUT DEMO_PT1\n"
FROM_ONE = "R# SINK# K# 470\nXU# {} K# GNDB OUT# DEMO_PT1\nRL# VB OUT# 10k\n"


@pytest.mark.parametrize("capacitor", ["", "C1 LOST GND 100n\n"])
@pytest.mark.parametrize("cards", [TO_ANODE, FROM_CATHODE, FROM_ONE])
@pytest.mark.parametrize("count", [2, MANY])
def test_many_leds_on_a_net_that_leads_nowhere_are_one_failure_that_names_it(
    cards: str, count: int, capacitor: str
) -> None:
    report = judged(each(cards.format("LOST"), count) + capacitor)
    assert complaints(report) == [("led-undriven", "fail", "XU1")]
    found = next(result for result in report.results if result.kind == "fail")
    assert "to net LOST" in found.message


@pytest.mark.parametrize(("cards", "net"), [(TO_ANODE, "GND"), (FROM_CATHODE, "GND"), (FROM_ONE, "V5")])
def test_the_same_leds_on_a_net_that_is_there_are_sound(cards: str, net: str) -> None:
    assert complaints(judged(each(cards.format(net), MANY))) == []


def test_many_leds_behind_a_resistor_to_ground_are_too_many_and_not_dead() -> None:
    report = judged(each(TO_ANODE.format("LOST"), MANY) + "R99 LOST GND 22\n")
    assert {kind for _, kind, _ in complaints(report)} == {"open"}


def test_many_outputs_on_a_ground_that_nothing_joins_are_one_failure() -> None:
    report = judged(each(TO_ANODE.format("GND").replace("GNDB", "GNDX"), MANY))
    assert complaints(report) == [("load-missing", "fail", "XU1")]


def counted(monkeypatch: pytest.MonkeyPatch, of: object, name: str, cards: str) -> int:
    calls = 0
    original: Callable[..., object] = getattr(of, name)

    def counting(*args: object, **named: object) -> object:
        nonlocal calls
        calls += 1
        return original(*args, **named)

    with monkeypatch.context() as patched:
        patched.setattr(of, name, counting)
        judged(cards)
    return calls


def grown(monkeypatch: pytest.MonkeyPatch, of: object, name: str, boards: Sequence[str]) -> list[int]:
    """How often something is called for each board."""
    return [counted(monkeypatch, of, name, board) for board in boards]


def test_what_many_leds_share_is_looked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    boards = [each(TO_ANODE.format("LOST"), count) for count in (MANY, 2 * MANY)]
    few, many = grown(monkeypatch, many_paths, "through", boards)
    assert 0 < many < 2.5 * few


def test_outputs_side_by_side_see_one_level_which_is_solved_once(monkeypatch: pytest.MonkeyPatch) -> None:
    few, many = grown(monkeypatch, OffAnalyser, "_worst", [f"R0 VB OUT 10k\n{each(ABREAST, n)}" for n in (3, 9)])
    # What flows depends on their number; what each of them sees is what the others see.
    assert few == many > 0


def test_a_cure_that_many_channels_share_is_tried_once(monkeypatch: pytest.MonkeyPatch) -> None:
    few, many = grown(monkeypatch, cures, "verdicts", [f"R0 VB OUT 1k\n{each(ABREAST, n)}" for n in (2, 5)])
    assert few == many > 0
