"""What reading one file has to remember: its sections, conditions and the block that is being skipped."""

from __future__ import annotations

from isolint.errors import Place
from isolint.netlist.builder import Builder
from isolint.netlist.conditions import Conditions
from isolint.netlist.includes import Wanted, library_arguments
from isolint.netlist.words import STRUCTURE


class FileState:
    """The state of one file, or of one section of it, while it is read. `number` is its place in the list of files."""

    def __init__(self, path: str, number: int, section: str, called_from: Place | None = None) -> None:
        self.path = path
        self.number = number
        self.section = section
        self.called_from = called_from
        self.wanted: Wanted | None = None
        self.conditions = Conditions()
        self.block = ""
        self.closing = ""
        self.block_place: Place | None = None
        self.ended = False

    def expect_sections(self, text: str) -> None:
        """Select the section that is wanted; a file without `.endl` has none."""
        if self.section or ".endl" in text.lower():
            self.wanted = Wanted(self.section)

    @property
    def skipping(self) -> bool:
        """Whether the cards that come now are not read."""
        return bool(self.block) or self.conditions.inactive or (self.wanted is not None and self.wanted.outside)

    def skip(self, builder: Builder) -> None:
        """Count a card that is not read, if it may be part of the circuit."""
        if self.conditions.undecided and not self.block:
            builder.total += 1
            builder.reasons["undecided .if"] += 1

    def open_block(self, block: str, closing: str, place: Place) -> None:
        """Skip all lines until `.closing`."""
        self.block, self.closing, self.block_place = block, closing, place

    def in_block(self, builder: Builder, word: str, place: Place) -> bool:
        """Whether the dot card `word` belongs to the block that is skipped; structure ends a control block."""
        if not self.block:
            return False
        if word == self.closing:
            self.block = ""
            return True
        if self.block == "control" and word in STRUCTURE:
            message = f"the control block is not closed before `.{word}`"
            builder.malformed("note", message, place, "control", "write `.endc`")
            self.block = ""
            return False
        return True

    def in_section_frame(self, word: str, rest: str) -> bool:
        """Whether a dot card opens or closes a section of a library."""
        if self.wanted is None:
            return False
        if word == "endl":
            self.wanted.leave()
            return True
        if word == "lib" and not self.wanted.inside:
            path, section = library_arguments(rest)
            if not section and not any(mark in path for mark in "./\\"):
                self.wanted.enter(path)
                return True
        return False

    def close(self, builder: Builder, depth: int) -> None:
        """Note what is still open at the end of the file, and close the bodies that it opened above `depth`."""
        place = Place(self.path)
        while len(builder.open) > depth:
            scope = builder.scope
            builder.end_subcircuit(hoist=True)
            message = f"the subcircuit {scope.name} is never closed; all cards to the end of the file belong to it"
            builder.malformed(
                "warning", message, scope.place, scope.name, f"write `.ends {scope.name}` behind its last card"
            )
        if self.block:
            message = f"the block `.{self.block}` is never closed; the lines to the end of the file were skipped"
            builder.malformed("warning", message, self.block_place or place, self.block, f"write `.{self.closing}`")
        if self.conditions.depth:
            builder.malformed("warning", "an `.if` is never closed", place, ".if", "write `.endif`")
        if self.wanted is not None and self.wanted.section and not self.wanted.found:
            message = f"the library has no section {self.wanted.section}"
            where = self.called_from or place
            builder.note("missing-file", "warning", message, where, self.path, "name one of its sections")
