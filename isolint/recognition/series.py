"""Series of type numbers: what a name suggests, for confirming, contradicting and asking, never for deciding.

In: the name of a part and its number of pins. Out: a `Hint` or None. The patterns stand in `series.toml` and nowhere
else; they are read when somebody asks.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import NamedTuple

LEAST_PINS = 4
_PREFIX = r"(?:a|x|ic|hcpl)(?=[46]n)"
_FILE = os.path.join(os.path.dirname(__file__), "series.toml")
_LETTERS: Mapping[str, tuple[str, ...]] = {
    "A": ("anode",), "K": ("cathode",), "C": ("collector",), "E": ("emitter",), "B": ("base",),
    "X": ("anode", "cathode"), "V": ("vcc", "vdd2"), "G": ("gnd", "gnd2"), "O": ("out", "out2"), "EN": ("en",),
    "MT": ("terminal1", "terminal2"), "S": ("source",), "SA": ("scra",), "SK": ("scrk",), "SG": ("gate",),
    "PK": ("pdk1", "pdk2"), "PA": ("pda1", "pda2"), "R": ("r1", "r2"), "P": ("pv+",), "N": ("pv-",),
    "I": ("in1", "in2"), "+I": ("in+",), "-I": ("in-",), "+O": ("out+",), "-O": ("out-",), "0V": ("0v",),
    "n": ("nc",),
}  # fmt: skip


class Hint(NamedTuple):
    """What a series suggests: a type, "" for some coupler; usual orders of the pins, each a tuple of pin names.

    is_word: the name only holds a word for couplers.
    """

    type: str
    bidirectional: bool = False
    is_word: bool = False
    orders: tuple[tuple[str, ...], ...] = ()


class _Row(NamedTuple):
    type: str
    pattern: re.Pattern[str]
    only: int
    bidirectional: bool
    alternating: re.Pattern[str] | None
    word: bool
    pins: Mapping[str, list[str]]


@lru_cache(maxsize=65536)
def hint_of(name: str, pins: int) -> Hint | None:
    """The series that a part's name belongs to, None for none or fewer than four pins."""
    if pins < LEAST_PINS:
        return None
    plain = name.strip()
    prefix = re.match(_PREFIX, plain, re.IGNORECASE)
    plain = plain[prefix.end() :] if prefix is not None else plain
    any_row, rows = _rows()
    if any_row.match(plain) is None:
        return None
    for row in rows:
        if row.only not in (0, pins) or row.pattern.match(plain) is None:
            continue
        alternating = row.bidirectional or (row.alternating is not None and row.alternating.match(plain) is not None)
        orders = tuple(_named(order) for order in row.pins.get(str(pins), ()))
        return Hint(row.type, alternating, row.word, orders)
    return None


@cache
def _rows() -> tuple[re.Pattern[str], tuple[_Row, ...]]:
    """The series, and what matches where one of them does: most names are of none."""
    import tomllib

    with open(_FILE, "rb") as opened:
        document = tomllib.load(opened)
    rows = tuple(
        _Row(
            row["type"],
            re.compile(f"(?:{row['match']})(?!\\d)", re.IGNORECASE),
            row.get("only", 0),
            row.get("bidirectional", False),
            re.compile(row["alternating"], re.IGNORECASE) if "alternating" in row else None,
            row.get("word", False),
            row.get("pins", {}),
        )
        for row in document["series"]
    )
    return re.compile("|".join(row.pattern.pattern for row in rows), re.IGNORECASE), rows


def _named(order: str) -> tuple[str, ...]:
    """An order as pin names of a record; a letter that comes twice takes its next name, then a number."""
    seen: dict[str, int] = {}
    names = []
    for letter in order.split():
        words = _LETTERS[letter]
        at = seen.get(letter, 0)
        seen[letter] = at + 1
        several = order.split().count(letter) > len(words) and letter != "n"
        names.append(words[at] if at < len(words) and not several else f"{words[0].rstrip('12')}{at + 1}")
    free = [position for position, name in enumerate(names) if name.startswith("nc")]
    for number, position in enumerate(free, start=1):
        names[position] = "nc" if len(free) == 1 else f"nc{number}"
    return tuple(names)
