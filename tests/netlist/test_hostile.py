"""Netlists that want to hang or exhaust the reader get an answer soon."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

from isolint.errors import NotANetlist
from isolint.netlist import Cards
from tests.netlist.reading import deck, read_text


def _deep(count: int) -> str:
    return "(" * count + "1" + ")" * count


HOSTILE: dict[str, Callable[[], str]] = {
    "parentheses in a source": lambda: deck("R9 x y 1", f"V1 a b PULSE{_deep(30_000)}"),
    "parentheses in a resistor": lambda: deck("R9 x y 1", f"R1 a b {_deep(30_000)}"),
    "parentheses in an expression": lambda: deck("R9 x y 1", f"R1 a b {{{_deep(30_000)}}}"),
    "parentheses in a parameter": lambda: deck("R9 x y 1", f".param x={_deep(30_000)}"),
    "parentheses in a behavioural source": lambda: deck("R9 x y 1", f"B1 a b V={_deep(30_000)}"),
    "parentheses in a call": lambda: deck("R9 x y 1", f"X1 {_deep(30_000)} DEMO"),
    "open parentheses": lambda: deck("R9 x y 1", "V1 a b PWL" + "(" * 60_000),
    "open braces": lambda: deck("R9 x y 1", "R1 a b " + "{" * 60_000),
    "a word of a megabyte": lambda: deck("R9 x y 1", "R1 a b " + "k" * 240_000),
    "a number of a megabyte": lambda: deck("R9 x y 1", "R1 a b " + "9" * 240_000),
    "digits that are no number": lambda: deck(
        "R9 x y 1", "R1 a b " + "9" * 200_000 + "_", ".param x=" + "9" * 200_000 + "_"
    ),
    "a long type of a model": lambda: deck("R9 x y 1", ".model M " + "d" * 120_000 + " " + "a" * 120_000 + "{"),
    "a call with a million nodes": lambda: deck("R9 x y 1", "X1 " + "a b " * 1_000_000),
    "blanks of a megabyte": lambda: deck("R9 x y 1", "R1 a b" + " " * 240_000 + "1k", "E1 a b" + " " * 900_000 + "c"),
    "huge exponents": lambda: deck("R9 x y 1", "R1 a b 1e999999999", "R2 a b {9**9**9**9**9}", ".param x=10**10**10"),
    "equal signs": lambda: deck("R9 x y 1", "R1 a b " + "=" * 60_000, ".param " + "a=" * 60_000),
    "many bad cards": lambda: deck("R9 x y 1", *["R1 a"] * 60_000),
    "many lines of text": lambda: deck("R9 x y 1", *["Forward voltage of it"] * 30_000, ".end"),
    "many unknown dot cards": lambda: deck("R9 x y 1", *[f".zzz{i}" for i in range(3_000)]),
    "deep nesting of subcircuits": lambda: deck("R9 x y 1", *[f".subckt S{i} a b" for i in range(20_000)]),
    "conditions without end": lambda: deck("R9 x y 1", *[".if (1)"] * 5_000),
    "duplicates": lambda: deck("R9 x y 1", *["R9 x y 1"] * 30_000),
    "a long chain of copied models": lambda: deck("R9 x y 1", *[f".model M{i} AKO:M{i + 1} D" for i in range(3_000)]),
    "quotes": lambda: deck("R9 x y 1", "R1 a b " + "'\"" * 60_000),
    "voltages": lambda: deck("R9 x y 1", "B1 a b V=" + "v(" * 60_000, "B2 a b V=" + "v(a)+" * 60_000 + "1"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_netlist_gets_its_answer_within_five_seconds(kind: str) -> None:
    text = HOSTILE[kind]()
    start = time.process_time()
    cards: Cards = read_text(text)
    assert time.process_time() - start < 5
    assert cards.scopes[0].names[:1] == ["R9"]
    assert len(cards.notes) <= 1001


def test_a_file_of_random_words_gets_its_answer_within_five_seconds() -> None:
    words = ["Lorem", "ipsum", "dolor", "sit", "amet", "consectetur", "adipiscing", "elit", "sed", "do", "eiusmod"]
    text = "\n".join(" ".join(words[(i * 7 + k) % len(words)] for k in range(6)) for i in range(30_000))
    start = time.process_time()
    with pytest.raises(NotANetlist):
        read_text(text)
    assert time.process_time() - start < 5
