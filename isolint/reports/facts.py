"""Effective facts as text: one line a key, with the file or default that it comes from."""

from __future__ import annotations

from collections.abc import Iterable

from isolint.reports.escape import terminal


def render(rows: Iterable[tuple[str, str, str]]) -> str:
    """Write `key = value  # origin` for each row, in the order given."""
    return "".join(f"{terminal(key)} = {terminal(value)}  # {terminal(origin)}\n" for key, value, origin in rows)
