"""Connectivity, hierarchy and whole checks against the plain way, in one process.

Each command prints one line a round: seconds of processor time of the subject, and of its reference.

`edges 1000000`: union-find on that many edges of a flat netlist, networkx building its graph and finding components.
`blocks 1000 1000 50`: which nets hang together in 1,000 instances of a block of 1,000 elements with 50 definitions, by
summaries; and by a dictionary union-find over all of them.
`flat 1000000 20`: `app.check` of a flat netlist with 20 couplers; lark on each card and networkx on all of them.
`definitions 3507`: `app.check` of as many definitions whose parts nobody explains; and SPLIT of the text.
`flat-definitions 3507`: `app.check` of as many on one flat sheet that nobody can read; and SPLIT of the text.
`repeated 1000 1000`: `app.check` of as many instances of a block with one coupler each; and of the same flattened.

The collector is off, as in the command line's process. All netlists are invented.
"""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable, Iterator

import networkx

from isolint import app
from isolint.circuit import Circuit, build
from isolint.circuit.connectivity import Islands
from isolint.interfaces.conduction import conduct
from isolint.interfaces.entities import Recognition
from isolint.interfaces.islands import wired
from isolint.interfaces.reduction import reduce
from isolint.netlist import read
from isolint.netlist.shapes import element
from isolint.results import NetlistReport
from isolint.source import MemoryTree
from tests.conftest import REPOSITORY

PATH = "board.cir"
RULES = REPOSITORY / "fixtures/rules"
FEW, MANY = 1, 5


def _seconds(work: Callable[[], object]) -> float:
    """Processor time of the work; what it gives is kept until the clock has stopped."""
    begin = time.process_time()
    kept = work()
    seconds = time.process_time() - begin
    del kept
    return seconds


def _print(rounds: int, subject: Callable[[], object], reference: Callable[[], object]) -> None:
    for _ in range(rounds):
        sys.stdout.write(f"{_seconds(subject)} {_seconds(reference)}\n")
        sys.stdout.flush()


# -- definitions ---------------------------------------------------------------------------------------------------


def definitions(count: str) -> None:
    """`app.check` of as many definitions, each placed twice, whose parts nobody explains; and SPLIT of the text."""
    text = unexplained(int(count))
    _print(MANY, lambda: _checked(text), lambda: [line.split() for line in text.split("\n")])


def unexplained(count: int) -> str:
    """Definitions of ten resistors and two parts that have neither subcircuit nor record, each placed twice."""
    lines = ["* parts that nobody explains, invented"]
    for k in range(count):
        lines.append(f".subckt DEMO_B{k} A{k} B{k} C{k} GND{k} OUT{k}")
        lines += [f"R{j} N{k}_{j} N{k}_{j + 1} {j + 1}k" for j in range(10)]
        lines += [f"XU{k}_{j} A{k} B{k} N{k}_{j} C{k} OUT{k} GND{k} DEMO_IC{k}_{j}" for j in range(2)]
        lines.append(f".ends DEMO_B{k}")
    lines += [f"XB{k}_{m} P{k}_{m} P{k + 1} Q{k} 0 Q{k + 1} DEMO_B{k}" for k in range(count) for m in range(2)]
    return "\n".join(lines) + "\n"


def flat_definitions(count: str) -> None:
    """`app.check` of as many definitions that nobody can read, each placed once on one flat sheet; and SPLIT."""
    text = unread(int(count))
    _print(MANY, lambda: _checked(text), lambda: [line.split() for line in text.split("\n")])


def unread(count: int) -> str:
    """Definitions without a card that can be read, as vendors ship them: 2 MB at 3,507."""
    lines = ["* definitions without a body, invented"]
    for k in range(count):
        lines += [f".subckt DEMO_P{k} A B C D E F", *["* " + "data " * 11] * 8, ".ends"]
    lines += [f"XU{k} S{k} S{k + 1} S{k + 2} 0 V{k % 50} T{k} DEMO_P{k}" for k in range(count)]
    lines += [f"R{k} S{k} T{k} 1k" for k in range(count)]
    return "\n".join(lines) + "\n"


def _checked(text: str) -> NetlistReport:
    return app.check_in(MemoryTree({PATH: text}), PATH, "", app.Options())[0]


# -- edges ---------------------------------------------------------------------------------------------------------


def edges(count: str) -> None:
    """Edges between neighbours, as in an exported schematic; every fourth leads to one of fifty rails."""
    number = int(count)
    pairs = [(net, net % 50 if net % 4 == 0 else max(0, net - 1 - net % 7)) for net in range(number)]

    def joined() -> Islands:
        islands = Islands(number)
        islands.join_pairs(pairs)
        return islands

    def components() -> int:
        graph = networkx.Graph()
        graph.add_edges_from(pairs)
        return sum(1 for _ in networkx.connected_components(graph))

    roots = joined()
    assert len({roots.of(net) for net in range(number)}) == components()
    _print(MANY, joined, components)


# -- blocks --------------------------------------------------------------------------------------------------------


def _filters(count: int, sparse: int) -> list[str]:
    """Filters on V5, dividers and diodes between V5 and GND; every `sparse`-th of a chain starts anew."""
    cards: list[str] = []
    number = 0
    while len(cards) < count:
        number += 1
        before = "V5" if number % sparse == 1 else f"F{number - 1}"
        cards += [f"RF{number} {before} F{number} 10k", f"CF{number} F{number} GND 100n"]
        if number % 5 == 0:
            cards += [f"RD{number} F{number} GND 47k", f"LF{number} F{number} G{number} 10u"]
    return cards[:count]


def _union(circuit: Circuit) -> dict[tuple[int, int] | int, tuple[int, int] | int]:
    """Every conducting element of every instance, by a dictionary; nets that reach further by their own id."""
    parent: dict[tuple[int, int] | int, tuple[int, int] | int] = {}
    for instance in circuit.instances:
        block = circuit.block(instance)
        outer = {net: circuit.canonical(instance, net) for net in block.outer}
        for letter, nets in zip(block.letters, block.pins, strict=True):
            if letter in "CX":
                continue
            one, other = (outer.get(net, (instance, net)) for net in nets)
            while (above := parent.setdefault(one, one)) != one:
                parent[one] = one = parent[above]
            while (above := parent.setdefault(other, other)) != other:
                parent[other] = other = parent[above]
            if one != other:
                parent[one] = other
    return parent


def blocks(instances: str, elements: str, definitions: str) -> None:
    """Instances of blocks between two rails."""
    kinds = int(definitions)
    lines = ["* blocks, invented", "V1 V5 GND 5"]
    for kind in range(kinds):
        lines += [f".subckt DEMO_B{kind} V5 GND", *_filters(int(elements), 8 + kind), ".ends"]
    lines += [f"X{number} V5 GND DEMO_B{number % kinds}" for number in range(int(instances))]
    circuit = build(read(MemoryTree({PATH: "\n".join(lines) + "\n"}), PATH))
    nothing = Recognition({}, frozenset(), {}, (), ())
    own = [net for name in ("V5", "GND") if (net := circuit.find_net(name)) is not None]

    def summaries() -> Islands:
        reduction = reduce(circuit, nothing, (), (), -1)
        assert reduction is not None
        islands = wired(conduct(circuit, nothing, frozenset(), -1, reduction.elements))[0]
        assert not reduction.undecided(islands, own)
        return islands

    _print(MANY, summaries, lambda: _union(circuit))


# -- checks --------------------------------------------------------------------------------------------------------


def _tree(text: str) -> MemoryTree:
    files = {f"parts/{path.name}": path.read_text(encoding="utf-8") for path in (RULES / "parts").iterdir()}
    settings = (RULES / "isolint.toml").read_text(encoding="utf-8")
    return MemoryTree({PATH: text, "isolint.toml": settings, **files})


def _check(tree: MemoryTree) -> NetlistReport:
    return app.check_in(tree, PATH, "", app.Options())[0]


def _channel(number: int) -> list[str]:
    drive = f"R{number} DRIVE{number} A{number} 470"
    return [drive, f"XU{number} A{number} GND GNDB OUT{number} DEMO_PT1", f"RL{number} VB OUT{number} 10k"]


def flat(count: str, couplers: str) -> None:
    """One flat netlist."""
    channels = [card for number in range(int(couplers)) for card in _channel(number)]
    cards = [*channels, *_filters(int(count) - len(channels), 10)]
    tree = _tree("\n".join(("* flat, invented", *cards, "")))

    def plain() -> int:
        graph = networkx.Graph()
        for card in map(element, cards):
            graph.add_edges_from((card.nodes[0], other) for other in card.nodes[1:])
        return sum(1 for _ in networkx.connected_components(graph))

    report = _check(tree)
    assert (report.coverage.channels, report.coverage.cards) == (int(couplers), int(count))
    del report
    _print(FEW, lambda: _check(tree), plain)


PORTS = ("DRIVE", "OUT", "V5", "GND", "VB", "GNDB")


def _block(elements: int) -> list[str]:
    channel = ["R1 DRIVE A 470", "XU1 A GND GNDB OUT DEMO_PT1", "RL1 VB OUT 10k"]
    return [*channel, *_filters(elements - len(channel), 10)]


def _flattened(number: int, body: list[str]) -> Iterator[str]:
    """The cards of one instance with the path in their names; nets on ports have those of the call."""
    own = {"DRIVE": f"DRIVE{number}", "OUT": f"OUT{number}", **{net: net for net in PORTS[2:]}}
    for card in body:
        name, *nets, last = card.split()
        outer = " ".join(own.get(net, f"X{number}.{net}") for net in nets)
        yield f"{name[0]}.X{number}.{name} {outer} {last}"


def _both_ways(instances: int, body: list[str]) -> tuple[MemoryTree, MemoryTree]:
    """One block, placed and flattened."""
    numbers = range(instances)
    calls = [f"X{number} DRIVE{number} OUT{number} {' '.join(PORTS[2:])} DEMO_BLOCK" for number in numbers]
    placed = ["* placed, invented", f".subckt DEMO_BLOCK {' '.join(PORTS)}", *body, ".ends", *calls, ""]
    flattened = ["* flattened, invented", *(card for number in numbers for card in _flattened(number, body)), ""]
    return _tree("\n".join(placed)), _tree("\n".join(flattened))


def _said(tree: MemoryTree) -> list[tuple[str, str, float]]:
    """What is said of all channels, whatever they are called."""
    results = _check(tree).results
    return sorted(
        (result.rule, result.kind, -1.0 if result.margin is None else round(result.margin.value, 9))
        for result in results
        if result.part
    )


def repeated(instances: str, elements: str) -> None:
    """One block, placed and flattened."""
    body = _block(int(elements))
    placed, flattened = _both_ways(5, body)
    assert _said(placed) == _said(flattened)
    placed, flattened = _both_ways(int(instances), body)
    _print(FEW, lambda: _check(placed), lambda: _check(flattened))


if __name__ == "__main__":
    gc.disable()
    commands: dict[str, Callable[..., None]] = {
        "edges": edges,
        "blocks": blocks,
        "definitions": definitions,
        "flat-definitions": flat_definitions,
        "flat": flat,
        "repeated": repeated,
    }
    commands[sys.argv[1]](*sys.argv[2:])
