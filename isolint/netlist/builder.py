"""Gathers what the reader finds into the columns of `Cards`."""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from sys import intern

from isolint.errors import Place
from isolint.netlist.cards import Cards, Function, Model, Note, NoteKind, NoteLevel, Number, Scope, SourceFile
from isolint.netlist.dots import Header, ModelCard
from isolint.netlist.element import CardRemark, Element
from isolint.netlist.fast import Splitter
from isolint.netlist.lost import LITTLE_WORDS, MAX_TEXT, Loss, LostLine, finding, kept, nets_of, total_length, words_of
from isolint.netlist.malformed import shown
from isolint.netlist.prose import is_doubtful, plain_words
from isolint.netlist.runs import Card, CardRun, RunReader, name_key
from isolint.netlist.settle import settle
from isolint.netlist.text_lines import MAX_CARD

MAX_NOTES = 1_000
MAX_CARDS = 5_000_000
MAX_NESTING = 64

_OPEN_ENDED = frozenset("RCLNPYZ")
"""The last word of these may be something else than a model."""
_FOR_ALL = frozenset("TUNPOYZ")
"""Cards of these take any words for nodes."""
_ORDINARY = {"Q": 3, "M": 4}
"""More nodes than these leave open whether the last one is the model."""
NOT_READ = "is not understood"
_ORDER: tuple[NoteLevel, ...] = ("note", "warning", "error")


@dataclass(slots=True)
class _UnitRemark:
    """The first remark of a file on how a value is read, and how many more there are."""

    message: str
    place: Place
    subject: str
    cure: str
    count: int = 0


class Builder:
    """Takes cards in their order; `finish` gives the frozen value."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.files: list[SourceFile] = []
        self.scopes: list[Scope] = [Scope("", Place(path))]
        self.open: list[int] = [0]
        self.globals: set[str] = {"0", "gnd", "gnd!"}
        self.temperature: float | None = None
        self.total = 0
        self.understood = 0
        self.structure = 0
        self.dot_cards = 0
        self.dollar_globals = False
        self.reasons: Counter[str] = Counter()
        self._notes: list[Note] = []
        self._left_out: Counter[NoteLevel] = Counter()
        self._names: list[set[str]] = [set()]
        self._repeating: set[int] = set()
        self._splitter = Splitter()
        self._runs = RunReader(self._splitter)
        self.reading = 0
        self.included = False
        self.skipping = False
        self.only_plain = False
        self._doubtful: dict[int, list[tuple[Element, int, int, int]]] = {}
        self._unsettled: list[tuple[int, int]] = []
        self._bases: list[tuple[int, str, str]] = []
        self._discarded: set[int] = set()
        self._prose: list[LostLine] = []
        self._losses: list[Loss] = []
        self.lost_text = 0
        self._too_much_lost = False
        self._left_out_strict = False
        self._again: Counter[tuple[int, str]] = Counter()
        self._units: dict[int, _UnitRemark] = {}
        self._computed: list[tuple[int, int]] = []

    @property
    def scope(self) -> Scope:
        """The scope that cards go to now."""
        return self.scopes[self.open[-1]]

    def note(
        self,
        kind: NoteKind,
        level: NoteLevel,
        message: str,
        place: Place,
        subject: str,
        remedy: str = "",
        strict: bool = False,
        library: bool = False,
    ) -> None:
        """Keep a note; beyond `MAX_NOTES` only their number is kept."""
        if len(self._notes) >= MAX_NOTES:
            self._left_out[level] += 1
            self._left_out_strict = self._left_out_strict or strict
        else:
            self._notes.append(Note(kind, level, message, place, subject, remedy, strict, library))

    def malformed(
        self, level: NoteLevel, message: str, place: Place, subject: str, remedy: str = "", strict: bool = False
    ) -> None:
        """Keep a note about a card; `strict` if something may be lost."""
        self.note("malformed-card", level, message, place, self.subject(subject), remedy, strict)

    def lose(self, loss: Loss) -> None:
        """Keep lines that do not count until it is known which nets there are."""
        self.lost_text += total_length(loss.lines)
        if self.lost_text > MAX_TEXT:
            if not self._too_much_lost:
                self._too_much_lost = True
                message = "so many lines are not understood that the rest of them was not looked at"
                self.malformed("error", message, loss.place, "lost lines", "is this a netlist?")
            loss = loss._replace(lines=[])
        self._losses.append(loss._replace(subject=self.subject(loss.subject)))

    def _settle_losses(self) -> None:
        """Note the lines that are lost: an error where they name nets of the circuit."""
        if not self._losses:
            return
        scopes = {loss.scope for loss in self._losses if loss.lines}
        nets = {at: nets_of(self.scopes[at]) | {"0"} for at in scopes}
        for loss in self._losses:
            found = finding(loss, nets) if loss.lines else None
            if found is not None:
                message = words_of(found, loss)
                self.note("malformed-card", "error", message, found.line.place, loss.subject, loss.remedy, True)
            else:
                self.note("malformed-card", "note", loss.message, loss.place, loss.subject, loss.remedy, loss.strict)

    def subject(self, name: str) -> str:
        """A stable name for something in the scope that is open now."""
        return f"{self.scope.name}.{name}" if len(self.open) > 1 and not name.startswith(".") else name

    def prose(self, text: str, place: Place) -> None:
        """Count a line of text that is no card; lines that follow each other give one note."""
        self.reasons["text between cards"] += 1
        if self._prose and self._prose[0].place.file != place.file:
            self.end_prose()
        self._prose.append(LostLine(kept(text), place))

    def end_prose(self) -> None:
        """Note the lines of text that stood before the card that comes now."""
        if not self._prose:
            return
        lines, self._prose = self._prose, []
        text = shown(lines[0].text, 40)
        what = "a line of text" if len(lines) == 1 else f"{len(lines)} lines of text"
        message = f"{what} between the cards: `{text}`"
        says_something = any(any(map(str.isalnum, line.text)) for line in lines)
        self.lose(
            Loss(self.open[-1], lines, message, lines[0].place, text, "put `*` before it", NOT_READ, says_something)
        )

    def take(self, text: str, line: int, column: int) -> bool:
        """Read a regular card of the file `reading` into the open scope; False for any other card."""
        if self.skipping or self.total >= MAX_CARDS or len(text) > MAX_CARD:
            return False
        card = self._splitter.read(text)
        if card is None:
            return False
        if self._prose:
            self.end_prose()
        self.total += 1
        self.add(card, line, column)
        return True

    def take_run(self, lines: list[str], start: int, number: int) -> tuple[int, int]:
        """Read the run of element cards that begins at index `start` of the lines, line `number` of the file `reading`.

        Give how many lines were read, and how many were looked at.
        """
        if self.skipping or self.only_plain or self.total + len(lines) > MAX_CARDS:
            return 0, 1
        run, consumed, seen = self._runs.read(lines, start, number)
        if run is None:
            return 0, seen
        if self._repeats(run.keys):
            return 0, len(lines) - start
        if self._prose and (run.letters or run.doubtful):
            self.end_prose()
        self._append_run(run)
        return consumed, seen

    def _repeats(self, keys: Sequence[str]) -> bool:
        """Keep the names of a run, or say that one of them is there already."""
        at = self.open[-1]
        names = self._names[at]
        if at in self._repeating:
            fresh = set(keys)
            if len(fresh) < len(keys) or not names.isdisjoint(fresh):
                return True
        known = len(names)
        names.update(keys)
        if len(names) == known + len(keys):
            return False
        # To look first, as from now on, costs as much again, and most scopes have no name twice.
        self._repeating.add(at)
        self._names[at] = set(map(name_key, self.scopes[at].names))
        return True

    def _append_run(self, run: CardRun) -> None:
        at = self.open[-1]
        scope = self.scopes[at]
        base, count = len(scope.letters), len(run.letters)
        self.total += count + len(run.doubtful)
        self.understood += count + len(run.doubtful)
        scope.letters += run.letters
        scope.names += run.names
        scope.nodes += run.nodes
        scope.models += run.models
        scope.values += run.values
        scope.file_ids.extend(array("l", (self.reading,)) * count)
        scope.lines.extend(run.lines)
        scope.columns.extend(run.columns)
        scope.tails.update((base + index, tails) for index, tails in run.tails)
        for index, card in run.singles:
            self._extras(at, base + index, card)
        if run.doubtful:
            waiting = self._doubtful.setdefault(at, [])
            waiting.extend((element, self.reading, line, column) for element, line, column in run.doubtful)

    def add(self, card: Card, line: int, column: int) -> None:
        """Put an element into the columns of the open scope."""
        self.understood += 1
        if is_doubtful(card):
            self._doubtful.setdefault(self.open[-1], []).append((Element(*card), self.reading, line, column))
            return
        self._append(self.open[-1], card, self.reading, line, column)

    def _append(self, at: int, card: Card, file: int, line: int, column: int) -> None:
        letter, name, nodes, model, value, _, tails, _ = card
        key = name_key(name)
        names = self._names[at]
        scope = self.scopes[at]
        if key in names:
            name = self._second(at, name, key, Place(self.files[file].path, line, column))
            key = name_key(name)
        names.add(key)
        index = len(scope.letters)
        scope.letters.append(letter)
        scope.names.append(name)
        scope.nodes.append(nodes)
        scope.models.append(model)
        scope.values.append(value)
        scope.file_ids.append(file)
        scope.lines.append(line)
        scope.columns.append(column)
        if tails:
            scope.tails[index] = tails if isinstance(tails, dict) else dict(tails)
        self._extras(at, index, card)

    def _extras(self, at: int, index: int, card: Card) -> None:
        """Keep what only some cards have, and remember those that only the whole netlist can settle."""
        letter, _, nodes, model, _, controls, _, remarks = card
        if controls:
            self.scopes[at].controls[index] = controls
        if letter in "TO" or (
            model is not None and (letter in _OPEN_ENDED or len(nodes) > _ORDINARY.get(letter, len(nodes)))
        ):
            self._unsettled.append((at, index))
        if remarks:
            self._remarks(at, index, remarks)

    def _remarks(self, at: int, index: int, remarks: tuple[CardRemark, ...]) -> None:
        name, place, subject = self._spoken(at, index)
        scope = self.scopes[at]
        for remark in remarks:
            if remark.computed:
                self._computed.append((at, index))
                continue
            if remark.unit:
                self._unit(scope.file_ids[index], remark, name, place)
                continue
            message = f"{name}: {remark.message}"
            self.note("malformed-card", remark.level, message, place, subject, remark.cure, remark.doubtful)

    def _spoken(self, at: int, index: int) -> tuple[str, Place, str]:
        """The name of an element, its place, and how notes call it."""
        scope = self.scopes[at]
        name = scope.names[index]
        place = Place(self.files[scope.file_ids[index]].path, scope.lines[index], scope.columns[index])
        return name, place, f"{scope.name}.{name}" if at else name

    def _name_nodes(self) -> None:
        """Evaluate the nodes that are expressions."""
        from isolint.netlist.computed_nodes import name_nodes

        for found in name_nodes(self.scopes, self._computed):
            name, place, subject = self._spoken(found.scope, found.card)
            what = f"{name}: has a node written as an expression"
            if found.nets:
                nets = ", ".join(f"{node}, which is the net {net}" for node, net in found.nets.items())
                self.note("malformed-card", "note", f"{what}, {nets}", place, subject)
            if found.unknown:
                message = f"{what}, {', '.join(found.unknown)}, which is taken for a net of that name"
                self.note("malformed-card", "error", message, place, subject, "write the name of the net", True)

    def _unit(self, file: int, remark: CardRemark, name: str, place: Place) -> None:
        """Note how a value is read, once a file."""
        known = self._units.get(file)
        if known is not None:
            known.count += 1
            return
        self._units[file] = _UnitRemark(f"{name}: {remark.message}", place, name, remark.cure)

    def _note_units(self) -> None:
        for first in self._units.values():
            others = f"; {first.count:,} more values of this file may be meant otherwise" if first.count else ""
            self.note("malformed-card", "note", first.message + others, first.place, first.subject, first.cure)

    def _second(self, at: int, name: str, key: str, place: Place) -> str:
        """The name under which the second element of a name is kept: `R1~2`."""
        scope = self.scopes[at]
        number = max(self._again[at, key], 1)
        fresh = key
        while fresh in self._names[at]:
            number += 1
            fresh = f"{key}~{number}"
        self._again[at, key] = number
        first = ""
        if len(self._notes) < MAX_NOTES and len(scope) < 10_000:
            found = next(i for i, other in enumerate(scope.names) if name_key(other) == key)
            first = f" (first in line {scope.lines[found]})"
        kept_as = f"{name}~{number}"
        message = f"there is a second element {name}{first}; both are kept, this one as {kept_as}"
        self.malformed("warning", message, place, kept_as, f"rename one of the two elements {name}", True)
        return kept_as

    def begin_subcircuit(self, header: Header, place: Place) -> None:
        """Open the body of a `.subckt`. A second one of a name is read and dropped."""
        if len(self.open) > MAX_NESTING:
            message = (
                f"subcircuits are nested deeper than {MAX_NESTING} levels, so {self.scope.name} is taken for closed"
            )
            self.malformed("warning", message, place, header.name, f"write `.ends {self.scope.name}`")
            self.end_subcircuit(hoist=True)
        index = len(self.scopes)
        parent = self.open[-1]
        key = header.name.lower()
        if key in self.scopes[parent].subcircuits or parent in self._discarded:
            if parent not in self._discarded:
                first = self.scopes[self.scopes[parent].subcircuits[key]].place
                message = f"there is a second subcircuit {header.name} (first at {first}); the first one counts"
                self.malformed("note", message, place, header.name, "remove one of the two", True)
            self._discarded.add(index)
        else:
            self.scopes[parent].subcircuits[key] = index
        ports = tuple(map(intern, header.ports))
        scope = Scope(header.name, place, parent, ports, dict(header.defaults), optional=dict(header.optional))
        self.scopes.append(scope)
        self._names.append(set())
        self.open.append(index)

    def end_subcircuit(self, hoist: bool = False) -> None:
        """Close the innermost body. With `hoist` it was never closed, so what it defines counts outside as well."""
        self._decide_doubtful(self.open[-1])
        closed = self.scope
        self.open.pop()
        if hoist:
            for key, inner in closed.subcircuits.items():
                self.scope.subcircuits.setdefault(key, inner)
            for key, model in closed.models_by_name.items():
                self.scope.models_by_name.setdefault(key, model)

    def add_model(self, card: ModelCard, place: Place) -> None:
        """Keep a model in the open scope; of two of a name the first counts."""
        models = self.scope.models_by_name
        key = card.name.lower()
        if key in models:
            message = f"there is a second model {card.name} (first at {models[key].place}); the first one counts"
            self.malformed("note", message, place, card.name, "remove one of the two", True)
            return
        models[key] = Model(card.name, card.type, card.parameters, place)
        if card.base:
            self._bases.append((self.open[-1], key, card.base))

    def add_parameters(self, values: Mapping[str, Number], functions: Iterable[Function]) -> None:
        """Keep parameters and functions in the open scope; a later value of a parameter replaces an earlier one."""
        self.scope.parameters.update(values)
        self.scope.functions.update({function.name: function for function in functions})

    def _decide_doubtful(self, at: int) -> None:
        """Cards of English words count if a card beyond doubt uses one of their nodes, or if they call a definition;
        else they are prose."""
        doubtful = self._doubtful.pop(at, None)
        if not doubtful:
            return
        scope = self.scopes[at]
        used = {node.lower() for nodes in scope.nodes for node in nodes} | {port.lower() for port in scope.ports}
        used |= self.globals
        for element, file, line, column in doubtful:
            little = LITTLE_WORDS if element.letter in _FOR_ALL else frozenset[str]()
            joined = any(node.lower() in used and node.lower() not in little for node in element.nodes)
            if joined or self._calls(at, element):
                self._append(at, element, file, line, column)
                continue
            self.understood -= 1
            self.reasons["text between cards"] += 1
            place = Place(self.files[file].path, line, column)
            text = shown(plain_words(element), 40)
            message = f"`{text}` is taken for text: it touches no net that anything else touches"
            cure = "put `*` before it, or connect the element"
            self.malformed("note", message, place, element.name, cure, True)

    def _calls(self, at: int, element: Element) -> bool:
        """Whether a card calls a definition that was read, seen from its scope outwards."""
        if element.letter != "X" or element.model is None:
            return False
        while at >= 0:
            found = self.scopes[at].subcircuits.get(element.model.lower())
            if found is not None:
                return len(self.scopes[found].ports) == len(element.nodes)
            at = self.scopes[at].parent
        return False

    def finish(self) -> Cards:
        """Close everything and give the value."""
        self.end_prose()
        while len(self.open) > 1:
            self.end_subcircuit(hoist=True)
        self._decide_doubtful(0)
        if self._computed:
            self._name_nodes()
        self._settle_losses()
        self._note_units()
        if self.dollar_globals:
            pins = (
                node for scope in self.scopes for nodes in (*scope.nodes, scope.optional.values()) for node in nodes
            )
            self.globals.update(node.lower() for node in pins if node[:3] in ("$G_", "$g_"))
        self._compact()
        if self._left_out:
            worst = max(self._left_out, key=_ORDER.index)
            count = sum(self._left_out.values())
            message = f"{count:,} more cards have something to remark; only the first {MAX_NOTES:,} are listed"
            place = Place(self.path)
            self._notes.append(
                Note("malformed-card", worst, message, place, "more remarks", strict=self._left_out_strict)
            )
        reasons = {reason: count for reason, count in sorted(self.reasons.items()) if count}
        cards = Cards(
            self.path,
            tuple(self.files),
            tuple(self.scopes),
            frozenset(self.globals),
            tuple(self._notes),
            self.understood,
            self.total,
            reasons,
            self.temperature,
        )
        return settle(cards, self._unsettled, self._bases)

    def _compact(self) -> None:
        """Drop the bodies of second definitions."""
        if not self._discarded:
            return
        kept = [index for index in range(len(self.scopes)) if index not in self._discarded]
        place = {old: new for new, old in enumerate(kept)}
        scopes = [self.scopes[index] for index in kept]
        for scope in scopes:
            scope.parent = place.get(scope.parent, scope.parent)
            scope.subcircuits = {key: place[old] for key, old in scope.subcircuits.items() if old in place}
        self._unsettled = [(place[at], index) for at, index in self._unsettled if at in place]
        self._bases = [(place[at], key, base) for at, key, base in self._bases if at in place]
        self.scopes = scopes
