"""Boards made by hand for the tests of sides: netlist text, facts as TOML, parts recognised by their model name."""

from __future__ import annotations

from isolint.circuit import Circuit, build
from isolint.facts import Facts, load
from isolint.interfaces.sides import find_sides
from isolint.interfaces.values import Part, Recognition, Separation, Unknown
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
    assert not [note for note in cards.notes if note.rule == "netlist-malformed"], cards.notes
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
