"""Which cards are read together, and where a run of them ends. That they are read right, test_lanes.py holds."""

from __future__ import annotations

import time

import pytest

from isolint.netlist.fast import Splitter
from isolint.netlist.runs import LEAST, RunReader, name_key
from tests.netlist.reading import deck, read_text


def _cards(count: int, first: int = 0) -> list[str]:
    return [f"R{k} a{k} b {k + 1}k" for k in range(first, first + count)]


def _read(lines: list[str], start: int = 0) -> tuple[int, int, int]:
    """How many cards are read together, how many lines they take, how many were looked at."""
    run, taken, seen = RunReader(Splitter()).read(lines, start, start + 1)
    return (0 if run is None else len(run.names)), taken, seen


def test_all_cards_but_the_last_of_a_block_are_read_together() -> None:
    assert _read(_cards(50)) == (49, 49, 50)


def test_a_few_cards_are_left_to_be_read_one_by_one() -> None:
    assert _read(_cards(LEAST)) == (0, 0, LEAST)
    assert _read([*_cards(LEAST), ".end"]) == (LEAST, LEAST, LEAST + 1)


@pytest.mark.parametrize("line", [".model DEMO_D D", "  .ends", "*.GLOBAL x", "5V a b", "// no card\n=x"])
def test_a_line_that_needs_its_order_ends_a_run(line: str) -> None:
    lines = [*_cards(40), *line.split("\n"), *_cards(40, 100)]
    at = len(lines) - 41
    complete = not line.startswith("*")
    taken = at - (not complete)
    assert _read(lines) == (40 - (not complete), taken, at + 1)


@pytest.mark.parametrize("line", ["R900 a", "R901 a b 1k 2 = 3", "R902 a b 5 \\"])
def test_a_card_that_has_more_to_say_ends_a_run_and_the_block(line: str) -> None:
    lines = [*_cards(40), line, *_cards(40, 100)]
    assert _read(lines) == (40, 40, len(lines))


@pytest.mark.parametrize(
    "line", ["* a comment", "", "  ", "K1 L1 L2 0.9", "R900 a b {x+1}", "  C900 a b 1n", "R9 a b 1u ;c"]
)
def test_what_needs_no_order_does_not_end_a_run(line: str) -> None:
    lines = [*_cards(40, 100), line, *_cards(40, 200)]
    found = _read(lines)
    assert found == (80 if line.strip() and line[0] != "*" else 79, 80, 81)


def test_continuation_lines_belong_to_the_run() -> None:
    lines = [*_cards(30), "X900 a b", "+ c", "* between", "+ DEMO_S", *_cards(30, 100)]
    assert _read(lines) == (60, 63, 64)
    run, _, _ = RunReader(Splitter()).read(lines, 0, 1)
    assert run is not None
    assert run.nodes[30] == ("a", "b", "c")
    assert list(run.lines)[29:32] == [30, 31, 35]


def test_a_run_may_begin_anywhere_in_a_block() -> None:
    lines = [*_cards(40), ".ends", *_cards(40, 100), ".end"]
    assert _read(lines, 41) == (40, 40, 41)


def test_equal_words_are_one_object_in_a_run() -> None:
    scope = read_text(deck(*_cards(60))).scopes[0]
    assert len({id(nodes[1]) for nodes in scope.nodes[:50]}) == 1


@pytest.mark.parametrize(
    ("one", "other"), [("r1", "R1"), ("Rload", "RLOAD"), ("R_ä", "R_Ä"), ("Rk", "R\u212a"), ("Rs", "rS")]
)
def test_names_are_compared_as_in_lower_case(one: str, other: str) -> None:
    assert (name_key(one) == name_key(other)) is (one.lower() == other.lower())


def test_names_that_differ_have_different_keys() -> None:
    names = ("R1", "R2", "Rß", "RSS", "Rſ", "RS", "Rı", "RI")
    assert len({name_key(name) for name in names}) == len({name.lower() for name in names})


def test_blocks_with_names_used_twice_take_no_longer_than_a_few_times_as_long() -> None:
    cards = [f"R{k} a{k} b 1k" for k in range(60_000)]

    def seconds(lines: list[str]) -> float:
        text = deck(*lines)
        begin = time.process_time()
        read_text(text)
        return time.process_time() - begin

    assert seconds([*cards, *cards]) < 40 * seconds(cards)
