"""TOML tables that people write, read against a schema that is data.

In: the bytes of a file and a `Table` (key -> kind of value). Out: typed values with the key and the text they came
from, and every mistake at once. Knows nothing of what the keys mean; settings and part records declare that.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from types import MappingProxyType
from typing import Any, Generic, NamedTuple, TypeVar

from isolint.errors import Mistake
from isolint.tomlsize import too_much

T = TypeVar("T")

MAX_BYTES = 1024 * 1024
MAX_SHOWN = 60

UNSTATED = "?"
"""What stands for a value that is not known yet: every key takes it, and it states nothing."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def dotted(*parts: str) -> str:
    """A dotted TOML key; parts that TOML would not take bare are quoted."""
    return ".".join([part if _is_bare(part) else quoted(part) for part in parts])


def _is_bare(part: str) -> bool:
    return (part.isascii() and part.isidentifier()) or _BARE.fullmatch(part) is not None


def quoted(name: str) -> str:
    """A name as a quoted TOML key."""
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def basic_string(text: str) -> str:
    """Any text as a TOML string on one line; what TOML can't hold (half a surrogate pair) is written as its escape."""
    parts = []
    for character in text.encode("utf-8", "backslashreplace").decode("utf-8"):
        if character in '"\\':
            parts.append(f"\\{character}")
        elif character.isprintable():
            parts.append(character)
        else:
            number = ord(character)
            parts.append(f"\\u{number:04X}" if number < 0x10000 else f"\\U{number:08X}")
    return f'"{"".join(parts)}"'


class Site(NamedTuple):
    """Where a value stands, and the lists that mistakes and placeholders there go to."""

    file: str
    key: str
    mistakes: list[Mistake]
    unstated: list[str] | None = None

    def inner(self, name: str | int) -> Site:
        """The place of an entry of a table or list."""
        if isinstance(name, int):
            return self._replace(key=f"{self.key}[{name}]")
        return self._replace(key=f"{self.key}.{dotted(name)}" if self.key else dotted(name))

    def named(self, name: str) -> Site:
        """The place of an entry whose name is a pattern or net: always quoted."""
        return self._replace(key=f"{self.key}.{quoted(name)}")

    def wrong(self, text: str, cure: str = "") -> None:
        """Note a mistake here."""
        self.mistakes.append(Mistake(self.file, self.key, text, cure))

    def waits(self) -> None:
        """Note that a placeholder stands here."""
        if self.unstated is not None:
            self.unstated.append(self.key)


class Kind(NamedTuple, Generic[T]):
    """What a key may hold.

    words and example make the message; `read` gives the typed value or notes mistakes at the site and gives None.
    form is the matching JSON Schema fragment, unit the SI unit of a quantity, told what else an editor shows.
    """

    words: str
    example: str
    read: Callable[[object, Site], T | None]
    form: Mapping[str, object] = MappingProxyType({})
    unit: str = ""
    told: str = ""

    @property
    def schema(self) -> dict[str, object]:
        """Its JSON Schema with what an editor shows of it; a placeholder is taken everywhere."""
        told = f"{self.words}, for example {self.example}{self.told}"
        takes = self.form.get("type")
        if self.form.keys() == {"type"} and "string" in (takes if isinstance(takes, list) else [takes]):
            return {**self.form, "description": told}
        return {"anyOf": [dict(self.form), {"const": UNSTATED}], "description": told}


class Entry(NamedTuple):
    """One value that was read: typed, with its dotted key and the text that was written."""

    value: Any
    key: str
    text: str


Entries = Mapping[str, Entry]
Check = Callable[[Entries, Site], None]


class Table(NamedTuple):
    """The keys of a table. alternatives: keys of which only one may stand. checks: what several keys must fulfil.

    whole: what has to be there; not asked of a table that holds a placeholder.
    """

    keys: Mapping[str, Kind[Any]]
    required: tuple[str, ...] = ()
    alternatives: tuple[tuple[str, ...], ...] = ()
    checks: tuple[Check, ...] = ()
    whole: tuple[Check, ...] = ()


def unstated(raw: object) -> bool:
    """Whether a TOML value is the placeholder, or a list that holds it."""
    if isinstance(raw, list):
        return any(unstated(item) for item in raw)
    return isinstance(raw, str) and raw.strip() == UNSTATED


def written(raw: object) -> str:
    """A TOML value as short text, close to how it was written."""
    if isinstance(raw, bool):
        text = "true" if raw else "false"
    elif isinstance(raw, str):
        text = f'"{raw}"'
    elif isinstance(raw, list):
        text = "[" + ", ".join(written(item) for item in raw[:20]) + "]"
    elif isinstance(raw, dict):
        text = "{ " + ", ".join(f"{dotted(str(name))} = {written(item)}" for name, item in raw.items()) + " }"
    else:
        text = str(raw)
    return text


def shortened(raw: object) -> str:
    """A TOML value for a message: one line, cut where it is long."""
    text = " ".join(written(raw).split())
    return text if len(text) <= MAX_SHOWN else text[: MAX_SHOWN - 3] + "..."


def parse(data: bytes, file: str, mistakes: list[Mistake], most: int = MAX_BYTES) -> dict[str, Any]:
    """The TOML document in `data`; a syntax error becomes one mistake with its line and gives an empty document.

    most: bytes that the file may have. One that is too large, deep or full is one mistake too, and is not parsed.
    """
    site = Site(file, "", mistakes)
    if len(data) > most:
        site.wrong(f"the file is larger than {most // 1024} KiB", "split it")
        return {}
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        excess = too_much(text, most)
        if excess is not None:
            site.wrong(*excess)
            return {}
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        site.wrong(f"line {data[: error.start].count(10) + 1}: the text is not UTF-8", "save the file as UTF-8")
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        what = str(error).partition(" (at ")[0]
        twice = re.fullmatch(r"Cannot (?:declare|overwrite) \((.*?),?\) twice|Cannot overwrite a value", what)
        if twice is not None and found is not None:
            table = f"the table {twice[1].replace(chr(39), '').replace(', ', '.')}" if twice[1] else "a key"
            site.wrong(f"line {found[1]}: {table} stands here a second time", "put its keys into the first one")
            return {}
        line = f"line {found[1]}, column {found[2]}: " if found else "at the end: "
        site.wrong(
            f"{line}{what[:1].lower()}{what[1:]}", 'quote quantities ("24 V") and names with signs in them ("R*")'
        )
    except (RecursionError, ValueError):
        site.wrong("the text is nested too deeply or holds a number that is too long")
    return {}


def is_near(name: str, known: Sequence[str]) -> bool:
    """Whether one of the right words was probably meant."""
    return _meant(name, known) is not None


def _meant(name: str, known: Sequence[str]) -> str | None:
    from difflib import get_close_matches

    near = get_close_matches(name.lower(), [word.lower() for word in known], 1, 0.6)
    return next((word for word in known if near and word.lower() == near[0]), None)


def nearest(name: str, known: Sequence[str]) -> str:
    """The right word that was probably meant, as a cure, else the list of right words."""
    meant = _meant(name, known)
    if meant is not None:
        return f"did you mean {dotted(meant)}?"
    return f"known here: {', '.join(known)}" if known else ""


def read_table(raw: object, table: Table, site: Site) -> dict[str, Entry]:
    """Read a TOML table: the good keys typed; unknown, missing and wrong ones noted at their own place."""
    if not isinstance(raw, dict):
        site.wrong(f"{shortened(raw)} is not a table", f"write {site.key or 'it'} as a table of keys")
        return {}
    found: dict[str, Entry] = {}
    for name, item in raw.items():
        kind = table.keys.get(name)
        here = site.inner(name)
        if kind is None:
            here.wrong("unknown key", nearest(name, tuple(table.keys)))
            continue
        if unstated(item):
            here.waits()
            continue
        value = kind.read(item, here)
        if value is not None:
            found[name] = Entry(value, here.key, written(item))
    for name in table.required:
        if name not in raw:
            site.wrong(f"{name} is missing", f"write for example {name} = {table.keys[name].example}")
    for group in table.alternatives:
        both = [name for name in group if name in raw and not unstated(raw[name])]
        if len(both) > 1:
            site.wrong(f"{' and '.join(both)} exclude each other", "keep one of them")
    waiting = any(unstated(item) for item in raw.values())
    for check in (*table.checks, *(() if waiting else table.whole)):
        check(found, site)
    return found


def values(entries: Entries, names: Mapping[str, str]) -> dict[str, Any]:
    """The bare values by attribute name; `names` maps keys that are Python keywords."""
    return {names.get(name, name): entry.value for name, entry in entries.items()}


def form(table: Table) -> dict[str, object]:
    """The JSON Schema of a table: its keys with what they may hold and an example of each, and no others."""
    found: dict[str, object] = {
        "type": "object",
        "properties": {name: kind.schema for name, kind in table.keys.items()},
        "additionalProperties": False,
    }
    if table.required:
        found["required"] = list(table.required)
    both = [
        {"not": {"required": [one, other]}} for group in table.alternatives for one, other in combinations(group, 2)
    ]
    if both:
        found["allOf"] = both
    return found
