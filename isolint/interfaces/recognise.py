"""Which elements are couplers and other barrier parts.

In: a circuit and a `Classifier` (cards, facts and part records). Out: a `Recognition`. A part is recognised by
declaration, by its record, or by its own subcircuit whose name agrees; structure alone or a name alone never suffices.
"""

from __future__ import annotations

from collections.abc import Sequence

from isolint import types
from isolint.circuit import Circuit
from isolint.facts.effective import NOTHING
from isolint.facts.matching import compile_pattern, is_pattern
from isolint.interfaces.answers import part_of, question
from isolint.interfaces.classify import Classifier, hint_for, name_hint, named_groups
from isolint.interfaces.contradiction import contradiction, misplaced, regroups
from isolint.interfaces.entities import Contradiction, Part, Recognition, Unknown
from isolint.interfaces.linear_domains import with_domains
from isolint.interfaces.loose import loose_couplers
from isolint.interfaces.pinguess import UNKNOWN, groups_example, record_example, series_order, type_line, with_nets
from isolint.interfaces.pinsets import unjudged_channels
from isolint.interfaces.shunt_references import shunt_references
from isolint.interfaces.subcircuit_body import PortStructure
from isolint.parts import PartRecord, derive_channels, derive_groups, groups_of, role_of
from isolint.recognition import Hint
from isolint.tables import basic_string, dotted

__all__ = ["Classifier", "fact_key", "name_hint", "recognise"]

CONDUCTORS = frozenset("RLCKVIDQMJSWEGFHBTO")
_DECLARABLE = frozenset("EGFHBSW")
"""Conducting letters of which it matters whether somebody calls them ordinary."""

_LINES = frozenset("TO")
"""Letters of transmission lines, which schematic tools also give to transformers and optocouplers."""


def recognise(circuit: Circuit, classifier: Classifier) -> Recognition:
    """Take every leaf part for what declaration, record or its own subcircuit says it is."""
    parts: dict[int, Part] = {}
    ordinary: set[int] = set()
    kept_apart: dict[int, tuple[tuple[int, ...], ...]] = {}
    unknown: dict[int, Unknown] = {}
    suspects: list[Unknown] = []
    contradictions: list[Contradiction] = []
    declared = _declared(circuit, classifier)
    others = circuit.letters() - (CONDUCTORS - _LINES)
    for element in sorted({*circuit.elements_of(others), *declared}):
        letter = circuit.letter(element)
        if letter in _LINES and element not in declared and not _has_name(circuit, classifier, element):
            continue
        found = _take(circuit, classifier, element)
        if isinstance(found, Part):
            found = with_domains(found, _pin_names(circuit, classifier, found))
            parts[element] = found
            if found.kind.output.conducts and unjudged_channels(found):
                suspects.append(_unjudged(circuit, found))
            scope = circuit.subcircuit(element)
            if scope is not None and found.record is not None and found.kind.inputs:
                body = classifier.structure(scope)
                ports = classifier.cards.scopes[scope].ports
                verdict = classifier.verdict(scope)
                text = contradiction(found, ports, body) or misplaced(found, ports, verdict)
                if text:
                    contradictions.append(Contradiction(element, found.path, text, regroups(found, body)))
                elif verdict.type == found.type:
                    parts[element] = found._replace(typical=verdict.typical)
        elif isinstance(found, Unknown):
            unknown[element] = found
            if found.suspected_type:
                suspects.append(found)
        elif letter not in CONDUCTORS or letter in _DECLARABLE:
            ordinary.add(element)
            if _is_gap(circuit, classifier, element):
                kept_apart[element] = ((0,), (1,))
            record = classifier.record_for(circuit.path(element), circuit.model_name(element))
            if record is not None and len(record.groups) > 1 and len(record.pins) == len(circuit.pins(element)):
                kept_apart[element] = groups_of(record)
    suspects += loose_couplers(circuit, parts, frozenset(declared))
    shunts = shunt_references(circuit, classifier, ordinary)
    return Recognition(parts, frozenset(ordinary), unknown, tuple(suspects), tuple(contradictions), kept_apart, shunts)


def _pin_names(circuit: Circuit, classifier: Classifier, part: Part) -> Sequence[str]:
    """The names of a part's pins in the order of its card, by its record or else by its subcircuit."""
    if part.record is not None:
        return part.record.pins
    scope = circuit.subcircuit(part.element)
    return () if scope is None else classifier.cards.scopes[scope].ports


def _declared(circuit: Circuit, classifier: Classifier) -> set[int]:
    """The elements that some fact calls what they are."""
    found: set[int] = set()
    for name, row in classifier.facts.elements.rows.items():
        if {"part", "type", "ordinary"} & row.keys():
            found |= circuit.elements_like(name.casefold(), compile_pattern(name), "path" if "." in name else "last")
    return {element for element in found if _is_declared(circuit, classifier, element)}


def _is_declared(circuit: Circuit, classifier: Classifier, element: int) -> bool:
    facts = classifier.facts.element(circuit.path(element))
    return facts.part is not None or facts.type is not None or (facts.ordinary is not None and facts.ordinary.value)


def _is_gap(circuit: Circuit, classifier: Classifier, element: int) -> bool:
    """Whether a part of two pins conducts in surges only: a spark gap, varistor or suppressor with a stated voltage."""
    if circuit.letter(element) not in "XU" or len(circuit.pins(element)) != 2:
        return False
    return classifier.facts.element(circuit.path(element)).clamp_voltage is not None


def _has_name(circuit: Circuit, classifier: Classifier, element: int) -> bool:
    name = circuit.model_name(element)
    return name is not None and (name_hint(name) is not None or classifier.records.find(name) is not None)


def _take(circuit: Circuit, classifier: Classifier, element: int) -> Part | Unknown | None:
    """A barrier part, an unknown part, or None for an ordinary one."""
    path = circuit.path(element)
    name = circuit.model_name(element)
    facts = classifier.facts.element(path) if classifier.says_what else NOTHING
    if (facts.ordinary is not None and facts.ordinary.value) or _is_gap(circuit, classifier, element):
        return None
    record = classifier.record_for(path, name)
    if facts.type is not None:
        if not types.of(facts.type.value).isolates:
            return None
        if record is None or record.type != facts.type.value:
            return _by_structure(circuit, classifier, element, facts.type.value, "declaration")
    if record is not None:
        return _by_record(circuit, element, record, "record" if facts.part is None else "declaration")
    if facts.part is not None:
        stated = facts.part.value
        text = f"the part record {stated} that is declared for it is not there"
        return Unknown(element, path, text, record_example(circuit, element, stated, types.guessed(2)), "part")
    scope = circuit.subcircuit(element)
    if scope is not None and len(classifier.cards.scopes[scope].ports) == len(circuit.pins(element)):
        verdict = classifier.verdict(scope)
        if verdict.is_answered:
            return part_of(circuit, element, verdict, verdict.type, "structure")
        own = classifier.named_type(scope)
        if own:
            return _by_structure(circuit, classifier, element, own, "subcircuit")
        if verdict.is_asked:
            return question(circuit, element, verdict, fact_key(circuit, element))
    return _doubtful(circuit, classifier, element)


def _doubtful(circuit: Circuit, classifier: Classifier, element: int) -> Unknown:
    """A part that nobody explained; suspected to be a coupler by its structure alone or its name alone."""
    path, name, scope = circuit.path(element), circuit.model_name(element), circuit.subcircuit(element)
    hint = None if name is None else name_hint(name)
    if scope is None:
        found = None
        if name is not None:
            series = hint_for(name, len(circuit.pins(element))) if circuit.letter(element) in "XU" else None
            found = series if series is not None or hint is None else Hint(hint, is_word=True)
        if name is not None and found is not None:
            text = f"its name {name} suggests a coupler, but there is neither a readable subcircuit nor a part record"
            kind = found.type if found.type in types.BY_NAME else types.guessed(2)
            order = series_order(circuit, element, kind, found.orders)
            if found.type and not found.is_word:
                text = f"its type number {name} is one of a series of {found.type} parts, and nothing says its pins"
                text += f"; usually {with_nets(circuit, element, order)}" if order else ""
            example = record_example(circuit, element, name, kind, order)
            return Unknown(element, path, text, example, found.type or "coupler", pins=order)
        text = "no subcircuit and no part record say what it is"
        return Unknown(element, path, text, _ordinary_example(circuit, element))
    header, body = classifier.cards.scopes[scope], classifier.structure(scope)
    if hint is not None and (len(body.groups) > 1 or header.unreadable):
        why = "can't be read" if header.unreadable else "and the names of its ports don't show it"
        guess = hint or types.guessed(2)
        text = f"its name {name} suggests a coupler or other barrier part, but its subcircuit {why}"
        return Unknown(element, path, text, _type_example(circuit, element, guess), guess)
    return Unknown(element, path, "it is a part of unknown kind", _ordinary_example(circuit, element))


def _type_example(circuit: Circuit, element: int, kind: str) -> str:
    return type_line(fact_key(circuit, element), [kind])


def _ordinary_example(circuit: Circuit, element: int) -> str:
    return type_line(fact_key(circuit, element), ())


def fact_key(circuit: Circuit, element: int) -> str:
    """The key of the facts about a part: its path, or its own name where that speaks of all instances of its card.

    What a card is it is in every instance of its block, so that one fact answers for all.
    """
    name = circuit.name(element)
    if circuit.call_apart(element) is None or "." in name:
        return circuit.path(element)
    if "*" in name or "?" in name:
        pattern, regex = name.casefold(), compile_pattern(name)
        cards = sum(len(block.last_names.like(pattern, regex)) for block in circuit.blocks())
    else:
        # Counted once for all parts and by definition: parts may be as many as definitions, instances more.
        cards = circuit.cards_named(name)
    return name if cards == 1 else circuit.path(element)


def _by_record(circuit: Circuit, element: int, record: PartRecord, how: str) -> Part | Unknown | None:
    # What couples windings has no pins: the windings are the part, wherever their own cards lie.
    if not types.of(record.type).isolates or circuit.letter(element) == "K":
        return None
    path = circuit.path(element)
    count = len(circuit.pins(element))
    if len(record.pins) != count:
        text = f"the card has {count} pins, its record {record.name} names {len(record.pins)}"
        named = (*record.pins, *(f"pin{number}" for number in range(len(record.pins) + 1, count + 1)))[:count]
        pins = ", ".join(map(basic_string, named))
        lines = f'type = "{record.type}"\npins = {UNKNOWN}  # {count} names in the order of the card, perhaps [{pins}]'
        example = f"[{dotted('parts', record.name)}]\n{lines}"
        return Unknown(element, path, text, example, record.type)
    if not record.groups:
        _, doubtful = derive_groups(record.pins, record.type)
        text = f"the names {' '.join(doubtful)} of its record {record.name} don't tell which pins are joined inside"
        return Unknown(element, path, text, groups_example(record.name, record.type, record.pins), record.type)
    roles = tuple(role_of(pin, record.type) for pin in record.pins)
    called = circuit.model_name(element) or record.name if is_pattern(record.name) else record.name
    return Part(element, path, record.type, record, roles, groups_of(record), how, called)


def _by_structure(circuit: Circuit, classifier: Classifier, element: int, kind: str, how: str) -> Part | Unknown:
    """Pins from the structure of the subcircuit and the names of its ports."""
    path = circuit.path(element)
    scope = circuit.subcircuit(element)
    told = None if scope is None else classifier.verdict(scope)
    if told is not None and kind in (told.type, *told.choices) and not told.doubtful and all(told.pins):
        return part_of(circuit, element, told, kind, how)
    name = circuit.model_name(element) or ""
    count = len(circuit.pins(element))
    example = record_example(circuit, element, name or "DEMO_PART", kind, certain=True)

    def unknown(text: str) -> Unknown:
        return Unknown(element, path, text, example, kind)

    if scope is None:
        return unknown(f"it is declared a {kind}, but nothing says which pin is which")
    header = classifier.cards.scopes[scope]
    ports = header.ports
    if len(ports) != count:
        return unknown("its card and its subcircuit differ in the number of pins")
    body = classifier.structure(scope)
    if header.unreadable:
        groups, doubtful = derive_groups(ports, kind)
        if doubtful:
            return unknown(f"its subcircuit can't be read, and the names {' '.join(doubtful)} don't tell their pins")
        body = PortStructure(groups)
    if len(body.groups) < 2:
        return unknown(f"it is taken for a {kind}, but its subcircuit joins all its pins")
    output = types.of(kind).output
    roles = _roles(body, ports, kind)
    channels: tuple[tuple[str, tuple[int, ...], tuple[int, ...]], ...] = ()
    # What a model need not join (an input pin to its ground over 1 Mohm), its names may.
    groups = (not output.conducts and named_groups(body, ports, kind)) or body.groups
    if output.conducts:
        bidirectional = any(body.is_bidirectional(group) for group in groups)
        missing = ({"anode", "cathode"} if not bidirectional else {"anode"}) | {*output.ends}
        missing -= set(roles)
        if missing:
            example = record_example(circuit, element, name or "DEMO_PART", kind, roles, certain=True)
            return unknown(f"its subcircuit does not say which pin is the {' or the '.join(sorted(missing))}")
        if roles.count("anode") == 1 or (bidirectional and len(body.led_groups) == 1):
            groups = _two_sides(roles)
        else:
            channels = _paired(body, ports, kind)
            if not channels:
                return unknown("its subcircuit does not say which LED drives which output")
    return Part(element, path, kind, None, roles, groups, how, name, channels)


def _two_sides(roles: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """The groups of a coupler with one LED: its pins, those of the output side, each that is not connected inside."""
    lit = tuple(pin for pin, role in enumerate(roles) if role in ("anode", "cathode"))
    free = tuple((pin,) for pin, role in enumerate(roles) if role == "none")
    rest = tuple(pin for pin in range(len(roles)) if pin not in lit and (pin,) not in free)
    return tuple(sorted((lit, rest, *free)))


def _roles(body: PortStructure, ports: Sequence[str], kind: str) -> tuple[str, ...]:
    """The role of each port: LEDs and transistors by structure before names.

    Where a transistor of the body means something else for the type, names go before it.
    """
    roles: list[str] = []
    meant, solved = types.of(kind).signs.names, bool(types.of(kind).output.conducts)
    for index, port in enumerate(ports):
        named = "" if port.isdigit() else role_of(port, kind)
        found = _led_role(body, index)
        if not found and meant:
            found = named or meant.get(_transistor_role(body, index), "")
        elif not found and solved:
            found = named if named == "none" else _transistor_role(body, index) or named
        roles.append(found or named)
    return tuple(roles)


def _led_role(body: PortStructure, port: int) -> str:
    for group in body.groups:
        if port in group and body.is_bidirectional(group):
            return "anode"
    for anode, cathode in body.leds:
        if port in (anode, cathode):
            return "anode" if port == anode else "cathode"
    return ""


def _transistor_role(body: PortStructure, port: int) -> str:
    for position, role in ((2, "emitter"), (0, "collector"), (1, "base")):
        if any(pins[position] == port for pins in body.transistors):
            return role
    return ""


def _paired(
    body: PortStructure, ports: Sequence[str], kind: str
) -> tuple[tuple[str, tuple[int, ...], tuple[int, ...]], ...]:
    """The channels of a part with several LEDs: as the signal goes in its subcircuit, else as port names say."""
    pairs = body.pairing()
    if len(pairs) == len(body.led_groups) and pairs:
        return tuple((str(number), led, output) for number, (led, output) in enumerate(pairs, start=1))
    if len(set(map(str.casefold, ports))) < len(ports):
        return ()
    at = {port: index for index, port in enumerate(ports)}
    named = derive_channels(ports, kind, body.groups) or ()
    return tuple(
        (name, tuple(at[pin] for pin in inputs), tuple(at[pin] for pin in outputs)) for name, inputs, outputs in named
    )


def _unjudged(circuit: Circuit, part: Part) -> Unknown:
    text = "it has an input without one anode and one cathode (for alternating current?), which is not judged"
    return Unknown(part.element, part.path, text, _type_example(circuit, part.element, part.type), part.type)
