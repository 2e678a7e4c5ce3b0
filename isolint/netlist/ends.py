"""What stands behind the end of a netlist, and what is said of a file that holds none."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.errors import NotANetlist, Place
from isolint.netlist.builder import Builder
from isolint.netlist.cards import Cards, Note, Number, Stimulus
from isolint.netlist.fast import fast
from isolint.netlist.lost import MAX_TEXT, Loss, LostLine, kept
from isolint.netlist.prose import looks_like_name
from isolint.netlist.text_lines import Line
from isolint.source import is_hidden


def after_end(builder: Builder, path: str, lines: Iterable[Line], ended: str) -> None:
    """Note what stands behind the card `.end`, or `.alter`: it is not part of the circuit."""
    where = None
    circuit = False
    depth = 0
    lost: list[LostLine] = []
    length = 0
    for line in lines:
        low = line.text[:12].lower()
        word = low.split(None, 1)[0] if low else ""
        if word in ("", ".end", ".alter"):
            continue
        where = where or Place(path, line.line, line.column)
        circuit = circuit or word in (".subckt", ".model") or fast(line.text) is not None
        depth = max(depth + (word in (".subckt", ".macro")) - word.startswith((".ends", ".eom")), 0)
        if ended == ".alter":
            break
        if not depth and word[0] != "." and length < MAX_TEXT:
            lost.append(LostLine(kept(line.text), Place(path, line.line, line.column)))
            length += len(line.text)
    if where is None:
        return
    if ended == ".alter":
        message = "the variants behind `.alter` are not judged"
        builder.malformed("note", message, where, ".alter", "check each variant as a netlist of its own", True)
        return
    message = "cards stand behind `.end`; they are not part of the circuit" if circuit else "text stands behind `.end`"
    what = "stands behind `.end`"
    builder.lose(Loss(0, lost, message, where, ".end", "move `.end` to the end", what, strict=circuit))


def unclosed_body(builder: Builder, message: str, cure: str) -> None:
    """Close a subcircuit that lacks its `.ends`: its cards may be meant for the circuit outside."""
    scope = builder.scope
    own = {port.lower() for port in scope.ports}
    builder.end_subcircuit(hoist=True)
    lost: list[LostLine] = []
    length = 0
    for index, nodes in enumerate(scope.nodes):
        foreign = " ".join(node for node in nodes if node.lower() not in own)
        if " " not in foreign or length > MAX_TEXT:
            continue
        length += len(foreign)
        where = Place(builder.files[scope.file_ids[index]].path, scope.lines[index], scope.columns[index])
        lost.append(LostLine(kept(f"{scope.names[index]} {foreign}"), where))
    what = f"stands in the unclosed subcircuit {scope.name}"
    # A library's own nets are numbered as others are.
    numbers = not builder.included
    builder.lose(Loss(builder.open[-1], lost, message, scope.place, scope.name, cure, what, numbers=numbers))


def has_number(value: Number | Stimulus | None) -> bool:
    """Whether the value of an element is stated, as no word of a sentence is."""
    if isinstance(value, Stimulus):
        return value.dc is not None or bool(value.args)
    return isinstance(value, float) or (value is not None and not value.text.isidentifier())


def is_mostly_text(found: Cards, worded: int) -> bool:
    """Whether a file without a dot card holds four lines that are no cards for each that surely is one.

    worded: how many of the cards that can't be read begin with a plain word.
    """
    lines = found.reasons.get("text between cards", 0) + worded
    scope = found.scopes[0]
    sure = unsure = 0
    for name, value in zip(scope.names, scope.values, strict=True):
        plain, _, again = name.partition("~")
        if looks_like_name(plain) or has_number(value):
            sure += 1
        else:
            # A sentence may read as a card, and begins like another one more often than an element.
            unsure += 1
            lines += bool(again)
    lines += unsure if lines else 0
    return lines > 4 * sure


def no_netlist(found: Cards, worded: int) -> NotANetlist:
    """The error for a file without a readable card; it names the first one that could not be read."""
    cure = "name a SPICE netlist: cards such as `R1 in out 10k`"
    if is_hidden(found.path):
        # Nothing of a hidden file is shown.
        return NotANetlist("there is no card of a netlist in this file", Place(found.path), cure)
    bad = next((note for note in found.notes if note.level == "error" and note.subject != "bad cards"), None)
    if any(note.subject == "unreadable body" for note in found.notes):
        return NotANetlist("the file is binary or encrypted", Place(found.path), cure)
    lacking = next((note for note in found.notes if note.kind != "malformed-card"), None)
    also = "" if lacking is None else f"; {lacking.message}"
    if is_mostly_text(found, worded) and not _starts_like_a_card(bad):
        return NotANetlist(f"there is no card of a netlist in this file, only text{also}", Place(found.path), cure)
    if bad is not None:
        return NotANetlist(
            f"no card of this file can be read as one of a netlist; the first: {bad.message}{also}", bad.place, cure
        )
    if lacking is not None:
        return NotANetlist(
            f"there is no card of a netlist in this file: {lacking.message}", lacking.place, lacking.remedy
        )
    return NotANetlist("there is no card of a netlist in this file", Place(found.path), cure)


def _starts_like_a_card(bad: Note | None) -> bool:
    return bad is not None and looks_like_name(bad.subject)
