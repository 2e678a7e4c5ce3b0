"""Regular cards by splitting, without the grammar.

Only what can be read in one way and has nothing to remark comes out of here: plain names, plain numbers, no delimiters.
Everything else is given back as None and goes to the grammar, which alone makes errors. A test holds both to the
same answer. Each word is judged once and remembered, since nets, models and values come again and again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from sys import intern

from isolint.netlist.card_values import doubt, read_value
from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.element import Element, quantity
from isolint.netlist.expressions import Expression, ExpressionError
from isolint.netlist.templates import filled

Regular = tuple[
    str,
    str,
    tuple[str, ...],
    str | None,
    Number | Stimulus | None,
    tuple[str, ...],
    dict[str, Number | str] | None,
    tuple[()],
]
"""The fields of `Element` in a plain tuple, which is made several times faster."""

_WORD = re.compile(r"[^(){}'\",\[\]%~:;\\=<>!*]+\Z")
_ODD = b"(){}'\",[]%~:;\\<>!*"
"""What `_WORD` leaves out, but the `=` of tails."""
_LONE = (" $ ", " / ", " // ")
_BARE_MARKS = frozenset({"/", "//", "$"})
_PAIR = re.compile(r"([A-Za-z_][A-Za-z0-9_.]*)=([^(){}'\",\[\]%~:;\\=<>!*$]+|\{[\w.+*/()-]+\})\Z")
_BRACED = re.compile(r"\{[\w.+*/()-]+\}\Z")
_NUMBER_STARTS = frozenset("0123456789.+-")
_VALUE_KEYS = frozenset(
    {"r", "c", "l", "value", "val", "resistance", "capacitance", "inductance", "dc", "ac", "file", "k", "coupling"}
)
_FLAGS = frozenset({"off", "on"})
_LONG = 1_000

PASSIVE, SOURCE, INSTANCE, DEVICE, CONTROLLED = range(5)
_FORMS = {
    "R": (PASSIVE, 4),
    "C": (PASSIVE, 4),
    "L": (PASSIVE, 4),
    "V": (SOURCE, 4),
    "I": (SOURCE, 4),
    "D": (DEVICE, 4),
    "J": (DEVICE, 5),
    "Q": (DEVICE, 5),
    "M": (DEVICE, 6),
    "X": (INSTANCE, 0),
    "E": (CONTROLLED, 6),
    "G": (CONTROLLED, 6),
    "F": (CONTROLLED, 5),
    "H": (CONTROLLED, 5),
}
SHAPES = {key: (letter, *form) for letter, form in _FORMS.items() for key in (letter, letter.lower())}
"""By first letter: the letter in upper case, its form, and how many words a card has without its tails (0: any)."""


class Splitter:
    """Reads regular cards; remembers the words that it has judged."""

    def __init__(self) -> None:
        self.words: dict[str, str | None] = {}
        self.numbers: dict[str, Number] = {}
        self.sources: dict[str, Stimulus] = {}

    def _word(self, word: str) -> str | None:
        """The word, always the same object, if it can only be a name; else None."""
        found = intern(word) if _WORD.match(word) is not None and word not in _BARE_MARKS else None
        self.words[word] = found
        return found

    def number(self, word: str) -> Number | None:
        """The value of a word that can only be a number, and in one way, or an expression in braces; else None."""
        found = self.numbers.get(word)
        if found is not None:
            return found
        if _BRACED.match(word) is not None:
            return self.expression(word)
        plain = word[0] in _NUMBER_STARTS and word.isascii() and doubt("R", word) is None and doubt("C", word) is None
        found = read_value(word) if plain else None
        if found is not None:
            self.numbers[word] = found
        return found

    def expression(self, text: str) -> Number | None:
        """The value of an expression in braces, without others inside, or None where it can't be read."""
        value: Number
        inner = text[1:-1].strip()
        found = filled(inner)
        if found is not None and found.varies:
            value = Expression(inner, found.code)
        else:
            try:
                value = quantity(text)
            except ExpressionError:
                return None
        self.numbers[text] = value
        return value

    def source(self, word: str) -> Stimulus | None:
        """The stimulus of a source of which only its DC value is written."""
        found = self.sources.get(word)
        if found is None:
            value = self.number(word)
            if value is not None:
                found = self.sources[word] = Stimulus("DC", value)
        return found

    def tails(self, words: Sequence[str]) -> dict[str, Number | str] | None:
        """The pairs that the words are, None if one of them is none or a key comes twice."""
        tails: dict[str, Number | str] = {}
        for word in words:
            match = _PAIR.match(word)
            value = None if match is None else self.number(match[2])
            if match is None or value is None:
                return None
            tails[match[1].lower()] = value
        return tails if len(tails) == len(words) else None

    def _cut_tails(self, words: list[str]) -> dict[str, Number | str] | None:
        """Take the pairs off the end of a card's words; None where they are none or nothing is left."""
        first = len(words) - 1
        while first and "=" in words[first - 1]:
            first -= 1
        tails = self.tails(words[first:])
        del words[first:]
        return tails if words else None

    def read(self, text: str) -> Regular | None:
        """Read a regular card, or give None."""
        shape = SHAPES.get(text[0])
        if shape is None:
            return None
        letter, kind, wanted = shape
        words = text.split()
        tails: dict[str, Number | str] | None = None
        if "=" in words[-1]:
            tails = self._cut_tails(words)
            if tails is None:
                return None
        name = words[0]
        if not name.isalnum() and (_WORD.match(name) is None):
            return None
        known = self.words
        count = len(words)
        if kind in (PASSIVE, SOURCE):
            if count != wanted or (tails is not None and (kind == SOURCE or has_value(tails))):
                return None
            _, one, other, number = words
            a = known.get(one) or self._word(one)
            b = known.get(other) or self._word(other)
            if a is None or b is None:
                return None
            value = self.numbers.get(number) or self.number(number) if kind == PASSIVE else self.source(number)
            return None if value is None else (letter, name, (a, b), None, value, (), tails, ())
        if kind == CONTROLLED:
            return self._controlled(letter, words) if count == wanted and tails is None else None
        if tails is not None and words[-1].lower() == "params:" and kind == INSTANCE:
            words.pop()
        if len(words) < 3 or (kind == DEVICE and count != wanted):
            return None
        if count > _LONG and tails is None and "=" not in text and are_plain(f" {text} ".replace("\t", " ")):
            # The nets of so long a card are mostly met once only: to remember them would cost more than it saves.
            return letter, name, tuple(words[1:-1]), words[-1], None, (), tails, ()
        plain = []
        for word in words[1:]:
            found = known.get(word) or self._word(word)
            if found is None:
                return None
            plain.append(found)
        model = plain.pop()
        if kind == DEVICE and device_model(model) is None:
            return None
        return letter, name, tuple(plain), model, None, (), tails, ()

    def _controlled(self, letter: str, words: list[str]) -> Regular | None:
        """A linear controlled source: output pair, control pair or source, gain."""
        plain = [self.words.get(word) or self._word(word) for word in words[1:-1]]
        gain = self.number(words[-1])
        names = tuple(word for word in plain if word is not None)
        if gain is None or len(names) < len(plain) or (len(names) == 3 and not names[2][0].isalpha()):
            return None
        return letter, words[0], names[:2], None, gain, names[2:], None, ()


def are_plain(joined: str) -> bool:
    """Whether each word without `=` can only be a name or a plain number; blanks must stand around each word."""
    if not joined.isascii() or len(joined.encode().translate(None, _ODD)) < len(joined):
        return False
    return not (("$" in joined or "/" in joined) and any(word in joined for word in _LONE))


def has_value(tails: Mapping[str, Number | str]) -> bool:
    """Whether the tails of a passive part may hold its value, which only the grammar sorts out."""
    return not _VALUE_KEYS.isdisjoint(tails)


def device_model(word: str) -> str | None:
    """The word, if it can only be the model of a device and neither its area nor a flag."""
    return None if word[0] in _NUMBER_STARTS or word.lower() in _FLAGS else word


def fast(text: str) -> Element | None:
    """Read one regular card, or give None; for single cards."""
    found = Splitter().read(text)
    return None if found is None else Element(*found)
