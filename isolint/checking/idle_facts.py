"""What is stated and counts for nothing, told outside the results: a misspelt name, or a fact for another version.

In: a context, the slugs of the rules there are. Out: `Unused`, in the order of the settings. What no rule of this
version reads says its row; a test holds the rows to what is read while all fixtures are judged.
"""

from __future__ import annotations

import posixpath
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from typing import Literal, NamedTuple

from isolint.checking.context import Context
from isolint.facts import Facts
from isolint.facts.matching import compile_pattern
from isolint.parts import PartRecord
from isolint.tables import quoted

_BETWEEN = re.compile(r"[\s=(),{}']+")


NOTHING_HERE = "nothing here"
"""What a note says of names that match nothing."""


class Unused(NamedTuple):
    """One stated key, its file, its value as written, and why it counts for nothing.

    group: a name that the netlist does not have, a key of the settings or of a record that no rule of this version
    reads, or what this netlist has no use for.
    """

    key: str
    file: str
    text: str
    why: str
    group: Literal["unmatched", "fact", "record", "unasked"]


def unused(context: Context, rules: Collection[str]) -> Iterator[Unused]:
    """What no rule of this version reads, and what is stated of names that the netlist does not have."""
    facts = context.facts
    idle = tuple(f"{key}." for key in unmatched(context))
    for row, stated in facts.entries():
        if stated.key.startswith(idle):
            yield Unused(stated.key, stated.file, stated.text, "matches nothing in this netlist", "unmatched")
        elif row.unread:
            yield Unused(stated.key, stated.file, stated.text, f"not read: {row.unread}", "fact")
    for slug, level in facts.levels.items():
        if slug not in rules:
            yield Unused(level.key, level.file, level.text, "not read: this version does not have the rule", "fact")
    for record in records(context):
        for value in record.entries():
            if value.unread:
                yield Unused(record.path_of(value), record.file, "", f"not read: {value.unread}", "record")


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
    for table in (facts.supplies, facts.outputs, facts.inputs, facts.lines, facts.signals, facts.loads):
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
            yield Unused(stated.key, stated.file, stated.text, why, "unasked")
    for record in records(context):
        for value in record.entries():
            if not value.unread and (record.file, record.path_of(value)) not in seen:
                yield Unused(record.path_of(value), record.file, "", why, "unasked")


def note(context: Context, rules: Collection[str], others: Callable[[], Iterable[str]] = tuple) -> Iterator[str]:
    """The lines of a report: how much is not known yet; what may be misspelt, then what waits for another version.

    What settings say of other netlists' names is no slip: only those beside the netlist are counted, and of these only
    names that no text of others beside it holds. others: these texts, asked for where there is something to look up.
    """
    waiting = len(context.facts.placeholders)
    if waiting:
        what = "1 value is" if waiting == 1 else f"{waiting} values are"
        yield f'{what} still "?", which states nothing; see `isolint facts`'
    beside = posixpath.dirname(context.netlist)
    idle = list(unused(context, rules))
    count = Counter(found.group for found in idle)
    keys = [found.key for found in idle if found.group == "unmatched" and posixpath.dirname(found.file) == beside]
    astray, facts, values = _nowhere(keys, others), count["fact"], count["record"]
    told = [f"{astray} stated {'key matches' if astray == 1 else 'keys match'} {NOTHING_HERE}"] if astray else []
    unread = [f"{facts} stated {'key' if facts == 1 else 'keys'}"] if facts else []
    unread += [f"{values} {'value' if values == 1 else 'values'} of part records"] if values else []
    if unread:
        verb = "is" if facts + values == 1 else "are"
        told.append(f"{' and '.join(unread)} {verb} not read by this version")
    if told:
        yield f"{'; '.join(told)}; see `isolint facts`"


def _nowhere(keys: Sequence[str], others: Callable[[], Iterable[str]]) -> int:
    """How many of the keys name nothing that other texts hold as a word."""
    if not keys:
        return 0
    words = {word.rpartition(".")[2] for text in others() for word in _BETWEEN.split(text.casefold())}
    if not words:
        return len(keys)
    count = 0
    for key in keys:
        table = next(iter(tomllib.loads(f"{key} = 0").values()))
        regex = compile_pattern(next(iter(table)).rpartition(".")[2])
        count += not any(map(regex.match, words))
    return count


def unknown(facts: Facts) -> Iterator[Unused]:
    """The keys that hold a placeholder."""
    for file, key in facts.placeholders:
        yield Unused(key, file, '"?"', "not known yet", "unmatched")


def records(context: Context) -> list[PartRecord]:
    """The records of the user's files that parts of this netlist have."""
    parts = context.interfaces.recognition.parts.values()
    used = {part.record.name: part.record for part in parts if part.record is not None}
    return [record for _, record in sorted(used.items()) if record.file in context.facts.part_files]
