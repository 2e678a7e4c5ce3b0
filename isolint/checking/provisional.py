"""What would fail if unexplained parts were what they perhaps are: said inside their open results, never a verdict.

In: a context, its results and the judge. Out: the results, those about guessed parts with further lines. Every part
that is asked about is taken for its guess at once, in its first order of pins, then in its second, at most eight times.
One instance a part name and network is judged.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Container, Iterable, Mapping, Sequence

from isolint import types
from isolint.checking.context import Context
from isolint.checking.pin_orders import MOST_ORDERS, PinGuess, guess_of, part_as
from isolint.checking.position_words import article
from isolint.checking.rule import Rule
from isolint.checking.unexplained import Matter, matters_of, subject_of
from isolint.interfaces import Grounds, Interfaces, Walker, find_channels
from isolint.interfaces.entities import Part
from isolint.interfaces.sides import find_sides
from isolint.results import Result

Judge = Callable[[Context, Sequence[Rule]], Sequence[Result]]

MOST_WORK = 40_000
"""Elements times pin orders that are computed; a larger netlist is asked about without."""

MOST_NAMES, MOST_INSTANCES = 24, 4
"""Part names that are guessed, and instances of each that are judged."""

NOTHING = "no failure is certain without its record"
"""What is said where nothing fails: no pass."""

_SURVEYED: frozenset[str] = frozenset(("supplies", "coil"))
"""Traits of parts without a channel about which rules say something certain."""

_NEAR = 8
"""Elements at a net from which it is no part of what tells two instances apart."""


def with_provisional(context: Context, rules: Sequence[Rule], results: list[Result], judge: Judge) -> list[Result]:
    """The results with what would fail, where a part that is asked about has a guess."""
    guesses = _guesses(context)
    size = context.circuit.element_count
    if not guesses or size > MOST_WORK:
        return results
    rounds = min(MOST_ORDERS, max(len(guess.orders) for _, guess in guesses.values()), max(1, MOST_WORK // size))
    traits = {trait for _, guess in guesses.values() for trait in types.of(guess.type).traits & _SURVEYED}
    chosen = [
        rule
        for rule in rules
        if rule.judge is not None or _is_about_joints(rule) or not traits.isdisjoint(rule.asked_of)
    ]
    joints = {rule.slug for rule in rules if _is_about_joints(rule)}
    failing: dict[str, list[dict[str, str]]] = {subject: [] for subject in guesses}
    for number in range(rounds):
        found = judge(_taken_for(context, guesses, number), chosen)
        for subject, failed in _by_subject(context, guesses, found, joints).items():
            if number < len(guesses[subject][1].orders):
                failing[subject].append(failed)
    lines = {subject: tuple(_lines(guesses[subject][1], failed)) for subject, failed in failing.items()}
    return [
        result._replace(more=(*result.more, *lines.get(_asked_in(result, lines), ())))
        if result.kind == "open" and result.subject in lines
        else result
        for result in _with_pairs(context, results, lines)
    ]


def _asked_in(result: Result, lines: Mapping[str, Sequence[str]]) -> str:
    return result.subject if result.subject in lines else ""


def _is_about_joints(rule: Rule) -> bool:
    return bool({"joined-grounds", "joined-supplies", "joined-nets"} & set(rule.judges))


def _guesses(context: Context) -> dict[str, tuple[Matter, PinGuess]]:
    """What may be tried, by the subject of the question."""
    found: dict[str, tuple[Matter, PinGuess]] = {}
    for matter in [*matters_of(context).values(), *_in_pairs(context)][:MOST_NAMES]:
        first = matter.asked.place.element if matter.asked is not None else min(matter.elements)
        if first not in context.interfaces.recognition.unknown:
            continue
        guess = guess_of(context, first, matter.asked)
        if guess is not None:
            found[subject_of(context, first)] = (matter, guess)
    return found


def _in_pairs(context: Context) -> Iterable[Matter]:
    """The parts between two doubtful grounds, as if they were asked about themselves."""
    for pair in context.positions.pairs:
        for entry in pair.parts:
            yield Matter(entry.name, dict.fromkeys(entry.elements), asked=entry)


def _with_pairs(context: Context, results: Iterable[Result], lines: Mapping[str, Sequence[str]]) -> Iterable[Result]:
    """The results, those about pairs of grounds with the lines of the parts between them."""
    inside: dict[str, list[str]] = {}
    for pair in context.positions.pairs:
        names = sorted((context.positions.domain(number) for number in (pair.one, pair.other)), key=str.casefold)
        for entry in pair.parts:
            subject = subject_of(context, entry.elements[0])
            inside.setdefault(f"grounds:{' | '.join(names)}", []).extend(
                f"{entry.name}: {line}" for line in lines.get(subject, ())
            )
    for result in results:
        more = inside.get(result.subject, ()) if result.kind == "open" else ()
        yield result._replace(more=(*result.more, *more)) if more else result


def _taken_for(context: Context, guesses: Mapping[str, tuple[Matter, PinGuess]], number: int) -> Context:
    """The netlist with each guessed part taken for its guess, in the order of pins of that number."""
    circuit, facts = context.circuit, context.facts
    recognition = context.interfaces.recognition
    parts: dict[int, Part] = dict(recognition.parts)
    shown: set[int] = set()
    for matter, guess in guesses.values():
        order = guess.orders[number] if number < len(guess.orders) else guess.orders[0]
        for element in matter.elements:
            if len(circuit.pins(element)) == len(order):
                parts[element] = part_as(context, element, guess.type, order)
        shown.update(_distinct(context, matter.elements))
    unknown = {element: known for element, known in recognition.unknown.items() if element not in parts}
    assumed = recognition._replace(parts=dict(sorted(parts.items())), unknown=unknown, suspects=(), contradictions=())
    separation = find_sides(circuit, facts, assumed, asked=())
    grounds = Grounds(circuit, facts, assumed, separation)
    walker = Walker(circuit, facts, assumed, grounds, frozenset(separation.ignored))
    judged = assumed._replace(
        parts={element: part for element, part in assumed.parts.items() if element in shown or part.record is not None}
    )
    channels = tuple(channel for channel in find_channels(circuit, judged, walker) if channel.part.element in shown)
    return context.supposing(Interfaces(assumed, channels, separation), walker)


def _distinct(context: Context, elements: Iterable[int]) -> list[int]:
    """One instance a network, as far as the elements at the pins tell it."""
    circuit = context.circuit
    found: dict[tuple[object, ...], int] = {}
    for element in sorted(elements):
        key = []
        for net in circuit.pins(element):
            touching = circuit.elements_at(net)
            near = sorted((circuit.letter(other), circuit.value(other) or 0.0) for other, _ in touching)
            key.append(tuple(near) if len(near) <= _NEAR else net)
        found.setdefault(tuple(key), element)
    return list(found.values())[:MOST_INSTANCES]


def _by_subject(
    context: Context, guesses: Mapping[str, tuple[Matter, PinGuess]], results: Iterable[Result], joints: Container[str]
) -> dict[str, dict[str, str]]:
    """What fails by the subject of the question that it belongs to: the rule and its words."""
    at = {
        context.circuit.path(element): subject
        for subject, (matter, _) in guesses.items()
        for element in matter.elements
    }
    found: dict[str, dict[str, str]] = {subject: {} for subject in guesses}
    for result in results:
        if result.kind != "fail":
            continue
        if result.part:
            owners = {at[result.part]} if result.part in at else set()
        else:
            words = re.split(r"[\s,():]+", " ".join((result.message, *(each.text for each in result.related))))
            # A joint concerns whatever lies between the sides; anything else only what it names.
            whoever = set(list(guesses)[:1]) if result.rule in joints else set()
            owners = {at[word] for word in words if word in at} or whoever
        for owner in owners:
            found[owner].setdefault(result.rule, _said(context, result, guesses[owner][0]))
    return found


def _said(context: Context, result: Result, matter: Matter) -> str:
    """The words of a failure; the name of the part goes where there is only one of its name."""
    name = f"{context.circuit.path(min(matter.elements))}: "
    text = result.message.removeprefix(name) if len(matter.elements) == 1 else result.message
    return f"{text} [{result.rule}]"


def _lines(guess: PinGuess, failing: Sequence[Mapping[str, str]]) -> Iterable[str]:
    """What would fail: first what holds for all orders of pins, then each order, those that say the same together."""
    orders = guess.orders[: len(failing)]
    always = [rule for rule in failing[0] if all(rule in each for each in failing)]
    groups: dict[tuple[str, ...], list[tuple[str, ...]]] = {}
    for order, each in zip(orders, failing, strict=True):
        groups.setdefault(tuple(text for rule, text in each.items() if rule not in always), []).append(order)
    kind, first = article(guess.type), f"with pins {', '.join(orders[0])}"
    told = "; ".join(failing[0][rule] for rule in always)
    if len(groups) == 1 and len(orders) > 2:
        yield f"if it is {kind}, {first} or in any of {len(orders)} orders that fit: {told or NOTHING}"
        return
    if always and len(groups) > 1:
        yield f"if it is {kind}, in all {len(orders)} orders of its pins that fit: {told}"
    for rest, members in groups.items():
        words = [first if order is orders[0] else _exchange(orders[0], order) for order in members]
        said = "; ".join(rest) or (told if always and len(groups) == 1 else NOTHING if not always else "nothing more")
        same = f"; {', or '.join(words[1:])}: the same" if words[1:] else ""
        yield f"{f'if it is {kind} ' if members[0] is orders[0] else ''}{words[0]}: {said}{same}"


def _exchange(first: Sequence[str], order: Sequence[str]) -> str:
    """`with collector and emitter exchanged`; all pins where it is no exchange of few."""
    moved = [pin for pin, (one, other) in enumerate(zip(first, order, strict=True)) if one != other]
    pairs = {tuple(sorted((first[pin], order[pin]))) for pin in moved}
    if 2 * len(pairs) != len(moved):
        return f"with pins {', '.join(order)}"
    return "with " + " and ".join(f"{one} and {other} exchanged" for one, other in sorted(pairs))
