"""What a behavioural source listens to, and the value of its law.

In: the text of an expression as it stands on a card. Out: the nets and elements it names, and its value where voltages
and currents are given. Nothing is evaluated that was not read by the grammar of expressions.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import NamedTuple

from isolint.netlist.cards import Function
from isolint.netlist.expressions import Expression, ExpressionError, parse

_VOLTAGE = re.compile(r"\bv\s*\(\s*\"?([^(),\s\"]+)\"?\s*(?:,\s*\"?([^(),\s\"]+)\"?\s*)?\)", re.IGNORECASE)
_CURRENT = re.compile(r"\bi[abcdegs]?\s*\(\s*([^(),\s]+)\s*\)", re.IGNORECASE)
_ANY = re.compile(
    r"\b(?:(?P<kind>i[abcdegs]?|v)\s*\(\s*\"?(?P<one>[^(),\s\"]+)\"?\s*(?:,\s*\"?(?P<two>[^(),\s\"]+)\"?\s*)?\))",
    re.IGNORECASE,
)
_LIVE = re.compile(r"\b(?:time|temp|temper)\b", re.IGNORECASE)
_CHANGE = re.compile(r"\bddt\s*\(", re.IGNORECASE)
"""What is nothing at rest."""

_MAX_LAW = 4_000
"""Characters of a law that is looked at; a longer one listens but is not evaluated."""

_BENT = re.compile(r"\b(?:if|table|limit|exp|log|ln|tanh|abs|min|max|pwr|pow|sgn|u|uramp|sqrt|buf|inv)\s*\(|[?<>^&|]")
"""What makes a law other than linear."""


class Law(NamedTuple):
    """A behavioural law: its kind ("v", "i", "r"), its text, the voltages and currents it names, in order.

    pairs: node names, the second "" where the voltage is against node 0. currents: names of elements.
    """

    kind: str
    text: str
    pairs: tuple[tuple[str, str], ...] = ()
    currents: tuple[str, ...] = ()

    @property
    def is_straight(self) -> bool:
        """Whether nothing bends it: one voltage or current times factors."""
        named = len(self.pairs) + len(self.currents)
        return named == 1 and _BENT.search(self.text.casefold()) is None


def listen(kind: str, text: str) -> Law:
    """Read what a law names."""
    pairs = dict.fromkeys((match[1], match[2] or "") for match in _VOLTAGE.finditer(text))
    currents = dict.fromkeys(match[1] for match in _CURRENT.finditer(text))
    return Law(kind, text, tuple(pairs), tuple(currents))


@lru_cache(maxsize=1024)
def _with_names(text: str) -> tuple[Expression, tuple[tuple[str, str, str, str], ...]] | None:
    """The law with a parameter in place of each voltage and current: (parameter, kind, one, other)."""
    if len(text) > _MAX_LAW:
        return None
    named: dict[tuple[str, str, str], str] = {}

    def stand_in(match: re.Match[str]) -> str:
        key = (match["kind"][0].lower(), match["one"], match["two"] or "")
        return named.setdefault(key, f"live_{len(named)}_")

    plain = _LIVE.sub("27", _ANY.sub(stand_in, _CHANGE.sub("0*(", text.strip().strip("{}'\""))))
    try:
        made = parse(plain)
    except (ExpressionError, RecursionError):
        return None
    return made, tuple((name, *key) for key, name in named.items())


def evaluate(
    text: str,
    voltage: Callable[[str, str], float | None],
    current: Callable[[str], float | None],
    environment: Mapping[str, float],
    functions: Mapping[str, Function],
) -> float | None:
    """The value of a law; None where it, a voltage or a current has none."""
    made = _with_names(text)
    if made is None:
        return None
    expression, named = made
    known = dict(environment)
    for name, kind, one, other in named:
        value = voltage(one, other) if kind == "v" else current(one)
        if value is None:
            return None
        known[name] = value
    try:
        return expression.evaluate(known, functions)
    except ExpressionError:
        return None
