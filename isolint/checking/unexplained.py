"""Results about parts that nobody explained: one a part name, one a doubtful pair of grounds, one a sheet.

In: a context. Out: open results. A part is asked about where its structure, its name, its place, or a joint between
stated sides says that it may isolate; all others are listed and no result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from isolint.checking.context import Context
from isolint.checking.joint_results import chain_of, path_words
from isolint.checking.position_words import (
    MOST,
    cure,
    gap_cure,
    lies,
    pair_words,
    pins,
    some,
    source_cure,
    who_of,
)
from isolint.checking.rule import Rule
from isolint.checking.unplaced import unplaced
from isolint.errors import Place
from isolint.facts import ElementFacts, SideFacts
from isolint.interfaces.entities import Join
from isolint.interfaces.pinguess import blank_record, type_line
from isolint.interfaces.recognise import fact_key
from isolint.positions.found import Asked, DoubtfulPair
from isolint.positions.spoken import is_connector, reference_letters
from isolint.results import MissingFact, Related, Result
from isolint.tables import basic_string, quoted

NONE_ISOLATES = (
    'if nothing on this board isolates: [reading] isolation = "none" in the isolint.toml beside this netlist'
)


_SOURCES = frozenset("EGFHBSW")


@dataclass(slots=True)
class Matter:
    """All that is to be said of one part name: its elements, why it is asked about, its place, lines to write."""

    name: str
    elements: dict[int, None] = field(default_factory=dict)
    texts: dict[str, None] = field(default_factory=dict)
    more: dict[str, None] = field(default_factory=dict)
    examples: dict[str, None] = field(default_factory=dict)
    chain: tuple[Related, ...] = ()
    asked: Asked | None = None


def unknown_results(context: Context, rule: Rule) -> Iterable[Result]:
    """One open result a part name or pair of grounds that may isolate."""
    matters = matters_of(context)
    for matter in matters.values():
        yield _of_name(context, rule, matter)
    for pair in context.positions.pairs:
        yield _of_pair(context, rule, pair)
    if context.positions.claim == "ignored":
        yield _ignored_claim(context, rule)


def matters_of(context: Context) -> Mapping[str, Matter]:
    """What there is to ask, by part name, found once; an element without a name stands for itself."""
    return context.kept(_find_matters)


def _find_matters(context: Context) -> Mapping[str, Matter]:
    recognition, positions = context.interfaces.recognition, context.positions
    matters: dict[str, Matter] = {}

    def matter(element: int) -> Matter:
        name = name_of(context, element)
        return matters.setdefault(name.casefold(), Matter(name))

    in_pairs = {element for pair in positions.pairs for entry in pair.parts for element in entry.elements}
    for unknown in recognition.suspects:
        if positions.claim == "stated" and unknown.element not in recognition.parts:
            continue
        own = matter(unknown.element)
        own.elements[unknown.element] = None
        own.texts[unknown.reason] = None
        own.examples[unknown.example] = None
    for entry in positions.asked:
        own = matter(entry.place.element)
        own.asked = entry
        own.elements.update(dict.fromkeys(entry.elements))
        own.more[pins(context, positions, entry)] = None
    for _, ties in positions.across:
        for tie in ties:
            own = matter(tie.element)
            own.elements[tie.element] = None
            ends = " and ".join(positions.domain(number) for number in (tie.one, tie.other))
            own.texts[f"lies across {ends}, and nothing says what it is"] = None
    known = {element for own in matters.values() for element in own.elements} | in_pairs
    for join in context.interfaces.separation.joins:
        # Where a part that is asked about explains a joint, others on its way are no question.
        for element in () if known.intersection(join.unknown) else join.unknown:
            own = matter(element)
            if element in own.elements:
                continue
            own.elements[element] = None
            own.texts[_joint_text(context, join, element)] = None
            own.chain = own.chain or chain_of(context, join)
    return matters


def name_of(context: Context, element: int) -> str:
    """The name of a part, by which all its instances are one question; its path where it has none."""
    return context.circuit.model_name(element) or context.circuit.path(element)


def subject_of(context: Context, element: int) -> str:
    """The subject of the question about a part."""
    name = context.circuit.model_name(element)
    return context.circuit.path(element) if name is None else f"part:{name}"


def _joint_text(context: Context, join: Join, element: int) -> str:
    known = context.interfaces.recognition.unknown.get(element)
    reason = known.reason if known is not None else "what controls it lies on another side than its output"
    # Of several such parts the path tells one.
    on_path = any(step.element == element for step in join.path)
    nets = dict.fromkeys(map(context.net, context.circuit.pins(element)))
    way = path_words(context, join) if on_path else f"nets {', '.join(nets)}"
    return f"touches sides {' and '.join(join.sides)} ({way}) and is not understood: {reason}"


def _of_name(context: Context, rule: Rule, matter: Matter) -> Result:
    elements = sorted(matter.elements)
    first, asked = elements[0], matter.asked
    path = context.circuit.path(first)
    who = path if len(elements) == 1 else who_of(context, matter.name, elements)
    if matter.texts:
        said = "; ".join(matter.texts)
        text = f"{who} {said}" if said.startswith(("touches ", "lies ")) else f"{who}: {said}"
    else:
        assert asked is not None
        text = lies(context, context.positions, asked)
    facts = [_fact(context, first, example) for example in matter.examples]
    if context.circuit.letter(first) in _SOURCES:
        facts = [_ordinary(context, first)]
    if not facts:
        facts = [_record_question(context, first, matter.name)]
    keys = [fact_key(context.circuit, element) for element in elements]
    if context.circuit.letter(first) in _SOURCES:
        remedy = source_cure(keys)
    elif all(len(context.circuit.pins(element)) == 2 for element in elements):
        remedy = gap_cure(keys)
    else:
        remedy = cure(asked, keys)
    record = context.record_of(first)
    if record is not None and "groups" in map(_leaf, matter.examples):
        remedy = f"state which pins of {record.name} are joined inside: add the groups line to its record"
    made = context.result(
        rule,
        "open",
        text,
        context.place(first),
        subject_of(context, first),
        missing=dict.fromkeys(facts),
        remedy=remedy,
        related=tuple(dict.fromkeys((*context.related(elements), *matter.chain))),
        element=first,
    )
    return made._replace(more=tuple(matter.more))


def _fact(context: Context, element: int, example: str) -> MissingFact:
    """A line to write that recognition gives; a part record belongs in a file of records."""
    head = example.partition("\n")[0].partition("]")[0].removeprefix("[")
    record = context.record_of(element)
    if _leaf(example) == "groups" and record is not None:
        return MissingFact(record.file, f"{head}.groups", example)
    if example.startswith("[parts."):
        return MissingFact(_records_file(context), head, example)
    written = _leaf(example) or "part"
    if written == "ordinary":
        # Never the answer by itself: the cure names both.
        return _type_question(context, element)
    return MissingFact(context.lookup.settings_file, f"{head}.{written}", example.replace("\\", "\\\\"))


def _leaf(example: str) -> str:
    """The key on the last of the lines to write."""
    return example.rsplit("\n", 1)[-1].partition("=")[0].strip()


def _ordinary(context: Context, element: int) -> MissingFact:
    """The line for a controlled source, of which nothing else can be said."""
    return _type_question(context, element, ElementFacts.ordinary.key)


def _type_question(context: Context, element: int, leaf: str = "part") -> MissingFact:
    """What says what an element without a name is, or a controlled source."""
    example = type_line(fact_key(context.circuit, element), ())
    head = example.partition("\n")[0].strip("[]")
    return MissingFact(context.lookup.settings_file, f"{head}.{leaf}", example.replace("\\", "\\\\"))


def _record_question(context: Context, element: int, name: str) -> MissingFact:
    if context.circuit.model_name(element) is None:
        return _type_question(context, element)
    return MissingFact(_records_file(context), f"parts.{quoted(name)}", blank_record(context.circuit, element, name))


def _records_file(context: Context) -> str:
    """The file that takes new records."""
    return context.facts.record_file(context.lookup.settings_file)


def _of_pair(context: Context, rule: Rule, pair: DoubtfulPair) -> Result:
    positions = context.positions
    names = [positions.domain(number) for number in (pair.one, pair.other)]
    subject = " | ".join(sorted(names, key=str.casefold))
    elements = [element for entry in pair.parts for element in entry.elements]
    first = pair.shorts[0] if pair.shorts else elements[0]
    sides = [name.casefold().replace(" ", "_") for name in names]
    one, other = (f"nets = [{basic_string(name)}]" for name in names)
    both = f"nets = [{', '.join(map(basic_string, names))}]"
    made = context.result(
        rule,
        "open",
        pair_words(context, positions, pair),
        context.place(first),
        f"grounds:{subject}",
        missing=[
            context.lookup.missing(SideFacts.nets, side, nets.partition("= ")[2])._replace(
                key=f"sides.{quoted(side)}.nets"
            )
            for side, nets in zip(sides, (one, other), strict=True)
        ],
        remedy=(
            f"two sides: tables [sides.{quoted(sides[0])}] with {one} and [sides.{quoted(sides[1])}] with {other}, "
            f"one line each | one ground: [sides.{quoted(sides[0])}] with {both}"
        ),
        related=context.related([*pair.shorts, *elements]),
        element=first,
    )
    return made._replace(more=tuple(pins(context, positions, entry) for entry in pair.parts))


def _ignored_claim(context: Context, rule: Rule) -> Result:
    parts = [part.path for part in context.interfaces.recognition.parts.values()]
    sides = list(context.facts.sides)
    against = f"the barrier parts {some(parts)} are on it" if parts else f"the sides {some(sides)} are stated"
    stated = context.facts.reading.isolation
    assert stated is not None
    made = context.result(
        rule,
        "open",
        f'[reading] isolation = "none" is stated, and {against}: it is ignored',
        Place(stated.file),
        "isolation",
        role="claim",
        remedy='take the line isolation = "none" away',
    )
    return made._replace(counts_as="error")


# -- a netlist of which nothing was judged ------------------------------------------------------------------------


def silence(context: Context) -> str:
    """Why nothing was judged, as far as the parts tell; "" where that is not about parts."""
    positions = context.positions
    if name := unplaced(context):
        return f"NOTHING WAS JUDGED: nothing places {name}, and nothing else is in this netlist"
    if not positions.unexplained and context.interfaces.recognition.parts:
        return ""
    if not positions.unexplained and not matters_of(context):
        small = _small_parts(context)
        if not small:
            return "nothing to judge: every part is explained, none is a coupler"
        return (
            "nothing to judge: no part with four pins or more is unexplained, none is a coupler; not explained are "
            f"{_count(len(small), 'smaller part')}: {some(small)}"
        )
    asked = len(matters_of(context)) + len(positions.pairs)
    if asked:
        may = "1 part name or pair of grounds may isolate" if asked == 1 else f"{asked} part names or pairs may isolate"
        return f"NOTHING WAS JUDGED: {may} (see open)"
    names = len(positions.names)
    told = f"{_count(positions.unexplained, 'part')} of {_count(names, 'name')} "
    told += "is not explained" if positions.unexplained == 1 else "are not explained"
    if positions.claim == "stated":
        return f'NOTHING WAS JUDGED: {told}; [reading] isolation = "none" is stated'
    if positions.sheet == "one node":
        return f"NOTHING WAS JUDGED: {told}, and all returns are one node: position can't tell"
    if positions.sheet == "no reference":
        return f"NOTHING WAS JUDGED: {told}, and no net is named as a ground: position is weak here (13 of 100 missed)"
    return f"NOTHING WAS JUDGED: {told}; none lies between two sides by its place"


def _small_parts(context: Context) -> list[str]:
    """The unexplained parts of two or three pins, connectors and test points apart, with their names."""
    circuit = context.circuit
    return [
        who_of(context, name_of(context, element), [element])
        for element in sorted(context.interfaces.recognition.unknown)
        if circuit.letter(element) in "XU"
        and len(circuit.pins(element)) in (2, 3)
        and circuit.subcircuit(element) is None
        and not is_connector(reference_letters(circuit.name(element), circuit.letter(element)))
    ]


def sheet_results(context: Context, rule: Rule, strict: bool) -> Iterator[Result]:
    """The one open result of a netlist of which nothing was judged and whose unexplained parts position can't place."""
    positions = context.positions
    asked = set(matters_of(context))
    left = [(name, elements) for name, elements in positions.listed if name.casefold() not in asked]
    if not left or positions.claim == "stated":
        return
    if positions.sheet:
        why = (
            "all returns are one node, so position can't tell what isolates"
            if positions.sheet == "one node"
            else "no net is named as a ground, so position is weak (13 of 100 missed)"
        )
    elif strict and not asked and not positions.pairs:
        why = "none lies between two sides by its place"
    else:
        return
    elements = [element for _, own in left for element in own]
    words = [f"{who_of(context, name, own)}, {len(context.circuit.pins(own[0]))} pins" for name, own in left]
    first = elements[0]
    made = context.result(
        rule,
        "open",
        f"{why}; {_count(len(elements), 'part')} unexplained: {'; '.join(words[:MOST])}{_beyond(words)}",
        context.place(first),
        "sheet",
        role="sheet",
        missing=[_record_question(context, own[0], name) for name, own in left[:1]],
        remedy=f"for each that isolates a part record (type and pin order from the data sheet) | {NONE_ISOLATES}",
        related=context.related(elements),
        element=first,
    )
    yield made._replace(counts_as="error")


def _beyond(words: list[str]) -> str:
    return f"; and {len(words) - MOST} more" if len(words) > MOST else ""


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
