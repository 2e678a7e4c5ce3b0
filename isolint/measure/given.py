"""What a source gives at rest: by its own value, a factor, a polynomial, a table or an expression.

In: a device that is a source. Out: a number, or a function of what it listens to (voltages of its pairs, then currents
of what it senses), or in words why there is none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import combinations_with_replacement
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.measure.body import Device
from isolint.measure.laws import evaluate
from isolint.netlist.card_values import read_value
from isolint.netlist.expressions import ExpressionError, parse

_WORD = re.compile(r"[^\s,()]+")
_STEEP = re.compile(r"\b(?:exp|sinh|cosh|pwr|pwrs|pow)\s*\(|\*\*|\^", re.IGNORECASE)
_OTHER_CURRENT = re.compile(r"\bi[beabgs]\s*\(", re.IGNORECASE)
_GONE = re.compile(r"\b(sdt|idt|idtmod|delay|absdelay)\s*\(", re.IGNORECASE)
_LEAST_OHMS = 1e-6
_MOST_TERMS = 100

Value = Callable[[Sequence[float]], float | None]


class Given(NamedTuple):
    """The law of a source. steep: it holds an exponential. resists: it gives ohms; its own voltage comes last."""

    value: Value
    steep: bool = False
    resists: bool = False


def own_value(circuit: Circuit, device: Device) -> float | None:
    """The value at rest of a source that nothing controls: its DC value, else where its waveform begins."""
    if device.value is not None:
        return device.value
    moving = circuit.stimulus(device.element)
    if moving is None:
        return None if circuit.value_text(device.element) else 0.0
    kind, numbers = moving
    if not numbers:
        return None
    return numbers[1] if kind == "PWL" and len(numbers) > 1 else numbers[0]


def controlled(circuit: Circuit, device: Device) -> Given | str:
    """The law of a source that others control, or in words why it can't be computed."""
    if device.law is not None:
        return _by_law(circuit, device)
    inputs = len(device.pairs) + len(device.senses)
    if device.value is not None:
        factor = device.value
        return Given(lambda given: factor * given[0]) if inputs == 1 else "listens to something that is not there"
    tail = circuit.tail(device.element)
    coefficients = tail.get("coefficients")
    if isinstance(coefficients, str) and inputs:
        if inputs != tail.get("poly", 1.0):
            return "listens to something that is not there"
        return _polynomial(circuit, device, coefficients, inputs)
    return "has a law that is not computed here"


def _by_law(circuit: Circuit, device: Device) -> Given | str:
    law = device.law
    assert law is not None
    if len(law.pairs) != len(device.pairs) or len(law.currents) != len(device.senses):
        return f"listens to something that is not there: `{_shown(law.text)}`"
    gone = _GONE.search(law.text)
    if gone is not None:
        return f"has a law with {gone[1].lower()}, which has no value at rest"
    if _OTHER_CURRENT.search(law.text):
        return f"has a law with a current that is not computed here: `{_shown(law.text)}`"
    environment, functions = circuit.surroundings(device.element)
    count = len(law.pairs)
    resists = law.kind == "r"

    def value(given: Sequence[float]) -> float | None:
        volts = dict(zip(law.pairs, given, strict=False))
        amps = dict(zip(law.currents, given[count:], strict=False))
        found = evaluate(law.text, lambda one, other: volts.get((one, other)), amps.get, environment, functions)
        if not resists or found is None:
            return found
        return given[-1] / (found if abs(found) > _LEAST_OHMS else _LEAST_OHMS)

    # Somewhere it has a value, or it is none that is known here.
    rest = [0.0] * (count + len(law.currents) + resists)
    tried = (rest, [1e-3] * len(rest), [1.0] * len(rest))
    if all(value(given) is None for given in tried):
        return f"has a law that has no value: `{_shown(law.text)}`"
    return Given(value, _STEEP.search(law.text) is not None, resists)


def _polynomial(circuit: Circuit, device: Device, text: str, inputs: int) -> Given | str:
    """POLY: a constant, a factor for each input, then for each product of two, of three ..., in their order."""
    environment, functions = circuit.surroundings(device.element)
    factors: list[float] = []
    for word in _WORD.findall(text):
        value = read_value(word)
        if value is None:
            try:
                value = parse(word.strip("{}'")).evaluate(environment, functions)
            except ExpressionError:
                return f"has a coefficient that has no value: {word}"
        factors.append(value)
    if inputs == 1 and len(factors) == 1:
        only = factors[0]
        return Given(lambda given: only * given[0])
    terms: list[tuple[int, ...]] = []
    degree = 0
    while len(terms) < len(factors) and len(terms) <= _MOST_TERMS:
        terms += combinations_with_replacement(range(inputs), degree)
        degree += 1
    if len(factors) > len(terms):
        return "has a polynomial of too many terms"
    used = [(factor, term) for factor, term in zip(factors, terms, strict=False) if factor]

    def polynomial(given: Sequence[float]) -> float:
        total = 0.0
        for factor, term in used:
            for number in term:
                factor *= given[number]
            total += factor
        return total

    return Given(polynomial)


def _shown(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= 60 else f"{flat[:57]}..."
