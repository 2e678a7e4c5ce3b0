"""The changes of a netlist that can be put back one by one: cards, models, parameters, keys of facts and records.

In: two netlists paired, and the settings of both. Out: atoms in the order of the cards. An atom is what a person would
name as one change; several numbers of one card are one atom.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from isolint.errors import Place
from isolint.netlist.cards import Number, Scope, Stimulus
from isolint.netlist.expressions import Expression
from isolint.review.correspondence import TOP, Correspondence, Netlist, pair_definitions
from isolint.review.pairing import ScopePair
from isolint.review.sketch import digits, plain
from isolint.review.values import Anchor
from isolint.units import show

AtomKind = Literal["value", "pins", "came", "gone", "model", "definition", "parameter", "temperature", "key"]
_MOST_PARTS = 3
"""Cards in which two definitions differ that are named."""
_UNITS = {"R": "ohm", "L": "H", "C": "F", "V": "V", "I": "A"}


class Atom(NamedTuple):
    """One change that can be put back.

    scope, old, new: the scope of the old netlist and the cards in both, -1 for none (of what came the scope of the new
    one). name: of the element, model, parameter or key. file: of a key. before, after: in words, "" for none. more:
    what else is to be said of it.
    """

    kind: AtomKind
    scope: int
    old: int
    new: int
    name: str
    before: str
    after: str
    file: str = ""
    place: Place | None = None
    former: Place | None = None
    more: str = ""

    @property
    def text(self) -> str:
        """`R12 went from 10 kohm to 4.7 kohm`."""
        return f"{self._said}, {self.more}" if self.more else self._said

    @property
    def _said(self) -> str:
        if self.kind == "definition":
            return f"the definition of {self.name} {'came' if self.after else 'is gone'}"
        if self.kind == "came":
            return f"{self.name} came ({self.after})"
        if self.kind == "gone":
            return f"{self.name} is gone (it was {self.before})"
        if self.kind == "pins":
            return f"{self.name} went from nets {self.before} to {self.after}"
        if self.before and self.after:
            return f"{self.name} went from {self.before} to {self.after}"
        return f"{self.name} = {self.after} came" if self.after else f"{self.name} = {self.before} is gone"

    @property
    def short(self) -> str:
        """`R12 10 kohm -> 4.7 kohm`, for several in one line."""
        if self.kind in ("came", "gone"):
            return f"{self.name} {self.kind}"
        if self.kind == "definition":
            return self.text
        return f"{self.name} {self.before or 'nothing'} -> {self.after or 'nothing'}"

    @property
    def anchors(self) -> tuple[Anchor, ...]:
        """The lines to speak on: that of now first."""
        found = [Anchor("new", self.place.file, self.place.line)] if self.place is not None else []
        if self.former is not None:
            found.append(Anchor("old", self.former.file, self.former.line))
        return tuple(found)


def atoms_of(found: Correspondence) -> tuple[Atom, ...]:
    """All atoms of the cards, scope by scope."""
    made: list[Atom] = []
    for scope, pair in found.scopes.items():
        if not pair.alike:
            made.extend(_of_cards(found, scope, pair))
            made.extend(_of_models(found, scope, pair))
    made.extend(_of_lost_definitions(found))
    made.extend(_of_parameters(found))
    old, new = found.old.cards.temperature, found.new.cards.temperature
    if old != new:
        before, after = ("" if each is None else show(each, "degC") for each in (old, new))
        made.append(Atom("temperature", TOP, -1, -1, "temperature", before, after))
    return tuple(made)


def _of_cards(found: Correspondence, scope: int, pair: ScopePair) -> Iterator[Atom]:
    old, new = found.old, found.new
    there = pair.new.scope
    lead = f"{old.cards.scopes[scope].name}:" if scope != TOP else ""

    def placed(kind: AtomKind, index: int, here: int, before: str, after: str) -> Atom:
        name = pair.new.names[here] if here >= 0 else pair.old.names[index]
        place = None if here < 0 else new.cards.place(there, here)
        former = None if index < 0 else old.cards.place(scope, index)
        more = _of_definitions(found, pair, scope, index, here)
        return Atom(kind, scope, index, here, lead + name, before, after, "", place, former, more)

    differing = pair.differing
    for index, here in differing.values:
        if not _by_parameter(old, new, scope, there, index, here):
            yield placed("value", index, here, worth(old, scope, index), worth(new, there, here))
    for index, here in differing.pins:
        before, after = old.cards.scopes[scope].nodes[index], new.cards.scopes[there].nodes[here]
        yield placed("pins", index, here, " ".join(before), " ".join(after))
    for here in differing.came:
        yield placed("came", -1, here, "", whole(new, there, here))
    for index in differing.gone:
        yield placed("gone", index, -1, whole(old, scope, index), "")


def _of_definitions(found: Correspondence, pair: ScopePair, scope: int, index: int, here: int) -> str:
    """What there is to say of the definitions that a card calls, where they are not each other's; "" for nothing."""
    one = found.old.called(scope, index) if index >= 0 else None
    two = found.new.called(pair.new.scope, here) if here >= 0 else None
    told = found.new.cards.scopes[two].name if two is not None else ""
    if two is not None and all(each.new.scope != two for each in found.scopes.values()) and one is None:
        return f"whose definition {told} came too"
    if one is not None and two is None:
        return "" if one in found.scopes else f"whose definition {found.old.cards.scopes[one].name} is gone too"
    if one is None or two is None or (one in found.scopes and found.scopes[one].new.scope == two):
        return ""
    own = pair_definitions(found.old, one, found.new, two)
    if not own.differing.number:
        return ""
    parts = [atom.short.partition(":")[2] for atom in _of_cards(found, one, own)]
    more = f" and {len(parts) - _MOST_PARTS} more" if len(parts) > _MOST_PARTS else ""
    return f"in which {', '.join(parts[:_MOST_PARTS])}{more}"


def _by_parameter(old: Netlist, new: Netlist, scope: int, there: int, index: int, here: int) -> bool:
    """Whether a card reads as before and differs by a parameter only, which is an atom of its own."""
    one, other = old.cards.scopes[scope], new.cards.scopes[there]
    same = one.models[index] == other.models[here]
    return same and _text(one, index) == _text(other, here) and "{" in _text(one, index)


def _text(scope: Scope, index: int) -> str:
    """Value and parameters as they are written, expressions in braces."""
    value = scope.values[index]
    parts = [f"{key}={written(each)}" for key, each in sorted(scope.tails.get(index, {}).items())]
    if isinstance(value, Stimulus):
        own = [value.kind, *([] if value.dc is None else [written(value.dc)]), *map(written, value.args)]
        return " ".join([*own, *parts])
    return " ".join(([] if value is None else [written(value)]) + parts)


def written(value: Number | str) -> str:
    """A number to nine digits, an expression in braces without blanks, a word as it is."""
    if isinstance(value, Expression):
        return f"{{{plain(value.text)}}}"
    return value.casefold() if isinstance(value, str) else digits(value)


def worth(netlist: Netlist, scope: int, index: int) -> str:
    """What a card is worth, in words: its value with the unit, its model, its parameters."""
    columns = netlist.cards.scopes[scope]
    letter, value = columns.letters[index], columns.values[index]
    unit = _UNITS.get(letter, "")
    words = [columns.models[index] or ""]
    if isinstance(value, Stimulus):
        if value.kind != "DC":
            words.append(f"{value.kind} {' '.join(map(written, value.args))}".strip())
        value = value.dc
    if value is not None:
        number = netlist.circuit.value(index) if scope == TOP and isinstance(value, Expression) else value
        if isinstance(number, float | int):
            words.append(show(float(number), unit, 6) if unit else digits(number))
        else:
            words.append(written(value))
    words += [f"{key}={written(each)}" for key, each in sorted(columns.tails.get(index, {}).items())]
    return " ".join(word for word in words if word)


def whole(netlist: Netlist, scope: int, index: int) -> str:
    """A card in words: what it is worth and its nets."""
    nets = " ".join(netlist.cards.scopes[scope].nodes[index])
    return f"{worth(netlist, scope, index)} at {nets}".strip()


def _of_models(found: Correspondence, scope: int, pair: ScopePair) -> Iterator[Atom]:
    """The `.model` cards that the cards of a scope name and that say something else, each once."""
    done: set[str] = set()
    for index, here in pair.pairs.elements.items():
        name = found.old.cards.scopes[scope].models[index]
        other = found.new.cards.scopes[pair.new.scope].models[here]
        if name is None or other is None or name.casefold() != other.casefold() or name.casefold() in done:
            continue
        done.add(name.casefold())
        if pair.old.models[index] == pair.new.models[here] or pair.old.kinds[index] != pair.new.kinds[here]:
            continue
        one = found.old.cards.find_model(name, scope)
        two = found.new.cards.find_model(other, pair.new.scope)
        if one is None or two is None:
            # A definition is compared card by card; here only one that came or went.
            if (one is None) != (two is None):
                before, after = ("" if each is None else ".model" for each in (one, two))
                places = None if two is None else two.place, None if one is None else one.place
                yield Atom("model", scope, -1, -1, other, before, after, "", *places)
            continue
        words: tuple[list[str], list[str]] = ([], [])
        for key in sorted({*one.parameters, *two.parameters}):
            pair_of = [each.parameters.get(key) for each in (one, two)]
            said = ["" if each is None else written(each) for each in pair_of]
            if said[0] != said[1]:
                for told_of, each in zip(words, said, strict=True):
                    told_of.append(f"{key}={each or 'default'}")
        if one.type != two.type:
            words[0].insert(0, one.type)
            words[1].insert(0, two.type)
        yield Atom("model", scope, -1, -1, other, " ".join(words[0]), " ".join(words[1]), "", two.place, one.place)


def _of_lost_definitions(found: Correspondence) -> Iterator[Atom]:
    """Definitions that only one of two netlists has although cards of both call them, each once."""
    done: set[tuple[str, bool]] = set()
    for scope, pair in found.scopes.items():
        for index, here in pair.pairs.elements.items():
            if found.old.cards.scopes[scope].letters[index] != "X":
                continue
            one, two = found.old.called(scope, index), found.new.called(pair.new.scope, here)
            if (one is None) == (two is None):
                continue
            old, new = found.old.cards.scopes, found.new.cards.scopes
            name = old[one].name if one is not None else new[two or 0].name
            same = (old[scope].models[index] or "").casefold() == (new[pair.new.scope].models[here] or "").casefold()
            if not same or (name.casefold(), two is None) in done:
                continue  # another name is a change of the card
            done.add((name.casefold(), two is None))
            words = ("its definition", "") if one is not None else ("", "a definition")
            places = None if two is None else new[two].place, None if one is None else old[one].place
            numbers = -1 if one is None else one, -1 if two is None else two
            yield Atom("definition", scope, *numbers, name, *words, "", *places)


def _of_parameters(found: Correspondence) -> Iterator[Atom]:
    """Parameters that something names, directly or through others, and that are worth something else."""
    for scope, pair in found.scopes.items():
        one, two = found.old.cards.scopes[scope], found.new.cards.scopes[pair.new.scope]
        before, after = {**one.defaults, **one.parameters}, {**two.defaults, **two.parameters}
        changed = {key for key in {*before, *after} if _said(before, key) != _said(after, key)}
        if not changed:
            continue
        used = _used(found.old) | _used(found.new)
        lead = f"{two.name}:" if scope != TOP else ""
        for key in sorted(changed & used):
            yield Atom("parameter", scope, -1, -1, lead + key, _said(before, key), _said(after, key))


def _said(parameters: Mapping[str, Number], key: str) -> str:
    value = parameters.get(key)
    return "" if value is None else written(value)


def _used(netlist: Netlist) -> set[str]:
    """The names of parameters that cards name, directly or through others."""
    found: set[str] = set()
    expressions: dict[str, set[str]] = {}
    for index in netlist.placed:
        scope = netlist.cards.scopes[index]
        for value in scope.values:
            for number in (value.dc, *value.args) if isinstance(value, Stimulus) else (value,):
                found |= _names(number)
        for tail in scope.tails.values():
            for each in tail.values():
                found |= _names(each)
        for level in (index, *_outer(netlist, index)):
            for model in netlist.cards.scopes[level].models_by_name.values():
                for amount in model.parameters.values():
                    found |= _names(amount)
            stated = {**netlist.cards.scopes[level].defaults, **netlist.cards.scopes[level].parameters}
            for key, worth_of in stated.items():
                expressions.setdefault(key, set()).update(_names(worth_of))
    waiting = list(found)
    while waiting:
        for name in expressions.get(waiting.pop(), set()) - found:
            found.add(name)
            waiting.append(name)
    return found


def _outer(netlist: Netlist, scope: int) -> Iterator[int]:
    scope = netlist.cards.scopes[scope].parent
    while scope >= 0:
        yield scope
        scope = netlist.cards.scopes[scope].parent


def _names(value: object) -> set[str]:
    return {name.lower() for name in value.names()} if isinstance(value, Expression) else set()
