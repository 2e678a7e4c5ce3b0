"""The grammars are found wherever the package runs from, and loaded only when a card needs them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from isolint.errors import IsolintError
from isolint.netlist import grammar
from isolint.netlist.grammar import grammar_text
from tests.conftest import environment

REGULAR = """a board whose cards are all regular
.subckt DEMO_PT1 a k c e params: ctr=1
D1 a k LED
.model LED D(IS=1e-14 N=2)
.ends DEMO_PT1
.param vdd=3.3
.include none.lib
R1 in mid 4k7
C1 mid 0 10u Rser=1m
V1 in 0 5
Q1 c b e QMOD
M1 d g s b MMOD W=1u L=2u
F1 out gnd V1 {gain}
E1 y 0 a b 2
R2 a b 10Meg
XU1 mid 0 out gnd DEMO_PT1 ctr=2
.tran 1n 1u
.end
"""


@pytest.mark.parametrize("name", ["cards", "dots", "expression"])
def test_each_grammar_is_found(name: str) -> None:
    assert "LALR" in grammar_text(name) or "continuation" in grammar_text(name)


def test_a_missing_grammar_is_an_error_in_words() -> None:
    with pytest.raises(IsolintError, match="missing from this installation"):
        grammar_text("none")


def test_the_installed_package_is_used_where_there_is_no_checkout(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    package = tmp_path / "isolint" / "grammars"
    package.mkdir(parents=True)
    (package / "cards.lark").write_text("installed", encoding="utf-8")
    monkeypatch.setattr(grammar, "__file__", str(tmp_path / "isolint" / "netlist" / "grammar.py"))
    assert grammar_text("cards") == "installed"


@pytest.mark.parametrize(("extra", "loaded"), [("", False), ("B1 a b V={v(a)}\n", True)])
def test_a_board_of_regular_cards_needs_no_grammar(extra: str, loaded: bool, tmp_path: Path) -> None:
    (tmp_path / "board.cir").write_text(REGULAR.replace(".tran", extra + ".tran"), encoding="utf-8")
    program = (
        "import sys; from isolint.netlist import read; from isolint.source import FolderTree;"
        "cards = read(FolderTree(sys.argv[1]), 'board.cir'); assert cards.understood > 10, cards;"
        "print('lark' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)],
        env=environment(),
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.strip() == str(loaded)
