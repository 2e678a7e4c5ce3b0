"""The demonstration board of the sluice gate, sound and with eight classic mistakes."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest

from isolint import app
from isolint.results import NetlistReport, Result
from tests.expectations import expectations

BOARDS = Path(__file__).parents[2] / "fixtures" / "boards" / "sluice-gate"
SOUND = BOARDS / "sound"
BROKEN = BOARDS / "broken"


@cache
def judged(path: Path) -> NetlistReport:
    """The report of one netlist."""
    report = app.check([str(path)], app.Options())
    assert not report.errors
    (netlist,) = report.netlists
    return netlist


def complaints(results: Sequence[Result]) -> list[tuple[int, str, str]]:
    """Line, kind and rule of everything that is no pass."""
    return [(result.where.line, result.kind, result.rule) for result in results if result.kind in ("fail", "open")]


def cards(path: Path) -> list[str]:
    """The cards of a netlist, comments left out and continuation lines joined."""
    found: list[str] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("+"):
            found[-1] += " " + line[1:].strip()
        elif line.strip() and not line.startswith("*"):
            found.append(line)
    return found


def changes() -> list[tuple[str, str, str]]:
    """(slug, card of the sound board, card of the broken one) for each mistake."""
    text = (BROKEN / "board.cir").read_text(encoding="utf-8")
    lines = text.splitlines()
    sound = {card.split()[0]: card for card in cards(SOUND / "board.cir")}
    found: list[tuple[str, str, str]] = []
    for expected in expectations(text):
        assert expected.card_line
        card = lines[expected.card_line - 1]
        found.append((expected.slug, sound[card.split()[0]], card))
    return found


def test_sound_board_has_no_failure_and_nothing_open() -> None:
    report = judged(SOUND / "board.cir")
    assert [(result.rule, result.message) for result in report.results if result.kind in ("fail", "open")] == []
    assert app.check([str(SOUND / "board.cir")], app.Options(strict=True)).exit_status == 0


def test_every_channel_of_the_sound_board_is_found_and_judged() -> None:
    report = judged(SOUND / "board.cir")
    assert [coupler.part for coupler in report.couplers] == ["XU3", "XU4", "XU5", "XU6", "XU7", "Xin1.XU2", "Xin2.XU2"]
    assert report.coverage.channels == report.coverage.measured == 7
    assert report.coverage.share == 1.0


def test_the_board_has_three_sides_and_the_three_barriers_between_them() -> None:
    report = judged(SOUND / "board.cir")
    assert sorted((side.name, side.reference) for side in report.sides) == [
        ("field", "GNDF"),
        ("line", "GNDL"),
        ("logic", "GND"),
    ]
    assert sorted(tuple(sorted(barrier.sides)) for barrier in report.barriers) == [
        ("field", "line"),
        ("field", "logic"),
        ("line", "logic"),
    ]
    assert not any(barrier.joined for barrier in report.barriers)


@pytest.mark.parametrize(
    ("rule", "subject"),
    [
        ("led-underdriven", "XU6"),
        ("led-underdriven", "XU7"),
        ("led-overdriven", "Xin1.XU2"),
        ("drive-headroom-low", "XU4"),
        ("transfer-margin-low", "Xin1.XU2"),
        ("transfer-margin-low", "Xin2.XU2"),
        ("transfer-margin-low", "XU5"),
        ("load-missing", "XU3"),
        ("led-reversed", "XU7"),
    ],
)
def test_the_sound_board_passes_rules_that_apply_rather_than_skipping_them(rule: str, subject: str) -> None:
    kinds = [
        result.kind
        for result in judged(SOUND / "board.cir").results
        if (result.rule, result.subject) == (rule, subject)
    ]
    assert kinds == ["pass"]


def test_broken_board_fails_exactly_where_its_comments_say() -> None:
    text = (BROKEN / "board.cir").read_text(encoding="utf-8")
    expected = [(mark.card_line, mark.kind, mark.slug) for mark in expectations(text)]
    assert len(expected) == len({slug for _, _, slug in expected}) == 8
    report = judged(BROKEN / "board.cir")
    assert {result.where.file for result in report.results if result.kind == "fail"} == {report.netlist}
    assert complaints(report.results) == expected
    margins = {result.where.line: result.margin for result in report.results if result.kind == "fail"}
    bounds = {mark.card_line: mark.bounds["margin"] for mark in expectations(text) if "margin" in mark.bounds}
    assert len(bounds) == 3
    for line, bound in bounds.items():
        margin = margins[line]
        assert margin is not None
        assert margin.value == pytest.approx(bound, abs=0.006)
    assert app.check([str(BROKEN / "board.cir")], app.Options()).exit_status == 1


def test_broken_board_differs_from_the_sound_one_by_eight_cards() -> None:
    sound, broken = cards(SOUND / "board.cir"), cards(BROKEN / "board.cir")
    assert len(sound) == len(broken)
    differing = [(one, other) for one, other in zip(sound, broken, strict=True) if one != other]
    assert differing == [(before, after) for _, before, after in changes()]
    assert len(differing) == 8
    for name in ("isolint.toml", "models.lib", "parts/demo.toml"):
        assert (SOUND / name).read_bytes() == (BROKEN / name).read_bytes()


@pytest.mark.parametrize("change", changes(), ids=lambda change: change[0])
def test_each_mistake_alone_gives_its_one_failure(change: tuple[str, str, str], tmp_path: Path) -> None:
    slug, before, after = change
    folder = tmp_path / "board"
    shutil.copytree(SOUND, folder)
    text = (folder / "board.cir").read_text(encoding="utf-8")
    assert text.count(before + "\n") == 1
    (folder / "board.cir").write_text(text.replace(before + "\n", after + "\n"), encoding="utf-8")
    line = text[: text.index(before + "\n")].count("\n") + 1
    assert complaints(judged(folder / "board.cir").results) == [(line, "fail", slug)]
