"""Two netlists with their scopes, elements and nets paired: what a path of the old one is called in the new one.

Definitions are paired by name, what is left of them by what they hold; a definition that nothing places is not looked
at. Elements are paired once a definition and reached by their paths.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field

from isolint.circuit import Circuit
from isolint.netlist.cards import Cards
from isolint.review.isomorphism import Pairs
from isolint.review.pairing import ScopePair, pair_scopes
from isolint.review.sketch import Sketch, sketch

TOP = 0


class Netlist:
    """One revision of a netlist as cards and circuit, with the scopes that it places and what they hold."""

    def __init__(self, cards: Cards, circuit: Circuit) -> None:
        self.cards = cards
        self.circuit = circuit
        self.placed = _placed(cards)

    def name(self, scope: int) -> str:
        """The name of a definition in lower case, inside which others it stands included; "" for the top."""
        names = []
        while scope > TOP:
            names.append(self.cards.scopes[scope].name.casefold())
            scope = self.cards.scopes[scope].parent
        return "/".join(reversed(names))

    def called(self, scope: int, index: int) -> int | None:
        """The scope that a card calls."""
        columns = self.cards.scopes[scope]
        name = columns.models[index]
        return None if name is None or columns.letters[index] != "X" else self.cards.find_subcircuit(name, scope)

    def written(self, scope: int) -> Hashable:
        """What a definition says, whatever the order of its cards."""
        columns = self.cards.scopes[scope]
        cards = []
        for index, letter in enumerate(columns.letters):
            nodes = (*columns.nodes[index], *columns.controls.get(index, ()))
            value, tail = columns.values[index], columns.tails.get(index, {})
            model = columns.models[index] or ""
            said = (model.casefold(), repr(value), repr(sorted(tail.items())))
            cards.append((letter, tuple(map(str.casefold, nodes)), said))
        return columns.ports, columns.unreadable, tuple(sorted(cards))


def _placed(cards: Cards) -> list[int]:
    """The scopes that are reached from the top, each behind one that calls it."""
    order: dict[int, None] = {}
    done: set[int] = set()
    waiting = [(TOP, False)]
    while waiting:
        scope, left = waiting.pop()
        if left:
            order[scope] = None
            continue
        if scope in done:
            continue
        done.add(scope)
        waiting.append((scope, True))
        columns = cards.scopes[scope]
        for index, letter in enumerate(columns.letters):
            name = columns.models[index]
            inner = cards.find_subcircuit(name, scope) if letter == "X" and name is not None else None
            if inner is not None and inner not in done:
                waiting.append((inner, False))
    return list(order)[::-1]


@dataclass(slots=True, eq=False, repr=False)
class Correspondence:
    """All pairs of scopes of two netlists, by the index of the old one."""

    old: Netlist
    new: Netlist
    scopes: dict[int, ScopePair]
    _paths: dict[str, str | None] = field(default_factory=dict)
    _nets: dict[int, Mapping[str, int]] = field(default_factory=dict)

    def reversed(self) -> Correspondence:
        """The same pairs, asked from the new netlist."""
        back = {
            pair.new.scope: ScopePair(
                pair.new,
                pair.old,
                Pairs(
                    {there: here for here, there in pair.pairs.elements.items()},
                    {there: here for here, there in pair.pairs.nets.items()},
                ),
                pair.differing,
                pair.alike,
            )
            for pair in self.scopes.values()
        }
        return Correspondence(self.new, self.old, back)

    @property
    def share(self) -> float:
        """Share of the old cards that have a counterpart from which they don't differ."""
        total = same = 0
        for pair in self.scopes.values():
            differs = {index for index, _ in (*pair.differing.values, *pair.differing.pins)}
            total += len(pair.old.names)
            same += sum(index not in differs for index in pair.pairs.elements)
        missing = [scope for scope in self.old.placed if scope not in self.scopes]
        total += sum(len(self.old.cards.scopes[scope]) for scope in missing)
        return same / total if total else 0.0

    def path(self, path: str) -> str | None:
        """What the element of an old path is called in the new netlist, None where it is gone."""
        if path not in self._paths:
            self._paths[path] = self._path(path)
        return self._paths[path]

    def _path(self, path: str) -> str | None:
        element = self.old.circuit.find(path)
        if element is None:
            return self._sheet(path)
        instance, index = self.old.circuit.locate(element)
        scope = self.old.circuit.block(instance).scope
        lead = self._lead(path[: len(path) - len(self.old.circuit.name(element))])
        pair = self.scopes.get(scope)
        there = None if pair is None else pair.pairs.elements.get(index)
        return None if there is None or lead is None or pair is None else lead + pair.new.names[there]

    def _sheet(self, path: str) -> str | None:
        lead = self._lead(path + ".")
        return None if lead is None else lead[:-1]

    def _lead(self, prefix: str) -> str | None:
        """The path of an instance, with its closing dot, in the new netlist."""
        scope, there = TOP, ""
        rest = prefix
        while rest:
            pair = self.scopes.get(scope)
            if pair is None:
                return None
            step = self._step(pair, scope, rest)
            if step is None:
                return None
            index, used, inner = step
            found = pair.pairs.elements.get(index)
            if found is None:
                return None
            there += pair.new.names[found] + "."
            rest, scope = rest[used:], inner
        return there

    def _step(self, pair: ScopePair, scope: int, rest: str) -> tuple[int, int, int] | None:
        """The card that a path leads through first, how many characters of it that takes, and the scope it calls."""
        dot = rest.find(".")
        while dot >= 0:
            word = rest[:dot].casefold()
            for index, name in enumerate(pair.old.names):
                if name.casefold() == word:
                    inner = self.old.called(scope, index)
                    if inner is not None:
                        return index, dot + 1, inner
            dot = rest.find(".", dot + 1)
        return None

    def net(self, name: str) -> str | None:
        """What an old net is called in the new netlist, None where it has no counterpart."""
        net = self.old.circuit.find_net(name)
        if net is None:
            return None
        instance, local = self.old.circuit.locate_net(net)
        block = self.old.circuit.block(instance)
        pair = self.scopes.get(block.scope)
        full = self.old.circuit.net_name(net)
        own = full if block.scope == TOP else block.own_nets.get(local, full)
        if pair is None:
            return None
        index = self._nets_of(block.scope, pair).get(own.casefold())
        there = None if index is None else pair.pairs.nets.get(index)
        lead = self._lead(full[: len(full) - len(own)])
        return None if there is None or lead is None else lead + pair.new.nets[there]

    def _nets_of(self, scope: int, pair: ScopePair) -> Mapping[str, int]:
        if scope not in self._nets:
            self._nets[scope] = {each.casefold(): number for number, each in enumerate(pair.old.nets)}
        return self._nets[scope]


def correspond(old: Netlist, new: Netlist) -> Correspondence:
    """Pair two netlists."""
    partner = _definitions(old, new)
    renamed = {
        new.cards.scopes[there].name.casefold(): old.cards.scopes[here].name.casefold()
        for here, there in partner.items()
        if here > TOP
    }
    same: Mapping[str, str] = {name: first for name, first in renamed.items() if name != first}
    pairs: dict[int, ScopePair] = {}
    tokens: tuple[dict[int, Hashable], dict[int, Hashable]] = ({}, {})
    # Those that are called come first, so that a call knows whether both mean the same.
    for here in reversed(old.placed):
        if here in partner:
            there = partner[here]
            pair = pair_scopes(_look(old, here, {}, tokens[0]), _look(new, there, same, tokens[1]))
            pairs[here] = pair
            if pair.alike:
                tokens[0][here] = tokens[1][there] = ("alike", here)
    return Correspondence(old, new, dict(sorted(pairs.items())))


def _look(netlist: Netlist, scope: int, renamed: Mapping[str, str], tokens: Mapping[int, Hashable]) -> Sketch:
    def definition(at: int, index: int) -> Hashable:
        inner = netlist.called(at, index)
        return None if inner is None else tokens.get(inner, (id(netlist), inner))

    return sketch(netlist.cards, netlist.circuit, scope, definition, lambda name: renamed.get(name, name))


def pair_definitions(old: Netlist, here: int, new: Netlist, there: int) -> ScopePair:
    """Pair two definitions that need not be each other's; what they call counts as different."""
    return pair_scopes(_look(old, here, {}, {}), _look(new, there, {}, {}))


def _definitions(old: Netlist, new: Netlist) -> dict[int, int]:
    """Pairs of placed definitions, each once: by name, then by content, then by the cards that call them."""
    there = {new.name(scope): scope for scope in reversed(new.placed)}
    found = {scope: there[name] for scope in old.placed if (name := old.name(scope)) in there}
    found[TOP] = TOP
    taken = set(found.values())
    left: dict[Hashable, list[int]] = {}
    for scope in new.placed:
        if scope not in taken:
            left.setdefault(new.written(scope), []).append(scope)
    for scope in old.placed:
        if scope not in found and left.get(old.written(scope)):
            found[scope] = left[old.written(scope)].pop(0)
    while more := _called_alike(old, new, found):
        found.update(more)
    return found


def _called_alike(old: Netlist, new: Netlist, found: Mapping[int, int]) -> dict[int, int]:
    """Definitions without a partner that cards of one name call in scopes that are paired, if half of them is alike."""
    taken = set(found.values())
    votes: Counter[tuple[int, int]] = Counter()
    for here, there in found.items():
        calls = {
            name.casefold(): inner
            for index, name in enumerate(new.cards.scopes[there].names)
            if (inner := new.called(there, index)) is not None and inner not in taken
        }
        for index, name in enumerate(old.cards.scopes[here].names) if calls else ():
            inner = calls.get(name.casefold())
            called = None if inner is None else old.called(here, index)
            if inner is not None and called is not None and called not in found:
                votes[called, inner] += 1
    made: dict[int, int] = {}
    for (here, there), _ in sorted(votes.items(), key=lambda each: (-each[1], each[0])):
        if here not in made and there not in made.values() and _half_alike(old, here, new, there):
            made[here] = there
    return made


def _half_alike(old: Netlist, here: int, new: Netlist, there: int) -> bool:
    one, other = (
        {(letter, name.casefold()) for letter, name in zip(each.letters, each.names, strict=True)}
        for each in (old.cards.scopes[here], new.cards.scopes[there])
    )
    return 2 * len(one & other) >= max(len(one), len(other), 1)
