"""The results of one revision as they are matched: what each is about, its members, how bad it is, its card."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from typing import NamedTuple

from isolint.app import Judged
from isolint.circuit import Circuit
from isolint.errors import Place
from isolint.netlist.cards import Cards
from isolint.results import Level, Result
from isolint.review.correspondence import TOP, Correspondence, Netlist
from isolint.review.values import Number, State

_WORDS = re.compile(r"( \| |, | channel |[+]| )")
_SAME = 0.02
"""How far a number with its limit may be from the margin that stands beside it, as a ratio."""
_QUOTED = re.compile(r'"([^"]*)"')


class Card(NamedTuple):
    """The card at a place: file, scope and place in it, -1 where no element card stands there."""

    file: str
    scope: int = -1
    place: int = -1


class Finding(NamedTuple):
    """One result to be matched.

    carrier: its subject, or the element of a fault that several channels share. sides: of a joint. keys: what an open
    result lacks. harm grows with harm; of two infinite ones `tie` decides.
    """

    result: Result
    carrier: str
    members: frozenset[str]
    sides: frozenset[str]
    keys: frozenset[str]
    harm: float
    tie: float
    card: Card
    counted: Level

    @property
    def is_joint(self) -> bool:
        """Whether it says that sides are joined."""
        return bool(self.sides)

    @property
    def kind(self) -> str:
        """Its kind; `notApplicable` that names no reason says nothing of its subject."""
        return self.result.kind

    @property
    def accepted(self) -> str:
        """Who accepts it: "waiver", "baseline" or ""."""
        if self.result.suppression is not None:
            return "waiver"
        return "baseline" if self.result.baseline_state == "unchanged" else ""


class Revision:
    """One netlist of one revision, judged."""

    def __init__(self, judged: Judged) -> None:
        self.judged = judged
        self.netlist = Netlist(judged.cards, judged.context.circuit)
        self.path = judged.context.netlist
        self._cards: dict[tuple[str, int, int], Card] | None = None
        self.joints = {
            frozenset(context_path(judged, element) for element in join.cut): frozenset(map(str.casefold, join.sides))
            for outer in judged.context.interfaces.separation.joins
            for join in outer.each
        }
        self.findings = tuple(self._all())
        self._placed: Counter[int] = Counter()

    def _all(self) -> Iterator[Finding]:
        for result in self.judged.report.results:
            follows = result.kind == "notApplicable" and result.blocked_by == result.rule
            if result.baseline_state != "absent" and not follows:
                yield self._finding(result)

    def _finding(self, result: Result) -> Finding:
        circuit = self.judged.context.circuit
        carrier = result.subject
        if result.kind == "fail" and len(result.group) == 3 and result.group[2] != result.subject.casefold():
            found = circuit.find(result.group[2])
            carrier = carrier if found is None else circuit.path(found)
        members = frozenset(map(str.casefold, result.members)) or frozenset(
            word.casefold() for word in _WORDS.split(result.subject) if word and circuit.find(word) is not None
        )
        sides = frozenset[str]()
        if result.members:
            # Sides that name one net have no element between them: they are known by their subject.
            sides = self.joints.get(members, frozenset(result.subject.casefold().split(" | ")))
        counted: Level = result.level if result.kind == "fail" else result.counts_as
        keys = frozenset(fact.key for fact in result.missing) if result.kind == "open" else frozenset[str]()
        return Finding(result, carrier, members, sides, keys, *harm_of(result), self.card(result.where), counted)

    def card(self, place: Place) -> Card:
        """The element card at a place."""
        if self._cards is None:
            self._cards = {}
            cards: Cards = self.judged.cards
            for scope in self.netlist.placed:
                for index in range(len(cards.scopes[scope])):
                    at = cards.place(scope, index)
                    self._cards.setdefault((at.file, at.line, at.column), Card(at.file, scope, index))
        found = self._cards.get((place.file, place.line, place.column))
        return Card(place.file) if found is None else found._replace(file=place.file)

    def placed(self, card: Card) -> int:
        """How often the definition that a card stands in is placed; 1 for the top."""
        if not self._placed:
            circuit = self.judged.context.circuit
            self._placed.update(circuit.block(instance).scope for instance in circuit.instances)
        return self._placed[card.scope] if card.scope > TOP else 1

    @property
    def parts(self) -> set[str]:
        """The parts that results speak of, in lower case."""
        return {finding.result.part.casefold() for finding in self.findings if finding.result.part}


def calls(circuit: Circuit, element: int) -> Iterator[int]:
    """The subcircuit calls that lead to an element, the innermost first; nothing at the top level."""
    while path := circuit.instance_path(element):
        above = circuit.find(path)
        if above is None:
            return
        yield above
        element = above


def context_path(judged: Judged, element: int) -> str:
    """The path of an element in lower case."""
    return judged.context.circuit.path(element).casefold()


def harm_of(result: Result) -> tuple[float, float]:
    """How bad a failure is, and what decides between two that are infinitely bad."""
    if result.margin is not None and not math.isnan(result.margin.value):
        if result.margin.value > 0.0:
            return result.margin.required / result.margin.value, -result.margin.value
        return math.inf, -result.margin.value
    if result.measure is None:
        return 0.0, 0.0
    value = result.measure.value
    if result.measure.larger_is_worse:
        return value, value
    return (1.0 / value if value > 0.0 else math.inf), -value


def state(finding: Finding | None) -> State:
    """What a revision says, for the reader."""
    if finding is None:
        return State("absent")
    result = finding.result
    return State(
        result.kind,
        finding.counted,
        result.message,
        result.where,
        None if result.margin is None else result.margin.value,
        None if result.margin is None else result.margin.required,
        _number(result),
        None if result.measure is None or result.margin is not None else result.measure.value,
        result.measure is None or result.measure.larger_is_worse,
        finding.accepted,
        result.blocked_by,
    )


def _number(result: Result) -> Number | None:
    """The number that the verdict compares with its limit: that which the margin is made of, or None."""
    found: list[tuple[float, Number]] = []
    for evidence in result.evidence:
        if evidence.limit is None:
            continue
        end = "min" if evidence.limit.sense == "at_least" else "max"
        value = evidence.min if end == "min" else evidence.max
        if value is None:
            value = evidence.nominal
        if value is not None and math.isfinite(value):
            name = evidence.name or evidence.symbol
            corner = evidence.corners.get(end, "")
            limit = evidence.limit.value if math.isfinite(evidence.limit.value) else None
            number = Number(name, value, evidence.unit, limit, evidence.limit.sense, corner)
            found.append((_off(number, result), number))
    near = [each for each in found if each[0] < _SAME]
    return min(near, key=lambda each: each[0])[1] if near else None


def _off(number: Number, result: Result) -> float:
    """How far a number with its limit is from the margin of a result, as a ratio; 0 where that can't be told."""
    margin = result.margin
    if margin is None or number.limit is None or not math.isfinite(margin.value):
        return 0.0
    if margin.value <= 0.0 or margin.required <= 0.0:
        return 0.0
    ratio = number.value / number.limit if number.sense == "at_least" and number.limit else 0.0
    if number.sense != "at_least" and number.value:
        ratio = number.limit / number.value
    return abs(math.log(ratio / (margin.value / margin.required))) if ratio > 0.0 else math.inf


class Names:
    """Texts of results of the old revision in the names of the new one."""

    def __init__(self, found: Correspondence) -> None:
        self._found = found
        self._known: dict[str, str] = {}
        self._back: Correspondence | None = None

    def text(self, text: str) -> str:
        """A subject, role or side, in lower case."""
        known = self._known.get(text)
        if known is None:
            known = self._known[text] = self._text(text).casefold()
        return known

    def _text(self, text: str) -> str:
        whole = self._name(text)
        return whole if whole is not None else "".join(self._word(word) for word in _WORDS.split(text))

    def _word(self, word: str) -> str:
        whole = self._name(word)
        if whole is not None:
            return whole
        path, dot, pin = word.rpartition(".")
        element = self.element(path) if dot else None
        return word if element is None else f"{element}.{pin}"

    def _name(self, word: str) -> str | None:
        return None if not word.strip() else self.element(word) or self._found.net(word)

    def element(self, path: str) -> str | None:
        """What an element is called now, None where it is gone or never was one."""
        return self._found.path(path) if self._found.old.circuit.find(path) is not None else None

    def came(self, path: str) -> bool:
        """Whether an element of the new revision has no counterpart in the old one."""
        if self._back is None:
            self._back = self._found.reversed()
        return self._found.new.circuit.find(path) is not None and self._back.path(path) is None

    def key(self, key: str) -> str:
        """A key of a fact, the name in it translated."""
        return _QUOTED.sub(lambda found: f'"{self.text(found[1])}"', key).casefold()

    def set_of(self, names: frozenset[str]) -> frozenset[str]:
        """Several names."""
        return frozenset(self.text(name) for name in names)
