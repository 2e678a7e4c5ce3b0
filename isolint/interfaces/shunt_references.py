"""Shunt references: which ordinary parts are some, by which pins, and what looks like one that nobody declared.

In: a circuit and a `Classifier`. Out: `Shunt`s by element. A part is one by its record or by declaration, never by its
name alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from isolint import types
from isolint.circuit import Circuit
from isolint.interfaces.classify import Classifier
from isolint.interfaces.entities import Recognition, Shunt

ROLES = ("cathode", "anode", "reference")
_WORDS = re.compile(r"shunt|refer|vref", re.IGNORECASE)


def shunt_references(circuit: Circuit, classifier: Classifier, ordinary: Iterable[int]) -> Mapping[int, Shunt]:
    """The shunt references among some ordinary parts."""
    found: dict[int, Shunt] = {}
    for element in sorted(ordinary):
        if circuit.letter(element) not in "XUA":
            continue
        path, model = circuit.path(element), circuit.model_name(element)
        record = classifier.record_for(path, model)
        declared = classifier.facts.element(path).type if classifier.says_what else None
        kind = declared.value if declared is not None else "" if record is None else record.type
        if "reference" not in types.of(kind or "ordinary").owns:
            continue
        own = record if record is not None and record.type == kind else None
        names = _names(circuit, classifier, element) if own is None else own.pins
        pins = places(names, kind) if len(names) == len(circuit.pins(element)) else ()
        found[element] = Shunt(element, path, own.name if own is not None else model or path, pins, own)
    return found


def places(names: Sequence[str], kind: str) -> tuple[int, ...]:
    """The places of cathode, anode and reference among the names of pins, () where they don't tell all three."""
    roles = [types.of(kind).pin(name).role for name in names]
    if any(roles.count(role) != 1 for role in ROLES):
        return ()
    return tuple(roles.index(role) for role in ROLES)


def may_be_one(circuit: Circuit, recognition: Recognition, element: int) -> bool:
    """Whether a part of three pins is one that nobody explained."""
    return element in recognition.unknown and len(circuit.pins(element)) == len(ROLES)


def looks_like_one(circuit: Circuit, recognition: Recognition, element: int, grounds: Callable[[int], bool]) -> bool:
    """Whether a part that may be one looks like it: by the names of its ports, its own, or what lies around it.

    grounds: whether a net is at 0 V. One pin on such a net and one on a divider from elsewhere to it are signs.
    """
    if not may_be_one(circuit, recognition, element):
        return False
    scope, model = circuit.subcircuit(element), circuit.model_name(element)
    ports = () if scope is None else circuit.cards.scopes[scope].ports
    if (ports and places(ports, kind_name())) or (model is not None and _WORDS.search(model) is not None):
        return True
    nets = circuit.pins(element)
    return any(map(grounds, nets)) and any(_is_divided(circuit, net, grounds) for net in nets)


def _is_divided(circuit: Circuit, net: int, grounds: Callable[[int], bool]) -> bool:
    """Whether a resistor leads from a net to 0 V and another one elsewhere."""
    if grounds(net):
        return False
    around = [element for element, _ in circuit.elements_at(net) if circuit.letter(element) == "R"]
    to_ground = [any(grounds(other) for other in circuit.pins(element)) for element in around]
    return any(to_ground) and not all(to_ground)


def kind_name() -> str:
    """The name of the type that shunt references are of."""
    return next(name for name, kind in types.BY_NAME.items() if "reference" in kind.owns)


def _names(circuit: Circuit, classifier: Classifier, element: int) -> Sequence[str]:
    scope = circuit.subcircuit(element)
    return () if scope is None else classifier.cards.scopes[scope].ports
