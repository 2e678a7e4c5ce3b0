"""Failing netlists, their passing twins, and false-alarm traps of each rule, judged from disk as their comments say."""

from __future__ import annotations

from pathlib import Path

import pytest

from isolint.rules import RULES
from tests.expectations import expectations
from tests.support import FIXTURES, differences, judge_fixture, of_netlist

ROOT = FIXTURES / "rules"
NETLISTS = sorted(ROOT.rglob("*.cir"))
SLUGS = [rule.slug for rule in RULES]


def cards(path: Path) -> list[str]:
    """The lines of a small netlist that are no comments."""
    return [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("*")]


@pytest.mark.parametrize("path", [of_netlist(path, ROOT) for path in NETLISTS])
def test_a_netlist_gives_what_its_comments_say_and_nothing_else(path: Path) -> None:
    assert differences(judge_fixture(path), path.read_text(encoding="utf-8")) == []


ASKING = {"output-chopped", "part-unknown", "supply-contradicted"}
"""Rules that never fail: what they find is no fault but a question."""


@pytest.mark.parametrize("slug", SLUGS)
def test_a_rule_has_a_failing_netlist_a_passing_twin_and_a_trap(slug: str) -> None:
    folder = ROOT / slug
    fails = expectations((folder / "fails.cir").read_text(encoding="utf-8"))
    assert [expectation.slug for expectation in fails] == [slug]
    assert {expectation.kind for expectation in fails} == {"open" if slug in ASKING else "fail"}
    assert expectations((folder / "passes.cir").read_text(encoding="utf-8")) == []
    assert list(folder.rglob("trap-*.cir"))


@pytest.mark.parametrize("slug", SLUGS)
def test_the_twins_of_a_rule_differ_by_one_card(slug: str) -> None:
    fails, passes = cards(ROOT / slug / "fails.cir"), cards(ROOT / slug / "passes.cir")
    assert len(fails) == len(passes)
    assert sum(one != other for one, other in zip(fails, passes, strict=True)) == 1


@pytest.mark.parametrize(
    "slug",
    [
        of_netlist(ROOT / rule.slug / "passes.cir", ROOT, rule.slug)
        for rule in RULES
        if rule.group in ("barrier", "drive", "load")
    ],
)
def test_the_passing_twin_passes_the_rule_rather_than_skipping_it(slug: str) -> None:
    report = judge_fixture(ROOT / slug / "passes.cir")
    assert {result.kind for result in report.results if result.rule == slug} == {"pass"}


def test_no_fixture_stands_beside_the_rules() -> None:
    assert {path.name for path in ROOT.iterdir() if path.is_dir()} == {*SLUGS, "parts"}
