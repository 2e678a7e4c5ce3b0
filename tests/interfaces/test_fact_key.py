"""The key of a part's facts: its name where that speaks of all instances of its card, else its path."""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest

from isolint.circuit import build
from isolint.circuit.names import ScopeNames
from isolint.interfaces.recognise import fact_key
from isolint.netlist import read
from isolint.source import MemoryTree
from tests.benchmarks.hierarchy import unexplained

TWICE = "X1 a B\nX2 b B\n.subckt B p\nXU1 p 0 DEMO_A\n{inner}.ends\n"


def _keys(text: str) -> dict[str, str]:
    circuit = build(read(MemoryTree({"board.cir": f"t\n{text}"}), "board.cir"))
    return {circuit.path(element): fact_key(circuit, element) for element in circuit.elements()}


def test_a_card_of_a_block_that_is_placed_twice_is_named_alone() -> None:
    assert _keys(TWICE.format(inner="")) == {"X1.XU1": "XU1", "X2.XU1": "XU1"}


@pytest.mark.parametrize("other", ["XU1", "xu1", "Xsub.XU1"])
def test_a_name_that_another_card_has_too_needs_the_path(other: str) -> None:
    keys = _keys(f"{TWICE.format(inner='')}{other} a b DEMO_B\n")
    assert keys["X1.XU1"] == "X1.XU1"


def test_a_name_with_a_wild_card_in_it_speaks_of_all_that_it_matches() -> None:
    keys = _keys(TWICE.format(inner="").replace("XU1", "XU*") + "XU7 a b DEMO_B\n")
    assert keys["X1.XU*"] == "X1.XU*"


def test_the_names_of_all_definitions_are_not_searched_again_for_each_part(monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = build(read(MemoryTree({"board.cir": unexplained(40)}), "board.cir"))
    searches: list[str] = []
    like, folded = ScopeNames.like, ScopeNames.folded

    def counted_like(self: ScopeNames, pattern: str, regex: re.Pattern[str]) -> list[int]:
        searches.append(pattern)
        return like(self, pattern, regex)

    def counted_folded(self: ScopeNames) -> Iterable[str]:
        searches.append("all")
        return folded(self)

    monkeypatch.setattr(ScopeNames, "like", counted_like)
    monkeypatch.setattr(ScopeNames, "folded", counted_folded)
    keys = {fact_key(circuit, element) for element in circuit.elements()}
    assert {"XU0_0", "XU39_1"} <= keys
    assert len(searches) <= 41
