"""The circuit and its query API: what is placed, and what its cards say with the parameters of their instances."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from isolint.circuit.instances import TOP, Instances
from isolint.circuit.parameters import Parameters
from isolint.circuit.placed import Placed
from isolint.errors import Place
from isolint.netlist.cards import Cards, Function, Model, Note, Number, Stimulus
from isolint.netlist.expressions import Expression


class Circuit(Placed):
    """Elements, nets and parameters of one netlist, asked by integer ids."""

    def __init__(self, cards: Cards, instances: Instances, notes: tuple[Note, ...]) -> None:
        super().__init__(cards, instances)
        self.notes = notes
        self._parameters = Parameters(cards, instances)

    def element(self, element: int) -> ElementView:
        """A view of one element for rules and results."""
        return ElementView(self, element)

    def place(self, element: int) -> Place:
        instance, index = self.locate(element)
        return self.cards.place(self._i.definition[instance].scope, index)

    def model_name(self, element: int) -> str | None:
        instance, index = self.locate(element)
        return self._scope(instance).models[index]

    def model(self, element: int) -> Model | None:
        """The `.model` card that the element names, seen from where it stands."""
        found = self._model(element)
        return None if found is None else found[0]

    def model_parameters(self, element: int) -> dict[str, float]:
        """The numbers of its `.model`, with the parameters of the level that the model stands on.

        Parameters that can't be evaluated are left out.
        """
        found = self._model(element)
        if found is None:
            return {}
        model, instance = found
        values = ((key, self._parameters.number(instance, number)) for key, number in model.parameters.items())
        return {key: value for key, value in values if value is not None}

    def subcircuit(self, element: int) -> int | None:
        """The scope index of the subcircuit that an X element calls, None when it is not there."""
        name = self.model_name(element)
        instance, index = self.locate(element)
        if name is None or self._scope(instance).letters[index] != "X":
            return None
        return self.cards.find_subcircuit(name, self._i.definition[instance].scope)

    def control_names(self, element: int) -> tuple[str, ...]:
        """What stands on the card as control: node names, or names of controlling sources."""
        instance, index = self.locate(element)
        return self._scope(instance).controls.get(index, ())

    def value(self, element: int) -> float | None:
        """The value in SI units with the instance's parameters; for a source its DC value; None when it has none.

        Of a resistor, coil or capacitor with `m=` that of so many in parallel.
        """
        instance, index = self.locate(element)
        scope = self._scope(instance)
        value = scope.values[index]
        if isinstance(value, Stimulus):
            return None if value.dc is None else self._parameters.number(instance, value.dc)
        number = None if value is None else self._parameters.number(instance, value)
        if number is None or index not in scope.tails or scope.letters[index] not in "RLC":
            return number
        count = self.tail(element).get("m", 1.0)
        if isinstance(count, str) or not count > 0.0:
            return number
        return number * count if scope.letters[index] == "C" else number / count

    def value_text(self, element: int) -> str:
        """The value (of a source the DC value) as an expression was written, for messages; empty for plain numbers."""
        instance, index = self.locate(element)
        value = self._scope(instance).values[index]
        if isinstance(value, Stimulus):
            value = value.dc
        return value.text if isinstance(value, Expression) else ""

    def value_problem(self, element: int) -> str:
        """Why the value (of a source the DC value) can't be evaluated, for messages; "" where none is or it can."""
        instance, index = self.locate(element)
        value = self._scope(instance).values[index]
        if isinstance(value, Stimulus):
            value = value.dc
        return "" if value is None else self._parameters.problem(instance, value)

    def surroundings(self, element: int) -> tuple[Mapping[str, float], Mapping[str, Function]]:
        """The parameters and functions that an expression on a card may use, by lower-case names."""
        instance, _ = self.locate(element)
        return self._parameters.known_at(instance)

    def stimulus(self, element: int) -> tuple[str, tuple[float, ...]] | None:
        """Kind and numbers of a source that moves (PULSE, SIN, PWL ...); None for a DC-only source.

        No numbers at all when one of them can't be evaluated: their order tells what they mean.
        """
        instance, index = self.locate(element)
        value = self._scope(instance).values[index]
        if not isinstance(value, Stimulus) or value.kind in ("DC", "AC"):
            return None
        numbers = [self._parameters.number(instance, number) for number in value.args]
        known = tuple(number for number in numbers if number is not None)
        return value.kind, known if len(known) == len(numbers) else ()

    def tail(self, element: int) -> dict[str, float | str]:
        """The `key=value` parameters of the card, evaluated; keys in lower case."""
        instance, index = self.locate(element)
        result: dict[str, float | str] = {}
        for key, written in self._scope(instance).tails.get(index, {}).items():
            if isinstance(written, str):
                result[key] = written
            else:
                number = self._parameters.number(instance, written)
                if number is not None:
                    result[key] = number
        return result

    def written(self, element: int) -> Mapping[str, Number | str]:
        """The `key=value` parameters of the card as they stand there; keys in lower case."""
        instance, index = self.locate(element)
        return self._scope(instance).tails.get(index, {})

    def _model(self, element: int) -> tuple[Model, int] | None:
        """The model that an element names, with the instance on whose level it stands."""
        name = self.model_name(element)
        if name is None:
            return None
        instance, _ = self.locate(element)
        scope = self._i.definition[instance].scope
        model = self.cards.scopes[scope].models_by_name.get(name.lower())
        while model is None:
            scope = self.cards.scopes[scope].parent
            if scope < 0:
                return None
            model = self.cards.scopes[scope].models_by_name.get(name.lower())
        while instance != TOP and self._i.definition[instance].scope != scope:
            instance = self._i.parent[instance]
        return model, instance


class ElementView(NamedTuple):
    """A light view of one element."""

    circuit: Circuit
    id: int

    @property
    def path(self) -> str:
        """Name with the instances that lead to it."""
        return self.circuit.path(self.id)

    @property
    def letter(self) -> str:
        """Upper-case first letter."""
        return self.circuit.letter(self.id)

    @property
    def place(self) -> Place:
        """Where its card stands."""
        return self.circuit.place(self.id)

    @property
    def pins(self) -> tuple[int, ...]:
        """Nets on its connecting pins."""
        return self.circuit.pins(self.id)
