"""What stands behind the end of a netlist, and what is said of a file that holds none."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.errors import NotANetlist, Place
from isolint.netlist.builder import Builder
from isolint.netlist.cards import Cards
from isolint.netlist.fast import fast
from isolint.netlist.text_lines import Line

_ENOUGH = 1_000


def after_end(builder: Builder, path: str, lines: Iterable[Line]) -> None:
    """Note what stands behind the card `.end`: it is not part of the circuit."""
    where = None
    circuit = False
    for count, line in enumerate(lines):
        low = line.text[:12].lower()
        if not low or low.split(None, 1)[0] == ".end":
            continue
        where = where or Place(path, line.line, line.column)
        circuit = circuit or low.startswith((".subckt", ".model")) or fast(line.text) is not None
        if circuit or count > _ENOUGH:
            break
    if where is not None:
        message = (
            "cards stand behind `.end`; they are not part of the circuit" if circuit else "text stands behind `.end`"
        )
        builder.malformed("warning" if circuit else "note", message, where, ".end", "move `.end` to the end")


def no_netlist(found: Cards) -> NotANetlist:
    """The error for a file without a readable card; it names the first one that could not be read."""
    cure = "name a SPICE netlist: cards such as `R1 in out 10k`"
    bad = next((note for note in found.notes if note.level == "error" and note.subject != "bad cards"), None)
    if any(note.subject == "unreadable body" for note in found.notes):
        return NotANetlist("the file is binary or encrypted", Place(found.path), cure)
    if bad is not None:
        return NotANetlist(
            f"no card of this file can be read as one of a netlist; the first: {bad.message}", bad.place, cure
        )
    return NotANetlist("there is no card of a netlist in this file", Place(found.path), cure)
