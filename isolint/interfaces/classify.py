"""Answers about names and subcircuits: which record a part has, what its own subcircuit is, whether a call is a sheet.

In: cards, facts and part records. Out: a `Classifier`, asked before the circuit is built and again when its parts are
recognised. Every answer about a subcircuit is worked out once, however often it is placed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from isolint import types
from isolint.facts import Facts
from isolint.interfaces.subcircuit_body import LEAST_PORTS, PortStructure, says_nothing, structure
from isolint.netlist.cards import Cards
from isolint.parts import PartRecord, Parts, derive_groups
from isolint.recognition import Hint, StructureVerdict, hint_of, recognise_body

_SOME_COUPLER = ("optocoupler", "optoisolator", "photocoupler", "opto", "coupler", "photo", "isol")
_HINTS = (
    *((word, kind.name) for kind in types.BY_NAME.values() for word in kind.signs.words),
    *((word, "") for word in _SOME_COUPLER),
)
"""Words that suggest what a part is; a hint alone never decides."""

BEHAVIOURAL = frozenset("EGFHBAU")
_CROSSING = frozenset("EGFHBSW")
"""Letters that carry a signal over a body's port groups; a body without them is a sheet, and expanded."""
_COILS = frozenset("LKRC")
MAX_PATHS = 200_000
"""Subcircuit calls looked at, at most, for facts that name an element by its path."""


@lru_cache(maxsize=65536)
def name_hint(name: str) -> str | None:
    """The type that a part's name suggests, "" for a coupler of some type, None for no hint."""
    folded = name.casefold().replace("-", "_").replace(" ", "_")
    plain = folded.replace("_", "")
    return next((kind for word, kind in _HINTS if word in folded or word in plain), None)


@lru_cache(maxsize=65536)
def hint_for(name: str, pins: int) -> Hint | None:
    """What a name suggests by its series of type numbers, else by a word in it; None for nothing."""
    series = hint_of(name, pins)
    if series is not None:
        return series
    word = name_hint(name)
    return None if word is None else Hint(word, is_word=True)


def named_groups(body: PortStructure, ports: Sequence[str], kind: str) -> tuple[tuple[int, ...], ...]:
    """The port groups that names tell, where a body has them too: it joins no two of them. () where they differ, where
    names leave a choice, or where fewer than two groups have two ports."""
    groups, doubtful = derive_groups(ports, kind)
    if doubtful or sum(len(group) > 1 for group in groups) < 2:
        return ()
    at = {port: number for number, group in enumerate(groups) for port in group}
    return groups if all(len({at[port] for port in group}) == 1 for group in body.groups) else ()


class Classifier:
    """Answers about names and subcircuits, each worked out once."""

    def __init__(self, cards: Cards, facts: Facts, records: Parts) -> None:
        self.cards = cards
        self.facts = facts
        self.records = records
        self.structure: Callable[[int], PortStructure] = lru_cache(maxsize=None)(lambda scope: structure(cards, scope))
        self.verdict: Callable[[int], StructureVerdict] = lru_cache(maxsize=None)(self._verdict)
        self.own_type: Callable[[int], str] = lru_cache(maxsize=None)(self._own_type)
        self._holds: Callable[[int], bool] = lru_cache(maxsize=None)(self._holds_barrier_part)
        self._plain: dict[tuple[int, str], bool] = {}
        rows = facts.elements.rows
        self.says_what = any({"part", "type", "ordinary"} & row.keys() for row in rows.values())
        """Whether some fact says what an element is."""
        self._decides = self.says_what or any("sheet" in row for row in rows.values())
        self._above: frozenset[str] | None = None

    def record_for(self, path: str, name: str | None) -> PartRecord | None:
        """The record that a declaration names, else the one with the part's own name."""
        declared = self.facts.element(path).part if self.says_what else None
        if declared is not None:
            return self.records.find(declared.value)
        return None if name is None else self.records.find(name)

    def _verdict(self, scope: int) -> StructureVerdict:
        """What the structure of a subcircuit says, confirmed or contradicted by its name."""
        header = self.cards.scopes[scope]
        return recognise_body(self.cards, scope, lambda: hint_for(header.name, len(header.ports)))

    def _own_type(self, scope: int) -> str:
        """What a subcircuit is by its structure, else by name, ports and structure together; "" for none."""
        verdict = self.verdict(scope)
        return verdict.type if verdict.is_answered else self.named_type(scope)

    def named_type(self, scope: int) -> str:
        """The type without an LED that a subcircuit's name, its ports and its structure agree on, "" for none."""
        header = self.cards.scopes[scope]
        hint = name_hint(header.name) if len(header.ports) >= LEAST_PORTS else None
        if (
            not hint
            or not types.of(hint).signs.by_ports
            or header.unreadable
            or not _CROSSING.intersection(header.letters)
        ):
            return ""
        return hint if named_groups(self.structure(scope), header.ports, hint) else ""

    def is_sheet(self, path: str, scope: int, name: str) -> bool:
        """Whether a subcircuit call is a sheet to be expanded (else it is a leaf part)."""
        if self._decides:
            facts = self.facts.element(path)
            if facts.sheet is not None:
                return bool(facts.sheet.value)
            if (
                facts.part is not None
                or facts.type is not None
                or (facts.ordinary is not None and facts.ordinary.value)
            ):
                return False
            if path.casefold() in self._named_from_above():
                return True
        key = (scope, name)
        known = self._plain.get(key)
        if known is None:
            known = self._plain[key] = self._is_plain_sheet(scope, name)
        return known

    def _is_plain_sheet(self, scope: int, name: str) -> bool:
        """Whether it is a sheet where no fact about it says so."""
        if self.records.find(name) is not None:
            return False
        body = self.cards.scopes[scope]
        if self._holds(scope):
            # A package of nothing but couplers is one part, a circuit around couplers is a sheet.
            return not (len(body) > 1 and set(body.letters) == {"X"} and self._is_package(scope))
        if self.own_type(scope):
            return False
        # A circuit around coils of its own is a sheet, whatever its structure leaves open.
        verdict = self.verdict(scope)
        if verdict.is_asked and (verdict.channels or _COILS.issuperset(body.letters)):
            return False
        # Expanded, a body that says nothing would isolate all its pins.
        return not says_nothing(self.cards, scope) and not self._behaves(scope) and not body.models_by_name

    def _behaves(self, scope: int) -> bool:
        """Whether a body holds behavioural cards; a U card of an export that names a part which nothing defines, as
        such programs write the parts of a sheet, is none."""
        body = self.cards.scopes[scope]
        found = BEHAVIOURAL.intersection(body.letters)
        if found != {"U"}:
            return bool(found)
        return not all(
            len(body.nodes[at]) >= LEAST_PORTS and "digital" not in body.tails.get(at, ())
            for at, letter in enumerate(body.letters)
            if letter == "U"
        )

    def _is_package(self, scope: int) -> bool:
        """Whether a body of subcircuit calls alone is a part by its structure, and no record knows what it calls."""
        names = self.cards.scopes[scope].models
        known = any(name is not None and self.records.find(name) is not None for name in names)
        return not known and not self._decides and self.verdict(scope).is_answered

    def _holds_barrier_part(self, scope: int) -> bool:
        """Whether a body holds a barrier part at any depth, by its own cards and facts that name no path."""
        seen = {scope}
        waiting = [scope]
        while waiting:
            at = waiting.pop()
            body = self.cards.scopes[at]
            for index, letter in enumerate(body.letters):
                if letter not in "XUA":
                    continue
                name, own = body.models[index], body.names[index]
                facts = self.facts.element(own) if self._decides else None
                if facts is not None and facts.ordinary is not None and facts.ordinary.value:
                    continue
                if facts is not None and facts.type is not None:
                    if types.of(facts.type.value).isolates:
                        return True
                    continue
                record = self.record_for(own, name)
                if record is not None:
                    if types.of(record.type).isolates:
                        return True
                    continue
                called = None if name is None or letter != "X" else self.cards.find_subcircuit(name, at)
                if called is None or (facts is not None and facts.sheet is not None and not facts.sheet.value):
                    continue
                if self.own_type(called) or self.verdict(called).is_asked:
                    return True
                if called not in seen:
                    seen.add(called)
                    waiting.append(called)
        return False

    def _named_from_above(self) -> frozenset[str]:
        """The paths, in folded case, of all calls that hold an element which a fact names by its path as a part."""
        if self._above is None:
            rows = self.facts.elements.rows
            named = any("." in name and ("part" in row or "type" in row) for name, row in rows.items())
            self._above = frozenset(self._look_below() if named else ())
        return self._above

    def _look_below(self) -> set[str]:
        above: set[str] = set()
        looked = 0
        waiting: list[tuple[str, int, tuple[int, ...]]] = [("", 0, (0,))]
        for prefix, at, chain in waiting:  # grows while it is walked
            body = self.cards.scopes[at]
            for index, letter in enumerate(body.letters):
                if letter not in "XUA":
                    continue
                looked += 1
                if looked > MAX_PATHS:
                    return above
                path = prefix + body.names[index]
                facts = self.facts.element(path)
                isolates = facts.type is not None and types.of(facts.type.value).isolates
                if prefix and (facts.part is not None or isolates):
                    parts = prefix.casefold()[:-1]
                    while parts and parts not in above:
                        above.add(parts)
                        parts = parts.rpartition(".")[0]
                name = body.models[index]
                called = None if name is None or letter != "X" else self.cards.find_subcircuit(name, at)
                if called is not None and called not in chain:
                    waiting.append((path + ".", called, (*chain, called)))
        return above
