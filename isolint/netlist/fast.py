"""Regular cards by splitting, without the grammar.

Only what can be read in one way and has nothing to remark comes out of here: plain names, plain numbers, no delimiters.
Everything else is given back as None and goes to the grammar, which alone makes errors. A test holds both to the
same answer. Each word is judged once and remembered, since nets, models and values come again and again.
"""

from __future__ import annotations

import re
from sys import intern

from isolint.netlist.cards import Number, Stimulus
from isolint.netlist.element import Element, quantity
from isolint.netlist.expressions import ExpressionError
from isolint.netlist.values import doubt, read_value

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
_BARE_MARKS = frozenset({"/", "//", "$"})
_PAIR = re.compile(r"([A-Za-z_][A-Za-z0-9_.]*)=([^(){}'\",\[\]%~:;\\=<>!*$]+|\{[\w.+*/()-]+\})\Z")
_BRACED = re.compile(r"\{[\w.+*/()-]+\}\Z")
_NUMBER_STARTS = frozenset("0123456789.+-")
_VALUE_KEYS = frozenset(
    {"r", "c", "l", "value", "val", "resistance", "capacitance", "inductance", "dc", "ac", "file", "k", "coupling"}
)
_FLAGS = frozenset({"off", "on"})

_PASSIVE, _SOURCE, _INSTANCE, _DEVICE, _CONTROLLED = range(5)
_FORMS = {
    "R": (_PASSIVE, 4),
    "C": (_PASSIVE, 4),
    "L": (_PASSIVE, 4),
    "V": (_SOURCE, 4),
    "I": (_SOURCE, 4),
    "D": (_DEVICE, 4),
    "J": (_DEVICE, 5),
    "Q": (_DEVICE, 5),
    "M": (_DEVICE, 6),
    "X": (_INSTANCE, 0),
    "E": (_CONTROLLED, 6),
    "G": (_CONTROLLED, 6),
    "F": (_CONTROLLED, 5),
    "H": (_CONTROLLED, 5),
}
_SHAPES = {key: (letter, *form) for letter, form in _FORMS.items() for key in (letter, letter.lower())}


class Splitter:
    """Reads regular cards; remembers the words that it has judged."""

    def __init__(self) -> None:
        self.words: dict[str, str | None] = {}
        self.numbers: dict[str, Number | None] = {}
        self.sources: dict[str, Stimulus] = {}

    def _word(self, word: str) -> str | None:
        """The word, always the same object, if it can only be a name; else None."""
        found = intern(word) if _WORD.match(word) is not None and word not in _BARE_MARKS else None
        self.words[word] = found
        return found

    def _number(self, word: str) -> Number | None:
        """The value of a word that can only be a number, and in one way, or an expression in braces; else None."""
        if _BRACED.match(word) is not None:
            return self._expression(word)
        plain = word[0] in _NUMBER_STARTS and word.isascii() and doubt("R", word) is None and doubt("C", word) is None
        found = read_value(word) if plain else None
        self.numbers[word] = found
        return found

    def _expression(self, word: str) -> Number | None:
        try:
            found = self.numbers[word] = quantity(word)
        except ExpressionError:
            return None
        return found

    def read(self, text: str) -> Regular | None:
        """Read a regular card, or give None."""
        shape = _SHAPES.get(text[0])
        if shape is None:
            return None
        letter, kind, wanted = shape
        words = text.split()
        tails: dict[str, Number | str] | None = None
        if "=" in words[-1]:
            tails = {}
            while "=" in words[-1]:
                match = _PAIR.match(words.pop())
                if match is None or not words:
                    return None
                value = self.numbers.get(match[2])
                if value is None:
                    value = self._number(match[2])
                key = match[1].lower()
                if value is None or key in tails:
                    return None
                tails[key] = value
            if len(tails) > 1:
                tails = dict(reversed(tails.items()))
        name = words[0]
        if not name.isalnum() and (_WORD.match(name) is None):
            return None
        known = self.words
        count = len(words)
        if kind in (_PASSIVE, _SOURCE):
            if count != wanted or (tails is not None and (kind == _SOURCE or not _VALUE_KEYS.isdisjoint(tails))):
                return None
            _, first, second, number = words
            a = known.get(first) or self._word(first)
            b = known.get(second) or self._word(second)
            value = self.numbers.get(number)
            if value is None:
                value = self._number(number)
            if a is None or b is None or value is None:
                return None
            if kind == _PASSIVE:
                return letter, name, (a, b), None, value, (), tails, ()
            stimulus = self.sources.get(number)
            if stimulus is None:
                stimulus = self.sources[number] = Stimulus("DC", value)
            return letter, name, (a, b), None, stimulus, (), tails, ()
        if kind == _CONTROLLED:
            return self._controlled(letter, words) if count == wanted and tails is None else None
        if kind == _DEVICE and count != wanted:
            return None
        if tails is not None and words[-1].lower() == "params:" and kind == _INSTANCE:
            words.pop()
        plain = []
        for word in words[1:]:
            found = known.get(word) or self._word(word)
            if found is None:
                return None
            plain.append(found)
        if len(plain) < 2:
            return None
        model = plain.pop()
        if kind == _DEVICE and (model[0] in _NUMBER_STARTS or model.lower() in _FLAGS):
            return None
        return letter, name, tuple(plain), model, None, (), tails, ()

    def _controlled(self, letter: str, words: list[str]) -> Regular | None:
        """A linear controlled source: output pair, control pair or source, gain."""
        plain = [self.words.get(word) or self._word(word) for word in words[1:-1]]
        gain = self.numbers.get(words[-1])
        if gain is None:
            gain = self._number(words[-1])
        names = tuple(word for word in plain if word is not None)
        if gain is None or len(names) < len(plain) or (len(names) == 3 and not names[2][0].isalpha()):
            return None
        return letter, words[0], names[:2], None, gain, names[2:], None, ()


def fast(text: str) -> Element | None:
    """Read one regular card, or give None; for single cards."""
    found = Splitter().read(text)
    return None if found is None else Element(*found)
