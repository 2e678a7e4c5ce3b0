"""Small legal circuits that look wrong, each with a wrong twin that differs by one card."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint import app
from tests.expectations import expectations

NETLISTS = Path(__file__).parents[2] / "fixtures" / "netlists"
WRONG = sorted(NETLISTS.rglob("*.wrong.cir"))
LEGAL = [path.with_name(path.name.replace(".wrong.cir", ".cir")) for path in WRONG]


def cards(path: Path) -> list[str]:
    """The lines of a small netlist that are no comments."""
    return [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("*")]


@pytest.mark.parametrize("path", [*LEGAL, *WRONG], ids=lambda path: path.name)
def test_a_small_circuit_gives_what_its_comments_say(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "* expect" in text
    expected = [(mark.card_line, mark.kind, mark.slug) for mark in expectations(text) if mark.slug != "none"]
    report = app.check([str(path)], app.Options(root=str(NETLISTS)))
    assert not report.errors
    found = [(r.where.line, r.kind, r.rule) for r in report.results if r.kind in ("fail", "open")]
    assert found == expected
    assert report.netlists[0].coverage.measured > 0


@pytest.mark.parametrize("path", WRONG, ids=lambda path: path.name)
def test_a_wrong_twin_differs_from_the_legal_circuit_by_one_card(path: Path) -> None:
    legal = cards(path.with_name(path.name.replace(".wrong.cir", ".cir")))
    wrong = cards(path)
    assert len(legal) == len(wrong)
    assert sum(one != other for one, other in zip(legal, wrong, strict=True)) == 1
    assert "expect: none" not in path.read_text(encoding="utf-8")


def test_there_are_traps_to_try() -> None:
    assert len(WRONG) >= 9
