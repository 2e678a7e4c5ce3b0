"""One line that states the same key of several names.

In: facts that one open result waits for, and the names on the board. Out: the lines to write, one with a wildcard where
it matches those names and no other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from isolint.circuit import Circuit
from isolint.facts.matching import compile_pattern, is_pattern
from isolint.results import MissingFact

_WHAT_IT_IS = ("part", "type", "ordinary", "sheet", "groups")
"""Keys that say what one element is: each unknown part is a question of its own."""

_NAMED = ("elements", "supplies", "outputs", "inputs", "lines", "signals", "loads")

MOST_LINES = 8
"""More lines of one kind than this are no help; the others follow when these are stated."""


class AskedKey(NamedTuple):
    """A key of a table by names: `elements."R4".power` is (elements, R4, power)."""

    table: str
    name: str
    leaf: str


def asked(key: str) -> AskedKey | None:
    """The parts of a key of a named table, None for any other key, and for one that is a pattern already."""
    head, _, rest = key.partition('."')
    name, quote, leaf = rest.rpartition('".')
    if not quote or head not in _NAMED or leaf in _WHAT_IT_IS or is_pattern(name):
        return None
    return AskedKey(head, name, leaf)


def family(fact: MissingFact) -> str:
    """What facts share that ask for the same key of different names, "" for a fact that has no such relatives."""
    found = asked(fact.key)
    return "" if found is None else f"{fact.file} {found.table}.*.{found.leaf}"


def gathered(facts: Iterable[MissingFact], circuit: Circuit) -> tuple[MissingFact, ...]:
    """The facts with those of one family as one line, where a wildcard can say it."""
    families: dict[str, list[MissingFact]] = {}
    for fact in dict.fromkeys(facts):
        families.setdefault(family(fact) or f"{fact.file} {fact.key}", []).append(fact)
    found: list[MissingFact] = []
    for members in families.values():
        one = _one(members, circuit) if len(members) > 1 else None
        found.extend(members[:MOST_LINES] if one is None else [one])
    return tuple(found)


def _one(members: Sequence[MissingFact], circuit: Circuit) -> MissingFact | None:
    """One fact for several, None where their lines differ in more than the name, or no wildcard tells them apart."""
    if len({member.example for member in members}) == 1:
        return members[0]
    parts = [found for member in members if (found := asked(member.key)) is not None]
    names = [part.name for part in parts]
    pattern = _pattern(names)
    if not pattern:
        return None
    lines = {member.example.replace(f'"{name}"', f'"{pattern}"') for member, name in zip(members, names, strict=True)}
    if len(lines) != 1 or not _only(pattern, names, parts[0].table, circuit):
        return None
    return MissingFact(members[0].file, f'{parts[0].table}."{pattern}".{parts[0].leaf}', lines.pop())


def _pattern(names: Sequence[str]) -> str:
    """What the names have in common in front and behind, with a `*` between; "" where that is nothing."""
    front = _alike(names)
    behind = _alike([name[len(front) :][::-1] for name in names])[::-1]
    return f"{front}*{behind}" if front or behind else ""


def _alike(names: Sequence[str]) -> str:
    """The longest beginning that all names have."""
    first, last = min(names), max(names)
    length = next((at for at, letter in enumerate(first) if last[at : at + 1] != letter), len(first))
    return first[:length]


def _only(pattern: str, names: Sequence[str], table: str, circuit: Circuit) -> bool:
    """Whether a pattern matches these names and no other of the netlist."""
    regex, folded = compile_pattern(pattern), {name.casefold() for name in names}
    if table != "elements":
        nets = circuit.nets_like(pattern.casefold(), regex)
        return {circuit.net_name(net).casefold() for net in nets} <= folded
    found = circuit.elements_like(pattern.casefold(), regex, "path" if "." in pattern else "last")
    return {circuit.path(element).casefold() for element in found} <= folded
