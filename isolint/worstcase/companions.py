"""Outputs of other couplers in a network: what stands there while they conduct, and how a state names them.

In: a `Pair` of a walked network. Out: its key in a state, its words, its branch in an assembly. One that is off is left
out; what it leaks is the caller's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from isolint.circuit import Circuit
from isolint.interfaces.entities import Pair, Part
from isolint.interfaces.pinsets import output_pairs
from isolint.parts import Output, generic
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase import network as n
from isolint.worstcase.parametric_network import Assembly
from isolint.worstcase.uncertain import Term, stated

DROP = "volts across"
"""How the name of the term begins that says what is left across an output."""

_FIRST = 1 << 48
_PINS = 16

_KNEE = 1e-6
# Amperes from which its whole drop stands across an output that conducts.


def pair_key(pair: Pair) -> int:
    """The key of an output in a state, apart from those of nets (0 and up) and elements (from -1 down)."""
    return -_FIRST - (pair.element << _PINS) - pair.first


def input_name(circuit: Circuit, parts: Mapping[int, Part], key: int) -> str:
    """What a key of a state stands for: a net, an element, or the output of a coupler."""
    if key >= 0:
        return circuit.net_name(key)
    if key > -_FIRST:
        return circuit.path(-1 - key)
    element, first = divmod(-_FIRST - key, 1 << _PINS)
    return pair_words(circuit, parts, next(p for p in output_pairs(parts[element]) if p.first == first))


def pair_words(circuit: Circuit, parts: Mapping[int, Part], pair: Pair) -> str:
    """A coupler by its path; of one with several outputs with the pins."""
    path = circuit.path(pair.element)
    if len(output_pairs(parts[pair.element])) == 1:
        return path
    return f"{path} pins {pair.first + 1}-{pair.last + 1}"


def drop(part: Part, words: str) -> Term:
    """Volts across an output that conducts: nothing up to what its record guarantees, or the family."""
    record = part.record
    title = f"{DROP} {words} while it conducts"
    transistor = part.kind.output.conducts == "transistor"
    row = Output.saturation_voltage if transistor else Output.low_level
    level = None if record is None else (record.output.saturation_voltage if transistor else record.output.low_level)
    most = None if level is None else level.max
    name = record.name if record is not None else part.model_name or part.path
    if most is not None:
        most = max(most, part.kind.output.least_volts)
        return stated(row.path(name), title, "V", 0.0, most, most, f"record {name}")
    family = generic.family(part.type)
    ends = family.saturation_voltage if transistor else family.low_level
    ends = Interval(max(ends.low, part.kind.output.least_volts), max(ends.high, part.kind.output.least_volts))
    fact = fact_terms.missing("" if record is None else record.file, row, name)
    origin = generic.origin(part.type) if transistor else "usual open collectors (from memory)"
    return Term(fact.key, title, "V", 0.0, ends.high, ends.high, 0.0, ends.low, False, origin, fact.example)


def conducting(made: Assembly, circuit: Circuit, parts: Mapping[int, Part], pair: Pair, ideal: bool) -> None:
    """Add an output that conducts: its drop in the way of its current, which it can't give by itself."""
    words = pair_words(circuit, parts, pair)
    name = f"output of {words}"
    nets = circuit.pins(pair.element)
    a, b = (made.node(nets[pin], circuit.net_name(nets[pin])) for pin in pair[1:])
    if ideal:
        made.add(name, lambda vector, temperature: n.Resistor(name, a, b, 0.0))
        return
    index = made.term(drop(parts[pair.element], words))

    def branch(vector: Sequence[float], temperature: float) -> n.Branch:
        volts = vector[index]
        return n.Port(name, a, b, ((-1.0, volts), (-_KNEE, volts), (0.0, 0.0), (1.0, 0.0)))

    made.add(name, branch, index)
