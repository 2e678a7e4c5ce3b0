"""The kinds of value that a key of a settings file or part record may hold, each made by a function.

In: a raw TOML value and its place. Out: a typed SI value, or a mistake noted at that place. Quantities are strings
with a unit, an interval is a pair.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import date, datetime
from itertools import pairwise
from typing import TypeVar

from isolint.errors import Mistake, UnitError
from isolint.tables import Check, Entries, Kind, Site, Table, form, nearest, read_table, shortened, values
from isolint.units import Interval, expected, read_quantity, show

T = TypeVar("T")


def quantity(unit: str, low: float = -math.inf, high: float = math.inf, above: float = -math.inf) -> Kind[float]:
    """A quantity string of dimension `unit` between `low` and `high`, larger than `above`; SI float."""
    words, _, example = expected(unit).partition(" such as ")

    def read(raw: object, site: Site) -> float | None:
        if not isinstance(raw, str):
            if unit == "1" and isinstance(raw, int | float) and not isinstance(raw, bool):
                return _bounded(float(raw), low, high, above, "1", site)
            cure = f"quantities are strings with a unit, for example {example}"
            site.wrong(f"{shortened(raw)} is not {words}", cure)
            return None
        try:
            return _bounded(read_quantity(raw, unit), low, high, above, unit, site)
        except UnitError as error:
            site.wrong(error.text)
            return None

    return Kind(words, example, read, _form(unit), unit)


def _form(unit: str, *more: str) -> dict[str, object]:
    """Quantities are strings; where there is no unit a plain number will do."""
    types = ["string", *(["number"] if unit == "1" else []), *more]
    return {"type": types if len(types) > 1 else types[0]}


def positive(unit: str) -> Kind[float]:
    """A quantity above zero."""
    return quantity(unit, above=0.0)


def magnitude(unit: str) -> Kind[float]:
    """A quantity of zero or more."""
    return quantity(unit, low=0.0)


def _bounded(value: float, low: float, high: float, above: float, unit: str, site: Site) -> float | None:
    if not math.isfinite(value):
        site.wrong("the number is not finite")
    elif value <= above:
        site.wrong(f"{show(value, unit, 6)} must be more than {show(above, unit, 6)}")
    elif value < low:
        site.wrong(f"{show(value, unit, 6)} is less than {show(low, unit, 6)}")
    elif value > high:
        site.wrong(f"{show(value, unit, 6)} is more than {show(high, unit, 6)}")
    else:
        return value
    return None


def interval(unit: str, low: float = -math.inf, above: float = -math.inf, single: bool = True) -> Kind[Interval]:
    """A pair of quantities, low end first; one value alone is a point where `single` allows it."""
    item = quantity(unit, low=low, above=above)
    pair = f"[{item.example}, {item.example}]"
    words = f"{item.words} or a pair of them" if single else f"a pair: {item.words}, low end first"

    def read(raw: object, site: Site) -> Interval | None:
        if isinstance(raw, list):
            return _pair(raw, item, site)
        if not single:
            site.wrong(f"{shortened(raw)} is not {words}", f"write for example {pair}")
            return None
        value = item.read(raw, site)
        return None if value is None else Interval(value, value)

    shape = _form(unit, "array") if single else {"type": "array"}
    return Kind(words, item.example if single else pair, read, shape, unit)


def tolerance(unit: str = "1", low: float = -math.inf) -> Kind[Interval]:
    """One value, taken both ways ("5 %" is -0.05 to 0.05), or a pair of deviations around zero."""
    item = quantity(unit, low=low)

    def read(raw: object, site: Site) -> Interval | None:
        if isinstance(raw, list):
            both = _pair(raw, item, site)
            if both is not None and not both.low <= 0.0 <= both.high:
                site.wrong("the pair does not enclose 0", 'write deviations, for example ["-15 %", "20 %"]')
                return None
            return both
        cleaned = raw.removeprefix("±").removeprefix("+/-") if isinstance(raw, str) else raw
        value = item.read(cleaned, site)
        if value is None:
            return None
        if value < 0.0 or -value < low:
            site.wrong("one value counts both ways and can't be negative or that large", "write a pair of deviations")
            return None
        return Interval(-value, value)

    return Kind(f"{item.words} or a pair of them", item.example, read, _form(unit, "array"), unit)


def _pair(raw: list[object], item: Kind[float], site: Site) -> Interval | None:
    if len(raw) != 2:
        site.wrong(f"{shortened(raw)} is not a pair", f"write for example [{item.example}, {item.example}]")
        return None
    low, high = (item.read(end, site.inner(index)) for index, end in enumerate(raw))
    if low is None or high is None:
        return None
    if low > high:
        site.wrong(f"the low end of {shortened(raw)} is above its high end", "write the lower value first")
        return None
    return Interval(low, high)


def number(low: float = -math.inf, high: float = math.inf, above: float = -math.inf) -> Kind[float]:
    """A plain TOML number; a ratio written as "50 %" is taken too."""
    ratio = quantity("1", low, high, above)
    return Kind("a number", "1.2", ratio.read, {"type": ["number", "string"]}, "1")


def integer(low: int, high: int) -> Kind[int]:
    """A whole number from `low` to `high`."""
    words = f"a whole number from {low} to {high}"

    def read(raw: object, site: Site) -> int | None:
        if isinstance(raw, int) and not isinstance(raw, bool) and low <= raw <= high:
            return raw
        site.wrong(f"{shortened(raw)} is not {words}")
        return None

    return Kind(words, str(low), read, {"type": "integer", "minimum": low, "maximum": high})


def choice(*words: str, listing: Callable[[], str] | None = None) -> Kind[str]:
    """One of a few words; case does not matter. listing: says what each means, for who wrote none of them."""
    by_folded = {word.lower(): word for word in words}

    def read(raw: object, site: Site) -> str | None:
        found = by_folded.get(raw.lower()) if isinstance(raw, str) else None
        if found is None:
            cure = nearest(raw, words) if isinstance(raw, str) else f"known here: {', '.join(words)}"
            if listing is not None and cure.startswith("known here"):
                cure = f"known here:\n{listing()}"
            site.wrong(f"{shortened(raw)} is not known here", cure)
        return found

    return Kind(f"one of {', '.join(words)}", f'"{words[0]}"', read, {"enum": list(words)})


def _read_flag(raw: object, site: Site) -> bool | None:
    if isinstance(raw, bool):
        return raw
    site.wrong(f"{shortened(raw)} is not true or false", "write true or false without quotes")
    return None


FLAG = Kind("true or false", "true", _read_flag, {"type": "boolean"})


def _read_text(raw: object, site: Site) -> str | None:
    if isinstance(raw, str) and raw.strip():
        return raw
    site.wrong(f"{shortened(raw)} is not a text", "write it in quotes and not empty")
    return None


TEXT = Kind("a text", '"..."', _read_text, {"type": "string", "minLength": 1})


def texts(example: str, least: int = 0, most: int = 100_000) -> Kind[tuple[str, ...]]:
    """A list of texts, none empty, with `least` to `most` entries."""
    words = "a list of texts"

    def read(raw: object, site: Site) -> tuple[str, ...] | None:
        if not isinstance(raw, list) or not all(isinstance(item, str) and item.strip() for item in raw):
            site.wrong(f"{shortened(raw)} is not {words}", f"write for example {example}")
            return None
        if not least <= len(raw) <= most:
            count = str(least) if least == most else f"{least} or more" if len(raw) < least else f"{most} at most"
            site.wrong(f"{shortened(raw)} holds {len(raw)} entries, expected {count}", f"write for example {example}")
            return None
        return tuple(raw)

    shape: dict[str, object] = {"type": "array", "items": {"type": "string", "minLength": 1}}
    if least == most:
        shape["maxItems"] = most
    return Kind(words, example, read, {**shape, "minItems": least} if least else shape)


def _read_date(raw: object, site: Site) -> date | None:
    if isinstance(raw, date) and not isinstance(raw, datetime):
        return raw
    site.wrong(f"{shortened(raw)} is not a date", "write it without quotes, for example 2027-06-30")
    return None


DATE = Kind("a date", "2027-06-30", _read_date, {"type": "string", "format": "date"})


def record(
    table: Table, make: Callable[..., T], words: str, example: str, renamed: Mapping[str, str] | None = None
) -> Kind[T]:
    """An inline table that becomes one frozen value through `make(**values)`; nothing when it holds a mistake."""

    def read(raw: object, site: Site) -> T | None:
        before = len(site.mistakes)
        entries = read_table(raw, table, site)
        if len(site.mistakes) > before or not _enough(entries, table):
            return None
        return make(**values(entries, renamed or {}))

    return Kind(words, example, read, form(table))


def _enough(entries: Entries, table: Table) -> bool:
    """Whether what is there is whole: with placeholders in it, it may state too little, and so nothing."""
    lacking: list[Mistake] = []
    for check in table.whole:
        check(entries, Site("", "", lacking))
    return not lacking and all(name in entries for name in table.required)


def ascending(*names: str) -> Check:
    """A check: of the keys that are there, each holds at least what the one before holds."""

    def check(entries: Entries, site: Site) -> None:
        there = [name for name in names if name in entries]
        for lower, upper in pairwise(there):
            if entries[lower].value > entries[upper].value:
                texts_ = f"{lower} = {entries[lower].text} is above {upper} = {entries[upper].text}"
                site.wrong(texts_, "the values are swapped, or one has the wrong unit")

    return check
