"""What holds for any input: the two ways to read a card agree, and nothing but our own errors comes out."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings

from isolint.errors import IsolintError
from isolint.netlist import read
from isolint.netlist.card_dump import dump
from isolint.netlist.dots import (
    fast_header,
    fast_model,
    fast_parameters,
    slow_header,
    slow_model,
    slow_parameters,
)
from isolint.netlist.element import BadCard, Element
from isolint.netlist.fast import fast
from isolint.netlist.shapes import element
from isolint.source import MemoryTree
from tests.netlist.reading import deck, read_text
from tests.netlist.test_elements import FORMS, MALFORMED, ODD
from tests.strategies import element_cards, hostile_bytes, netlists, wild_cards


def _by_grammar(text: str) -> Element | None:
    try:
        found = element(text)
    except BadCard:
        return None
    return found._replace(tails=dict(found.tails) if found.tails else None)


def _agree(text: str) -> bool:
    """Whether the splitting reader gave the card back, or read it as the grammar does, with nothing to remark."""
    split = fast(text)
    if split is None:
        return True
    assert split == _by_grammar(text), text
    return True


@pytest.mark.parametrize("text", [*FORMS, *MALFORMED, *ODD])
def test_splitting_agrees_with_the_grammar_on_every_known_form(text: str) -> None:
    assert _agree(text)


@settings(max_examples=400)
@given(element_cards)
@example("R1 a b 1e999")
@example("Q1 c b e off")
@example("X1 a b m=1 m=2")
@example("M1 d g s b M W=1u 2")
@example("R1 a b ſ")
def test_splitting_agrees_with_the_grammar_on_cards(text: str) -> None:
    assert _agree(text)


@settings(max_examples=200)
@given(wild_cards)
def test_splitting_agrees_with_the_grammar_on_what_is_hardly_a_card(text: str) -> None:
    assert _agree(text)


@pytest.mark.parametrize(
    "card", ["R1 a b 1k", "C1 a b 1n IC=5", "X1 a b c DEMO x=2 y={x}", "M1 d g s b MM W=1u L=2u", "V1 a b DC 5"]
)
def test_the_commonest_cards_need_no_grammar(card: str) -> None:
    assert (fast(card) is not None) == (not card.startswith("V1"))


@pytest.mark.parametrize(
    "text", ["A a b", "A a b x=1 y=2k", "A", "A a b x=1 c", "A a b x= 1", "A 0 NC NC", "A a b x=y"]
)
def test_splitting_agrees_with_the_grammar_on_headers(text: str) -> None:
    assert fast_header(text) in (None, slow_header(text))


@pytest.mark.parametrize(
    "text",
    [
        "M D",
        "M D()",
        "M D(IS=1f N=2)",
        "M NPN (BF=1)",
        "M D IS=1f",
        "M D(IS=1f",
        "M D(DEV=1)",
        "M D(x)",
        "M D(IS={x})",
        "M D(IS=1fA)",
    ],
)
def test_splitting_agrees_with_the_grammar_on_models(text: str) -> None:
    assert fast_model(text) in (None, slow_model(text))


@pytest.mark.parametrize("text", ["", "x=1", "x=1 Y=2k", "x", "x=y", "x=1 2", "x=1k5 y=.5"])
def test_splitting_agrees_with_the_grammar_on_parameters(text: str) -> None:
    assert fast_parameters(text) in (None, slow_parameters(text))


@settings(max_examples=150)
@given(hostile_bytes)
def test_any_bytes_give_cards_or_our_own_error(data: bytes) -> None:
    try:
        cards = read(MemoryTree({"board.cir": data}), "board.cir")
    except IsolintError as error:
        assert error.text
        return
    assert 0 <= cards.understood <= cards.total
    assert cards.total - cards.understood == sum(cards.reasons.values())
    for scope in cards.scopes:
        columns = (scope.names, scope.nodes, scope.models, scope.values, scope.file_ids, scope.lines, scope.columns)
        assert {len(column) for column in columns} == {len(scope)}
    assert dump(cards)


@settings(max_examples=60)
@given(netlists)
def test_reading_twice_gives_the_same(text: str) -> None:
    def once() -> str:
        try:
            return dump(read_text(text))
        except IsolintError as error:
            return str(error)

    assert once() == once()


def test_order_of_element_cards_does_not_matter() -> None:
    lines = [
        "R1 a b 1k",
        "C1 b 0 1n",
        "Q1 c b e QX AREA",
        ".model QX NPN",
        "R2 a b RV",
        ".param rv=2",
        "Forward voltage of the b",
    ]
    there, back = read_text(deck(*lines)), read_text(deck(*reversed(lines)))
    assert sorted(
        zip(there.scopes[0].names, there.scopes[0].nodes, there.scopes[0].models, strict=True), key=str
    ) == sorted(zip(back.scopes[0].names, back.scopes[0].nodes, back.scopes[0].models, strict=True), key=str)
