"""What makes a fault one, whoever carries it: groups of results, from which their second fingerprint is made.

In: a netlist and its results. Out: the results with their groups. Of a fault that several channels share the element at
its place counts, of an open result what it lacks, else the subject. A net whose name a tool made up is called by its
pins.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from isolint.checking.context import Context
from isolint.circuit.anonymous import is_anonymous
from isolint.errors import Place
from isolint.results import Result

_WORDS = re.compile(r"( \| |, | channel |[+]| )")


def identified(context: Context, results: Sequence[Result]) -> tuple[Result, ...]:
    """Give each result its group."""
    shared = {
        (result.rule, result.role, result.where)
        for result in results
        if result.kind == "notApplicable" and result.blocked_by == result.rule
    }
    said = _SaidNames(context)
    return tuple(result._replace(group=_group(context, result, shared, said)) for result in results)


def _group(context: Context, result: Result, shared: set[tuple[str, str, Place]], said: _SaidNames) -> tuple[str, ...]:
    if result.kind == "open" and result.missing:
        return ("open", *sorted({fact.key.casefold() for fact in result.missing}))
    carrier = result.subject
    if result.kind == "fail" and (result.rule, result.role, result.where) in shared:
        at = context.elements_at(result.where)
        carrier = next((path for each in at if _is_in(path := context.circuit.path(each), result.instance)), carrier)
    return (result.rule, said.stable(result.role), said.stable(carrier))


def _is_in(path: str, instance: str) -> bool:
    return path.rpartition(".")[0].casefold() == instance.casefold()


class _SaidNames:
    """Names in subjects and roles, with nets that a tool named called by their pins."""

    def __init__(self, context: Context) -> None:
        self._circuit = context.circuit
        self._known: dict[str, str] = {}

    def stable(self, text: str) -> str:
        """A subject or role in lower case without the names of nets that a tool made up."""
        found = self._known.get(text)
        if found is None:
            found = self._known[text] = "".join(self._word(word) for word in _WORDS.split(text)).casefold()
        return found

    def _word(self, word: str) -> str:
        if not is_anonymous(word):
            return word
        net = self._circuit.find_net(word)
        if net is None:
            return word
        pins = [
            f"{self._circuit.path(element)}.{pin + 1}".casefold() for element, pin in self._circuit.elements_at(net)
        ]
        return f"pins:{min(pins)}" if pins else word
