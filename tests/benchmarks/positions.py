"""Positions of unexplained parts against SPLIT, in one process: `python -m tests.benchmarks.positions 100000 400000`.

A board of so many elements with so many pins, made of many boards from the generator of `tests/positions` that share
nothing but their grounds. Prints one line a round: seconds of processor time of finding positions in the circuit, and
of SPLIT of the text. The collector is off, as in the command line's process.
"""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable

from isolint.circuit import build
from isolint.facts import load
from isolint.interfaces import Classifier, recognise
from isolint.netlist import read
from isolint.parts import load as load_parts
from isolint.positions import find_positions
from isolint.source import MemoryTree
from tests.positions.generator import board

ROUNDS = 5
PATH = "board.cir"
_SHARED = frozenset(("GND", "DGND", "GND_ISO", "GND_FIELD"))


def big(elements: int, pins: int) -> str:
    """A netlist of that many elements; ICs with many pins fill up to the number of pins."""
    lines = ["* a large board, generated"]
    count = 0
    number = 0
    while len(lines) <= elements:
        for line in board(number % 50).text.splitlines()[1:]:
            name, *nets = line.split()
            if name[0] in ".*":
                continue
            *nets, last = nets
            own = [net if net in _SHARED else f"{net}_{number}" for net in nets]
            lines.append(f"{name}_{number} {' '.join(own)} {last}")
            count += len(own)
        while count < pins * len(lines) // elements:
            wide = " ".join(f"S{pin}_{number}" for pin in range(38))
            lines.append(f"XU{900 + len(lines)}_{number} GND V5_{number} {wide} WIDE40")
            count += 40
        number += 1
    return "\n".join((*lines[: elements + 1], ".model DLED D", ".end", ""))


def _seconds(work: Callable[[], object]) -> float:
    begin = time.process_time()
    kept = work()
    seconds = time.process_time() - begin
    del kept
    return seconds


def main(elements: int, pins: int) -> None:
    """Print the seconds of each round."""
    text = big(elements, pins)
    tree = MemoryTree({PATH: text})
    cards = read(tree, PATH)
    facts = load(tree, PATH)
    classifier = Classifier(cards, facts, load_parts(tree, facts.part_files))
    circuit = build(cards, classifier.is_sheet)
    recognition = recognise(circuit, classifier)
    assert find_positions(circuit, facts, recognition, PATH).asked
    for _ in range(ROUNDS):
        subject = _seconds(lambda: find_positions(circuit, facts, recognition, PATH))
        reference = _seconds(lambda: [line.split() for line in text.split("\n")])
        sys.stdout.write(f"{subject} {reference}\n")


if __name__ == "__main__":
    gc.disable()
    main(int(sys.argv[1]), int(sys.argv[2]))
