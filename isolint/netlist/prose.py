"""Tells sentences, data-sheet rows and encrypted lines that stand between the cards from cards."""

from __future__ import annotations

from typing import Any

_ENGLISH = """
the a an of is are and or for at with to in on by not be this that from as it may should must will
can see note voltage current forward reverse dissipation rise fall time delay turn storage drop
temperature ambient maximum minimum typical max min typ value values unit units rating ratings ratio
transfer isolation insulation creepage clearance resistance capacitance leakage dark threshold
saturation breakdown peak continuous pulse test condition conditions parameter parameters symbol
characteristics data sheet datasheet page version date copyright model library file all rights
reserved description pin pins name number part type circuit diagram figure table notes when where
which used use if vf vr vrms khz mhz degc diode transistor resistor capacitor inductor coupler
optocoupler led detector device package simulation analysis example demo title
"""
_ROLES = """
collector emitter base anode cathode gate drain source input output in out supply ground power
"""
_LONG_TOKEN = 40
_PATH_MARKS = ".:_-"
"""No encryption, but a path, an address or a name."""
_STRIP = ".,:;()[]\"'!?-"
_ROLE_WORDS = frozenset(_ROLES.split())
"""English too, but nets are called so as well."""
_WORDS = frozenset(_ENGLISH.split()) - _ROLE_WORDS


def is_english(text: str) -> bool:
    """Whether the first part of a line holds two words of data-sheet English, one of them no usual name of a net."""
    words = [word.strip(_STRIP).lower() for word in text[:400].split()]
    sure = sum(word in _WORDS for word in words)
    return sure > 0 and sure + sum(word in _ROLE_WORDS for word in words) > 1


def is_plainly_prose(text: str) -> bool:
    """Whether a line that is no readable card is surely a sentence or a data-sheet row."""
    first = text[:400].split(None, 1)[0]
    return not any(c.isdigit() for c in first) and is_english(text)


def is_doubtful(card: tuple[Any, ...]) -> bool:
    """Whether a card (letter, name, nodes, model ...) may be prose: an alphabetic first word and others of English."""
    name: str = card[1]
    return name.isalpha() and is_english(plain_words(card))


def plain_words(card: tuple[Any, ...]) -> str:
    """The plain words of a card, near enough to judge whether they are English."""
    return " ".join((card[1], *card[2][:20], card[3] or ""))


def is_encrypted(text: str) -> bool:
    """Whether a line is one long run of hexadecimal or base-64 characters, and no ruler."""
    if len(text) < _LONG_TOKEN or " " in text or "\t" in text or "=" in text.rstrip("="):
        return False
    if any(mark in text for mark in _PATH_MARKS):
        return False
    return sum(map(str.isalnum, text[:400])) > 0.8 * min(len(text), 400)


def looks_like_name(name: str) -> bool:
    """Whether a first word looks like an element's name rather than like a word: one letter, or a digit in it."""
    return len(name) == 1 or any(c.isdigit() for c in name) or "_" in name
