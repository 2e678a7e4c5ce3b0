"""Which elements are couplers and other barrier parts.

In: cards or a circuit, facts and part records. Out: the predicate that tells sheets from leaf parts (needed to build the
circuit), and a `Recognition`. A part is recognised by declaration, by its record, or by its own subcircuit whose name
agrees; structure alone or a name alone never suffices.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from isolint.circuit import Circuit
from isolint.facts import Facts
from isolint.interfaces.structure import Structure, structure
from isolint.interfaces.values import Contradiction, Part, Recognition, Unknown
from isolint.netlist.cards import Cards
from isolint.parts import PartRecord, Parts, generic, role_of

def name_hint(name: str) -> str | None:
    """The type that a part's name suggests, "" for a coupler of some type, None for no hint."""
    hints = generic.name_hints(name)
    return hints[0] if hints else None


COUPLER_TYPES = frozenset({"phototransistor", "photodarlington", "logic-output"})
BEHAVIOURAL = frozenset("EGFHBAU")
CONDUCTORS = frozenset("RLCKVIDQMJSWEGFHBTO")
MAX_NESTING = 40


class Classifier:
    """Answers about names and subcircuits, each worked out once."""

    def __init__(self, cards: Cards, facts: Facts, records: Parts) -> None:
        self.cards = cards
        self.facts = facts
        self.records = records
        self.structure: Callable[[int], Structure] = lru_cache(maxsize=None)(lambda scope: structure(cards, scope))

    def record_for(self, path: str, name: str | None) -> PartRecord | None:
        """The record that a declaration names, else the one with the part's own name."""
        declared = self.facts.element(path).part
        if declared is not None:
            return self.records.find(declared.value)
        return None if name is None else self.records.find(name)

    def own_type(self, scope: int) -> str:
        """The coupler type that a subcircuit's structure and name agree on, "" when they don't."""
        header = self.cards.scopes[scope]
        if len(header.ports) < 4:
            return ""
        hint = name_hint(header.name)
        if hint is None:
            return ""
        body = self.structure(scope)
        if not body.is_coupler_like:
            return ""
        return _type_of(body, hint)

    def is_sheet(self, path: str, scope: int, name: str) -> bool:
        """Whether a subcircuit call is a sheet to be expanded (else it is a leaf part)."""
        facts = self.facts.element(path)
        if facts.sheet is not None:
            return bool(facts.sheet.value)
        if facts.part is not None or facts.type is not None or facts.ordinary is not None:
            return False
        if self.records.find(name) is not None or self.own_type(scope):
            return False
        if self._holds_barrier_part(path, scope, ()):
            return True
        body = self.cards.scopes[scope]
        return not BEHAVIOURAL.intersection(body.letters) and not body.models_by_name

    def _holds_barrier_part(self, path: str, scope: int, chain: tuple[int, ...]) -> bool:
        if scope in chain or len(chain) > MAX_NESTING:
            return False
        body = self.cards.scopes[scope]
        for index, letter in enumerate(body.letters):
            if letter not in "XUA":
                continue
            name = body.models[index]
            inner = f"{path}.{body.names[index]}"
            facts = self.facts.element(inner)
            record = self.record_for(inner, name)
            if record is not None and record.type != "ordinary":
                return True
            if facts.type is not None and facts.type.value != "ordinary":
                return True
            called = None if name is None or letter != "X" else self.cards.find_subcircuit(name, scope)
            if called is not None and (self.own_type(called) or self._holds_barrier_part(inner, called, (*chain, scope))):
                return True
        return False


def _type_of(body: Structure, hint: str) -> str:
    output_groups = [group for group in body.groups if not any(set(pair) <= set(group) for pair in body.leds)]
    if hint in ("logic-output", "photodarlington"):
        return hint
    if len(output_groups) == 1 and len(output_groups[0]) in (2, 3) and body.transistors:
        return "photodarlington" if body.darlington else "phototransistor"
    return ""


def recognise(circuit: Circuit, classifier: Classifier) -> Recognition:
    """Take every leaf part for what declaration, record or its own subcircuit says it is."""
    parts: dict[int, Part] = {}
    ordinary: set[int] = set()
    unknown: dict[int, Unknown] = {}
    suspects: list[Unknown] = []
    contradictions: list[Contradiction] = []
    for element in circuit.elements():
        letter = circuit.letter(element)
        facts = classifier.facts.element(circuit.path(element)) if classifier.facts.elements.rows else None
        declared = facts is not None and (facts.part is not None or facts.type is not None or facts.ordinary is not None)
        if letter in CONDUCTORS and not declared:
            continue
        found = _take(circuit, classifier, element)
        if isinstance(found, Part):
            parts[element] = found
            contradiction = _contradiction(circuit, classifier, found)
            if contradiction is not None:
                contradictions.append(contradiction)
        elif isinstance(found, Unknown):
            unknown[element] = found
            if found.suspected_type:
                suspects.append(found)
        else:
            ordinary.add(element)
    return Recognition(parts, frozenset(ordinary), unknown, tuple(suspects), tuple(contradictions))


def _take(circuit: Circuit, classifier: Classifier, element: int) -> Part | Unknown | None:
    """A barrier part, an unknown part, or None for an ordinary one."""
    path = circuit.path(element)
    name = circuit.model_name(element)
    facts = classifier.facts.element(path)
    if facts.ordinary is not None and facts.ordinary.value:
        return None
    record = classifier.record_for(path, name)
    scope = circuit.subcircuit(element)
    if record is not None:
        return _by_record(circuit, element, record, "declaration" if facts.part is not None else "record")
    if facts.part is not None:
        text = f"the part record {facts.part.value} that is declared for it is not there"
        return Unknown(element, path, text, f'[parts.{facts.part.value}]', "part")
    if facts.type is not None:
        if facts.type.value == "ordinary":
            return None
        return _by_structure(circuit, classifier, element, facts.type.value, "declaration")
    if scope is not None:
        own = classifier.own_type(scope)
        if own:
            return _by_structure(circuit, classifier, element, own, "subcircuit")
        body = classifier.structure(scope)
        if len(circuit.pins(element)) >= 4 and body.is_coupler_like and body.senses:
            guess = _type_of(body, "phototransistor") or "logic-output"
            text = "its subcircuit has the structure of a coupler, but its name does not say so"
            return Unknown(element, path, text, f'[elements."{path}"]\ntype = "{guess}"', guess)
    elif name is not None and name_hint(name) is not None:
        text = f"its name {name} suggests a coupler, but there is neither a readable subcircuit nor a part record"
        return Unknown(element, path, text, f'[elements."{path}"]\npart = "{name}"', name_hint(name) or "coupler")
    what = "no subcircuit and no part record say what it is" if scope is None else "it is a part of unknown kind"
    return Unknown(element, path, what, f'[elements."{path}"]\nordinary = true')


def _by_record(circuit: Circuit, element: int, record: PartRecord, how: str) -> Part | Unknown | None:
    if record.type == "ordinary":
        return None
    path = circuit.path(element)
    pins = circuit.pins(element)
    if len(record.pins) != len(pins):
        text = f"the card has {len(pins)} pins, its record {record.name} names {len(record.pins)}"
        return Unknown(element, path, text, f'[parts.{record.name}]\npins = [{len(pins)} names in the order of the card]', record.type)
    roles = tuple(role_of(pin, record.type) for pin in record.pins)
    groups = tuple(tuple(sorted(record.index(pin) for pin in group)) for group in record.groups)
    return Part(element, path, record.type, record, roles, groups, how, record.name)


def _by_structure(circuit: Circuit, classifier: Classifier, element: int, kind: str, how: str) -> Part | Unknown:
    """Pins from the names of the subcircuit's ports or, where they tell nothing, from its structure."""
    path = circuit.path(element)
    scope = circuit.subcircuit(element)
    name = circuit.model_name(element) or ""
    example = f'[elements."{path}"]\npart = "{name or "DEMO_PART"}"'
    if scope is None:
        return Unknown(element, path, f"it is declared a {kind}, but nothing says which pin is which", example, kind)
    body = classifier.structure(scope)
    ports = classifier.cards.scopes[scope].ports
    roles = [_structural_role(body, index) or role_of(port, kind) for index, port in enumerate(ports)]
    if kind in COUPLER_TYPES:
        needed = {"anode", "cathode", "output"} if kind == "logic-output" else {"anode", "cathode", "collector", "emitter"}
        if not needed <= set(roles):
            text = f"its subcircuit does not say which pin is the {' or the '.join(sorted(needed - set(roles)))}"
            return Unknown(element, path, text, example, kind)
    if len(body.groups) < 2:
        text = f"it is taken for a {kind}, but its subcircuit joins all its pins"
        return Unknown(element, path, text, example, kind)
    if len(ports) != len(circuit.pins(element)):
        return Unknown(element, path, "its card and its subcircuit differ in the number of pins", example, kind)
    return Part(element, path, kind, None, tuple(roles), body.groups, how, name)


def _structural_role(body: Structure, port: int) -> str:
    for anode, cathode in body.leds:
        if port == anode:
            return "anode"
        if port == cathode:
            return "cathode"
    for position, role in ((2, "emitter"), (0, "collector"), (1, "base")):
        if any(pins[position] == port for pins in body.transistors):
            return role
    return ""


def _contradiction(circuit: Circuit, classifier: Classifier, part: Part) -> Contradiction | None:
    """A readable model against the pin order of the record: groups, the LED's direction, collector and emitter."""
    scope = circuit.subcircuit(part.element)
    if scope is None or part.record is None or part.type not in COUPLER_TYPES:
        return None
    ports = classifier.cards.scopes[scope].ports
    if len(ports) != len(part.roles):
        return None
    body = classifier.structure(scope)

    def say(text: str) -> Contradiction:
        return Contradiction(part.element, part.path, text)

    order = " ".join(part.record.pins)
    for index, port in enumerate(ports):
        named = role_of(port, part.type) if not port.isdigit() else ""
        if named in ("anode", "cathode", "collector", "emitter") and named != part.roles[index]:
            return say(f"pin {index + 1} is the {part.roles[index]} in record {part.record.name} ({order}), but port {port} of its subcircuit is the {named}")
    led = {role: index for index, role in enumerate(part.roles) if role in ("anode", "cathode")}
    if body.leds and len(led) == 2 and part.roles.count("anode") == 1:
        pair = (led["anode"], led["cathode"])
        if pair not in body.leds:
            if (pair[1], pair[0]) in body.leds:
                return say(f"record {part.record.name} ({order}) has anode and cathode the other way round than the diode in its subcircuit")
            found = ", ".join(f"{ports[a]} {ports[k]}" for a, k in body.leds)
            return say(f"record {part.record.name} ({order}) puts the LED on ports {ports[pair[0]]} {ports[pair[1]]}, its subcircuit on {found}")
    if len(body.transistors) == 1 and "collector" in part.roles and "emitter" in part.roles:
        collector, _, emitter = body.transistors[0]
        if part.roles.index("collector") == emitter and part.roles.index("emitter") == collector:
            return say(f"record {part.record.name} ({order}) has collector and emitter the other way round than its subcircuit")
    return None
