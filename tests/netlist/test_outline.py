"""What of a file runs where it is read: never more than the reader follows."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isolint.netlist.outline import executed, has_cards
from isolint.preparing import prepare
from isolint.source import MemoryTree

RUNS = [
    "* title\n.include f.cir\n",
    "title\nR1 a b 1\n.INC 'f.cir'\n",
    ".include f.cir ; why\n.end\n",
    "* t\n.subckt s a\nR1 a 0 1\n.ends\n.include f.cir\n",
    "* t\n.control\nrun\n.endc\n.include\n+ f.cir\n",
]
HIDES = [
    "* t\n.end\n.include f.cir\n",
    "* t\n.if 0\n.include f.cir\n.endif\n",
    "* t\n.if (1==1)\n.include f.cir\n.else\n.endif\n",
    "* t\n.subckt s a\n.include f.cir\n.ends\n",
    "* t\n.subckt s a\n.include f.cir\n",
    "* t\n.subckt s a\n.subckt t b\n.ends\n.include f.cir\n.ends\nX1 a s\n",
    "* t\n.control\n.include f.cir\n.endc\n",
    "* t\n.data x\n.include f.cir\n.enddata\n",
    "* t\n.lib 'f.cir' tt\n",
    "* t\n.lib tt\n.include f.cir\n.endl\n",
    "* t\nR1 a b 1 \\\n.include f.cir\n",
    "* t\n* .include f.cir\n",
    "* t\n*.x\n+ .include f.cir\n",
    "* t\nR1 a b\n+ .include f.cir\n",
    "* t\n.endd\n.include f.cir\n",
]


@pytest.mark.parametrize("text", RUNS)
def test_an_include_among_the_cards_of_a_deck_runs(text: str) -> None:
    assert executed(text.encode()) == ("f.cir",)
    assert found(text)


@pytest.mark.parametrize("text", HIDES)
def test_an_include_that_may_not_run_is_not_said_to(text: str) -> None:
    assert executed(text.encode()) == ()


def found(text: str) -> bool:
    """Whether the reader has the cards of the included file on the nets of the deck."""
    tree = MemoryTree({"t.cir": text, "f.cir": "* f\nRF1 n1 n2 1k\n"})
    circuit = prepare(tree, "t.cir", "")[0].circuit
    element = circuit.find("RF1")
    return element is not None and [circuit.net_name(net) for net in circuit.pins(element)] == ["n1", "n2"]


LINES = st.sampled_from(
    [".include f.cir", ".end", ".ends", ".subckt s a b", ".ends s", ".if 0", ".if 1", ".else", ".endif", ".control",
     ".endc", ".data d", ".enddata", ".lib tt", ".endl", "R1 a b 1k", "R2 a b 1k \\", "+ c=1", "X1 a b s", "* a", "",
     ".include\n+ f.cir", ".endx", ".model m d", ".param p=1", ".inc 'f.cir'", "*.x"]
)  # fmt: skip


@given(st.lists(LINES, max_size=9), st.sampled_from(["* title\n", "title\n", ""]))
@settings(max_examples=400)
def test_what_is_said_to_run_the_reader_runs_as_well(lines: list[str], title: str) -> None:
    text = title + "\n".join(lines) + "\nR9 x y 1k\n"
    if "f.cir" in executed(text.encode()):
        assert found(text), text


@pytest.mark.parametrize(
    ("text", "cards"),
    [
        ("* title\nR1 a b 1k\n", True),
        ("R1 a b 1k\n", False),
        ("title\n.end\nR1 a b 1k\n", False),
        ("* t\n.subckt s a b\nR1 a b 1k\n.ends\n.model m d\n", False),
        ("* t\n.subckt s a b\nR1 a b 1k\n", True),
        ("* t\n.if 0\nR1 a b 1k\n.endif\n", True),
        ("* t\n.control\nrun\n.endc\n", False),
        ("* t\n.control\nrun\n.include x\nR1 a b 1\n", True),
    ],
)
def test_a_file_of_definitions_only_has_no_cards_to_run(text: str, cards: bool) -> None:
    assert has_cards(text.encode()) == cards
