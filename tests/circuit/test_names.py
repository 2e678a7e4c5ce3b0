"""Few among many names are found by what is sought, not by asking each: the answers are those of asking each."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.circuit import Circuit
from isolint.circuit.names import ScopeNames, may_lead
from isolint.facts.matching import compile_pattern
from tests.circuit.building import circuit_of

words = st.text("abB.*?[_\u00df", max_size=6).filter(lambda word: not set(word) & set("*?"))
patterns = st.text("abB.*?[_", min_size=1, max_size=5)


@given(st.lists(words, max_size=8), patterns)
def test_the_names_like_a_pattern_are_those_that_match_it(names: list[str], pattern: str) -> None:
    regex = compile_pattern(pattern)
    wanted = [place for place, name in enumerate(names) if regex.match(name.casefold())]
    assert ScopeNames(names).like(pattern.casefold(), regex) == wanted


@given(st.lists(words, max_size=8), st.lists(st.text("ab.", min_size=1, max_size=2), max_size=3))
def test_the_names_that_hold_a_word_are_found(names: list[str], sought: list[str]) -> None:
    wanted = [place for place, name in enumerate(names) if any(word in name.casefold() for word in sought)]
    assert ScopeNames(names).holding(sought) == wanted


@given(words, words, patterns)
def test_a_name_that_matches_may_be_led_by_its_beginning(begin: str, rest: str, pattern: str) -> None:
    if compile_pattern(pattern).match((begin + rest).casefold()):
        assert may_lead(begin.casefold(), pattern.casefold())


def board() -> Circuit:
    return circuit_of(
        "R1 IN GND 1k",
        "X1 IN OUT sheet",
        "X2 OUT GND sheet",
        "X.3.R1 a b sheet",
        ".subckt sheet a b",
        "R1 a GNDI 1k",
        "R.2 GNDI b 1k",
        "C1 n1 GND 1n",
        "XR1 n1 b inner",
        ".ends",
        ".subckt inner p q",
        "R1 p com 1",
        "R2 com q 1",
        ".ends",
    )


NET_PATTERNS = ("*", "X1.*", "*.com", "x2.xr1.com", "X1.GNDI", "in", "IN", "?UT", "*gnd*", "x.3.r1.n1", "n1", "X1.a")


@pytest.mark.parametrize("pattern", NET_PATTERNS)
def test_nets_like_a_pattern_are_those_whose_whole_name_matches(pattern: str) -> None:
    circuit, regex = board(), compile_pattern(pattern)
    wanted = [net for net in circuit.nets() if regex.match(circuit.net_name(net).casefold())]
    assert circuit.nets_like(pattern.casefold(), regex) == wanted


@pytest.mark.parametrize("word", ["gnd", "com", "n1", "x1", "zz"])
def test_nets_that_hold_a_word_are_all_there(word: str) -> None:
    circuit = board()
    wanted = {net for net in circuit.nets() if word in circuit.net_name(net).casefold()}
    assert wanted <= set(circuit.nets_holding([word]))
    assert set(circuit.nets_holding([word])) <= set(circuit.nets())


@pytest.mark.parametrize("pattern", ["*", "R1", "r*", "2", "R.2", "X1.*", "x1.xr1.r?", "*.R1", "X.3.R1.R1"])
def test_elements_like_a_pattern_are_found_by_path_card_and_last_name(pattern: str) -> None:
    circuit, regex = board(), compile_pattern(pattern)
    folded = pattern.casefold()
    paths = {element: circuit.path(element).casefold() for element in circuit.elements()}
    names = {element: circuit.name(element).casefold() for element in circuit.elements()}
    assert circuit.elements_like(folded, regex, "path") == {e for e, path in paths.items() if regex.match(path)}
    assert circuit.elements_like(folded, regex, "card") == {e for e, name in names.items() if regex.match(name)}
    last = {e for e, name in names.items() if regex.match(name.rpartition(".")[2])}
    assert circuit.elements_like(folded, regex, "last") == last


def test_elements_of_letters_are_those_in_their_order() -> None:
    circuit = board()
    for letters in ("R", "C", "RC", "X", ""):
        wanted = [element for element in circuit.elements() if circuit.letter(element) in letters]
        assert list(circuit.elements_of(letters)) == wanted
    assert circuit.letters() == {"R", "C", "X"}
