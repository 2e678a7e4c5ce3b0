"""What is fuzzed: each target takes bytes and lets only our own exceptions pass silently."""

from __future__ import annotations

from isolint.errors import IsolintError
from isolint.facts import load as load_facts
from isolint.netlist import Cards
from isolint.netlist import read as read_cards
from isolint.parts import load as load_parts
from isolint.preparing import prepare
from isolint.source import MemoryTree

LIBRARY = (
    ".subckt DEMO_PT9 A K C E\nD1 A N DL\nV1 N K 0\nF1 C B V1 2m\nQ1 C B E QD\n.model DL D\n.model QD NPN\n.ends\n"
)
SPLIT = b"\x1e"


def netlist(data: bytes) -> None:
    """Read, elaborate, recognise, walk and find sides."""
    tree = MemoryTree({"board.cir": data, "models.lib": LIBRARY})
    try:
        prepare(tree, "board.cir", "")
    except IsolintError:
        return


def lanes(data: bytes) -> None:
    """Read the quick way and card by card through the grammar: columns, notes and errors are the same."""

    def reading(plain: bool) -> Cards | str:
        try:
            return read_cards(MemoryTree({"board.cir": data, "models.lib": LIBRARY}), "board.cir", plain=plain)
        except IsolintError as error:
            return str(error)

    assert reading(plain=False) == reading(plain=True)


def settings(data: bytes) -> None:
    """Settings before the separator, part records behind it."""
    facts, _, parts = data.partition(SPLIT)
    tree = MemoryTree({"board.cir": "* title\nR1 a b 1\n", "isolint.toml": facts, "parts/demo.toml": parts})
    for read in (lambda: load_facts(tree, "board.cir", ""), lambda: load_parts(tree, ["parts/demo.toml"])):
        try:
            read()
        except IsolintError:
            continue


TARGETS = {"netlist": netlist, "lanes": lanes, "settings": settings}
