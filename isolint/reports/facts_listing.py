"""Effective facts and dependencies as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from isolint.reports.escape import log_lines, terminal


class _Dependency(Protocol):
    @property
    def path(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def trouble(self) -> str: ...


def render(rows: Iterable[tuple[str, str, str]]) -> str:
    """Write `key = value  # origin` for each row, in the order given."""
    return "".join(f"{terminal(key)} = {terminal(value)}  # {terminal(origin)}\n" for key, value, origin in rows)


def files(path: str, top: bool, needed: Sequence[_Dependency], users: Sequence[str]) -> str:
    """Write what a file depends on, one `kind path` a line, then the netlists that depend on it."""
    name = terminal(path)
    lines = [f"{name}: {'top-level netlist' if top else 'no top-level netlist'}"]
    for each in needed:
        trouble = f" ({terminal(each.trouble)})" if each.trouble else ""
        lines.append(f"  {each.kind:<8}  {terminal(each.path)}{trouble}")
    if users:
        lines.append(f"{name}: these netlists depend on it")
        lines.extend(f"  {terminal(user)}" for user in users)
    elif not top:
        lines.append(f"{name}: no netlist depends on it")
    return log_lines("\n".join(lines) + "\n")
