"""Where a parameter is stated: the line of the one `.param` or `.subckt` card that gives it a value.

The cards keep no place of parameters, so the texts are searched; where two lines could be meant none is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from isolint.errors import Place, Refused
from isolint.review.atoms import Atom
from isolint.review.correspondence import TOP, Netlist
from isolint.source import Tree


def with_lines(atoms: Iterable[Atom], old: tuple[Tree, Netlist], new: tuple[Tree, Netlist]) -> tuple[Atom, ...]:
    """The changes, those of parameters with their lines in both revisions."""
    made = []
    for atom in atoms:
        if atom.kind == "parameter":
            key = atom.name.rpartition(":")[2]
            places = [_line(*revision, key, atom.scope != TOP) for revision in (new, old)]
            atom = atom._replace(place=places[0] if atom.after else None, former=places[1] if atom.before else None)
        made.append(atom)
    return tuple(made)


def _line(tree: Tree, netlist: Netlist, key: str, inner: bool) -> Place | None:
    """The one line on which a parameter of the top, or of a definition, is given a value."""
    found = []
    for file in netlist.cards.files:
        try:
            text = tree.read(file.path).decode("latin-1")
        except Refused:
            continue
        found += [Place(file.path, line) for line in _stated(text, key, inner)]
    return found[0] if len(found) == 1 else None


def _stated(text: str, key: str, inner: bool) -> Iterator[int]:
    named = re.compile(rf"(?<![\w.]){re.escape(key)}\s*=", re.IGNORECASE)
    depth, card = 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        words = line.split(None, 1)
        if not words or words[0].startswith("*"):
            continue
        if not words[0].startswith("+"):
            card = words[0].lower()
            depth += (card == ".subckt") - (card == ".ends")
        if card in (".param", ".subckt") and (depth > 0) == inner and named.search(line):
            yield number
