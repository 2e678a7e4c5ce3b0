"""What a verdict on a subcircuit makes of a part that calls it: a barrier part, or a question with its alternatives.

In: an element and a `StructureVerdict`. Out: a `Part` or an `Unknown`. A question names all types that the structure
leaves and never offers one line as the answer.
"""

from __future__ import annotations

from isolint import types
from isolint.circuit import Circuit
from isolint.interfaces.entities import Part, Unknown
from isolint.interfaces.pinguess import listed, told_lines, type_line
from isolint.parts import role_of
from isolint.recognition import StructureVerdict

ORDINARY = "ordinary"
_MOST_NAMED = 6
"""Types that a sentence names; more are all that have an LED."""


def part_of(circuit: Circuit, element: int, verdict: StructureVerdict, kind: str, how: str) -> Part:
    """A barrier part of a type that the structure tells or leaves open, its pins as the structure has them."""
    roles = tuple(_role(pin, kind, verdict.bidirectional) for pin in verdict.pins)
    several = len(verdict.channels) > 1
    channels = tuple(
        (str(number), inputs, outputs) for number, (inputs, outputs) in enumerate(verdict.channels, start=1)
    )
    return Part(
        element,
        circuit.path(element),
        kind,
        None,
        roles,
        verdict.groups,
        how,
        circuit.model_name(element) or "",
        channels if several else (),
        verdict.typical,
    )


def _role(pin: str, kind: str, bidirectional: bool) -> str:
    role = role_of(pin, kind) if pin else ""
    # Either end of an input for alternating current is an anode.
    return "anode" if bidirectional and role == "cathode" else role


def question(circuit: Circuit, element: int, verdict: StructureVerdict, key: str) -> Unknown:
    """A part that the structure leaves between few types, or of which it leaves some pins."""
    kinds = [kind for kind in verdict.choices if kind != ORDINARY]
    guess = verdict.type if verdict.type in kinds else kinds[0]
    named = kinds if len(kinds) <= _MOST_NAMED else [f"coupler with an LED (perhaps a {kinds[0]})"]
    words = listed([*named, *(["no barrier part"] if ORDINARY in verdict.choices else [])])
    name = circuit.model_name(element) or ""
    said = f"its subcircuit has the structure of a {words}"
    text = f"{said}: {verdict.why}" if verdict.why else said
    usable = [kind for kind in (guess, *kinds) if kind in types.BY_NAME]
    if verdict.doubtful and verdict.pins and name and usable:
        ports = ", ".join(str(port + 1) for port in verdict.doubtful)
        text += f"; pin {ports} can't be told" if len(verdict.doubtful) == 1 else f"; pins {ports} can't be told"
        example = told_lines(circuit, element, name, usable[0], verdict.pins, verdict.doubtful)
    else:
        example = type_line(key, list(dict.fromkeys(usable or kinds)))
    return Unknown(element, circuit.path(element), text, example, guess, choices=verdict.choices, pins=verdict.pins)
