"""What a joint amounts to: all its paths in parallel, each independent joint its own."""

from __future__ import annotations

import random
from itertools import combinations, pairwise

import networkx
import pytest

from tests.interfaces.boards import BOARD, SIDES, sides_of

STEPS = "R{0}0 GND V{0}A 900k\nR{0}1 V{0}A V{0}B 900k\nR{0}2 V{0}B GNDF 900k\n"
STEPPED = "".join(f'[supplies.V{name}]\nvoltage = "9 V"\n' for name in ("7A", "7B", "8A", "8B"))


def test_what_joins_in_steps_of_less_than_the_limit_each_is_a_joint_and_each_way_its_own() -> None:
    one = sides_of(BOARD + STEPS.format(7), SIDES + STEPPED)[1].joins
    assert [len(join.each) for join in one] == [1]
    (both,) = sides_of(BOARD + STEPS.format(7) + STEPS.format(8), SIDES + STEPPED)[1].joins
    assert [each.along for each in both.each] == [2.7e6, 2.7e6]
    assert len({each.cut for each in both.each}) == 2
    assert sides_of(BOARD + STEPS.format(7).replace("900k", "1meg"), SIDES + STEPPED)[1].joins == ()


@pytest.mark.parametrize(
    ("cards", "ohms", "along"),
    [
        ("R9 GND GNDF 4.7k\n", 4700.0, 4700.0),
        ("R8 GND m 10k\nR7 GND m 10k\nR9 m GNDF 4.7k\n", 9700.0, 14700.0),
        ("R8 GND m 1k\nL7 GND k 1u\nR7 k m 0\nR9 m GNDF 100\n", 100.0, 1100.0),
        ("R8 GND m 5\nR7 GND m 5\nR9 m GNDF 1\n", 3.5, 6.0),
        ("R9 GND GNDF 4.7k\nR8 GND GNDF 2meg\n", 4700.0, 4700.0),
    ],
)
def test_a_joint_amounts_to_all_its_paths_in_parallel(cards: str, ohms: float, along: float) -> None:
    (join,) = sides_of(BOARD + cards, SIDES)[1].joins
    assert [join.resistance, join.along] == pytest.approx([ohms, along])


def test_each_of_two_independent_joints_amounts_to_its_own() -> None:
    (join,) = sides_of(BOARD + "R9 GND GNDF 4.7k\nR8 GND GNDF 1k\n", SIDES)[1].joins
    assert sorted(each.resistance for each in join.each) == [1000.0, 4700.0]


@pytest.mark.parametrize("seed", range(12))
def test_a_joint_behind_one_resistor_equals_the_laplacian_of_its_network(seed: int) -> None:
    drawn = random.Random(seed)
    nets = ["GND", "m", "n", "o", "p"]
    graph = networkx.Graph()
    cards = "R90 p GNDF 4.7k\n"
    for number, (one, other) in enumerate(combinations(nets, 2)):
        ohms = drawn.choice((10, 220, 1000, 47000))
        if drawn.random() < 0.7 or (one, other) in pairwise(nets):
            graph.add_edge(one, other, ohms=ohms)
            cards += f"R{10 + number} {one} {other} {ohms}\n"
    (join,) = sides_of(BOARD + cards, SIDES)[1].joins
    assert {each.cut for each in join.each} != set()
    whole = networkx.resistance_distance(graph, "GND", "p", weight="ohms")
    assert join.resistance == pytest.approx(4700.0 + whole)
    assert join.resistance <= join.along
