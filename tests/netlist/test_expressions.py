"""The evaluator of expressions: what it computes, and that nothing hostile costs more than a message."""

from __future__ import annotations

import math
import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isolint.netlist.cards import Function
from isolint.netlist.expressions import Expression, ExpressionError, constant, evaluate_parameters, parse

ENVIRONMENT = {"x": 2.0, "y": 3.0, "v1": 5.0}

VALUES = {
    "1+2*3": 7.0,
    "(1+2)*3": 9.0,
    "10-4-3": 3.0,
    "8/4/2": 1.0,
    "2**3": 8.0,
    "2^3": 8.0,
    "2**3**2": 512.0,
    "-2**2": -4.0,
    "2*-3": -6.0,
    "2**-1": 0.5,
    "7%4": 3.0,
    "1k+2": 1002.0,
    "4k7*2": 9400.0,
    "10meg": 1e7,
    "10µ*2": 2e-5,
    "x*y": 6.0,
    "X*Y": 6.0,
    "{x}*{y+1}": 8.0,
    "'x+1'": 3.0,
    "x>y ? 1 : 2": 2.0,
    "x<y?x:y": 2.0,
    "x<y?x<1?1:2:3": 2.0,
    "x<=2 && y>=3": 1.0,
    "x==2 || 1/0": None,
    "!x": 0.0,
    "x!=2 | y<>3": 0.0,
    "if(x>1, 10, 1/0)": 10.0,
    "max(1, x, y)": 3.0,
    "min(1, x, y)": 1.0,
    "abs(-3)": 3.0,
    "sqrt(16)": 4.0,
    "exp(0)": 1.0,
    "ln(exp(2))": 2.0,
    "log(exp(2))": 2.0,
    "log10(1000)": 3.0,
    "pow(2,3)": 8.0,
    "pwr(-2,2)": -4.0,
    "sin(0)+cos(0)+tan(0)+atan(0)": 1.0,
    "int(2.7)+int(-2.7)": 0.0,
    "floor(-2.5)": -3.0,
    "ceil(2.1)": 3.0,
    "sgn(-4)": -1.0,
    "limit(5,0,3)": 3.0,
    "limit(5,3,0)": 3.0,
    "table(2,1,10,3,30)": 20.0,
    "table(9,1,10,3,30)": 30.0,
    "u(1)+stp(-1)+uramp(2)": 3.0,
    "mc(10,0.1)": 10.0,
    "agauss(10,1,3)": 10.0,
    "pi": math.pi,
}


@pytest.mark.parametrize("text", VALUES)
def test_an_expression_has_the_value_that_arithmetic_gives_it(text: str) -> None:
    wanted = VALUES[text]
    if wanted is None:
        with pytest.raises(ExpressionError, match="divides by zero"):
            parse(text).evaluate(ENVIRONMENT)
    else:
        assert math.isclose(parse(text).evaluate(ENVIRONMENT), wanted, rel_tol=1e-12, abs_tol=1e-12)


PROBLEMS = {
    "1/0": "divides by zero",
    "nowhere*2": "the parameter nowhere has no value here",
    "nothing(1)": "there is no function nothing",
    "sqrt(-1)": "sqrt is not defined for -1",
    "(-2)**0.5": "not defined",
    "10**1000": "too large",
    "10**10**10**10": "too large",
    "exp(1e9)": "too large",
    "1e308*1e308": "too large",
    "sqrt(1,2)": "the function sqrt takes 1 arguments, not 2",
    "v(a,b)*2": "which only the running circuit has",
    "i(V1)": "which only the running circuit has",
    "time*2": "which only the running circuit has",
    "table(1,2)": "takes 3 or more arguments",
    "table(1,2,3,4)": "not defined",
}


@pytest.mark.parametrize("text", PROBLEMS)
def test_what_has_no_value_says_why(text: str) -> None:
    with pytest.raises(ExpressionError, match=re.escape(PROBLEMS[text])):
        parse(text).evaluate(ENVIRONMENT)


@pytest.mark.parametrize("text", ["", "1+", "((1)", "1)", "a b", "*2", "a?1", "1e999", "f(,)", "=", "{", "a=b"])
def test_what_can_not_be_read_says_where(text: str) -> None:
    with pytest.raises(ExpressionError, match=r"can't be read|no number"):
        parse(text)


@pytest.mark.parametrize(
    "text",
    ["(" * 500 + "1" + ")" * 500, "1" + "+1" * 20_000, "{" * 300, "f(" * 400],
)
def test_an_expression_that_is_too_deep_or_long_is_refused(text: str) -> None:
    with pytest.raises(ExpressionError, match=r"nested deeper|longer than"):
        parse(text)


@pytest.mark.parametrize("text", ["-" * 19_000 + "1", "1" + "+1" * 9_000, "2" + "**1" * 6_000, "x" + "?1:x" * 4_000])
def test_a_long_chain_is_evaluated_without_recursion(text: str) -> None:
    assert isinstance(parse(text).evaluate(ENVIRONMENT), float)


def test_names_are_lower_case_and_without_functions_constants_and_voltages() -> None:
    assert parse("A*max(b,pi)+v(c)*f(d)").names() == {"a", "b", "d"}
    assert parse("f(1)+sin(2)").calls() == {"f"}


def test_constant_expressions_fold() -> None:
    assert constant(parse("2*3k")) == 6000.0
    assert constant(parse("2*pi")) == 2 * math.pi
    assert constant(parse("2*x")) is None
    assert constant(parse("f(2)")) is None
    assert constant(parse("1/0")) is None


def test_expressions_are_values() -> None:
    assert parse("a+1") == parse("a+1")
    assert isinstance(parse("a+1"), Expression)
    assert hash(parse("a+1")) == hash(parse("a+1"))


def test_functions_see_their_arguments_and_the_parameters() -> None:
    functions = {
        "f": Function("f", ("x",), parse("x*k")),
        "g": Function("g", ("a", "b"), parse("f(a)+f(b)+x")),
    }
    assert parse("g(1,2)").evaluate({"k": 10.0, "x": 0.5}, functions) == 30.5
    with pytest.raises(ExpressionError, match="takes 2 arguments, not 1"):
        parse("g(1)").evaluate({"k": 1.0}, functions)


def test_functions_that_call_themselves_or_multiply_end_with_a_message() -> None:
    endless = {"f": Function("f", ("x",), parse("f(x-1)"))}
    with pytest.raises(ExpressionError, match="calls itself"):
        parse("f(3)").evaluate({}, endless)
    steps = {f"f{i}": Function(f"f{i}", ("x",), parse("+".join([f"f{i - 1}(x)"] * 10))) for i in range(1, 20)}
    steps["f0"] = Function("f0", ("x",), parse("x"))
    start = time.process_time()
    with pytest.raises(ExpressionError, match="steps"):
        parse("f19(1)").evaluate({}, steps)
    assert time.process_time() - start < 5


def test_parameters_may_use_each_other_in_any_order() -> None:
    given_parameters: dict[str, float | Expression] = {
        "a": parse("b*2"),
        "b": parse("c+1"),
        "c": 3.0,
        "d": parse("outer+a"),
    }
    assert evaluate_parameters(given_parameters, {"outer": 100.0}) == {"a": 8.0, "b": 4.0, "c": 3.0, "d": 108.0}


def test_a_parameter_of_its_own_name_means_the_outer_one() -> None:
    assert evaluate_parameters({"x": parse("x*2"), "y": parse("x+1")}, {"x": 5.0}) == {"x": 10.0, "y": 11.0}


def test_cycles_are_named_and_cost_only_themselves() -> None:
    with pytest.raises(ExpressionError, match="the parameters a, b depend on each other"):
        evaluate_parameters({"a": parse("b"), "b": parse("a")}, {})
    with pytest.raises(ExpressionError, match="the parameter a depends on itself"):
        evaluate_parameters({"a": parse("a+1")}, {})
    problems: list[ExpressionError] = []
    found = evaluate_parameters({"a": parse("b"), "b": parse("a"), "c": parse("a+1"), "d": 1.0}, {}, None, problems)
    assert found == {"d": 1.0}
    assert [problem.text for problem in problems] == ["the parameters a, b depend on each other"]


def test_a_parameter_that_functions_need_is_known_first() -> None:
    functions = {"f": Function("f", ("x",), parse("x*late"))}
    assert evaluate_parameters({"a": parse("f(2)"), "late": parse("1+2")}, {}, functions) == {"a": 6.0, "late": 3.0}


def test_a_long_chain_of_parameters_is_linear() -> None:
    chain: dict[str, float | Expression] = {f"p{i}": parse(f"p{i + 1}+1") for i in range(3_000)}
    chain["p3000"] = 0.0
    assert evaluate_parameters(chain, {})["p0"] == 3000.0


_numbers = st.integers(min_value=1, max_value=99).map(str)
_texts = st.recursive(
    _numbers,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(["+", "-", "*"]), inner).map(lambda p: f"({p[0]} {p[1]} {p[2]})"),
        inner.map(lambda text: f"(-{text})"),
    ),
    max_leaves=8,
)


@given(_texts)
def test_sums_and_products_are_those_of_another_parser(text: str) -> None:
    import ast

    def value(node: ast.expr) -> int:
        if isinstance(node, ast.BinOp):
            left, right = value(node.left), value(node.right)
            return (
                left + right
                if isinstance(node.op, ast.Add)
                else left - right
                if isinstance(node.op, ast.Sub)
                else left * right
            )
        if isinstance(node, ast.UnaryOp):
            return -value(node.operand)
        assert isinstance(node, ast.Constant)
        assert isinstance(node.value, int)
        return node.value

    assert parse(text).evaluate({}) == value(ast.parse(text, mode="eval").body)


@given(st.text(alphabet="0123456789abx.+-*/()?:<>=!&|^{}' ,kµe", max_size=40))
def test_any_text_gives_a_number_or_our_own_error(text: str) -> None:
    try:
        assert math.isfinite(parse(text).evaluate({"a": 1.0, "x": -2.0}))
    except ExpressionError as error:
        assert error.text
