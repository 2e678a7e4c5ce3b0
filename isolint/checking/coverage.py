"""What is told of unexplained parts beside the results: listed by name, what is unanswered, notes, why it is silent."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import TypedDict

from isolint.checking.context import Context
from isolint.checking.position_words import instances, some
from isolint.checking.unexplained import silence
from isolint.results import UNJUDGED, PartGroup, Question, Result


class PartCoverage(TypedDict):
    """The fields of `Coverage` that speak of parts."""

    parts: int
    explained: int
    unexplained: tuple[PartGroup, ...]
    unanswered: tuple[Question, ...]
    notes: tuple[str, ...]
    silence: str


def told_of_parts(context: Context, results: Sequence[Result]) -> PartCoverage:
    """What is listed and no result."""
    positions = context.positions
    return PartCoverage(
        parts=positions.parts,
        explained=positions.parts - positions.unexplained,
        unexplained=tuple(_groups(context)),
        unanswered=_unanswered(results),
        notes=tuple(notes(context)),
        silence=silence(context),
    )


def _groups(context: Context) -> Iterator[PartGroup]:
    """Unexplained parts that nobody is asked about, by name, then connectors that carry two sides."""
    positions = context.positions
    strays = {place.element: place for place in positions.strays}
    for name, elements in positions.listed:
        place = next((strays[element] for element in elements if element in strays), None)
        why = ""
        if place is not None:
            sides = dict.fromkeys(positions.domain(label) for label in place.labels if label is not None)
            why = f"touches {' and '.join(filter(None, sides))}, rather a joint"
        yield PartGroup(name, tuple(map(context.circuit.path, elements)), why)
    for element, labels in positions.connectors:
        sides = dict.fromkeys(positions.domain(label) for label in labels)
        name = context.circuit.model_name(element) or context.circuit.path(element)
        yield PartGroup(name, (context.circuit.path(element),), f"a connector that carries {' and '.join(sides)}")


def listed_words(context: Context) -> Iterator[str]:
    """The unexplained parts that nobody is asked about and the connectors that carry two sides, one line a name."""
    for group in _groups(context):
        who = group.name if group.elements == (group.name,) else f"{group.name} ({some(group.elements)})"
        yield f"{who}: {group.why or 'not explained, and its place speaks for no barrier'}"


def notes(context: Context) -> Iterator[str]:
    """What is assumed of grounds and said of connectors, one line each."""
    positions = context.positions
    stars: dict[tuple[str, str], list[int]] = {}
    for tie in positions.stars:
        stars.setdefault((positions.grounds[tie.one], positions.grounds[tie.other]), []).append(tie.element)
    for (one, other), elements in stars.items():
        yield f"{one} and {other} are joined by {instances(context, elements)}: taken as one ground"
    for pair in positions.one_ground:
        one, other = positions.grounds[pair.one], positions.grounds[pair.other]
        if pair.shorts:
            yield f"{one} and {other} are joined by {instances(context, pair.shorts)}: taken as one ground"
        else:
            yield f"{one} and {other} have {some(list(map(context.net, pair.supplies)))} in common: taken as one ground"

    yield from _gaps(context)


def _gaps(context: Context) -> Iterator[str]:
    """What conducts in surges only and lies across two sides: nothing here judges what that does to a barrier."""
    recognition, separation = context.interfaces.recognition, context.interfaces.separation
    for element in sorted(recognition.ordinary & recognition.kept_apart.keys()):
        path, pins = context.circuit.path(element), context.circuit.pins(element)
        found = {separation.side_of_net[net] for net in pins if net in separation.side_of_net}
        if len(pins) == 2 and len(found) == 2 and context.facts.element(path).clamp_voltage is not None:
            one, other = sorted(separation.sides[side].name for side in found)
            yield (
                f"{path} lies across {one} and {other} and conducts in surges only, as its clamp_voltage says: "
                "what it does to the barrier is not judged"
            )


def claim_notes(context: Context) -> Iterator[str]:
    """The claim that nothing on the board isolates, where it counts, and where it is written and does not."""
    stated = context.facts.reading.isolation
    if stated is None:
        return
    if context.positions.claim == "stated":
        yield f'stated: nothing on this board isolates ([reading] isolation = "none", {stated.file})'
    elif context.positions.claim == "":
        yield f"[reading] isolation in {stated.file} counts for netlists in its own folder only, not for this one"


_NAMED = re.compile(r'(\w+)\."(?:[^"\\]|\\.)*"(.*)')


def _unanswered(results: Sequence[Result]) -> tuple[Question, ...]:
    """What open results lack, by table and key, the most wanted first."""
    counted: dict[tuple[str, str], set[str]] = {}
    for result in results:
        if result.kind != "open" or result.suppression is not None:
            continue
        if result.role == UNJUDGED:
            counted.setdefault(("", f"rules for questions about a {result.subject}"), set()).add(result.subject)
        elif not result.missing:
            counted.setdefault(("", result.rule), set()).add(result.subject)
        for fact in result.missing:
            found = _NAMED.fullmatch(fact.key)
            about, key = (found[1], found[2].lstrip(".")) if found else fact.key.rpartition(".")[::2]
            counted.setdefault((about, key), set()).add(fact.key)
    ordered = sorted(counted.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    return tuple(Question(about, key, len(names)) for (about, key), names in ordered)
