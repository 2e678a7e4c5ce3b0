"""Generated netlists for the rows about reading. Invented; the same for the same arguments."""

from __future__ import annotations

import random
from collections.abc import Callable

DIGITS = ("1", "2.2", "4.7", "10", "33")
VALUES = [f"{digits}{suffix}" for suffix in ("", "k", "n", "u", "p", "meg") for digits in DIGITS]
FORMS = ("{{{}*k{}+{}}}", "{{rs*{}/k{}-{}}}", "{{({}+k{})*{}}}", "{{2*k{1}*({0}+{2})}}")
"""Expressions; the first and the last number are unique where that is asked for, the other chooses a parameter."""


def mixed(cards: int, expressions: float = 0.0, unique: bool = False, seed: int = 1) -> str:
    """A flat netlist of `cards` element cards of the common letters, of which the share `expressions` has one.

    Neighbouring cards use neighbouring nets, as in an exported schematic or a ladder. Expressions come from a few
    hundred texts, or each is another text where `unique`.
    """
    chance = random.Random(seed)
    lines = ["* mixed cards, invented", ".param rs=50 k0=1 k1=2 k2=3 k3=4", ".model DEMO_D D(IS=1e-14)"]
    lines += [".model DEMO_N NPN(BF=200)", ".model DEMO_M NMOS(VTO=1)", ".subckt DEMO_S a b c", "R1 a b 1", "R2 b c 1"]
    lines += [".ends", "* the board"]
    written = 0

    def expression(number: int) -> str:
        form = FORMS[chance.randrange(len(FORMS))]
        first, last = (f"{number}", f"{number + 7}.5") if unique else (chance.randrange(9), chance.randrange(9))
        return form.format(first, chance.randrange(4), last)

    while written < cards:
        number = written
        written += 1
        a, b, c = (f"N{max(0, number // 2 + chance.randrange(-8, 8)):06}" for _ in range(3))
        if chance.random() < 0.25:
            b = ("0", "VCC", "VSS")[chance.randrange(3)]
        if chance.random() < expressions:
            lines.append(f"{'RCL'[chance.randrange(3)]}{number} {a} {b} {expression(number)}")
        else:
            lines.append(_card(chance.random(), number, (a, b, c), VALUES[chance.randrange(len(VALUES))], chance))
        if not number % 50:
            lines.append(f"* block {number // 50}")
    return "\n".join((*lines, ".end", ""))


def _card(share: float, number: int, nets: tuple[str, str, str], value: str, chance: random.Random) -> str:
    a, b, c = nets
    if share < 0.66:
        return f"{'RRRCCL'[chance.randrange(6)]}{number} {a} {b} {value}"
    if share < 0.70:
        return f"V{number} {a} {b} {value}"
    if share < 0.72:
        return f"I{number} {a} {b} {value}"
    if share < 0.80:
        return f"D{number} {a} {b} DEMO_D"
    if share < 0.88:
        return f"Q{number} {a} {b} {c} DEMO_N"
    if share < 0.96:
        return f"M{number} {a} {b} {c} 0 DEMO_M W={chance.randrange(1, 9)}u L=1u"
    return f"X{number} {a} {b} {c} DEMO_S"


def one_long_card(lines: int) -> str:
    """One instance card over `lines` continuation lines, four nets each."""
    body = [f"+ {' '.join(f'P{line}_{pin}' for pin in range(4))}" for line in range(lines)]
    return "\n".join(("* one long card, invented", "R1 P0_0 0 1", "XJ1", *body, "+ DEMO_CONNECTOR", ".end", ""))


TEXTS: dict[str, Callable[[int], str]] = {
    "plain": mixed,
    "few": lambda cards: mixed(cards, 0.05),
    "unique": lambda cards: mixed(cards, 0.2, unique=True),
    "long": one_long_card,
}
"""Names of the texts: no expressions, 5 % of cards with one, 20 % with one each of its own, one card."""
