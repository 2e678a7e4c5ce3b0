"""The words for a card that can't be read: what it is, how many nodes it has, and the form that was expected."""

from __future__ import annotations

import re
from typing import NamedTuple


class CardForm(NamedTuple):
    """What a card of one letter is called, how many nodes it needs, what follows them, and how it is written."""

    word: str
    nodes: int
    then: str
    form: str


FORMS = {
    "R": CardForm("resistor", 2, "", "Rname n1 n2 value"),
    "C": CardForm("capacitor", 2, "", "Cname n1 n2 value"),
    "L": CardForm("inductor", 2, "", "Lname n1 n2 value"),
    "K": CardForm("coupling", 0, "coefficient", "Kname Lname1 Lname2 coefficient"),
    "V": CardForm("voltage source", 2, "", "Vname n+ n- value"),
    "I": CardForm("current source", 2, "", "Iname n+ n- value"),
    "D": CardForm("diode", 2, "model", "Dname anode cathode model"),
    "Q": CardForm("transistor", 3, "model", "Qname collector base emitter model"),
    "J": CardForm("junction FET", 3, "model", "Jname drain gate source model"),
    "M": CardForm("MOSFET", 3, "model", "Mname drain gate source bulk model"),
    "E": CardForm("voltage-controlled voltage source", 2, "control", "Ename n+ n- c+ c- gain"),
    "G": CardForm("voltage-controlled current source", 2, "control", "Gname n+ n- c+ c- gain"),
    "F": CardForm("current-controlled current source", 2, "control", "Fname n+ n- Vname gain"),
    "H": CardForm("current-controlled voltage source", 2, "control", "Hname n+ n- Vname gain"),
    "B": CardForm("behavioural source", 2, "expression", "Bname n+ n- V=expression"),
    "S": CardForm("switch", 2, "control and model", "Sname n1 n2 c+ c- model"),
    "W": CardForm("current-controlled switch", 2, "control and model", "Wname n1 n2 Vname model"),
    "X": CardForm("subcircuit call", 1, "subcircuit", "Xname n1 n2 ... subcircuit"),
    "A": CardForm("code-model part", 1, "model", "Aname n1 n2 ... model"),
    "T": CardForm("transmission line", 4, "", "Tname a+ a- b+ b- Z0=value"),
}
OTHER = CardForm("part", 1, "model", "name n1 n2 ... model")

_COUNTS = ("no node", "one node", "two nodes", "three nodes", "four nodes", "five nodes")
_WORD = re.compile(r"[^\s=(){},'\"]+")


def letter_of(text: str) -> str:
    """The letter that says what an element card is; only ASCII letters have a meaning."""
    return text[0].upper() if text[0].isascii() else text[0]


def describe(text: str, reason: str, offset: int) -> tuple[str, str]:
    """Give the message and the cure for a card that can't be read from `offset` on, because of `reason`."""
    name = shown(text.split(None, 1)[0].rstrip("=(,"), 40)
    form = FORMS.get(letter_of(text), OTHER)
    expected = f"expected `{form.form}`"
    subject = f"{form.word} {name}"
    if reason != "can't be read":
        return f"{subject} {reason}", expected
    nodes = _nodes_before(text, offset)
    if form.nodes == 1 and not text[offset:].strip():
        nodes = max(nodes - 1, 0)
    rest = text[offset:].strip()
    if nodes < form.nodes:
        return f"{subject} has {_COUNTS[nodes]}; {expected}", f"write it as `{form.form}`"
    if not rest:
        lacks = form.then or "end"
        return f"{subject} has no {lacks}; {expected}", f"write it as `{form.form}`"
    return f"{subject} can't be read at `{shown(rest, 30)}`; {expected}", f"write it as `{form.form}`"


def _nodes_before(text: str, offset: int) -> int:
    """How many words that can be nodes stand between the name and the offset."""
    words = _WORD.findall(text[:offset])[1:]
    return min(len(words), len(_COUNTS) - 1)


def shown(text: str, most: int) -> str:
    """The text on one line, cut to `most` characters."""
    flat = " ".join(text[: 4 * most].split())
    return flat if len(flat) <= most else flat[: most - 3] + "..."
