"""What must not change the sides: order of cards, names of nets, a resistor split in two, a flattened hierarchy."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.interfaces.entities import JointKind
from isolint.interfaces.witness import Level
from tests.interfaces.boards import (
    bleeder,
    joins_of,
    nets_of,
    sides_of,
)

# -- invariance ----------------------------------------------------------------------------------------------------


def random_board(seed: int) -> list[str]:
    """Cards of two sides with random elements, four couplers and up to three bridges between."""
    chance = random.Random(seed)
    cards: list[str] = []
    for side in "FL":
        nets = [f"GND{side}", f"V{side}", *(f"n{side}{number}" for number in range(6))]
        cards.append(f"V{side} V{side} GND{side} 5")
        for number in range(8):
            one, other = chance.sample(nets, 2)
            letter, value = chance.choice([("R", "1k"), ("R", "3meg"), ("L", "1u"), ("D", "DX"), ("C", "1n")])
            cards.append(f"{letter}{side}{number} {one} {other} {value}")
    cards += [f"XU{number} nF{number} GNDF nL{number} GNDL DEMO_PT" for number in range(4)]
    for number in range(chance.randrange(4)):
        one, other = f"nF{chance.randrange(6)}", f"nL{chance.randrange(6)}"
        cards.append(f"RX{number} {one} {other} {chance.choice(['0', '4k7', '2meg', '10meg'])}")
    return cards


Faults = list[tuple[JointKind, Level, tuple[str, ...], int, tuple[str, ...]]]
Summary = tuple[list[tuple[str, ...]], Faults, list[tuple[int, int]]]


def summary(cards: list[str], back: dict[str, str] | None = None) -> Summary:
    """Sides and joins of cards, nets under the names that `back` gives them."""
    circuit, separation = sides_of("\n".join([*cards, ".model DX D"]))
    names = back or {}

    def old(net: int) -> str:
        name = circuit.net_name(net)
        return names.get(name, name)

    sides = sorted(tuple(sorted(map(old, side.nets))) for side in separation.sides)
    joins = sorted(
        (join.kind, join.level, tuple(sorted(circuit.path(e) for e in join.cut)), len(join.path), join.couplers)
        for join in separation.joins
    )
    bridges = sorted((round(b.value or 0), len(b.elements)) for b in separation.bridges)
    return sides, joins, bridges


@given(st.integers(0, 10_000), st.randoms(use_true_random=False))
def test_order_of_cards_does_not_matter(seed: int, chance: random.Random) -> None:
    cards = random_board(seed)
    shuffled = list(cards)
    chance.shuffle(shuffled)
    sides, joins, bridges = summary(cards)
    other_sides, other_joins, other_bridges = summary(shuffled)
    assert (sides, bridges) == (other_sides, other_bridges)
    assert [join[:4] for join in joins] == [join[:4] for join in other_joins]


@given(st.integers(0, 10_000))
def test_names_of_nets_do_not_matter(seed: int) -> None:
    cards = random_board(seed)
    inner = [f"n{side}{number}" for side in "FL" for number in range(6)]
    renamed = {name: f"z{(index * 7) % 12:02}x" for index, name in enumerate(inner)}
    new = [" ".join(renamed.get(word, word) for word in card.split()) for card in cards]
    assert summary(cards) == summary(new, {value: key for key, value in renamed.items()})


@given(st.integers(0, 10_000))
def test_splitting_a_resistor_in_two_changes_no_side_and_no_rule(seed: int) -> None:
    cards = random_board(seed)
    split: list[str] = []
    half = {"1k": "500", "4k7": "2350", "3meg": "1.5meg", "2meg": "1meg", "10meg": "5meg", "0": "0"}
    for card in cards:
        name, one, other, value = card.split()[:4]
        if name.startswith("R"):
            split += [f"{name} {one} half{name} {half[value]}", f"{name}h half{name} {other} {half[value]}"]
        else:
            split.append(card)
    sides, joins, _ = summary(cards)
    new_sides, new_joins, _ = summary(split)
    assert [(join[0], len(join[2])) for join in new_joins] == [(join[0], len(join[2])) for join in joins]
    # Among equally small cuts the one nearest to the middle is blamed, and a half may stand where no whole does.
    if blamed(new_joins) == blamed(joins):
        kept = [[net for net in side if not net.startswith("half")] for side in new_sides]
        assert kept == [list(side) for side in sides]


def blamed(joins: Faults) -> list[set[str]]:
    """The elements of each cut, a half by the name of its whole."""
    return [{element.removesuffix("h") for element in join[2]} for join in joins]


CHANNEL = "R1 line a 2k2\nXU1 a com out gnd DEMO_PT\nR2 out vdd 10k\n"
SHEETS = f"""
.subckt DEMO_CHANNEL line com out gnd vdd
{CHANNEL}
.ends
.subckt DEMO_PAIR com gnd vdd
Xa l1 com o1 gnd vdd DEMO_CHANNEL
Xb l2 com o2 gnd vdd DEMO_CHANNEL
.ends
Xp GNDF GND V3V3 DEMO_PAIR
Xq GNDF GND V3V3 DEMO_PAIR
V1 V3V3 GND 3.3
"""


def flat() -> str:
    cards: list[str] = []
    ports = {"com": "GNDF", "gnd": "GND", "vdd": "V3V3"}
    for pair in "pq":
        for channel, number in (("a", 1), ("b", 2)):
            inner = {"line": f"X{pair}.l{number}", "out": f"X{pair}.o{number}", "a": f"X{pair}.X{channel}.a", **ports}
            for card in CHANNEL.splitlines():
                name, *words = card.split()
                cards.append(" ".join([f"{name}_{pair}{channel}", *(inner.get(word, word) for word in words)]))
    return "\n".join([*cards, "V1 V3V3 GND 3.3"])


@pytest.mark.parametrize("bridge", ["", "R9 GND GNDF 0\n", bleeder("GND", "GNDF")])
def test_flattening_the_hierarchy_changes_nothing_but_names(bridge: str) -> None:
    assert nets_of(SHEETS + bridge) == nets_of(flat() + "\n" + bridge)
    assert joins_of(SHEETS + bridge) == joins_of(flat() + "\n" + bridge)
