"""A part record as text of one screen."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from isolint.parts.records import Curve, PartRecord
from isolint.rows import Rows
from isolint.units import Interval, show_number

_HEAD = ("name", "type", "pins", "channels", "groups", "source", "file", "key", "named", "supplies")


def dump(record: PartRecord) -> str:
    """All that a record states, in SI units, one table a line."""
    lines = [f"(part {record.name} {record.type} @{record.file})", f"(pins {' '.join(record.pins)})"]
    lines += [f"(group {' '.join(group)})" for group in record.groups]
    lines += [
        f"(channel {channel.name} in={','.join(channel.input)} out={','.join(channel.output)})"
        for channel in record.channels
    ]
    lines += [f"(supply {' '.join(one.pins)} {_stated(one.supply)})" for one in record.supplies]
    for name, section in zip(record._fields, record, strict=True):
        stated = "" if name in _HEAD else _stated(section)
        if stated:
            lines.append(f"({name} {stated})")
    if record.source:
        lines.append(f"(source {record.source})")
    return "\n".join(lines)


def _stated(record: Any) -> str:
    """The keys of a record that state something, as `key=value`."""
    pairs = []
    for name, value in _fields(record):
        if value is not None:
            pairs.append(f"{name.rstrip('_')}={_text(value)}")
    return " ".join(pairs)


def _fields(record: Any) -> Iterable[tuple[str, Any]]:
    return record.items() if isinstance(record, Rows) else zip(record._fields, record, strict=True)


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return show_number(value)
    if isinstance(value, Interval):
        return f"[{show_number(value.low)}, {show_number(value.high)}]"
    if isinstance(value, Curve):
        return " ".join(f"{show_number(x)}:{show_number(y)}" for x, y in value.points)
    if hasattr(value, "_fields"):
        return f"({_stated(value)})"
    return f"({', '.join(_text(item) for item in value)})" if isinstance(value, tuple) else str(value)
