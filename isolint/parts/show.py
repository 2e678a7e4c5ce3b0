"""A part record as text of one screen."""

from __future__ import annotations

from dataclasses import fields, is_dataclass

from isolint.parts.records import Curve, PartRecord
from isolint.units import Interval, show_number

_HEAD = ("name", "type", "pins", "channels", "groups", "source", "file", "key")


def dump(record: PartRecord) -> str:
    """All that a record states, in SI units, one table a line."""
    lines = [f"(part {record.name} {record.type} @{record.file})", f"(pins {' '.join(record.pins)})"]
    lines += [f"(group {' '.join(group)})" for group in record.groups]
    lines += [
        f"(channel {channel.name} in={','.join(channel.input)} out={','.join(channel.output)})"
        for channel in record.channels
    ]
    for section in fields(record):
        if section.name in _HEAD:
            continue
        stated = _stated(getattr(record, section.name))
        if stated:
            lines.append(f"({section.name} {stated})")
    if record.source:
        lines.append(f"(source {record.source})")
    return "\n".join(lines)


def _stated(record: object) -> str:
    """The keys of a record that state something, as `key=value`."""
    pairs = []
    for attribute in fields(record):  # type: ignore[arg-type]
        value = getattr(record, attribute.name)
        if value is not None:
            pairs.append(f"{attribute.name.rstrip('_')}={_text(value)}")
    return " ".join(pairs)


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return show_number(value)
    if isinstance(value, Interval):
        return f"[{show_number(value.low)}, {show_number(value.high)}]"
    if isinstance(value, Curve):
        return " ".join(f"{show_number(x)}:{show_number(y)}" for x, y in value.points)
    if isinstance(value, tuple):
        return f"({', '.join(_text(item) for item in value)})"
    return f"({_stated(value)})" if is_dataclass(value) else str(value)
