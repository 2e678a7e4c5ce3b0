"""What the tests of recognition, walks and channels share: a netlist and facts in, the found interfaces out."""

from __future__ import annotations

from dataclasses import dataclass

from isolint.circuit import Circuit, build
from isolint.facts import load
from isolint.interfaces import (
    Channel,
    Classifier,
    Grounds,
    Interfaces,
    Network,
    Recognition,
    Walker,
    find_channels,
    recognise,
)
from isolint.interfaces.interface_dump import network_text, recognition_lines
from isolint.interfaces.sides import find_sides
from isolint.netlist import read
from isolint.parts import load as load_parts
from isolint.source import MemoryTree


@dataclass(frozen=True)
class FoundBoard:
    """One netlist with all that was found in it."""

    circuit: Circuit
    interfaces: Interfaces
    walker: Walker

    @property
    def recognition(self) -> Recognition:
        return self.interfaces.recognition

    @property
    def channels(self) -> tuple[Channel, ...]:
        return self.interfaces.channels

    def parts(self) -> list[str]:
        """What every part was taken for, as lines of the dump."""
        return list(recognition_lines(self.recognition, self.circuit))

    def kinds(self) -> dict[str, str]:
        """Type by path of the recognised parts."""
        return {part.path: part.type for part in self.recognition.parts.values()}

    def suspects(self) -> dict[str, str]:
        """Suspected type by path."""
        return {suspect.path: suspect.suspected_type for suspect in self.recognition.suspects}

    def contradictions(self) -> list[str]:
        return [found.text for found in self.recognition.contradictions]

    def channel(self, subject: str) -> Channel:
        return next(channel for channel in self.channels if channel.subject == subject)

    def drive(self, subject: str = "XU1") -> str:
        return network_text(self.channel(subject).drive, self.circuit)

    def load(self, subject: str = "XU1") -> str:
        return network_text(self.channel(subject).load, self.circuit)

    def branches(self, network: Network) -> list[str]:
        """The LEDs and coils in a network, with the nets on their pins."""
        found = []
        for element, pins in network.branches:
            nets = self.circuit.pins(element)
            found.append(f"{self.circuit.path(element)} {' '.join(self.circuit.net_name(nets[pin]) for pin in pins)}")
        return found


def board(netlist: str, facts: str = "", records: str = "") -> FoundBoard:
    """Read, build and find as the program does; `records` is one more file of part records."""
    files = {"board.cir": f"an invented board\n{netlist.strip()}\n", "isolint.toml": facts}
    if records:
        files["parts.toml"] = records
        files["isolint.toml"] = f'parts = ["parts.toml"]\n{facts}'
    tree = MemoryTree(files)
    stated = load(tree, "board.cir")
    cards = read(tree, "board.cir")
    classifier = Classifier(cards, stated, load_parts(tree, stated.part_files))
    circuit = build(cards, classifier.is_sheet)
    recognition = recognise(circuit, classifier)
    separation = find_sides(circuit, stated, recognition)
    walker = Walker(
        circuit, stated, recognition, Grounds(circuit, stated, recognition, separation), frozenset(separation.ignored)
    )
    channels = find_channels(circuit, recognition, walker)
    return FoundBoard(circuit, Interfaces(recognition, channels, separation), walker)
