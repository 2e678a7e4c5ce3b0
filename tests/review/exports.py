"""Boards drawn at random, their re-exports and edits: text in, text out."""

from __future__ import annotations

import random
from typing import NamedTuple

from isolint.circuit import build
from isolint.netlist import read
from isolint.review.correspondence import Correspondence, Netlist, correspond
from isolint.source import MemoryTree

PINS = {"R": 2, "C": 2, "L": 2, "D": 2, "Q": 3, "V": 2, "E": 4, "X": 4}
VALUES = ("1k", "2.2k", "4.7k", "10k", "100n", "1u")


class ExportedCard(NamedTuple):
    """One element card."""

    name: str
    nets: tuple[str, ...]
    rest: str

    @property
    def text(self) -> str:
        return " ".join((self.name, *self.nets, self.rest))


def drawn(dice: random.Random, size: int) -> list[ExportedCard]:
    """A board: channels that are copies of each other, and cards at random between few named and many other nets."""
    cards: list[ExportedCard] = []
    numbers = dict.fromkeys(PINS, 0)
    nets = 0

    def put(letter: str, at: tuple[str, ...], rest: str) -> None:
        numbers[letter] += 1
        cards.append(ExportedCard(f"{letter}{numbers[letter]}", at, rest))

    def net() -> str:
        nonlocal nets
        nets += 1
        return f"N${nets}"

    for _ in range(dice.randrange(0, max(1, size // 12))):
        a, b, c, d = net(), net(), net(), net()
        put("R", ("VF", a), "2.2k")
        put("D", (b, a), "DX")
        put("X", (a, "GNDF", "GND", c), "DEMO_PT1")
        put("R", ("VCC", c), "4.7k")
        put("C", (c, "GND"), "1n")
        put("Q", (d, c, "GND"), "QN")
    inner = ["VCC", "GND", "VF", "GNDF", *(net() for _ in range(max(3, size // 3)))]
    while len(cards) < size:
        letter = dice.choice("RRRCCLDQVE")
        at = tuple(dice.choice(inner) for _ in range(PINS[letter]))
        rest = {"D": "DX", "Q": "QN", "V": dice.choice(("5", "12"))}.get(letter, dice.choice(VALUES))
        put(letter, at, "2" if letter == "E" else rest)
    return cards


def text_of(cards: list[ExportedCard]) -> str:
    """The netlist of a board."""
    models = ".model DX D\n.model QN NPN\n.subckt DEMO_PT1 a k e c\nD1 a k DX\nF1 c e V1 0.5\nV1 a x 0\n.ends\n"
    return "* drawn\n" + "".join(card.text + "\n" for card in cards) + models + ".end\n"


def exported_anew(dice: random.Random, cards: list[ExportedCard], permuted: bool = True) -> list[ExportedCard]:
    """The same board: anonymous nets numbered anew, references permuted, cards shuffled, ends of R and C exchanged."""
    nets = sorted({net for card in cards for net in card.nets if net.startswith("N$")})
    names = [f"N${number}" for number in range(1, len(nets) + 1)]
    dice.shuffle(names)
    renumbered = dict(zip(nets, names, strict=True))
    renamed: dict[str, str] = {}
    for letter in PINS:
        own = [card.name for card in cards if card.name[0] == letter]
        others = own.copy()
        if permuted:
            dice.shuffle(others)
        renamed.update(zip(own, others, strict=True))
    made = []
    for card in cards:
        at = tuple(renumbered.get(net, net) for net in card.nets)
        if card.name[0] in "RC" and dice.random() < 0.5:
            at = at[::-1]
        made.append(ExportedCard(renamed[card.name], at, card.rest))
    dice.shuffle(made)
    return made


def edited(dice: random.Random, cards: list[ExportedCard]) -> list[ExportedCard]:
    """The board with one real edit: a value, a pin, a card less or more."""
    made = list(cards)
    index = dice.randrange(len(made))
    card = made[index]
    how = dice.choice(("value", "pin", "gone", "came"))
    if how == "gone":
        del made[index]
    elif how == "came":
        made.append(ExportedCard("R999", (dice.choice(card.nets), "VCC"), "33k"))
    elif how == "value" and card.name[0] in "RCLV":
        made[index] = card._replace(rest="3.3k")
    else:
        place = dice.randrange(len(card.nets))
        made[index] = card._replace(nets=(*card.nets[:place], "NEWLY", *card.nets[place + 1 :]))
    return made


def netlist(text: str) -> Netlist:
    """A netlist as it is compared."""
    cards = read(MemoryTree({"board.cir": text}), "board.cir", root="")
    return Netlist(cards, build(cards, lambda path, scope, name: name != "DEMO_PT1"))


def compared(old: str, new: str) -> Correspondence:
    """Two netlists paired."""
    return correspond(netlist(old), netlist(new))


def number(found: Correspondence) -> int:
    """How many differences there are in all scopes."""
    return sum(pair.differing.number + (not pair.alike and not pair.differing.number) for pair in found.scopes.values())
