"""Boards made by hand for the tests of sides: netlist text, facts as TOML, parts recognised by their model name."""

from __future__ import annotations

import random

from isolint.circuit import Circuit, build
from isolint.facts import Facts, load
from isolint.interfaces.entities import Part, Recognition, Separation, Unknown
from isolint.interfaces.resistance import ResistorNetwork
from isolint.interfaces.sides import find_sides
from isolint.netlist import read
from isolint.source import MemoryTree

# type, roles of the pins in the order of the card, port groups
KINDS: dict[str, tuple[str, tuple[str, ...], tuple[tuple[int, ...], ...]]] = {
    "DEMO_PT": ("phototransistor", ("anode", "cathode", "collector", "emitter"), ((0, 1), (2, 3))),
    "DEMO_LO": ("logic-output", ("anode", "cathode", "supply", "output", "ground"), ((0, 1), (2, 3, 4))),
    "DEMO_DUAL": (
        "phototransistor",
        ("anode", "cathode", "anode", "cathode", "collector", "emitter", "collector", "emitter"),
        ((0, 1), (2, 3), (4, 5), (6, 7)),
    ),
    "DEMO_RELAY": ("relay", ("coil", "coil", "contact", "contact"), ((0, 1), (2, 3))),
    "DEMO_XFMR": ("transformer", ("winding",) * 6, ((0, 1), (2, 3), (4, 5))),
    "DEMO_IS": ("isolated-supply", ("supply", "ground", "output", "ground"), ((0, 1), (2, 3))),
}
ORDINARY = ("DEMO_MCU", "DEMO_OPAMP")


def circuit_of(netlist: str, files: dict[str, str] | None = None) -> Circuit:
    """The circuit of a netlist; subcircuits that are recognised below stay leaf parts."""
    text = "a board for a test\n" + netlist.strip() + "\n.end\n"
    cards = read(MemoryTree({"board.cir": text, **(files or {})}), "board.cir")
    assert not [note for note in cards.notes if note.kind == "malformed-card"], cards.notes
    return build(cards)


def facts_of(toml: str) -> Facts:
    """The facts of an isolint.toml beside the netlist."""
    return load(MemoryTree({"board.cir": "", "isolint.toml": toml}), "board.cir")


def recognise_by_name(circuit: Circuit) -> Recognition:
    """Recognise parts by the names above; every other leaf subcircuit or black box is unknown."""
    parts: dict[int, Part] = {}
    ordinary: set[int] = set()
    unknown: dict[int, Unknown] = {}
    for element in circuit.elements():
        name = (circuit.model_name(element) or "").upper()
        if name in KINDS:
            kind, roles, groups = KINDS[name]
            parts[element] = Part(element, circuit.path(element), kind, None, roles, groups, "record", name)
        elif name in ORDINARY:
            ordinary.add(element)
        elif circuit.letter(element) in "XUAY":
            unknown[element] = Unknown(element, circuit.path(element), "nobody says what it is", "")
    return Recognition(parts, frozenset(ordinary), unknown, (), ())


def sides_of(netlist: str, facts: str = "") -> tuple[Circuit, Separation]:
    """The separation of a board."""
    circuit = circuit_of(netlist)
    return circuit, find_sides(circuit, facts_of(facts), recognise_by_name(circuit))


BOARD = """
V1 V24F GNDF 24
V2 V3V3 GND 3.3
R1 IN_1 A1 2k2
XU1 A1 GNDF DI1 GND DEMO_PT
R2 DI1 V3V3 10k
XMCU V3V3 GND DI1 DO1 DEMO_MCU
R3 DO1 A2 470
XU2 A2 GND RLYB GNDF DEMO_PT
R4 RLYB V24F 10k
R5 RLYB B1 4k7
Q1 C1 B1 GNDF DEMO_NPN
R6 C1 V24F 1k
.model DEMO_NPN NPN
"""
"""An input and an output over two couplers: 24 V field with GNDF, 3.3 V logic with GND."""

SIDES = """
[sides.field]
nets = ["GNDF"]
[sides.logic]
nets = ["GND"]
"""

BARRIER = """
[[barriers]]
between = ["field", "logic"]
"""


def bleeder(one: str, other: str, count: int = 10, ohms: str = "470k") -> str:
    """A chain of equal resistors RB0, RB1 ... between two nets."""
    nets = [one, *(f"bleed{number}" for number in range(1, count)), other]
    return "".join(f"RB{number} {nets[number]} {nets[number + 1]} {ohms}\n" for number in range(count))


def joins_of(netlist: str, facts: str = "") -> list[str]:
    """Each join in short: rule, sides, and the elements at fault; with its level where it is no error."""
    circuit, separation = sides_of(netlist, facts)
    texts: list[str] = []
    for join in separation.joins:
        cut = ",".join(circuit.path(element) for element in join.cut)
        level = "" if join.level == "error" else f" {join.level}"
        doubt = " open" if join.unknown else ""
        texts.append(f"{join.kind}{level}{doubt} {' | '.join(join.sides)}: {cut}")
    return texts


def path_of(netlist: str, facts: str = "") -> str:
    """The path of the only join, nets and elements in turn; a stated fact is `=`."""
    circuit, separation = sides_of(netlist, facts)
    (join,) = separation.joins
    words = [circuit.net_name(join.path[0].net_in)] if join.path else []
    for step in join.path:
        words += [circuit.path(step.element) if step.element >= 0 else "=", circuit.net_name(step.net_out)]
    return " ".join(words)


def nets_of(netlist: str, facts: str = "") -> dict[str, set[str]]:
    """The nets of each side by its name."""
    circuit, separation = sides_of(netlist, facts)
    return {side.name: {circuit.net_name(net) for net in side.nets} for side in separation.sides}


def network_of(edges: list[tuple[int, int, float]]) -> ResistorNetwork:
    """A network of resistors given as (node, node, ohms)."""
    network = ResistorNetwork()
    for one, other, ohms in edges:
        network.add(one, other, 1.0 / ohms)
    return network


def tangle(seed: int) -> tuple[str, str]:
    """A netlist of random elements on few nets, which mostly joins everything, and random facts."""
    chance = random.Random(seed)
    nets = ["0", "GND", "GNDF", "V24F", "V3V3", "PE", *(f"n{number}" for number in range(chance.randrange(3, 10)))]
    nets = nets[chance.randrange(2) :]
    shapes = ["R {} {} 0", "R {} {} 4k7", "R {} {} 700k", "R {} {} 3meg", "L {} {} 1u", "C {} {} 1n", "D {} {} DX"]
    shapes += ["V {} {} 0", "V {} {} 5", "I {} {} 1m", "Q {} {} {} NX", "E {} {} {} {} 2", "X {} {} {} DEMO_MCU"]
    shapes += ["X {} {} {} DEMO_WHAT", *(f"X {'{} ' * len(roles)}{name}" for name, (_, roles, _) in KINDS.items())]
    cards: list[str] = []
    for number in range(chance.randrange(3, 22)):
        letter, rest = chance.choice(shapes).split(" ", 1)
        cards.append(f"{letter}{number} " + rest.format(*(chance.choice(nets) for _ in range(rest.count("{}")))))
    facts = chance.choice(["", SIDES + '[sides.earth]\nnets = ["PE"]\n'])
    facts += chance.choice(["", BARRIER]) if facts else ""
    facts += chance.choice(["", '[supplies.V24F]\nvoltage = "24 V"\nground = "GNDF"\n'])
    return "\n".join([*cards, ".model DX D", ".model NX NPN"]), facts
