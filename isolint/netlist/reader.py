"""Reads a netlist with everything it includes: files to cards, and each card to where it belongs."""

from __future__ import annotations

import posixpath
import re
from sys import intern

from isolint.errors import Missing, NotANetlist, Place, Refused
from isolint.netlist.builder import MAX_CARDS, Builder
from isolint.netlist.cards import Cards, NoteLevel, SourceFile
from isolint.netlist.decoding import decode
from isolint.netlist.definitions import ACTIONS
from isolint.netlist.dots import Header
from isolint.netlist.element import BadCard, Element
from isolint.netlist.ends import after_end, is_mostly_text, no_netlist
from isolint.netlist.filestate import FileState
from isolint.netlist.included import is_no_netlist
from isolint.netlist.includes import confined, is_own_library, library_arguments, path_argument
from isolint.netlist.lost import Loss, LostLine, kept
from isolint.netlist.malformed import describe, shown
from isolint.netlist.prose import is_encrypted, is_plainly_prose, looks_like_name
from isolint.netlist.recovery import STRAY, recovered, without_strays
from isolint.netlist.text_lines import MAX_CARD, Line, cards
from isolint.netlist.title import Title, title_of
from isolint.netlist.words import ALIASES, JOINTS, KNOWN, SKIPPED, STRUCTURE
from isolint.source import ABSENT, Tree

MAX_BYTES = 256 * 1024 * 1024
MAX_DEPTH = 40
MAX_INCLUDES = 10_000
MAX_BAD_CARDS = 5_000

_DOT = re.compile(r"\.\s*([A-Za-z_]+)")


_FORMS = {
    "subckt": "write `.subckt name port ... [key=value ...]`",
    "model": "write `.model name type(key=value ...)`",
    "param": "write `.param key=value ...`",
    "func": "write `.func name(x) {expression}`",
}


class _NoCards(Exception):
    """An included file that is no netlist."""


class _TooMuch(Exception):
    """The netlist is larger than the limits; what was read until then stands."""


def read(tree: Tree, path: str, *, root: str = "", plain: bool = False) -> Cards:
    """Read the netlist `path` of the tree with its includes, which are confined to the folder `root` of the tree.

    With `plain` each element card goes through the grammar, one after the other: the reference that the quick ways
    are held to.

    Raise `Missing`, `Refused` or `NotANetlist` for the named file only; everything else that is wrong becomes a note.
    """
    return _Reader(tree, path, posixpath.normpath(root) if root else "", plain).run()


class _Reader:
    def __init__(self, tree: Tree, path: str, root: str, plain: bool) -> None:
        self.tree = tree
        self.path = path
        self.root = "" if root == "." else root
        self.builder = Builder(path)
        self.plain = plain
        self.texts: dict[str, tuple[int, str]] = {}
        self.bytes = 0
        self.includes = 0
        self.bad_cards = 0
        self.worded = 0
        self.active: list[tuple[str, str]] = []
        self.included: set[tuple[int, str, str]] = set()

    def run(self) -> Cards:
        data = self.tree.read(self.path)
        place = Place(self.path)
        if not data.strip(b"\x00\xff\xfe\xef\xbb\xbf \t\r\n\x1a"):
            raise NotANetlist("the file is empty", place, "name a SPICE netlist")
        if len(data) > MAX_BYTES:
            raise Refused(f"the file is larger than {MAX_BYTES // (1024 * 1024)} MiB", place)
        text, title = self._decode(self.path, data, top=True)
        if title.remark is not None:
            lines = [LostLine(kept(title.text or ""), place)]
            cure = "put a comment or title line first"
            self.builder.lose(Loss(0, lines, title.remark, place, "title", cure, "is taken for the title"))
        try:
            self._file(FileState(self.path, 0, ""), text, title.first)
        except _TooMuch as stop:
            self.builder.malformed("error", str(stop), place, self.path, "check a part of it")
        cards_read = self.builder.finish()
        readable = self.builder.structure + sum(len(scope) for scope in cards_read.scopes)
        mostly_text = not (self.builder.structure or self.builder.dot_cards) and is_mostly_text(cards_read, self.worded)
        if (readable == 0 and not (cards_read.understood and "malformed" in cards_read.reasons)) or mostly_text:
            raise no_netlist(cards_read, self.worded)
        return cards_read

    def _decode(self, path: str, data: bytes, top: bool) -> tuple[str, Title]:
        """Decode a file, keep it in the list of files, and judge its title."""
        self.bytes += len(data)
        decoded = decode(data)
        title = title_of(decoded.text) if top else Title(None, "an included file has no title", 0, None)
        file = len(self.builder.files)
        self.builder.files.append(SourceFile(path, decoded.encoding, title.text, title.reason))
        self.texts[path] = (file, decoded.text)
        if "$" in decoded.text:
            self.builder.dollar_globals |= "$G_" in decoded.text or "$g_" in decoded.text
        if decoded.unreadable:
            self.builder.total += 1
            self.builder.reasons["unreadable body"] += 1
            where = Place(path, decoded.unreadable)
            message = "from here on the file is binary or encrypted and was not read"
            self.builder.malformed("warning", message, where, "unreadable body", "ask for a readable model")
        if decoded.invisible:
            where = Place(path, decoded.invisible)
            message = "characters that can't be seen stand in cards from here on; the cards are read without them"
            self.builder.malformed("note", message, where, "invisible characters", "type the line again")
        return decoded.text, title

    def _file(self, file: FileState, text: str, first: int = 0) -> None:
        """Read the cards of one file, or of one section of it."""
        key = (file.path, file.section.lower())
        self.active.append(key)
        depth = len(self.builder.open)
        file.expect_sections(text)
        builder = self.builder
        reading, skipping, included = builder.reading, builder.skipping, builder.included
        builder.reading, builder.skipping, builder.included = file.number, file.skipping, len(self.active) > 1
        quick = (None, None) if self.plain else (builder.take, builder.take_run)
        lines = cards(text, first, *quick)
        for line in lines:
            if line.text[:1] == ".":
                self._dot(line, file)
                builder.skipping = file.skipping
                if file.ended:
                    builder.skipping = True
                    after_end(builder, file.path, lines, file.ended)
                    break
            elif file.skipping:
                file.skip(builder, line)
            elif line.text and (self.plain or not builder.take(line.text, line.line, line.column)):
                builder.total += 1
                self._irregular(line, file)
            if builder.total >= MAX_CARDS:
                raise _TooMuch(f"the netlist has more than {MAX_CARDS:,} cards; the rest was not read")
        builder.end_prose()
        file.close(builder, depth)
        builder.reading, builder.skipping, builder.included = reading, skipping, included
        self.active.pop()

    # Element cards that the splitting reader gave back

    def _irregular(self, line: Line, file: FileState) -> None:
        text = line.text
        place = self._place(line, file)
        if len(text) > MAX_CARD or line.too_long:
            self.builder.reasons["too long"] += 1
            message = f"the card {shown(text, 30)} is longer than {MAX_CARD:,} characters and was not read"
            self.builder.malformed("error", message, place, shown(text, 30), "split it")
            return
        if is_encrypted(text) or (self.builder.scope.unreadable and len(text.split(None, 1)) == 1):
            # Of an encrypted body the last line may be short.
            self._encrypted(place)
            return
        if text[0] == "+":
            self.builder.reasons["malformed"] += 1
            message = f"`{shown(text, 30)}` continues no card"
            self._lose(text, message, place, shown(text, 30), "put the card before it", "continues no card")
            return
        if not text[0].isalpha():
            self.builder.prose(text, place)
            return
        if self.bad_cards >= MAX_BAD_CARDS:
            self.builder.reasons["malformed"] += 1
            return
        try:
            element = recovered(text)
        except BadCard as bad:
            self._bad(line, file, bad)
            return
        self.builder.end_prose()
        self.builder.add(element, line.line, line.column)

    def _encrypted(self, place: Place) -> None:
        scope = self.builder.scope
        if scope.unreadable:
            self.builder.total -= 1
            return
        scope.unreadable = True
        self.builder.reasons["unreadable body"] += 1
        message = f"the body of {scope.name or 'this file'} is encrypted and was not read"
        self.builder.malformed("warning", message, place, "unreadable body", "ask for a readable model")

    def _bad(self, line: Line, file: FileState, bad: BadCard) -> None:
        text = line.text
        name = text.split(None, 1)[0]
        self.bad_cards += 1
        if self.bad_cards == MAX_BAD_CARDS:
            self.builder.only_plain = True
            message = f"there are {MAX_BAD_CARDS:,} cards that can't be read; from here on only plain cards are read"
            self.builder.malformed("error", message, self._place(line, file), "bad cards", "is this a netlist?")
        if is_plainly_prose(text):
            self.builder.prose(text, self._place(line, file))
            return
        if not looks_like_name(name) and len(text.split()) > 2 and "=" not in text:
            self.builder.prose(text, self._place(line, file))
            return
        self.builder.end_prose()
        self.builder.reasons["malformed"] += 1
        self.worded += not looks_like_name(name)
        message, cure = describe(text, bad.text, bad.offset)
        offset = min(bad.offset, max(0, len(text) - 1))
        place = Place(file.path, *line.place(offset))
        self.builder.malformed("error", message, place, shown(name, 40), cure)

    def _lose(self, text: str, message: str, place: Place, subject: str, remedy: str, what: str) -> None:
        """Keep one line that is not read, whose nets decide how bad that is."""
        lines = [LostLine(kept(text), place)]
        self.builder.lose(Loss(self.builder.open[-1], lines, message, place, subject, remedy, what))

    # Dot cards

    def _place(self, line: Line, file: FileState) -> Place:
        return Place(file.path, line.line, line.column)

    def _dot(self, line: Line, file: FileState) -> None:
        match = _DOT.match(line.text[:80])
        word = match[1].lower() if match else ""
        word = ALIASES.get(word, word)
        rest = line.text[match.end() :].strip() if match else ""
        place = self._place(line, file)
        if file.in_block(self.builder, word, place) or file.in_section_frame(word, rest):
            return
        if word in ("if", "elseif", "else", "endif"):
            self.builder.end_prose()
            self._condition(word, rest, line, file)
            return
        if file.skipping:
            file.skip(self.builder, line)
            return
        self.builder.end_prose()
        self.builder.total += 1
        if len(line.text) > MAX_CARD or line.too_long:
            self.builder.reasons["too long"] += 1
            message = f"the card `.{word}` is longer than {MAX_CARD:,} characters and was not read"
            self.builder.malformed("error", message, self._place(line, file), f".{word}", "split it")
            return
        if word not in KNOWN:
            word, rest = self._misspelt(word, rest, line, file)
        if word == "end":
            self._end(rest, line, file)
        elif word == "alter":
            self.builder.understood += 1
            self.builder.dot_cards += 1
            file.ended = ".alter"
        elif word in JOINTS:
            self._joint(word, rest, line, file)
        elif word in SKIPPED:
            self.builder.understood += 1
            self.builder.dot_cards += 1
            if SKIPPED[word]:
                file.open_block(word, SKIPPED[word], place)
        elif word == "control":
            self.builder.understood += 1
            file.open_block("control", "endc", place)
        elif word in ("include", "lib"):
            name, section = (path_argument(rest), "") if word == "include" else library_arguments(rest)
            self._include(name, section, place, file, word)
        elif word in ACTIONS:
            self._act(word, rest, place)
        else:
            self.builder.reasons["unknown dot card"] += 1

    def _act(self, word: str, rest: str, place: Place) -> None:
        try:
            self._acted(word, rest, place)
        except BadCard as bad:
            self.builder.reasons["malformed"] += 1
            first = shown(rest.split(None, 1)[0], 40) if rest else ""
            message = f"`.{f'{word} {first}'.strip()}` {bad.text}"
            level: NoteLevel = "error" if word == "subckt" else "warning"
            self.builder.malformed(level, message, place, first or f".{word}", bad.cure or _FORMS.get(word, ""))
            if word == "subckt":
                # Its cards must not fall into the scope outside.
                self.builder.begin_subcircuit(Header("?", (), {}, {}), place)
        else:
            self.builder.understood += 1

    def _acted(self, word: str, rest: str, place: Place) -> None:
        """Do what a dot card says, if need be without closing parentheses that none opens."""
        try:
            ACTIONS[word](self.builder, rest, place)
        except BadCard:
            mended = without_strays(rest)
            if mended == rest:
                raise
            ACTIONS[word](self.builder, mended, place)
            first = shown(rest.split(None, 1)[0], 40)
            self.builder.malformed(STRAY.level, f"`.{word} {first}` {STRAY.message}", place, first, STRAY.cure)

    def _misspelt(self, word: str, rest: str, line: Line, file: FileState) -> tuple[str, str]:
        """What an unknown dot word may mean: a glued or misspelt word of structure is read as that word."""
        place = self._place(line, file)
        glued = len(word) > 4 and word.startswith("ends")
        near: list[str] = []
        if len(word) < 20:
            from difflib import get_close_matches

            near = get_close_matches(word, STRUCTURE, n=1, cutoff=0.7)
        meant = "ends" if glued else near[0] if near else ""
        if not meant:
            message = f"the card `.{shown(word, 20)}` is not known and was skipped"
            subject = f".{shown(word, 20)}"
            cure = "write it as elements if it changes the circuit, else remove it"
            self._lose(line.text, message, place, subject, cure, "is a card that is not known")
            return word, rest
        if meant == "ends":
            rest = ""
        message = f"`.{shown(word, 20)}` is read as `.{meant}`"
        self.builder.malformed("note", message, place, f".{shown(word, 20)}", f"write `.{meant}`")
        return meant, rest

    def _condition(self, word: str, rest: str, line: Line, file: FileState) -> None:
        remark = file.conditions.card(word, rest, self.builder.scopes, self.builder.open[-1])
        file.forget_skipped()
        if file.conditions.counted:
            self.builder.total += 1
            self.builder.understood += 1
        if remark is not None:
            level, message, cure = remark
            self.builder.malformed(level, message, self._place(line, file), f".{word}", cure)

    def _end(self, rest: str, line: Line, file: FileState) -> None:
        name = rest.split(None, 1)[0].lower() if rest else ""
        self.builder.understood += 1
        self.builder.dot_cards += 1
        if name and len(self.builder.open) > 1 and name == self.builder.scope.name.lower():
            message = f"`.end {rest}` is read as `.ends {rest}`"
            self.builder.malformed("note", message, self._place(line, file), f".ends {rest}", f"write `.ends {rest}`")
            self.builder.end_subcircuit()
            return
        file.ended = ".end"

    def _joint(self, word: str, rest: str, line: Line, file: FileState) -> None:
        """`.connect a b`: a joint of two nets or more, kept as resistors of 0 ohm."""
        place = self._place(line, file)
        nodes = rest.replace("=", " ").replace(",", " ").replace("(", " ").replace(")", " ").split()
        inner = next((node for node in nodes if "." in node[1:-1]), None)
        if len(nodes) < 2 or inner is not None:
            self.builder.reasons["malformed"] += 1
            what = "joins fewer than two nets" if inner is None else f"names the inner net {shown(inner, 40)}"
            message = f"`.{word} {shown(rest, 40)}` {what}, which can't be followed"
            self.builder.malformed("error", message, place, f".{word}", f"write `.{word} net1 net2`")
            return
        self.builder.structure += 1
        first = nodes[0]
        for other in nodes[1:]:
            name = f"{word}:{first}:{other}"
            self.builder.add(Element("R", name, (intern(first), intern(other)), None, 0.0), line.line, line.column)
        self.builder.understood -= len(nodes) - 2

    # Includes

    def _include(self, name: str, section: str, place: Place, file: FileState, word: str) -> None:
        subject = shown(name.replace("\\", "/"), 200)
        note = self.builder.note
        try:
            if not name:
                raise Refused("no file is named")
            path = confined(self.tree, self.root, posixpath.dirname(file.path), name)
            key = (path, section.lower())
            if key in self.active:
                self.builder.understood += 1
                message = f"the included file `{subject}` is being read already: the files include each other in a loop"
                self.builder.malformed("warning", message, place, subject, "remove one of the lines")
                return
            if len(self.active) >= MAX_DEPTH:
                raise Refused(f"includes are nested deeper than {MAX_DEPTH} files")
            self.includes += 1
            if self.includes > MAX_INCLUDES or self.bytes > MAX_BYTES:
                raise Refused("the netlist includes too much; the file was not read")
            if (self.builder.open[-1], *key) in self.included:
                self.builder.understood += 1
                return
            if path not in self.texts:
                self._decode(path, self.tree.read(path), top=False)
                if is_no_netlist(self.texts[path][1]):
                    raise _NoCards
        except Missing as missing:
            self.builder.reasons["include not read"] += 1
            message = f"the included file `{subject}` is not there"
            cure = missing.cure or "put it beside the netlist, or remove the line"
            if missing.text != ABSENT:
                message += f": {missing.text}"  # a clone or a submodule that does not hold it
            note("missing-file", "warning", message, place, subject, cure, strict=True)
            return
        except _NoCards:
            self.builder.reasons["include not read"] += 1
            self.texts[path] = (self.texts[path][0], "")
            message = f"the included file `{subject}` holds no card of a netlist and was not read"
            self.builder.malformed("error", message, place, subject, "name a netlist, or remove the line")
            return
        except Refused as refused:
            self.builder.reasons["include not read"] += 1
            message = f"the included file `{subject}` was not read: {refused.text}"
            # Whether something of a simulator's own library is needed is known only when the circuit is.
            cure = refused.cure or "remove the line"
            note("refused-file", "error", message, place, subject, cure, library=is_own_library(name, word))
            return
        self.builder.understood += 1
        self.builder.structure += 1
        self.included.add((self.builder.open[-1], *key))
        number, text = self.texts[path]
        self._file(FileState(path, number, section, place), text)
