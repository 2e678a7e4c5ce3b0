"""What made a change of results: changes put back in memory until the old result is there again.

One change alone needs no trial: to put it back is the old netlist. Of several those in the chain of the item are tried
one by one, then by halves until no smaller set does. Trials are counted; when they are used up, the candidates are told
instead.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import Protocol

from isolint.app import Options, judge
from isolint.errors import IsolintError
from isolint.preparing import Instead
from isolint.review.atoms import Atom
from isolint.review.classing import Classed, Classes
from isolint.review.correspondence import TOP, Correspondence
from isolint.review.findings import Finding, Names, Revision, calls
from isolint.review.hybrid import with_put_back
from isolint.review.keys import KeyChange, put_back
from isolint.review.values import COUNTING, Anchor, Cause
from isolint.source import Tree
from isolint.worstcase.budget import Meter

MOST_AN_ITEM = 24
MOST_A_NETLIST = 60
SHARE = 0.4
"""Solved points that trials may take, as a share of what judging both revisions took."""
_LEAST_WORK = 400
_SHOWN = 3

Key = tuple[Hashable, ...]


class Trials(Protocol):
    """Which items are there with some changes put back."""

    def live(self, atoms: frozenset[int]) -> frozenset[Key] | None:
        """The keys of what is new, worse, open ... then; None where such a netlist can't be judged."""
        ...

    @property
    def may(self) -> bool:
        """Whether one more trial is allowed."""
        ...

    def knows(self, atoms: frozenset[int]) -> bool:
        """Whether these were tried before, so that to ask again costs nothing."""
        ...


def key_of(item: Classed) -> Key:
    """What an item is known by in the trials: its kind of fault, not its numbers."""
    finding = item.finding
    if finding.kind == "open" and finding.keys:
        return ("open", *sorted(key.casefold() for key in finding.keys))
    return (finding.result.rule, finding.result.subject.casefold(), finding.result.role.casefold())


class Hybrids:
    """Trials of one netlist."""

    def __init__(
        self,
        old: Revision,
        new: Revision,
        found: Correspondence,
        atoms: Sequence[Atom],
        keys: Sequence[tuple[KeyChange, str]],
        trees: tuple[Tree, Tree],
        options: Options,
    ) -> None:
        self._old, self._new, self._found = old, new, found
        self._atoms, self._keys, self._trees, self._options = atoms, keys, trees, options
        self._known: dict[frozenset[int], frozenset[Key] | None] = {}
        spent = sum(_spent(each) for each in (old, new))
        self._left = max(SHARE * spent, _LEAST_WORK)
        self.number = 0

    @property
    def may(self) -> bool:
        """Whether one more trial is allowed."""
        return self.number < MOST_A_NETLIST and self._left > 0

    def knows(self, atoms: frozenset[int]) -> bool:
        """Whether these were tried before."""
        return atoms in self._known

    def live(self, atoms: frozenset[int]) -> frozenset[Key] | None:
        """What counts with some changes put back: cards by number, then keys of facts behind them."""
        if atoms not in self._known:
            self.number += 1
            self._known[atoms] = self._tried(atoms)
        return self._known[atoms]

    def _tried(self, atoms: frozenset[int]) -> frozenset[Key] | None:
        count = len(self._atoms)
        solver = self._new.judged.context.analysis.solver
        kept, solver.meter = solver.meter, Meter()
        try:
            cards = with_put_back(self._found, [self._atoms[n] for n in sorted(atoms) if n < count])
            tree = put_back(*self._trees, [self._keys[n - count] for n in sorted(atoms) if n >= count])
            judged = judge(tree, self._new.path, "", self._options, instead=Instead(cards, solver))
            classes = Classes(self._old, Revision(judged), Names(self._found)).all()
        except (IsolintError, LookupError, ValueError):
            # What is put together from two netlists need not be one.
            return None
        finally:
            self._left -= sum(solver.meter.spent.values())
            solver.meter = kept
        return frozenset(key_of(item) for item in classes if item.state in COUNTING)


def _spent(revision: Revision) -> int:
    return sum(revision.judged.context.analysis.meter.spent.values())


class Causes:
    """Finds the cause of items of one netlist. texts: what each change says; chains: the changes near an item."""

    def __init__(self, atoms: Sequence[Atom], keys: Sequence[KeyChange], trials: Trials) -> None:
        self._texts = [atom.text for atom in atoms] + [_key_text(change) for change in keys]
        self._short = [atom.short for atom in atoms] + [_key_short(change) for change in keys]
        self._anchors = [atom.anchors for atom in atoms] + [_key_anchors(change) for change in keys]
        self._trials = trials

    def of(self, item: Classed, chain: Sequence[int]) -> Cause:
        """The cause of one item. chain: the numbers of the changes that its numbers rest on, nearest first."""
        total = len(self._texts)
        if total == 0:
            return Cause()
        if total == 1:
            return self._cause("one", [0], 0, proven=True)
        if item.state not in COUNTING:
            return self._cause("one", chain, 0) if len(chain) == 1 else self._cause("among", chain, 0)
        return self._sought(key_of(item), list(dict.fromkeys(chain)))

    def _sought(self, key: Key, chain: list[int]) -> Cause:
        everything = frozenset(range(len(self._texts)))
        used = 0
        spent = False

        def undone(atoms: Iterable[int]) -> bool:
            nonlocal used, spent
            chosen = frozenset(atoms)
            if not chosen or chosen == everything:
                return chosen == everything
            if used >= MOST_AN_ITEM or not (self._trials.may or self._trials.knows(chosen)):
                spent = True
                return False
            used += 1
            live = self._trials.live(chosen)
            return live is not None and key not in live

        candidates = chain or sorted(everything)
        if not undone(candidates):
            if spent:
                return self._cause("among", candidates, used)
            candidates = [*candidates, *sorted(everything.difference(candidates))]
        single = [atom for atom in candidates if len(candidates) == 1 or undone([atom])]
        if spent and not single:
            return self._cause("among", candidates, used)
        if single:
            kind = "one" if len(single) == 1 else "any"
            return self._cause(kind, single, used, proven=True)
        smallest = _minimal(candidates, undone)
        if spent:
            return self._cause("among", smallest, used)
        return self._cause("together", smallest, used, proven=True)

    def _cause(self, kind: str, atoms: Sequence[int], trials: int, proven: bool = False) -> Cause:
        if not atoms:
            return Cause()
        told = (
            [self._texts[atoms[0]]]
            if kind == "one" or len(atoms) == 1
            else [self._short[atom] for atom in atoms[: 2 * _SHOWN]]
        )
        shown = told if len(atoms) <= _SHOWN + 1 else told[:_SHOWN]
        anchors = tuple(anchor for atom in atoms for anchor in self._anchors[atom])
        return Cause(kind, tuple(shown), anchors, len(atoms) - len(shown), trials, proven)  # type: ignore[arg-type]


class _Undone(Protocol):
    def __call__(self, atoms: Iterable[int]) -> bool: ...


def _minimal(candidates: list[int], undone: _Undone) -> list[int]:
    """A set that undoes and of which no part by itself does when one is left out (halves, complements, finer)."""
    left, parts = candidates, 2
    while len(left) > 1:
        size = max(1, len(left) // parts)
        chunks = [left[at : at + size] for at in range(0, len(left), size)]
        for chunk in chunks:
            if len(chunk) < len(left) and undone(chunk):
                left, parts = chunk, 2
                break
        else:
            for chunk in chunks:
                rest = [atom for atom in left if atom not in chunk]
                if len(chunks) > 2 and undone(rest):
                    left, parts = rest, max(parts - 1, 2)
                    break
            else:
                if size == 1:
                    return left
                parts = min(len(left), 2 * parts)
    return left


def _key_anchors(change: KeyChange) -> tuple[Anchor, ...]:
    return (Anchor("new" if change.after else "old", change.file, change.line),)


def _key_text(change: KeyChange) -> str:
    return f"{change.name} went from {change.before or 'nothing'} to {change.after or 'nothing'}"


def _key_short(change: KeyChange) -> str:
    return f"{change.name} {change.before or 'nothing'} -> {change.after or 'nothing'}"


def chain_of(
    item: Classed, old: Revision, new: Revision, atoms: Sequence[Atom], keys: Sequence[KeyChange]
) -> list[int]:
    """The changes that the numbers of an item rest on: at its place first, then along its chain, then facts."""
    here = [] if item.after is None else _cards(new, item.after)
    before = [] if item.before is None else _cards(old, item.before)
    rank: dict[int, int] = {}
    for number, atom in enumerate(atoms):
        now = new.card(atom.place) if atom.place is not None else None
        places = [here.index((now.scope, now.place))] if now is not None and (now.scope, now.place) in here else []
        if atom.former is not None and (atom.scope, atom.old) in before:
            places.append(before.index((atom.scope, atom.old)))
        if places:
            rank[number] = min(places)
        elif atom.kind in ("model", "definition", "parameter", "temperature"):
            rank[number] = len(here) + len(before)
    asked = old.judged.asked | new.judged.asked
    for number, change in enumerate(keys, len(atoms)):
        if any(file == change.file and name.casefold() == change.name.casefold() for file, name in asked):
            rank[number] = len(here) + len(before) + 1
    return sorted(rank, key=lambda number: (rank[number], number))


def _cards(revision: Revision, finding: Finding) -> list[tuple[int, int]]:
    """The cards that a result rests on, nearest first: its own, its chain, the networks of its channel."""
    result = finding.result
    context = revision.judged.context
    found: dict[tuple[int, int], None] = {}
    for place in (result.where, *(link.place for link in result.related)):
        card = revision.card(place)
        if card.scope >= TOP:
            found[card.scope, card.place] = None
    for channel in context.channels:
        if channel.part.path == result.part and result.part:
            near = (channel.part.element, *channel.drive.elements, *channel.load.elements)
            for element in (*near, *dict.fromkeys(call for each in near for call in calls(context.circuit, each))):
                instance, index = context.circuit.locate(element)
                found[context.circuit.block(instance).scope, index] = None
    return list(found)
