"""The JSON Schema of part records, for editors; made from the same tables that reading uses."""

from __future__ import annotations

from isolint.parts import record_schema
from isolint.tables import form


def json_schema() -> dict[str, object]:
    """The schema (draft 7, which editors of TOML know) of a file of part records."""
    record = form(record_schema.HEAD)
    keys = record["properties"]
    assert isinstance(keys, dict)
    sections = {name: form(table) for name, (table, _) in record_schema.SECTIONS.items()}
    lists = {"channels": record_schema.CHANNEL, "supplies": record_schema.SUPPLIES}
    listed = {name: {"type": "array", "items": form(table)} for name, table in lists.items()}
    record["properties"] = {**keys, **sections, **listed}
    return {
        "$schema": "http://json-record_schema.org/draft-07/schema#",
        "title": "isolint part records",
        "type": "object",
        "properties": {"parts": {"type": "object", "additionalProperties": record}},
        "additionalProperties": False,
    }
