"""An expression compiled by its template is the one that the grammar gives."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from isolint.netlist import templates
from isolint.netlist.compiler import compile_text
from isolint.netlist.expressions import Code, Expression, ExpressionError, constant
from isolint.netlist.templates import MOST, filled

PIECES = (
    *("1", "2.5", ".5", "5.", "1e3", "1e-3", "1e+3k", "1d3", "4k7", "4k7k", "10µ", "1MEG", "1e999", "0x5", "1k2k3"),
    *("k1", "x", "pi", "v2", "i", "V", "a.5", "#5", "$n1", "@m1", "time", "_", "é1", "²", "1Âµ", "٣"),
    *("+", "-", "*", "/", "**", "^", "==", "<=", "?", ":", "(", ")", "{", "}", ",", " ", "'", "!", "%", "&&", "|", "."),
    *("v(1)", "v(n1,2)", "i(V1)", "sqrt(", "min(2,", "if(", "\t", "\0", "e", "k"),
)


def _by_grammar(text: str) -> tuple[Code, ...] | None:
    try:
        return compile_text(text)
    except ExpressionError:
        return None


def _agree(text: str) -> None:
    found, wanted = filled(text), _by_grammar(text)
    if found is None:
        return
    assert repr(found.code) == repr(wanted), text
    assert not found.varies or constant(Expression(text, found.code)) is None, text


@settings(max_examples=600)
@given(st.lists(st.sampled_from(PIECES), max_size=8).map("".join))
@example("249*k1+6")
@example("1k5k.")
@example("v(12)*5")
@example("2_x")
@example("1 2")
@example("1k2k3+x")
@example("x+-.5")
def test_a_template_gives_the_program_of_the_grammar(text: str) -> None:
    _agree(text)


@settings(max_examples=300)
@given(st.lists(st.sampled_from(("1", "2.5", "4k7", "x", "k1", "pi")), min_size=1, max_size=5), st.data())
def test_a_template_gives_the_program_of_the_grammar_for_sound_expressions(
    operands: list[str], data: st.DataObject
) -> None:
    text = operands[0]
    for operand in operands[1:]:
        operator = data.draw(st.sampled_from(("+", "-", " * ", "/", "**", "<", "&&")))
        text = data.draw(st.sampled_from((f"{text}{operator}{operand}", f"({text}){operator}{operand}", f"-({text})")))
    assert filled(text) is not None or text.isidentifier()
    _agree(text)


def test_expressions_that_differ_in_numbers_are_compiled_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def compiling(text: str) -> tuple[Code, ...]:
        asked.append(text)
        return compile_text(text)

    monkeypatch.setattr("isolint.netlist.compiler.compile_text", compiling)
    found = [filled(f"{number}*kx+{number}.5/ky") for number in range(50)]
    assert len(asked) <= 1
    assert [each and Expression("", each.code).evaluate({"kx": 2.0, "ky": 1.0}) for each in found] == [
        number * 2.0 + number + 0.5 for number in range(50)
    ]


def test_the_memo_of_templates_is_bounded() -> None:
    assert templates._template.cache_info().maxsize == MOST
