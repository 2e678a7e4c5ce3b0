"""A whole record to fill in: every key that its type may state, with the term by which data sheets call it.

In: a name, a type, what is known of the pins. Out: TOML that loads as it stands; what nobody said is a placeholder.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from isolint import types
from isolint.parts import records
from isolint.rows import Rows
from isolint.tables import UNSTATED, basic_string, dotted
from isolint.types.form.part_type import PartType

_UNKNOWN = basic_string(UNSTATED)


def _has(kind: PartType, *roles: str) -> bool:
    return any(kind.pin(pin).role in roles for shape in kind.pins.usual for pin in shape)


def _lit(kind: PartType) -> bool:
    return "led" in kind.inputs


_ASKED: Mapping[type[Rows], Callable[[PartType], bool]] = {
    records.Led: _lit,
    records.Input: lambda kind: "voltage-input" in kind.inputs,
    records.Transfer: lambda kind: _lit(kind) and not _has(kind, "supply", "photodiode"),
    records.Output: lambda kind: bool(kind.inputs) and "coil" not in kind.inputs,
    records.Supply: lambda kind: _has(kind, "supply"),
    records.Timing: lambda kind: kind.isolates and bool(kind.inputs),
    records.Thermal: lambda kind: kind.isolates,
    records.Trigger: lambda kind: _lit(kind) and not kind.output.conducts and not _has(kind, "supply", "photodiode"),
    records.Thyristor: lambda kind: "thyristor" in kind.owns,
    records.Reference: lambda kind: "reference" in kind.owns,
    records.AmplifierValues: lambda kind: "amplifier" in kind.owns,
    records.Coil: lambda kind: "coil" in kind.inputs,
    records.Contact: lambda kind: "coil" in kind.inputs,
    records.Photodiodes: lambda kind: _has(kind, "photodiode"),
    records.Insulation: lambda kind: kind.isolates,
}
"""Which types a table of a record is about."""


def template(name: str, kind: str, pins: Sequence[str], nets: Sequence[str] = (), *, certain: bool = False) -> str:
    """The text of a record of a type. pins: their names in the order of the card; certain: told by the structure."""
    return "\n".join(_lines(name, kind, pins, nets, certain)) + "\n"


def _lines(name: str, kind: str, pins: Sequence[str], nets: Sequence[str], certain: bool) -> Iterator[str]:
    head = dotted("parts", name)
    listed = f"[{', '.join(map(basic_string, pins))}]"
    yield '# What is not known stays "?": it states nothing. Typical values go to typ, guaranteed ends to min and max.'
    yield f"[{head}]"
    yield f"type = {basic_string(kind)}"
    for number, net in enumerate(nets, start=1):
        pin = pins[number - 1] if number <= len(pins) else "?"
        told = "".join(letter if letter.isprintable() else " " for letter in net)
        yield f"# pin {number} on net {told}: {'' if certain else 'perhaps '}{pin}"
    yield f"pins = {listed}  # as the model has them" if certain else f"pins = {_UNKNOWN}  # perhaps {listed}"
    yield f"source = {_UNKNOWN}  # the data sheet: title, number, revision, date"
    for table in records.SECTIONS:
        if not _ASKED[table](types.of(kind)):
            continue
        yield ""
        yield f"[{head}.{table.TABLE.removeprefix('parts.')}]"
        for row in table.ROWS.values():
            if "LED" in row.sheet and not _lit(types.of(kind)):
                continue
            yield f"# {row.sheet}"
            yield row.entry()
