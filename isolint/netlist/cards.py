"""The value that reading gives: cards in columns, one set of columns a scope.

A scope is the top level (index 0, name "") or one `.subckt` body. The columns of a scope run in parallel: index i
of each is the same element card. Names and nodes stand as they were written; comparing them without case is the
reader's business of the next stage. Nothing changes after reading.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from isolint.errors import Place
from isolint.netlist.expressions import Expression

Number = float | Expression
"""A value on a card: a plain SI float, or an expression to be evaluated with an instance's parameters."""


class Stimulus(NamedTuple):
    """The value of a V or I source.

    kind: "DC", "PULSE", "SIN", "EXP", "PWL", "AC", "SFFM", "FILE" ... in upper case.
    dc: the DC value where one is written, else None. args: the numbers in the parentheses, in order.
    """

    kind: str
    dc: Number | None = None
    args: tuple[Number, ...] = ()


class Model(NamedTuple):
    """A `.model` card. `type` in lower case ("d", "npn", "nmos", "sw", ...); parameter names in lower case."""

    name: str
    type: str
    parameters: Mapping[str, Number]
    place: Place


class Function(NamedTuple):
    """A `.func`: parameter names in lower case and the body."""

    name: str
    arguments: tuple[str, ...]
    body: Expression


NoteKind = Literal["malformed-card", "missing-file", "refused-file"]
NoteLevel = Literal["error", "warning", "note"]
NOTE_KINDS: frozenset[str] = frozenset({"malformed-card", "missing-file", "refused-file"})


class Note(NamedTuple):
    """What the reader has to say of a card: becomes a failure of the rule that judges its kind.

    `subject` is a stable name of what it is about (card name, include path), never a line number. strict: whether
    something of the circuit may be lost, so that --strict counts it as an error. library: whether a file was refused
    that looks like a simulator's own library, which matters only if something is missing.
    """

    kind: NoteKind
    level: NoteLevel
    message: str
    place: Place
    subject: str
    remedy: str = ""
    strict: bool = False
    library: bool = False


@dataclass(slots=True)
class Scope:
    """The element cards, models and parameters of one level.

    letters: upper-case first letter of each element. names: the whole element name ("R1", "XU3").
    nodes: connecting nodes only; control nodes of E, G, S, B and control sources of F, H, W stand in `controls`, as do
    the inductors of a K. In a B, F or H with an expression a source whose current counts stands as
    `i(NAME)` beside nodes.
    models: model or subcircuit name, or None. values: number, Stimulus, or None where the card has none.
    tails: `key=value` parameters of the cards that have some, keys in lower case; for X cards the instance parameters.
    file_ids, lines, columns: place of each card.
    ports, defaults: of the `.subckt` header. parameters: `.param` in order, keys in lower case.
    optional: the node that an optional port means where an instance leaves it out (the reader adds it); they are last.
    unreadable: whether the body, or a part of it, is encrypted: what it conducts is then not known.
    """

    name: str
    place: Place
    parent: int = -1
    ports: tuple[str, ...] = ()
    defaults: dict[str, Number] = field(default_factory=dict)
    parameters: dict[str, Number] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    models_by_name: dict[str, Model] = field(default_factory=dict)
    subcircuits: dict[str, int] = field(default_factory=dict)
    letters: list[str] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    nodes: list[tuple[str, ...]] = field(default_factory=list)
    models: list[str | None] = field(default_factory=list)
    values: list[Number | Stimulus | None] = field(default_factory=list)
    controls: dict[int, tuple[str, ...]] = field(default_factory=dict)
    tails: dict[int, dict[str, Number | str]] = field(default_factory=dict)
    file_ids: array[int] = field(default_factory=lambda: array("l"))
    lines: array[int] = field(default_factory=lambda: array("l"))
    columns: array[int] = field(default_factory=lambda: array("l"))
    optional: dict[str, str] = field(default_factory=dict)
    unreadable: bool = False

    def __len__(self) -> int:
        return len(self.letters)


class SourceFile(NamedTuple):
    """One file that was read: path in the tree, encoding, title line of a deck (or None) and why it was taken so."""

    path: str
    encoding: str
    title: str | None
    title_reason: str


class Cards(NamedTuple):
    """All scopes of a netlist with the files it came from and what the reader noted.

    scopes[0] is the top level. `globals` holds lower-case names of global nodes ("0", "gnd", "gnd!" and those of
    `.global`). total, understood: numbers of cards, dot cards included, without comments and control blocks; `reasons`
    counts those that were not understood. temperature: of `.temp`, in degrees Celsius.
    """

    path: str
    files: tuple[SourceFile, ...]
    scopes: tuple[Scope, ...]
    globals: frozenset[str]
    notes: tuple[Note, ...]
    understood: int
    total: int
    reasons: Mapping[str, int]
    temperature: float | None = None

    def place(self, scope: int, index: int) -> Place:
        """Where element card `index` of `scope` stands."""
        columns = self.scopes[scope]
        return Place(self.files[columns.file_ids[index]].path, columns.lines[index], columns.columns[index])

    def find_subcircuit(self, name: str, scope: int) -> int | None:
        """The scope index of the subcircuit that `name` means, seen from `scope` outwards (case does not matter)."""
        key = name.lower()
        for level in self._outwards(scope):
            found = self.scopes[level].subcircuits.get(key)
            if found is not None:
                return found
        return None

    def find_model(self, name: str, scope: int) -> Model | None:
        """The `.model` that `name` means, seen from `scope` outwards (case does not matter)."""
        key = name.lower()
        for level in self._outwards(scope):
            found = self.scopes[level].models_by_name.get(key)
            if found is not None:
                return found
        return None

    def _outwards(self, scope: int) -> Iterator[int]:
        while scope >= 0:
            yield scope
            scope = self.scopes[scope].parent
