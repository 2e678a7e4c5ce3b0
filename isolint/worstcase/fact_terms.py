"""Terms and missing lines of facts and record values, made from their rows.

In: a row, what it is asked of, what counts where nobody stated it. Out: a `Term` with its interval, its origin and the
line that settles it. No default and no line of a key stands anywhere but in its row; what depends on the type of a
part, or on what the netlist holds, is handed in.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from isolint.facts import Fact, Facts, Interval, Stated
from isolint.interfaces.entities import Part
from isolint.parts import generic
from isolint.results import MissingFact
from isolint.rows import Row, Usual, Value
from isolint.worstcase.uncertain import Term, stated


def origin(fact: Stated[Any]) -> str:
    """Where a stated value stands, for a report."""
    return f"{fact.file}: {fact.key}"


def of(
    facts: Facts, fact: Fact[Any], name: str = "", usual: Usual | None = None, *, title: str = "", example: str = ""
) -> Term:
    """A fact as it is stated, else as usual: by default the row's own."""
    found = facts.of(fact, name)
    if found is not None:
        return known(fact, name, found.value, origin(found), title=title)
    return defaulted(fact, name, usual or fact.counts, title=title, example=example)


def of_part(
    part: Part, value: Value[Any], usual: Callable[[float, float, str], Usual], ends: Interval, *, memory: bool = False
) -> Term:
    """A value as the part's record states it, else between two ends of its type; `usual` tells which of them hurts."""
    text = f"{generic.origin(part.type)} (from memory)" if memory else generic.origin(part.type)
    return of_record(part, value, usual(ends.low, ends.high, text))


def of_record(part: Part, value: Value[Any], usual: Usual | None = None) -> Term:
    """A value as the part's record states it, else as usual: by default the row's own."""
    name, title = named(part), value.title.format(part.path)
    found = recorded(part, value)
    if found is not None:
        return known(value, name, found, f"record {name}", title=title)
    return defaulted(value, name, usual or value.counts, title=title)


def recorded(part: Part, value: Value[Any]) -> Any:
    """What the record of a part states, None where there is none."""
    if part.record is None:
        return None
    return getattr(getattr(part.record, value.table.removeprefix("parts.")), value.attribute)


def named(part: Part) -> str:
    """The name under which a record of a part stands, or would."""
    return part.record.name if part.record is not None else part.model_name or part.path


def known(row: Row[Any], name: str, value: float | Interval, source: str, *, title: str = "") -> Term:
    """A term that somebody stated; of an interval the row's nominal value, else the default's, else the middle."""
    low, high = (value.low, value.high) if isinstance(value, Interval) else (value, value)
    nominal = (low + high) / 2 if low < high else low
    if row.nominal is not None:
        nominal = row.nominal
    elif row.usual is not None:
        nominal = min(max(row.usual.nominal, low), high)
    return stated(row.path(name), title or row.title.format(name), row.kind.unit, low, nominal, high, source)


def defaulted(
    row: Row[Any], name: str, usual: Usual, *, title: str = "", example: str = "", unit: str | None = None
) -> Term:
    """A term that nobody stated, with the line that would. example: another than the row's; unit: of a factor."""
    low, nominal, high, kind_low, kind_high, text, _ = usual
    unit = row.kind.unit if unit is None else unit
    return Term(
        row.path(name), title or row.title.format(name), unit, low, nominal, high, kind_low, kind_high, False, text,
        row.line(name, example=example),
    )  # fmt: skip


def missing(file: str, row: Row[Any], name: str, example: str = "", *more: Row[Any]) -> MissingFact:
    """The line to write; with `more` rows of the same table their lines too. A backslash as TOML writes it.

    example: another than the row's, where the circuit tells what would be usual.
    """
    lines = "\n".join((row.line(name, example=example), *(other.entry() for other in more)))
    return MissingFact(file, row.path(name), lines.replace("\\", "\\\\"))
