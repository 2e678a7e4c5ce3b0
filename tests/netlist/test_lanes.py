"""Reading many cards at once gives what the grammar gives card by card: columns, notes, places and counts."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from isolint.errors import IsolintError
from isolint.netlist import Cards, read
from isolint.netlist.runs import LEAST
from isolint.netlist.text_lines import BLOCK, cards
from isolint.source import MemoryTree
from tests.benchmarks.netlists import TEXTS
from tests.conftest import REPOSITORY
from tests.netlist.reading import deck
from tests.netlist.test_elements import FORMS, MALFORMED, ODD
from tests.strategies import comments, dot_cards, element_cards, wild_cards

FIXTURES = sorted(
    path for path in (REPOSITORY / "fixtures").rglob("*") if path.suffix in (".cir", ".net", ".lib", ".inc", ".sp")
)


def _read(text: str | bytes, plain: bool) -> Cards | str:
    try:
        return read(MemoryTree({"board.cir": text}), "board.cir", plain=plain)
    except IsolintError as error:
        return str(error)


def _agree(text: str | bytes) -> Cards | str:
    """Assert that both ways give equal columns, notes, counts and errors; give what they give."""
    plain, quick = _read(text, plain=True), _read(text, plain=False)
    assert quick == plain
    if isinstance(plain, Cards) and isinstance(quick, Cards):
        for one, other in zip(plain.scopes, quick.scopes, strict=True):
            # Equal is not enough: 1 and 1.0 are equal, and the order of pairs shows in a dump.
            assert list(map(repr, one.values)) == list(map(repr, other.values))
            assert {at: list(tails) for at, tails in one.tails.items()} == {
                at: list(tails) for at, tails in other.tails.items()
            }
    return quick


def _plain_cards(count: int, first: int = 0) -> list[str]:
    """Regular cards, enough of which are read together. Invented."""
    made: list[str] = []
    for k in range(first, first + count):
        made += [f"R{k} n{k} n{k + 1} {k}k", f"C{k} n{k} 0 1n", f"Q{k} n{k} b e DEMO_Q", f"X{k} n{k} p DEMO_S m={k}"]
    return made


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: str(path.relative_to(REPOSITORY)))
def test_both_ways_read_each_fixture_alike(path: Path) -> None:
    _agree(path.read_bytes())


@pytest.mark.parametrize("kind", TEXTS)
def test_both_ways_read_generated_netlists_alike(kind: str) -> None:
    _agree(TEXTS[kind](400))


@pytest.mark.parametrize("card", [*FORMS, *MALFORMED, *ODD])
def test_a_card_among_many_is_read_as_alone(card: str) -> None:
    _agree(deck(*_plain_cards(7), card, *_plain_cards(7, 50)))


@pytest.mark.parametrize("card", [*FORMS, *ODD])
def test_many_cards_of_one_form_are_read_as_one(card: str) -> None:
    first, _, rest = card.partition(" ")
    _agree(deck(*(f"{first}_{k} {rest}" for k in range(40)), "R9 a b 1"))


CARDS = {
    "nothing": [],
    "a duplicate": ["R1 a b 1", "c1 a b 1"],
    "a duplicate in other case": ["r1 a b 1"],
    "a duplicate by the Kelvin sign": ["Rk a b 1", "R\u212a a b 2"],
    "text": ["Forward voltage of the LED", "and more of it"],
    "English names": ["Current a b 1", "Diode forward voltage DEMO_D", "Rload input output 1k", "Rload2 a b 1"],
    "an alphabetic name": ["Rload a b 1k", "RL x y 1"],
    "a directive": ["*.GLOBAL x", "+ y", "R900 a b 1"],
    "a directive between": ["R900 a b", "*.GLOBAL x", "* c", "+ 1k"],
    "continuations": ["X900 a b c", "+ d e", "* between", "", "+ DEMO_S m=2 $ comment", "R900 a b", "+", "+ 5"],
    "a backslash": ["R900 a b \\", "1k", "R901 a b 2 \\"],
    "a backslash in a continuation": ["X900 a b", "+ c DEMO_S \\", "R901 a b 2"],
    "comments": ["R900 a b 1k ; one", "R901 a b 1k $ two", "R902 a b 1k // three", "R903 a b 1k $four", "# c", "//d"],
    "dollars": ["R900 $N_1 b 1k", "R901 a $ 1k", "X900 a / DEMO_S", "X901 a // DEMO_S", "R902 a\t$\tb"],
    "indented": ["  R900 a b 1k", "\tC900 a b 1n", " + ic=1", "   .param x=1", "  K1 L1 L2 0.9"],
    "expressions": [f"R9{k} a b {{{k}*x}}" for k in range(10)] + ["R950 a b {x {y}}", "R951 a b {x", "R952 a b {}"],
    "expressions with blanks": [f"C9{k} a b {{ {k} * x }}" for k in range(10)]
    + ["C950 a b c {x}", "C951 a b {x} ic=1"],
    "expressions with comments": [f"L9{k} a b {{{k}*x}}" for k in range(10)] + ["L950 a b {1;2}", "L951 a b {1 $ 2}"],
    "expressions that are wrong": [f"R9{k} a b {{{k}*}}" for k in range(10)],
    "expressions of devices": [f"D9{k} a b DEMO_D area={{{k}*x}}" for k in range(10)] + ["V900 a b {x}"],
    "tails": [f"R9{k} a b 1k tc1={k}m" for k in range(10)] + ["R950 a b r=5", "R951 a b 5 r=5", "R952 a b 5 m=1 m=2"],
    "tails apart": [f"M9{k} d g s b M W = 1u L=2u" for k in range(10)],
    "tails in the middle": [f"X9{k} a b m={k} DEMO_S" for k in range(10)],
    "odd values": ["R900 a b 1M", "R901 a b 1F", "C900 a b 1F", "R902 a b 4M7", "R903 a b 10µ", "R904 a b RMOD"],
    "values with blanks": ["R900 a b 1 k", "R901 a b 1,5", "R902 a b 10 ohm"],
    "flags": [f"D9{k} a b off" for k in range(10)] + [f"Q9{k} c b e 2" for k in range(10)],
    "many widths": [f"X9{k} {' '.join(f'n{i}' for i in range(k))} DEMO_S" for k in range(1, 12)],
    "blanks": [f"R9{k}   a  b    {k}k  " for k in range(10)] + ["R950\ta\tb\t1k"],
    "other letters": ["K1 L1 L2 0.9", "S1 a b c d DEMO_W", "B1 a b V={x}", "U1 a b DEMO_U", "Ω1 a b 1", "É1 a b DEMO"],
    "no letters": ["5V a b", "=", "@x"],
    "a subcircuit": [".subckt DEMO_S a b", *_plain_cards(12), ".ends", ".model DEMO_Q NPN"],
    "a condition": [".if (0)", *_plain_cards(12, 500), ".endif", *_plain_cards(12, 800)],
    "an end": [".end", *_plain_cards(12, 500)],
    "control": [".control", *_plain_cards(12, 500), ".endc", *_plain_cards(12, 800)],
    "settled later": ["Q900 c b e s DEMO_Q", "Q901 c b e DEMO_Q s", "R900 a b DEMO_Q", "R901 a b x", "R902 a b R47"],
    "text between runs": ["5 V of the relay", *_plain_cards(12, 500), "5 V of the relay"],
    "quotes": [f"R9{k}_{ord(mark)} a{mark} b 1k" for k in range(10) for mark in "'[%~:<!*"],
    "quoted values": [f"R9{k} a b '{k}*x'" for k in range(10)] + [f'C9{k} a b "{k}*x"' for k in range(10)],
    "widths that add up": [f"R9{k} a b{' 1 2' * (k % 2)}" for k in range(20)],
    "widths of instances that add up": [f"X9{k} p{k}{' b c' * (k % 2)} DEMO_S" for k in range(20)],
    "dollars in values": [f"L9{k} a b {{x+ $.a{k}}}" for k in range(10)] + [f"R9{k} a b {{x+$a}}" for k in range(10)],
    "widths that add up with tails": [f"R9{k} a b 1k{' m=1 m=2' * (k % 2)}" for k in range(20)],
    "values among the tails": [f"R9{k} a b 5 r={k}" for k in range(10)] + [f"C9{k} a b c={k}" for k in range(10)],
    "comments that look like values": [f"L9{k} a b {{x}} ; {k}}}" for k in range(10)],
    "slashes in values": [f"L9{k} a b {{x // {k}}}" for k in range(10)],
    "equal signs in values": [f"L9{k} a b {{x=={k}}}" for k in range(10)] + [f"R9{k} a=b {{x}}" for k in range(10)],
    "infinite values": [f"L9{k} a b {{x*1e99{k}}}" for k in range(10)] + [f"R9{k} a b 1e99{k}" for k in range(10)],
    "English with numbers": [f"R{'ab'[k % 2] * (k + 1)} voltage of {k}" for k in range(12)],
    "encrypted": ["R" + "4f" * 40],
    "controlled": [f"E9{k} a b c d {k}" for k in range(10)] + [f"F9{k} a b V1 {k}" for k in range(10)],
}


@pytest.mark.parametrize("kind", CARDS)
@pytest.mark.parametrize("lead", [0, 1, LEAST])
def test_what_stands_among_regular_cards_is_read_as_alone(kind: str, lead: int) -> None:
    _agree(deck(*_plain_cards(lead), *CARDS[kind], *_plain_cards(7, 100), ".param x=3"))


@pytest.mark.parametrize("kind", CARDS)
def test_what_ends_a_file_is_read_as_alone(kind: str) -> None:
    _agree(deck(*_plain_cards(7, 100), *CARDS[kind]).rstrip("\n"))


_regular = st.integers(1, 12).map(lambda count: "\n".join(_plain_cards(count, 7 * count)))
_lines = st.lists(st.one_of(_regular, element_cards, wild_cards, dot_cards, comments), max_size=30)


@settings(max_examples=150)
@given(_lines)
@example(["R1 a b 1"] * 50)
@example([f"R{k} a b 1" for k in range(40)] + ["+ 2", "*.X", "+ 3", "+ 4"])
def test_both_ways_read_any_netlist_alike(lines: list[str]) -> None:
    _agree(deck(*lines))


@settings(max_examples=25)
@given(st.lists(element_cards, min_size=LEAST, max_size=LEAST + 8))
def test_both_ways_read_runs_of_cards_alike(lines: list[str]) -> None:
    names = (f"{line.split()[0]}_{k}" for k, line in enumerate(lines))
    _agree(deck(*(" ".join((name, *line.split()[1:])) for name, line in zip(names, lines, strict=True))))


def test_a_card_that_goes_on_in_the_next_block_is_one_card() -> None:
    lines = [f"R{k} n{k} n{k + 1} 1k" for k in range(2 * BLOCK // 15)]
    for number in range(0, len(lines), 7):
        lines[number] = f"X{number} n{number} p\n+ q\n* r\n+ DEMO_S"
    text = deck(*lines)
    found = list(cards(text, 1))
    taken = _agree(text)
    assert isinstance(taken, Cards)
    assert list(taken.scopes[0].lines) == [line.line for line in found]
    assert taken.scopes[0].names == [line.text.split()[0] for line in found]


def test_an_expression_behind_a_key_among_bare_ones_is_no_net() -> None:
    run = [f"R{k} n{k} n{k + 1} {{x * {k}}}" for k in range(2 * LEAST)]
    run[3:3] = ["R900 n1 R={x}"]
    found = _agree(deck(".param x=1k", *run))
    assert isinstance(found, Cards)
    assert all("=" not in node for nodes in found.scopes[0].nodes for node in nodes)


def test_a_key_that_stands_twice_on_a_card_is_read_by_the_grammar() -> None:
    found = _agree(deck(*(f"X{k} n{k} p DEMO_S m=1 M={k}" for k in range(2 * LEAST))))
    assert isinstance(found, Cards)
    assert found == _read(deck(*(f"X{k} n{k} p DEMO_S m=1 M={k}" for k in range(2 * LEAST))), plain=True)


@pytest.mark.parametrize(
    "card",
    [
        "E1 (a b) (c d) 2",
        "G1 (a,b) (c,d) 2",
        "E1 a~ b~ c~ d~ 2",
        "F1 <a <b <V 2",
        "H1 'a 'b V1 2",
        "E1 a=1 b=2 c=3 d=4 2",
    ],
)
def test_a_controlled_source_with_odd_words_is_read_by_the_grammar(card: str) -> None:
    _agree(deck("R1 a b 1k", card, "R2 b c 1k"))
