"""Elements that something which was not read may explain.

In: a context. Out: the elements whose subcircuit or model is nowhere and that no record and no fact explains. As long
as there are any, a file that was not read may decide everything; where there are none, nothing was needed of it.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from isolint.checking.context import Context

_MODELLED = frozenset("DQMJSW")
_SHOWN = 3


def lacking_models(context: Context) -> Iterator[int]:
    """The elements that nothing explains, black boxes first."""
    circuit = context.circuit
    for element in sorted(context.interfaces.recognition.unknown):
        if circuit.subcircuit(element) is None and circuit.model(element) is None:
            yield element
    known: dict[tuple[int, str], bool] = {}
    for element in circuit.elements_of(_MODELLED):
        name = circuit.model_name(element)
        if name is None:
            continue
        key = (circuit.locate(element)[0], name.lower())
        if key not in known:
            known[key] = circuit.model(element) is not None
        if not known[key] and context.record_of(element) is None:
            yield element


def words_of_lacking(context: Context) -> str:
    """The first elements that nothing explains, with what they name; "" where everything is explained."""
    found = list(islice(lacking_models(context), _SHOWN + 1))
    circuit = context.circuit
    words = [f"{circuit.path(element)} ({circuit.model_name(element) or 'no model'})" for element in found[:_SHOWN]]
    return ", ".join(words) + (" and others" if len(found) > _SHOWN else "")
