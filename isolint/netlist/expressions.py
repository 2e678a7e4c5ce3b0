"""Expressions on cards: parsed by the grammar, compiled to a postfix program, evaluated by a stack machine.

Neither step recurses over the text, and length, nesting, steps and the depth of user functions are bounded, so that a
hostile expression costs a message and nothing else. A wrong branch of a choice does no harm: errors travel as
values until something uses them.
"""

from __future__ import annotations

import re
from collections import ChainMap
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from isolint.errors import IsolintError
from isolint.netlist.functions import BINARY, BUILTIN, CONSTANTS, EvaluationProblem
from isolint.netlist.templates import filled

if TYPE_CHECKING:
    from isolint.netlist.cards import Function

MAX_TEXT = 20_000
MAX_NESTING = 200
MAX_STEPS = 200_000
MAX_CALLS = 40
_SHOWN = 60
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*\Z")
LIVE_NAMES = frozenset({"time", "freq", "hertz"})
"""Names that mean something of the running analysis, never a parameter."""

Code = tuple[str, Any, int]
"""One step: operation, its operand (number, name or symbol), and how many values it takes from the stack."""


class ExpressionError(IsolintError):
    """An expression that can't be read or has no value, in words."""


class Expression(NamedTuple):
    """An expression as written, with its compiled program."""

    text: str
    code: tuple[Code, ...] = ()

    def names(self) -> frozenset[str]:
        """Parameter names that it depends on, in lower case; mathematical constants and functions are none."""
        return frozenset(operand for kind, operand, _ in self.code if kind == "name" and operand not in CONSTANTS)

    def calls(self) -> frozenset[str]:
        """Names of functions that are not built in, in lower case."""
        return frozenset(operand for kind, operand, _ in self.code if kind == "call" and operand not in BUILTIN)

    def evaluate(self, environment: Mapping[str, float], functions: Mapping[str, Function] | None = None) -> float:
        """Give its value, or raise `ExpressionError`; `environment` and `functions` have lower-case keys."""
        return _Machine(functions or {}).run(self, environment)


class _Machine:
    """Runs programs; counts steps over all functions that one evaluation calls."""

    def __init__(self, functions: Mapping[str, Function]) -> None:
        self.functions = functions
        self.steps = 0
        self.base: Mapping[str, float] = {}
        self.globals: dict[str, float] | None = None

    def run(self, expression: Expression, environment: Mapping[str, float]) -> float:
        self.base = environment
        value = self._value(expression, environment, 0)
        if isinstance(value, EvaluationProblem):
            raise ExpressionError(f"`{_shown(expression.text)}` has no value: {value.text}")
        return value

    def _value(self, expression: Expression, environment: Mapping[str, float], depth: int) -> float | EvaluationProblem:
        stack: list[float | EvaluationProblem] = []
        self.steps += len(expression.code)
        if self.steps > MAX_STEPS:
            raise ExpressionError(f"`{_shown(expression.text)}` needs more than {MAX_STEPS:,} steps")
        for kind, operand, count in expression.code:
            if kind == "number":
                stack.append(operand)
            elif kind == "name":
                stack.append(_look_up(operand, environment))
            elif kind == "live":
                stack.append(EvaluationProblem(f"it depends on {operand}, which only the running circuit has"))
            else:
                arguments = stack[len(stack) - count :]
                del stack[len(stack) - count :]
                stack.append(self._apply(kind, operand, arguments, depth))
        return stack[0] if len(stack) == 1 else EvaluationProblem("it is empty")

    def _apply(
        self, kind: str, operand: str, arguments: list[float | EvaluationProblem], depth: int
    ) -> float | EvaluationProblem:
        if kind == "choice":
            condition, yes, no = arguments
            return condition if isinstance(condition, EvaluationProblem) else (yes if condition != 0 else no)
        if kind == "call" and operand in self.functions:
            return self._call(self.functions[operand], arguments, depth)
        for argument in arguments:
            if isinstance(argument, EvaluationProblem):
                return argument
        numbers = [argument for argument in arguments if not isinstance(argument, EvaluationProblem)]
        if kind == "binary":
            return _guarded(BINARY[operand], operand, numbers)
        if operand not in BUILTIN:
            return EvaluationProblem(f"there is no function {operand}")
        least, most, function = BUILTIN[operand]
        if not least <= len(numbers) <= most:
            wanted = f"{least}" if least == most else f"{least} or more" if most > 9 else f"{least} to {most}"
            return EvaluationProblem(f"the function {operand} takes {wanted} arguments, not {len(numbers)}")
        return _guarded(function, operand, numbers)

    def _call(
        self, function: Function, arguments: list[float | EvaluationProblem], depth: int
    ) -> float | EvaluationProblem:
        if depth >= MAX_CALLS:
            return EvaluationProblem(
                f"the function {function.name} calls itself, or functions call each other too deeply"
            )
        if len(arguments) != len(function.arguments):
            wanted = len(function.arguments)
            return EvaluationProblem(f"the function {function.name} takes {wanted} arguments, not {len(arguments)}")
        for argument in arguments:
            if isinstance(argument, EvaluationProblem):
                return argument
        local = {
            name: value for name, value in zip(function.arguments, arguments, strict=True) if isinstance(value, float)
        }
        if self.globals is None:
            self.globals = dict(self.base)
        return self._value(function.body, ChainMap(local, self.globals), depth + 1)


def _look_up(name: str, environment: Mapping[str, float]) -> float | EvaluationProblem:
    if name in environment:
        return environment[name]
    if name in CONSTANTS:
        return CONSTANTS[name]
    return EvaluationProblem(f"the parameter {name} has no value here")


def _guarded(function: Callable[..., float], name: str, numbers: list[float]) -> float | EvaluationProblem:
    """Apply one operation; what mathematics or the range of numbers forbids becomes a problem in words."""
    try:
        value = function(*numbers)
    except ZeroDivisionError:
        return EvaluationProblem("it divides by zero")
    except OverflowError:
        return EvaluationProblem(f"the result of {name} is too large")
    except ValueError:
        shown = ", ".join(f"{number:g}" for number in numbers)
        return EvaluationProblem(f"{name} is not defined for {shown}")
    if isinstance(value, complex):
        return EvaluationProblem(f"{name} of a negative number is not real")
    if value != value or value in (float("inf"), float("-inf")):
        return EvaluationProblem(f"the result of {name} is too large")
    return float(value)


@lru_cache(maxsize=4096)
def parse(text: str) -> Expression:
    """Parse the text of an expression, with or without its braces or quotes; raise `ExpressionError` in words."""
    if len(text) > MAX_TEXT:
        raise ExpressionError(f"the expression `{_shown(text)}` is longer than {MAX_TEXT:,} characters")
    if _nesting(text) > MAX_NESTING:
        raise ExpressionError(f"the expression `{_shown(text)}` is nested deeper than {MAX_NESTING} levels")
    if _NAME.match(text) is not None and text.lower() not in LIVE_NAMES:
        return Expression(text, (("name", text.lower(), 0),))
    found = filled(text)
    if found is not None:
        return Expression(text, found.code)
    from isolint.netlist.compiler import compile_text

    return Expression(text, compile_text(text))


def _nesting(text: str) -> int:
    level = deepest = 0
    for character in text:
        if character in "({":
            level += 1
            deepest = max(deepest, level)
        elif character in ")}":
            level -= 1
    return deepest


def _shown(text: str) -> str:
    flat = " ".join(text[: 4 * _SHOWN].split())
    return flat if len(flat) <= _SHOWN else flat[: _SHOWN - 3] + "..."


def constant(expression: Expression) -> float | None:
    """The value of an expression that depends on nothing, else None."""
    if any(kind in ("name", "live") and operand not in CONSTANTS for kind, operand, _ in expression.code):
        return None
    if expression.calls():
        return None
    try:
        return expression.evaluate({})
    except ExpressionError:
        return None


def evaluate_parameters(
    parameters: Mapping[str, float | Expression],
    outer: Mapping[str, float],
    functions: Mapping[str, Function] | None = None,
    problems: list[ExpressionError] | None = None,
) -> dict[str, float]:
    """Evaluate parameters that may use each other in any order, and those of `outer`, which they shadow.

    A cycle or a parameter without a value raises `ExpressionError`; with a list of `problems` it is put there and
    left out of what is given back.
    """
    known = functions or {}
    waits_for = {name: _needs(name, value, parameters, outer, known) for name, value in parameters.items()}
    needed_by: dict[str, list[str]] = {}
    for name, needs in waits_for.items():
        for need in needs:
            needed_by.setdefault(need, []).append(name)
    missing = {name: len(needs) for name, needs in waits_for.items()}
    ready = [name for name, count in missing.items() if count == 0]
    environment = dict(outer)
    done: dict[str, float] = {}
    for name in ready:  # grows while it is walked
        value = parameters[name]
        try:
            done[name] = value.evaluate(environment, known) if isinstance(value, Expression) else value
        except ExpressionError as error:
            environment.pop(name, None)
            _report(ExpressionError(f"the parameter {name}: {error.text}"), problems)
        else:
            environment[name] = done[name]
        for dependent in needed_by.get(name, ()):
            missing[dependent] -= 1
            if missing[dependent] == 0:
                ready.append(dependent)
    for cycle in _cycles({name: waits_for[name] for name, count in missing.items() if count}):
        text = f"the parameters {', '.join(cycle)} depend on each other"
        _report(ExpressionError(f"the parameter {cycle[0]} depends on itself" if len(cycle) == 1 else text), problems)
    return {name: done[name] for name in parameters if name in done}


def _report(error: ExpressionError, problems: list[ExpressionError] | None) -> None:
    if problems is None:
        raise error
    problems.append(error)


def _needs(
    name: str,
    value: float | Expression,
    parameters: Mapping[str, float | Expression],
    outer: Mapping[str, float],
    functions: Mapping[str, Function],
) -> tuple[str, ...]:
    """The parameters of the same level that must be known first, also those that called functions use."""
    if not isinstance(value, Expression):
        return ()
    names = set(value.names())
    calls = [call for call in value.calls() if call in functions]
    seen = set(calls)
    while calls:
        function = functions[calls.pop()]
        names |= function.body.names() - set(function.arguments)
        fresh = {call for call in function.body.calls() if call in functions} - seen
        seen |= fresh
        calls.extend(fresh)
    if name in outer:
        # `x={x*2}` below a level that has x: the outer x is meant.
        names.discard(name)
    return tuple(sorted(names & parameters.keys()))


def _cycles(waiting: Mapping[str, tuple[str, ...]]) -> list[list[str]]:
    """One chain for each cycle among parameters that wait for each other; those that only hang on one are left out."""
    cycles: list[list[str]] = []
    visited: set[str] = set()
    for first in waiting:
        path: dict[str, None] = {}
        name: str | None = first
        while name is not None and name not in visited:
            visited.add(name)
            path[name] = None
            name = next((need for need in waiting[name] if need in waiting), None)
        if name in path:
            chain = list(path)
            cycles.append(chain[chain.index(name) :])
    return cycles
