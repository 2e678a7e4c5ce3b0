"""`.if`, `.elseif`, `.else`, `.endif`: which cards of a netlist count."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from isolint.netlist.cards import Function, Scope
from isolint.netlist.element import bare
from isolint.netlist.expressions import ExpressionError, evaluate_parameters, parse
from isolint.netlist.malformed import shown

Found = tuple[Literal["error", "warning", "note"], str, str]
"""Level, message and cure of something to say."""


class _Level:
    def __init__(self, outer: bool) -> None:
        self.outer = outer
        self.active = False
        self.taken = False
        self.undecided = False


class Conditions:
    """The nest of conditions that is open in one file."""

    def __init__(self) -> None:
        self.levels: list[_Level] = []
        self.counted = False

    @property
    def depth(self) -> int:
        """How many conditions are open."""
        return len(self.levels)

    @property
    def inactive(self) -> bool:
        """Whether the cards that come now do not count."""
        return bool(self.levels) and not (self.levels[-1].active and self.levels[-1].outer)

    @property
    def undecided(self) -> bool:
        """Whether they don't count because a condition could not be decided."""
        return any(level.undecided for level in self.levels)

    def card(self, word: str, rest: str, scopes: Sequence[Scope], at: int) -> Found | None:
        """Take one of the four cards; give what there is to say of it. Parameters are those that stand before it."""
        self.counted = not self.levels or self.levels[-1].outer
        if word == "if":
            level = _Level(not self.inactive)
            self.levels.append(level)
            return self._decide(level, rest, scopes, at) if level.outer else None
        if not self.levels:
            return "note", f"`.{word}` stands without `.if`", "remove it"
        level = self.levels[-1]
        if word == "endif":
            self.levels.pop()
            return None
        if level.undecided or not level.outer:
            return None
        if level.taken:
            level.active = False
            return None
        if word == "else":
            level.active = level.taken = True
            return None
        return self._decide(level, rest, scopes, at)

    def _decide(self, level: _Level, text: str, scopes: Sequence[Scope], at: int) -> Found | None:
        environment, functions, own = _known(scopes, at)
        try:
            expression = parse(bare(text))
            value = expression.evaluate(environment, functions)
        except ExpressionError as error:
            level.active = False
            level.undecided = True
            message = (
                f"the condition `{shown(text, 40)}` can't be decided, so none of its branches was read: {error.text}"
            )
            return "error", message, "state the parameter before the condition"
        level.active = level.taken = value != 0
        if expression.names() & own:
            message = (
                f"the condition `{shown(text, 40)}` is decided by the default values of the subcircuit's parameters"
            )
            return "warning", message, "use one subcircuit for each branch"
        return None


def _known(scopes: Sequence[Scope], at: int) -> tuple[dict[str, float], dict[str, Function], frozenset[str]]:
    """The parameters and functions that are known in a scope, and the names that an instance can change."""
    chain = [at]
    while scopes[chain[-1]].parent >= 0:
        chain.append(scopes[chain[-1]].parent)
    environment: dict[str, float] = {}
    functions: dict[str, Function] = {}
    own: frozenset[str] = frozenset()
    for index in reversed(chain):
        scope = scopes[index]
        functions.update(scope.functions)
        stated = {**scope.defaults, **scope.parameters}
        environment.update(evaluate_parameters(stated, environment, functions, []))
        own |= frozenset(scope.defaults)
    return environment, functions, own
