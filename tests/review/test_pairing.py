"""A re-export is seen as one, and a real edit is never taken for none."""

from __future__ import annotations

import random

import pytest

from isolint.circuit.anonymous import is_anonymous
from tests.review.exports import compared, drawn, edited, exported_anew, number, text_of

SMALL = """\
* t
R1 a n1 1k
R2 n1 0 2k
C1 n1 0 10n
V1 a 0 5
"""


@pytest.mark.parametrize("seed", range(12))
def test_a_re_export_makes_no_difference(seed: int) -> None:
    _no_difference(seed, size=random.Random(seed).randrange(5, 80))


def test_a_board_of_five_hundred_elements_exported_anew_makes_none_and_edited_makes_one() -> None:
    _no_difference(7, size=500)
    _a_difference(8, size=500)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(200))
def test_two_hundred_re_exports_of_boards_of_up_to_five_hundred_elements_make_no_difference(seed: int) -> None:
    _no_difference(1000 + seed, size=random.Random(seed).randrange(5, 500))


@pytest.mark.parametrize("seed", range(12))
def test_an_edit_in_a_re_export_is_never_taken_for_none(seed: int) -> None:
    _a_difference(seed, size=random.Random(seed).randrange(5, 60))


@pytest.mark.long
@pytest.mark.parametrize("seed", range(200))
def test_two_hundred_edits_in_re_exports_are_never_taken_for_none(seed: int) -> None:
    _a_difference(1000 + seed, size=random.Random(seed).randrange(5, 500))


def _no_difference(seed: int, size: int) -> None:
    dice = random.Random(seed)
    cards = drawn(dice, size)
    found = compared(text_of(cards), text_of(exported_anew(dice, cards)))
    assert number(found) == 0
    assert all(pair.alike for pair in found.scopes.values()) and found.share == 1.0


def _a_difference(seed: int, size: int) -> None:
    dice = random.Random(seed)
    cards = drawn(dice, size)
    found = compared(text_of(cards), text_of(edited(dice, exported_anew(dice, cards, permuted=seed % 2 == 0))))
    assert number(found) >= 1


@pytest.mark.parametrize("seed", range(8))
def test_with_the_references_kept_no_more_is_told_than_was_edited(seed: int) -> None:
    dice = random.Random(seed)
    cards = drawn(dice, 40)
    new = exported_anew(dice, cards, permuted=False)
    for _ in range(3):
        new = edited(dice, new)
    assert 1 <= number(compared(text_of(cards), text_of(new))) <= 3


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("R1 a n1 1k", "R1 a n1 1.5k", "values"),
        ("R1 a n1 1k", "R1 a 0 1k", "pins"),
        ("C1 n1 0 10n", "", "gone"),
        ("V1 a 0 5", "V1 a 0 5\nR9 a 0 1k", "came"),
        ("V1 a 0 5", "V1 0 a 5", "pins"),
    ],
)
def test_each_edit_is_one_difference_of_its_kind(before: str, after: str, told: str) -> None:
    found = compared(SMALL, SMALL.replace(before, after)).scopes[0].differing
    assert found.number == 1 and len(getattr(found, told)) == 1


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("R1 a n1 1k", "r1 N1 A 1000"),
        ("C1 n1 0 10n", "C1 n1\n+ 0 0.01u"),
        ("V1 a 0 5", "* a comment\nV1 a 0 DC 5\n.tran 1m"),
        ("R2 n1 0 2k", ".param x=2k\nR2 n1 0 {x}"),
        ("n1", "N$7"),
        ("R1 a n1 1k", "R1 a n1 2k m=2"),
    ],
)
def test_another_way_to_write_it_is_no_difference(before: str, after: str) -> None:
    found = compared(SMALL, SMALL.replace(before, after))
    assert number(found) == 0 and found.scopes[0].alike


def test_a_changed_model_is_told_of_its_netlist() -> None:
    text = SMALL + ".model DX D(is=1e-14)\nD1 a 0 DX\n"
    found = compared(text, text.replace("1e-14", "1e-12"))
    assert not found.scopes[0].alike and found.scopes[0].differing.number == 0


def test_a_block_that_changed_is_told_once_and_its_instances_are_paired_by_path() -> None:
    block = "* t\nX1 a 0 ch\nX2 b 0 ch\nV1 a 0 5\nV2 b 0 5\n.subckt ch p m\nR1 p n1 1k\nR2 n1 m 1k\n.ends\n"
    found = compared(block, block.replace("R1 p n1 1k", "R7 p n7 3k").replace("R2 n1 m", "R2 n7 m"))
    assert number(found) == 1 + 1  # the resistor, and that the calls of the top call something else
    assert (found.path("X1.R1"), found.path("X2.R2"), found.path("V2")) == ("X1.R7", "X2.R2", "V2")
    assert found.net("X2.n1") == "X2.n7" and found.net("a") == "a"


def test_a_definition_of_another_name_is_the_same_one() -> None:
    text = "* t\nX1 a 0 ch\nV1 a 0 5\n.subckt ch p m\nR1 p m 1k\n.ends\n"
    found = compared(text, text.replace(" ch", " channel_1"))
    assert number(found) == 0 and found.path("X1.R1") == "X1.R1"


def test_two_nets_that_became_one_are_a_difference() -> None:
    text = "* t\nR1 GND x 1k\nR2 GNDF x 1k\nV1 x GND 5\nV2 x GNDF 5\n"
    assert number(compared(text, text.replace("GNDF", "GND"))) == 2


def test_names_that_tools_make_up_are_known() -> None:
    made_up = [
        "N001",
        "n$12",
        "12",
        "$12",
        "$N12",
        "Net-(R1-Pad1)",
        "net_(x)",
        "unconnected-(U1-NC)",
        "X1.N003",
        "Node7",
    ]
    assert [name for name in made_up if not is_anonymous(name)] == []
    told = ["0", "GND", "+5V", "VCC", "/MCU/DO_1", "N_RESET", "NET", "X1.0"]
    assert [name for name in told if is_anonymous(name)] == []


def test_a_ladder_of_equal_resistors_exported_anew_is_the_same() -> None:
    def ladder(order: list[int]) -> str:
        rungs = [f"R{order[k]} n{order[k] + 1000} n{order[k + 1] + 1000} 1k" for k in range(60)]
        return "\n".join(["* t", f"V1 A n{order[0] + 1000} 5", *rungs, ""])

    order = list(range(61))
    other = order.copy()
    random.Random(1).shuffle(other)
    assert number(compared(ladder(order), ladder(other))) == 0
