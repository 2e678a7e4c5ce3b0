"""The new netlist with some changes put back, as cards in memory: what would be judged had they not been made."""

from __future__ import annotations

import copy
from array import array
from collections.abc import Callable, Iterable

from isolint.netlist.cards import Cards, Number, Scope
from isolint.review.atoms import Atom
from isolint.review.correspondence import TOP, Correspondence


def with_put_back(found: Correspondence, atoms: Iterable[Atom]) -> Cards:
    """The cards of the new netlist with some atoms of cards as they were in the old one."""
    cards = found.new.cards
    scopes = list(cards.scopes)
    lost: list[Atom] = []
    touched: dict[int, Scope] = {}
    gone: dict[int, set[int]] = {}
    temperature = cards.temperature

    def of(index: int) -> Scope:
        if index not in touched:
            touched[index] = _copied(scopes[index])
        return touched[index]

    for atom in atoms:
        if atom.kind == "temperature":
            temperature = found.old.cards.temperature
        elif atom.kind == "definition":
            lost.append(atom)
        elif atom.kind == "came":
            gone.setdefault(atom.scope, set()).add(atom.new)
        elif atom.kind in ("value", "pins", "gone", "parameter", "model"):
            _put_back(found, atom, of)
    for index, indices in gone.items():
        touched[index] = _without(of(index), indices)
    for index, scope in touched.items():
        scopes[index] = scope
    for atom in lost:
        _put_back_definition(found, atom, scopes)
    return cards._replace(scopes=tuple(scopes), temperature=temperature)


def _put_back(found: Correspondence, atom: Atom, of: Callable[[int], Scope]) -> None:
    pair = found.scopes[atom.scope]
    old = found.old.cards.scopes[atom.scope]
    new: Scope = of(pair.new.scope)
    if atom.kind == "value":
        new.values[atom.new] = old.values[atom.old]
        new.models[atom.new] = old.models[atom.old]
        _set_tail(new, atom.new, dict(old.tails.get(atom.old, {})))
    elif atom.kind == "pins":
        new.nodes[atom.new] = _nodes(found, atom.scope, old.nodes[atom.old])
        if atom.old in old.controls:
            new.controls[atom.new] = _nodes(found, atom.scope, old.controls[atom.old])
    elif atom.kind == "gone":
        taken = {name.casefold() for name in new.names}
        name = old.names[atom.old]
        while name.casefold() in taken:
            name += "_"
        new.letters.append(old.letters[atom.old])
        new.names.append(name)
        new.nodes.append(_nodes(found, atom.scope, old.nodes[atom.old]))
        new.models.append(old.models[atom.old])
        new.values.append(old.values[atom.old])
        at = len(new.letters) - 1
        if atom.old in old.controls:
            new.controls[at] = _nodes(found, atom.scope, old.controls[atom.old])
        _set_tail(new, at, dict(old.tails.get(atom.old, {})))
        # It has no line in the new netlist; the place is of no consequence for what is judged.
        new.file_ids.append(0)
        new.lines.append(1)
        new.columns.append(at + 1)
    elif atom.kind == "parameter":
        key = atom.name.rpartition(":")[2]
        for mine, theirs in ((new.parameters, old.parameters), (new.defaults, old.defaults)):
            if key in theirs:
                mine[key] = theirs[key]
            else:
                mine.pop(key, None)
    elif atom.kind == "model":
        _put_back_model(found, atom, of)


def _put_back_model(found: Correspondence, atom: Atom, of: Callable[[int], Scope]) -> None:
    key = atom.name.lower()
    old = found.old.cards.find_model(key, atom.scope)
    scope = found.scopes[atom.scope].new.scope
    while scope > TOP and key not in found.new.cards.scopes[scope].models_by_name:
        scope = found.new.cards.scopes[scope].parent
    holder: Scope = of(max(scope, TOP))
    if old is None:
        holder.models_by_name.pop(key, None)
    else:
        holder.models_by_name[key] = old


def _put_back_definition(found: Correspondence, atom: Atom, scopes: list[Scope]) -> None:
    """A definition of the old netlist put in at the top, with those inside it; or one of the new netlist left out."""
    key = atom.name.casefold()
    if atom.old < 0:
        holder = max(scopes[atom.new].parent, TOP)
        scopes[holder] = _copied(scopes[holder])
        scopes[holder].subcircuits.pop(key, None)
        return
    old = found.old.cards.scopes
    number = {atom.old: len(scopes)}
    for index, scope in enumerate(old):
        # Those inside stand behind it.
        if index == atom.old or scope.parent in number:
            number[index] = len(scopes)
            made = _copied(scope)
            made.parent = TOP if index == atom.old else number[scope.parent]
            made.file_ids = array("l", [0]) * len(made)
            made.lines = array("l", [1]) * len(made)
            made.columns = array("l", range(1, len(made) + 1))
            scopes.append(made)
    for index, there in number.items():
        scopes[there].subcircuits = {name: number[at] for name, at in old[index].subcircuits.items() if at in number}
    scopes[TOP] = _copied(scopes[TOP])
    scopes[TOP].subcircuits[key] = number[atom.old]


def _nodes(found: Correspondence, scope: int, nodes: Iterable[str]) -> tuple[str, ...]:
    """Old nodes by the names that they have now; what has none keeps its own, or one like it where that is taken."""
    pair = found.scopes[scope]
    number = {name.casefold(): index for index, name in enumerate(pair.old.nets)}
    used = {name.casefold() for name in pair.new.nets}
    made = []
    for node in nodes:
        inner = node[2:-1] if node[:2].lower() == "i(" and node.endswith(")") else node
        index = number.get(inner.casefold())
        there = None if index is None else pair.pairs.nets.get(index)
        if there is not None and inner is node:
            made.append(pair.new.nets[there])
        elif index is not None and inner.casefold() in used:
            made.append(f"{node}__before")
        else:
            made.append(node)
    return tuple(made)


def _set_tail(scope: Scope, index: int, tail: dict[str, Number | str]) -> None:
    if tail:
        scope.tails[index] = tail
    else:
        scope.tails.pop(index, None)


def _copied(scope: Scope) -> Scope:
    made = copy.copy(scope)
    for name in ("letters", "names", "nodes", "models", "values"):
        setattr(made, name, list(getattr(scope, name)))
    for name in ("controls", "tails", "parameters", "defaults", "models_by_name", "subcircuits"):
        setattr(made, name, dict(getattr(scope, name)))
    for name in ("file_ids", "lines", "columns"):
        setattr(made, name, array("l", getattr(scope, name)))
    return made


def _without(scope: Scope, gone: set[int]) -> Scope:
    """A scope without some cards."""
    kept = [index for index in range(len(scope)) if index not in gone]
    number = {index: place for place, index in enumerate(kept)}
    made = copy.copy(scope)
    for name in ("letters", "names", "nodes", "models", "values"):
        column = getattr(scope, name)
        setattr(made, name, [column[index] for index in kept])
    for name in ("controls", "tails"):
        column = getattr(scope, name)
        setattr(made, name, {number[index]: each for index, each in column.items() if index in number})
    for name in ("file_ids", "lines", "columns"):
        column = getattr(scope, name)
        setattr(made, name, array("l", [column[index] for index in kept]))
    return made
