"""What reading one file has to remember: its sections, conditions and the block that is being skipped."""

from __future__ import annotations

from isolint.errors import Place
from isolint.netlist.builder import Builder
from isolint.netlist.conditions import Conditions
from isolint.netlist.ends import unclosed_body
from isolint.netlist.fast import fast
from isolint.netlist.includes import WantedSection, library_arguments
from isolint.netlist.lost import MAX_TEXT, Loss, LostLine, kept
from isolint.netlist.prose import looks_like_name
from isolint.netlist.text_lines import Line
from isolint.netlist.words import STRUCTURE


class FileState:
    """The state of one file, or of one section of it, while it is read. `number` is its place in the list of files."""

    def __init__(self, path: str, number: int, section: str, called_from: Place | None = None) -> None:
        self.path = path
        self.number = number
        self.section = section
        self.called_from = called_from
        self.wanted: WantedSection | None = None
        self.conditions = Conditions()
        self.block = ""
        self.closing = ""
        self.block_place: Place | None = None
        self.ended = ""
        self._skipped: list[LostLine] = []
        self._skipped_length = 0

    def expect_sections(self, text: str) -> None:
        """Select the section that is wanted; a file without `.endl` has none."""
        if self.section or ".endl" in text.lower():
            self.wanted = WantedSection(self.section)

    @property
    def skipping(self) -> bool:
        """Whether the cards that come now are not read."""
        return bool(self.block) or self.conditions.inactive or (self.wanted is not None and self.wanted.outside)

    def skip(self, builder: Builder, line: Line) -> None:
        """Count a card that is not read, if it may be part of the circuit; keep it until its block is closed."""
        if self.conditions.undecided and not self.block:
            builder.total += 1
            builder.reasons["undecided .if"] += 1
        if (self.block or self.conditions.depth) and self._skipped_length < MAX_TEXT:
            self._skipped.append(LostLine(kept(line.text), Place(self.path, line.line, line.column)))
            self._skipped_length += len(line.text)

    def forget_skipped(self) -> None:
        """The cards that were skipped stood in a block that is closed now: they were meant to be skipped."""
        if not self.block and not self.conditions.depth:
            self._skipped, self._skipped_length = [], 0

    def open_block(self, block: str, closing: str, place: Place) -> None:
        """Skip all lines until `.closing`."""
        self.block, self.closing, self.block_place = block, closing, place

    def in_block(self, builder: Builder, word: str, place: Place) -> bool:
        """Whether the dot card `word` belongs to the block that is skipped; structure ends a control block."""
        if not self.block:
            return False
        if word == self.closing:
            self.block = ""
            self.forget_skipped()
            return True
        if self.block == "control" and word in STRUCTURE:
            message = f"the control block is not closed before `.{word}`"
            self._unclosed(builder, message, place, "control", "write `.endc`")
            self.block = ""
            self.forget_skipped()
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
            name = builder.scope.name
            message = f"the subcircuit {name} is never closed; all cards to the end of the file belong to it"
            unclosed_body(builder, message, f"write `.ends {name}` behind its last card")
        if self.block:
            message = f"the block `.{self.block}` is never closed; the lines to the end of the file were skipped"
            self._unclosed(builder, message, self.block_place or place, self.block, f"write `.{self.closing}`")
        if self.conditions.depth:
            self._unclosed(builder, "an `.if` is never closed", place, ".if", "write `.endif`")
        if self.wanted is not None and self.wanted.section and not self.wanted.found:
            message = f"the library has no section {self.wanted.section}"
            where = self.called_from or place
            builder.note("missing-file", "warning", message, where, self.path, "name one of its sections")

    def _unclosed(self, builder: Builder, message: str, place: Place, subject: str, cure: str) -> None:
        """Note a block that is open at the end of the file, with the cards that were skipped in it."""
        cards = [line for line in self._skipped if looks_like_name(line.text.split(None, 1)[0]) and fast(line.text)]
        what = f"was skipped in the unclosed `.{subject.lstrip('.')}`"
        builder.lose(Loss(builder.open[-1], cards, message, place, subject, cure, what))
        self._skipped = []
