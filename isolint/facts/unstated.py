"""What counts where nobody stated anything, as text for people; made from the rows."""

from __future__ import annotations

from collections.abc import Iterator

from isolint.facts.stated import TABLES
from isolint.rows import Usual

_OPEN = '"error" for the barrier group and unknown parts, else "note"'
_NAMED = frozenset({"elements", "supplies", "outputs", "inputs", "lines", "signals", "loads", "groups"})


def defaults() -> Iterator[tuple[str, str, str]]:
    """Key, value as a settings file would write it, and origin, in the order of the tables."""
    yield "open", _OPEN, "default"
    yield "fail_on", '"error"', "default"
    for table in TABLES:
        for row in table.ROWS.values():
            cases: dict[str, Usual] = dict(row.cases)
            if row.usual is not None:
                cases = {"R" if cases else "": row.usual, **cases}
            for letter, usual in cases.items():
                if usual.text:
                    yield row.path(f"{letter}*" if table.TABLE in _NAMED else ""), usual.text, usual.origin
