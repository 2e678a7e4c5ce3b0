"""What the tests of positions share: netlist and settings in, positions or a whole report out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from isolint import app
from isolint.circuit import Circuit, build
from isolint.facts import load
from isolint.interfaces import Classifier, recognise
from isolint.netlist import read
from isolint.parts import load as load_parts
from isolint.positions import Positions, find_positions
from isolint.results import Report
from isolint.source import MemoryTree
from tests.positions.generator import board


def positions_of(text: str, settings: str = "") -> tuple[Circuit, Positions]:
    """The positions of a netlist."""
    tree = MemoryTree({"board.cir": text, "isolint.toml": f"top = true\n{settings}"})
    cards = read(tree, "board.cir")
    facts = load(tree, "board.cir")
    classifier = Classifier(cards, facts, load_parts(tree, facts.part_files))
    circuit = build(cards, classifier.is_sheet)
    return circuit, find_positions(circuit, facts, recognise(circuit, classifier), "board.cir")


def checked(text: str, settings: str = "", strict: bool = False, folder: str = "", above: str = "") -> Report:
    """The report of a netlist with settings beside it, and in the folder above it."""
    inner = f"{folder}board.cir"
    files = {inner: text, f"{folder}isolint.toml": settings}
    if folder:
        files["isolint.toml"] = above
    report, fail_on = app.check_in(MemoryTree(files), inner, "", app.Options(strict=strict))
    return Report("0", (report,), app.rules(), fail_on)  # type: ignore[arg-type]


@dataclass
class Count:
    """What was found on generated boards. boards: those with any question."""

    cards: int = 0
    by_name: int = 0
    by_pair: int = 0
    wrong: set[tuple[int, str]] = field(default_factory=set)
    boards: int = 0


def count(seeds: Iterable[int], **what: bool) -> Count:
    """Find the positions on generated boards and count what was asked rightly and wrongly."""
    found = Count()
    for seed in seeds:
        made = board(seed, **what)
        circuit, positions = positions_of(made.text)
        named = {circuit.path(element) for entry in positions.asked for element in entry.elements}
        paired = {
            circuit.path(element) for pair in positions.pairs for entry in pair.parts for element in entry.elements
        }
        found.cards += len(made.isolating)
        found.by_name += len(named & made.isolating.keys())
        found.by_pair += len((paired - named) & made.isolating.keys())
        found.wrong |= {(seed, made.names[name]) for name in named & made.ordinary}
        found.boards += bool(positions.asked or positions.pairs or positions.across)
    return found
