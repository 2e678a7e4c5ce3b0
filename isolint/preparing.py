"""From a path to what rules may ask for: finds the tree of a netlist, reads it, builds the circuit and what lies on it.

Each stage is imported where it is run: a hook must not wait for what it does not use.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from isolint.errors import IsolintError, Place
from isolint.source import FolderTree, Tree

if TYPE_CHECKING:
    from collections.abc import Callable

    from isolint.checking.context import Context
    from isolint.netlist.cards import Cards
    from isolint.worstcase.solve import Solver


def locate(path: str, root: str | None) -> tuple[FolderTree, str, str]:
    """The tree, the path in it, and the folder up to which settings count: given root, repository or the netlist's."""
    full = Path(os.path.abspath(path))
    if not path.strip():
        raise IsolintError("the name of the netlist is empty", cure="name a SPICE netlist")
    if full.is_dir():
        raise IsolintError(
            "this is a folder, not a netlist",
            Place(path),
            f"isolint check --project {path} judges every netlist below it",
        )
    if not full.exists():
        raise IsolintError("there is no such file", Place(path), "check the name")
    top = Path(os.path.abspath(root)) if root is not None else repository(full.parent)
    if top not in full.parents:
        raise IsolintError(f"the netlist lies outside the root folder {root}", Place(path), "give a wider --root")
    return FolderTree(top), full.relative_to(top).as_posix(), ""


def repository(folder: Path) -> Path:
    """The nearest folder upwards that holds `.git`, else the folder itself."""
    for candidate in (folder, *folder.parents):
        if (candidate / ".git").exists():
            return candidate
    return folder


def shown(tree: FolderTree, path: str) -> str:
    """A path of the tree as the reader should see it: relative to the working folder, with `/`."""
    if path.startswith("isolint:"):
        return path
    return Path(os.path.relpath(tree.root / path)).as_posix()


class Instead(NamedTuple):
    """Cards that stand for the text of a netlist, to try what they change: no cures are sought in them.

    solver: that of the netlist which they were made from.
    """

    cards: Cards
    solver: Solver


def prepare(
    tree: Tree,
    path: str,
    root: str,
    seen: Callable[[str, str], None] | None = None,
    instead: Instead | None = None,
) -> tuple[Context, Cards]:
    """Read, build and find everything that rules may ask for; second, the cards as they were read.

    seen: told of the file and key of each stated value that is asked for.
    """
    from isolint import facts, netlist, parts
    from isolint.checking.context import Context
    from isolint.circuit import build
    from isolint.interfaces import Classifier, Grounds, Interfaces, Walker, find_channels, find_unused, recognise
    from isolint.interfaces.sides import find_sides
    from isolint.positions import find_positions
    from isolint.rules import RULE_SET, RULES

    stated = facts.load(tree, path, root, RULE_SET)
    records = parts.load(tree, stated.part_files)
    stated = stated._replace(placeholders=(*stated.placeholders, *records.placeholders))
    if seen is not None:
        stated, records = stated.watched(seen), records.watched(seen)
    include_root = root if stated.reading.include_root is None else stated.reading.include_root.value
    cards = netlist.read(tree, path, root=include_root) if instead is None else instead.cards
    classifier = Classifier(cards, stated, records)
    circuit = build(cards, classifier.is_sheet)
    recognition = recognise(circuit, classifier)
    positions = find_positions(circuit, stated, recognition, path)
    separation = find_sides(circuit, stated, recognition, asked=positions.apart)
    walker = Walker(
        circuit, stated, recognition, Grounds(circuit, stated, recognition, separation), frozenset(separation.ignored)
    )
    channels = find_channels(circuit, recognition, walker)
    interfaces = Interfaces(recognition, channels, separation, find_unused(recognition, channels))
    context = Context(
        path,
        circuit,
        stated,
        interfaces,
        walker,
        stated.nearest_file(path, root),
        (*cards.notes, *circuit.notes),
        classifier.record_for,
        RULES,
        positions,
        None if instead is None else instead.solver,
    )
    context.is_trial = instead is not None
    return context, cards
