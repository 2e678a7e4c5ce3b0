"""The places of unexplained parts in words: between what a part lies, which pins lie where, what it perhaps is.

In: what positions tell. Out: sentences. Never a type as a line to write, never `ordinary = true` as the answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from isolint.checking.naming import Naming
from isolint.positions.found import Asked, DoubtfulPair, Positions
from isolint.positions.guess import RECTIFIER
from isolint.tables import quoted

MOST = 6
"""Elements or nets named at most in one line."""

ISOLATES = "it isolates: a part record (type and pin order from the data sheet)"


def is_ordinary(keys: Iterable[str]) -> str:
    """What to state of a part that does not isolate, by the keys of its instances."""
    tables = some([f"[elements.{quoted(key)}]" for key in dict.fromkeys(keys)], 3)
    return f"it does not: ordinary = true under {tables}, and what it touches is joined through it"


def some(words: Sequence[str], most: int = MOST) -> str:
    """The first words of a list, and how many more there are."""
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more


def instances(naming: Naming, elements: Iterable[int]) -> str:
    """The paths of some elements."""
    return some([naming.circuit.path(element) for element in elements])


def lies(naming: Naming, positions: Positions, asked: Asked) -> str:
    """`PART77 (XU2, XU3) lies between GND and GND_FIELD and nothing says what it is`."""
    between = [positions.domain(domain) for domain in asked.guess.domains if domain is not None]
    who = who_of(naming, asked.name, asked.elements)
    named = list(dict.fromkeys(name for name in between if name))
    if asked.place.across and len(named) > 1:
        return f"{who} lies between {' and '.join(named[:3])} and nothing says what it is"
    beside = f" on {named[0]}" if named else ""
    why = "its name suggests a barrier part" if asked.place.told else "it has the surroundings of a part that isolates"
    return f"{who} lies with one group of pins{beside}, {why}, and nothing says what it is"


def who_of(naming: Naming, name: str, elements: Sequence[int]) -> str:
    """A part name with its instances; the path alone where a part has no name."""
    paths = instances(naming, elements)
    return paths if len(elements) == 1 and paths == name else f"{name} ({paths})"


def pins(naming: Naming, positions: Positions, asked: Asked) -> str:
    """`pins 1 2 on GND_FIELD (IN1_A, GND_FIELD) | pins 3 4 on GND (GND, DI1); by its place perhaps a ...`."""
    words: list[str] = []
    for group, domain in zip(asked.guess.groups, asked.guess.domains, strict=False):
        nets = list(dict.fromkeys(naming.net(asked.place.nets[pin]) for pin in group))
        name = positions.domain(domain)
        on = f" on {name}" if name else ""
        one = "pin" if len(group) == 1 else "pins"
        words.append(f"{one} {' '.join(str(pin + 1) for pin in group)}{on} ({some(nets)})")
    text = f"{naming.circuit.path(asked.place.element)}: {' | '.join(words)}"
    return f"{text}; by its place perhaps {article(asked.guess.type)}" if asked.guess.type else text


def article(word: str) -> str:
    """A word with its article."""
    return f"{'an' if word[:1] in 'aeiou' else 'a'} {word}"


def cure(asked: Asked | None, keys: Iterable[str]) -> str:
    """Both answers, with the keys of the instances."""
    ordinary = is_ordinary(keys)
    if asked is not None and asked.guess.type == RECTIFIER:
        ordinary = ordinary.replace("it does not", f"it is a {RECTIFIER}", 1)
    return f"{ISOLATES} | {ordinary}"


def source_cure(keys: Iterable[str]) -> str:
    """Both answers about controlled sources and switches, which no record can name."""
    return f"it isolates: write its cards as a .subckt and call that by one X card | {is_ordinary(keys)}"


def gap_cure(keys: Iterable[str]) -> str:
    """The answers about a part of two pins between two sides."""
    return f"a spark gap, varistor or suppressor: its clamp_voltage in the table named here | {is_ordinary(keys)}"


def pair_words(naming: Naming, positions: Positions, pair: DoubtfulPair) -> str:
    """`GND and GND_ISO are joined by L7, and PART12 (XU4) lies between them: one ground, or two sides ...`."""
    one, other = (positions.domain(number) for number in (pair.one, pair.other))
    lying = some([who_of(naming, entry.name, entry.elements) for entry in pair.parts])
    verb = "lies" if len(pair.parts) == 1 else "lie"
    if pair.shorts:
        tie = instances(naming, pair.shorts)
        joined, two = f"{one} and {other} are joined by {tie}", f"two sides and {tie} a tie"
    elif pair.supplies:
        supply = some([naming.net(net) for net in pair.supplies])
        joined, two = f"{one} and {other} have the supply {supply} in common", "two sides"
    else:
        joined, two = f"{one} and {other} have names of one ground", "two sides"
    return f"{joined}, and {lying} {verb} between them: one ground, or {two}?"
