"""Boards from a generator of our own: what isolates is asked about, what does not is not."""

from __future__ import annotations

import pytest

from tests.positions.finding import count

FEW, MANY = range(40), range(1000, 1300)


def seeds_of(marker: str) -> range:
    return FEW if marker == "few" else MANY


SEEDS = pytest.mark.parametrize("seeds", ["few", pytest.param("many", marks=pytest.mark.benchmark)])


@SEEDS
def test_with_named_grounds_97_of_100_isolating_cards_are_in_a_question(seeds: str) -> None:
    found = count(seeds_of(seeds))
    assert found.cards > 4 * len(seeds_of(seeds))
    assert found.by_name + found.by_pair >= 0.97 * found.cards
    assert len(found.wrong) <= len(seeds_of(seeds)) // 100


@SEEDS
def test_with_automatic_names_87_of_100_isolating_cards_are_in_a_question(seeds: str) -> None:
    found = count(seeds_of(seeds), automatic=True)
    assert found.by_name >= 0.87 * found.cards
    assert len(found.wrong) <= len(seeds_of(seeds)) // 100


@SEEDS
def test_a_planted_tie_hides_no_coupler(seeds: str) -> None:
    found = count(seeds_of(seeds), tied=True)
    assert found.by_name + found.by_pair >= 0.97 * found.cards
    assert found.by_pair > 0


@SEEDS
@pytest.mark.parametrize("automatic", [False, True])
def test_98_of_100_boards_without_isolation_are_asked_nothing(seeds: str, automatic: bool) -> None:
    found = count(seeds_of(seeds), isolated=False, automatic=automatic)
    assert found.cards == 0
    assert found.boards <= 0.02 * len(seeds_of(seeds))
    assert not found.wrong
