"""What is stated and counts for nothing, told outside the results: a misspelt name, or a fact for another version.

In: a context, the slugs of the rules there are. Out: `Unused`, in the order of the settings. What no rule of this
version reads says its row; a test holds the rows to what is read while all fixtures are judged.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.facts.matching import compile_pattern
from isolint.parts import PartRecord
from isolint.tables import quoted


class Unused(NamedTuple):
    """One stated key, its file, its value as written, and why it counts for nothing."""

    key: str
    file: str
    text: str
    why: str


def unused(context: Context, rules: Collection[str]) -> Iterator[Unused]:
    """What no rule of this version reads, and what is stated of names that the netlist does not have."""
    facts = context.facts
    idle = tuple(f"{key}." for key in unmatched(context))
    for row, stated in facts.entries():
        if stated.key.startswith(idle):
            yield Unused(stated.key, stated.file, stated.text, "matches nothing in this netlist")
        elif row.unread:
            yield Unused(stated.key, stated.file, stated.text, f"not read: {row.unread}")
    for slug, level in facts.levels.items():
        if slug not in rules:
            yield Unused(level.key, level.file, level.text, "not read: this version does not have the rule")
    for record in records(context):
        for value in record.entries():
            if value.unread:
                yield Unused(record.path_of(value), record.file, "", f"not read: {value.unread}")


def unmatched(context: Context) -> Iterator[str]:
    """The names in tables of patterns that match no element or net, as their keys."""
    facts, circuit = context.facts, context.circuit
    for name, row in facts.elements.rows.items():
        # A call that is expanded is no element any more, which is what `sheet` is about.
        if "sheet" not in row:
            what: Literal["path", "last"] = "path" if "." in name else "last"
            if not circuit.elements_like(name.casefold(), compile_pattern(name), what):
                yield f"elements.{quoted(name)}"
    supplies = {name.casefold() for name in facts.named_supplies()}
    for table in (facts.supplies, facts.outputs, facts.inputs, facts.lines, facts.signals):
        for name, row in table.rows.items():
            regex = compile_pattern(name)
            used = table is facts.supplies and any(regex.match(supply) for supply in supplies)
            if not used and not circuit.nets_like(name.casefold(), regex):
                stated = next(iter(row.values()), None)
                if stated is not None:
                    yield stated.key.rpartition(".")[0]


def unasked(context: Context, seen: Collection[tuple[str, str]]) -> Iterator[Unused]:
    """What nothing asked for while this netlist was judged: its calculation has no use for it."""
    why = "not used: nothing in this netlist asks for it"
    for row, stated in context.facts.entries():
        if not row.unread and (stated.file, stated.key) not in seen:
            yield Unused(stated.key, stated.file, stated.text, why)
    for record in records(context):
        for value in record.entries():
            if not value.unread and (record.file, record.path_of(value)) not in seen:
                yield Unused(record.path_of(value), record.file, "", why)


def note(context: Context, rules: Collection[str]) -> Iterator[str]:
    """The line of a report that counts them."""
    count = sum(1 for _ in unused(context, rules))
    if count:
        what = "1 stated key counts" if count == 1 else f"{count} stated keys count"
        yield f"{what} for nothing (no rule of this version reads it, or nothing has its name); see `isolint facts`"


def records(context: Context) -> list[PartRecord]:
    """The records of the user's files that parts of this netlist have."""
    parts = context.interfaces.recognition.parts.values()
    used = {part.record.name: part.record for part in parts if part.record is not None}
    return [record for _, record in sorted(used.items()) if record.file in context.facts.part_files]
