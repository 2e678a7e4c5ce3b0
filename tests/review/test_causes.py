"""Causes: the smallest set of changes that undoes an item, counted trials, and hybrids that are what they say."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from isolint.app import Options, judge
from isolint.preparing import Instead
from isolint.review.atoms import Atom, atoms_of
from isolint.review.causes import MOST_AN_ITEM, Causes, Key, key_of
from isolint.review.classing import Classed
from isolint.review.correspondence import Netlist, correspond
from isolint.review.findings import Revision
from isolint.review.hybrid import with_put_back
from isolint.review.keys import key_changes, put_back
from isolint.review.review_words import because
from isolint.source import MemoryTree
from tests.review.comparing import BOARD, SETTINGS, files, reviewed, without_cures

OPTIONS = Options()


@pytest.fixture(autouse=True)
def _no_cures() -> Iterator[None]:
    with without_cures():
        yield


class TellingTrials:
    """Trials of which a test says what undoes."""

    def __init__(self, undoes: Callable[[frozenset[int]], bool], key: Key, most: int = 60) -> None:
        self._undoes, self._key, self._most = undoes, key, most
        self.number = 0

    @property
    def may(self) -> bool:
        return self.number < self._most

    def knows(self, atoms: frozenset[int]) -> bool:
        return False

    def live(self, atoms: frozenset[int]) -> frozenset[Key] | None:
        self.number += 1
        return frozenset() if self._undoes(atoms) else frozenset({self._key})


@pytest.fixture(scope="module")
def item() -> Classed:
    """Some failure."""
    tree = MemoryTree(files(BOARD.replace("470", "47")))
    revision = Revision(judge(tree, "board.cir", "", OPTIONS))
    return Classed("new", None, next(finding for finding in revision.findings if finding.kind == "fail"))


def atoms(count: int) -> list[Atom]:
    return [Atom("value", 0, n, n, f"R{n}", "1 ohm", "2 ohm") for n in range(1, count + 1)]


def cause(item: Classed, count: int, undoes: Callable[[frozenset[int]], bool], chain: list[int], most: int = 60) -> str:
    trials = TellingTrials(undoes, key_of(item), most)
    found = Causes(atoms(count), [], trials).of(item, chain)
    assert trials.number <= MOST_AN_ITEM
    return because(found)


def test_one_change_needs_no_trial(item: Classed) -> None:
    trials = TellingTrials(lambda atoms: False, key_of(item), most=0)
    assert because(Causes(atoms(1), [], trials).of(item, [])) == "because R1 went from 1 ohm to 2 ohm"
    assert trials.number == 0


def test_of_several_the_one_that_undoes_it_is_the_cause(item: Classed) -> None:
    assert cause(item, 9, lambda given: 4 in given, [4, 5]) == "because R5 went from 1 ohm to 2 ohm"
    assert cause(item, 9, lambda given: 4 in given, [1, 2]) == "because R5 went from 1 ohm to 2 ohm"


def test_where_either_undoes_it_both_are_told(item: Classed) -> None:
    told = cause(item, 5, lambda given: bool({1, 3} & given), [0, 1, 3])
    assert told == "R2 1 ohm -> 2 ohm and R4 1 ohm -> 2 ohm: putting back any one of them undoes it"


def test_where_only_both_undo_it_they_are_told_together(item: Classed) -> None:
    told = cause(item, 6, lambda given: {1, 3} <= given, [0, 1, 3])
    assert told == "because of R2 1 ohm -> 2 ohm together with R4 1 ohm -> 2 ohm: putting back one alone does not help"


def test_what_is_not_narrowed_down_is_told_as_candidates_with_the_number_of_trials(item: Classed) -> None:
    told = cause(item, 40, lambda given: {1, 30} <= given, list(range(40)))
    assert told.startswith("one of R1 1 ohm -> 2 ohm, R2") and told.endswith("(not narrowed down: 24 trials)")
    assert "and 37 more" in told
    assert "3 trials" in cause(item, 8, lambda given: {1, 3} <= given, [0, 1, 3], most=3)


EDITS = [
    ("OUT 10k", "OUT 1k"),
    ("A 470", "A 47"),
    ("GNDB OUT", "GND OUT"),
    ("R2 VB OUT 10k\n", ""),
    ("R2 VB OUT 10k\n", "R2 VB OUT 10k\nR90 GND GNDB 1k\n"),
    ("R1 DRIVE A 470", "R1 DRIVE A {x}\n.param x=47"),
    ("DEMO_PT1", "DEMO_PT2"),
    ("XU1 A GND", "XU1 GND A"),
]


def _said(revision: Revision) -> set[tuple[str, str, str]]:
    results = revision.judged.report.results
    return {(each.rule, each.kind, each.subject) for each in results if each.kind in ("fail", "open")}


@pytest.mark.parametrize(("before", "after"), EDITS)
def test_with_all_changes_of_the_cards_put_back_the_old_results_are_there(before: str, after: str) -> None:
    trees = MemoryTree(files()), MemoryTree(files(BOARD.replace(before, after)))
    assert before in BOARD
    old, new = (Revision(judge(tree, "board.cir", "", OPTIONS)) for tree in trees)
    found = correspond(old.netlist, new.netlist)
    made = atoms_of(found)
    assert len(made) >= 1
    solver = new.judged.context.analysis.solver
    again = Revision(judge(trees[1], "board.cir", "", OPTIONS, instead=Instead(with_put_back(found, made), solver)))
    assert _said(again) == _said(old)
    back = correspond(old.netlist, Netlist(again.judged.cards, again.judged.context.circuit))
    assert all(pair.differing.number == 0 for pair in back.scopes.values())


def test_keys_of_settings_are_put_back_one_by_one() -> None:
    new = SETTINGS.replace('voltage = "5 V"', 'voltage = "24 V"').replace("duty = 0.5", "duty = 0.9")
    trees = MemoryTree(files()), MemoryTree(files(settings=new))
    changes = key_changes(*trees, [("isolint.toml", "isolint.toml")])
    assert [change.name for change in changes] == ["supplies.V5.voltage", "supplies.VB.voltage", "environment.duty"]
    made = put_back(*trees, [(change, "isolint.toml") for change in changes])
    assert key_changes(trees[0], made, [("isolint.toml", "isolint.toml")]) == ()
    one = put_back(*trees, [(changes[0], "isolint.toml")])
    assert len(key_changes(trees[0], one, [("isolint.toml", "isolint.toml")])) == 2


def test_a_fact_that_made_it_is_named() -> None:
    review = reviewed(files(), files(settings=SETTINGS.replace('high_min = "3.5 V"', 'high_min = "4.9 V"')))
    assert review.items and all("inputs" in because(each.cause) for each in review.items)


def test_of_three_changes_the_one_that_made_it_is_found_by_trying() -> None:
    new = BOARD.replace("OUT 10k", "OUT 1k").replace("470", "475") + "C9 OUT GNDB 10p\n"
    review = reviewed(files(), files(new))
    told = {each.rule: because(each.cause) for each in review.items}
    assert told["transfer-margin-low"] == "because R2 went from 10 kohm to 1 kohm"
