"""Parameters: what an expression on a card means in the instance where it stands."""

from __future__ import annotations

from collections.abc import Mapping

from isolint.circuit.instances import TOP, Instances
from isolint.netlist.cards import Cards, Function, Number, Scope
from isolint.netlist.expressions import ExpressionError, evaluate_parameters


class Parameters:
    """The parameters of every instance, each worked out once."""

    def __init__(self, cards: Cards, instances: Instances) -> None:
        self.cards = cards
        self._i = instances
        self._environments: dict[int, Mapping[str, float]] = {}
        self._functions: dict[int, Mapping[str, Function]] = {}

    def number(self, instance: int, number: Number) -> float | None:
        """A value on a card of an instance; None when it can't be evaluated."""
        if isinstance(number, float | int):
            return float(number)
        try:
            return number.evaluate(self._environment(instance), self._functions_at(instance))
        except ExpressionError:
            return None

    def problem(self, instance: int, number: Number) -> str:
        """Why a value on a card of an instance can't be evaluated; "" where it can."""
        if isinstance(number, float | int):
            return ""
        try:
            number.evaluate(self._environment(instance), self._functions_at(instance))
        except ExpressionError as error:
            return str(error)
        return ""

    def known_at(self, instance: int) -> tuple[Mapping[str, float], Mapping[str, Function]]:
        """The parameters and functions of an instance."""
        return self._environment(instance), self._functions_at(instance)

    def _lexical(self, scope: int) -> list[Scope]:
        """A scope with those around it, the outermost first."""
        chain: list[Scope] = []
        while scope >= 0:
            chain.append(self.cards.scopes[scope])
            scope = self.cards.scopes[scope].parent
        return chain[::-1]

    def _functions_at(self, instance: int) -> Mapping[str, Function]:
        at = self._i.definition[instance].scope
        if at not in self._functions:
            known: dict[str, Function] = {}
            for scope in self._lexical(at):
                known.update(scope.functions)
            self._functions[at] = known
        return self._functions[at]

    def _environment(self, instance: int) -> Mapping[str, float]:
        """The parameters known in an instance.

        A parameter counts on its level and on those below it. What the call gives replaces the default of the header
        before other defaults are worked out; `.param` cards of the body replace both. One that has no value hides
        what stands above it.
        """
        known = self._environments.get(instance)
        if known is not None:
            return known
        made: dict[str, float]
        if instance == TOP:
            made = {}
            for scope in self._lexical(self._i.definition[TOP].scope):
                self._enter(made, scope.defaults, instance)
                self._enter(made, scope.parameters, instance)
        else:
            parent = self._i.parent[instance]
            made = dict(self._environment(parent))
            index = self._i.element[instance] - self._i.element_base[parent]
            header: dict[str, Number] = dict(self._scope(instance).defaults)
            for key, written in self._scope(parent).tails.get(index, {}).items():
                number = None if isinstance(written, str) else self.number(parent, written)
                if number is None:
                    header.pop(key, None)
                    made.pop(key, None)
                else:
                    header[key] = number
            self._enter(made, header, instance)
            self._enter(made, self._scope(instance).parameters, instance)
        self._environments[instance] = made
        return made

    def _enter(self, made: dict[str, float], parameters: Mapping[str, Number], instance: int) -> None:
        found = evaluate_parameters(parameters, made, self._functions_at(instance), [])
        for name in parameters.keys() - found.keys():
            made.pop(name, None)
        made.update(found)

    def _scope(self, instance: int) -> Scope:
        return self.cards.scopes[self._i.definition[instance].scope]
