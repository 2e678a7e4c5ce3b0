"""Junction field-effect transistors that limit a current: the gate tied to the source, or over a resistor.

In: an element of a drive or load network. Out: its branch in the assembly, by the square law that its model and its
saturation current state; `Lacking` names what is missing. With another gate it is no limiter and is not solved.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from isolint.facts import ElementFacts, Fact
from isolint.results import MissingFact
from isolint.rows import either
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.devices import Mos, from_model
from isolint.worstcase.lookup import Lookup
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.uncertain import Lacking, Term

SPREAD: Final = (0.5, 2.0)
"""Saturation current and pinch-off voltage over those of the model, where nobody states them."""


def current_limiter(
    made: Assembly, lookup: Lookup, element: int, nodes: Sequence[int], tail: Mapping[str, float], ideal: bool
) -> None:
    """Add a limiter; ideal: without its own resistances."""
    circuit = lookup.circuit
    path, model = circuit.path(element), circuit.model(element)
    if not _limits(lookup, element):
        raise Lacking(
            f"{path} is a junction transistor whose gate does not lead to its source: it can't be solved here"
        )
    if model is None:
        name = circuit.model_name(element) or circuit.name(element)
        example = f"* .model {name} NJF or PJF ..., from its maker"
        facts = [
            MissingFact(circuit.place(element).file, f".model {name}", example),
            lookup.missing(ElementFacts.saturation_current, path),
        ]
        raise Lacking(f"junction transistor {path} has no .model: what it limits the current to nobody says", facts)
    device = from_model("J", model.type, circuit.model_parameters(element), tail)
    if not isinstance(device, Mos) or device.polarity * device.VTO >= 0.0:
        raise Lacking(f"the model {circuit.model_name(element)} of {path} is of a type that can't be solved here")
    volts = abs(device.VTO)
    amps = made.term(_term(lookup, path, ElementFacts.saturation_current, 0.5 * device.KP * volts * volts))
    pinch = made.term(_term(lookup, path, ElementFacts.pinch_off, volts))
    drain, gate, source = nodes[:3]

    def branch(vector: Sequence[float], temperature: float) -> n.Branch:
        kp = 2.0 * vector[amps] / (vector[pinch] * vector[pinch])
        own = device._replace(KP=kp, VTO=-device.polarity * vector[pinch])
        return n.MosBranch(path, drain, gate, source, own._replace(RD=0.0, RS=0.0) if ideal else own)

    made.add(path, branch, amps, pinch)


def _limits(lookup: Lookup, element: int) -> bool:
    """Whether the gate leads to the source, or over one resistor."""
    circuit = lookup.circuit
    pins = circuit.pins(element)
    if len(pins) < 3 or pins[1] == pins[2]:
        return len(pins) >= 3
    between = {pins[1], pins[2]}
    return any(
        circuit.letter(other) == "R" and set(circuit.pins(other)) == between
        for other, _ in circuit.elements_at(pins[2])
    )


def _term(lookup: Lookup, path: str, row: Fact[Interval], usual: float) -> Term:
    """What is stated, else half to twice what the model says."""
    found = lookup.facts.of(row, path)
    if found is not None:
        return fact_terms.known(row, path, found.value, fact_terms.origin(found))
    low, high = (factor * usual for factor in SPREAD)
    text = "default half to twice that of the model (common practice, no source)"
    return fact_terms.defaulted(row, path, either(low, usual, high, text))
