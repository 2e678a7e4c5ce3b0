"""The JSON Schema of isolint.toml, for editors; made from the same tables that reading uses."""

from __future__ import annotations

from collections.abc import Collection

from isolint.facts import settings_schema
from isolint.tables import form


def json_schema(rules: Collection[str] = ()) -> dict[str, object]:
    """The schema (draft 7, which editors of TOML know); `[levels]` may name only `rules`, if there are any."""
    level = dict(settings_schema.LEVEL.form)
    levels: dict[str, object] = {"type": "object", "additionalProperties": False if rules else level}
    if rules:
        levels["properties"] = dict.fromkeys(rules, level)
    properties: dict[str, object] = {
        **{name: kind.schema for name, kind in settings_schema.TOP.items()},
        **{name: form(table) for name, table in settings_schema.SINGLE.items()},
        **{
            name: {"type": "object", "additionalProperties": form(table)}
            for name, table in settings_schema.NAMED.items()
        },
        **{name: {"type": "array", "items": form(table)} for name, table in settings_schema.LISTS.items()},
        "levels": levels,
    }
    return {
        "$schema": "http://json-settings_schema.org/draft-07/schema#",
        "title": "isolint.toml",
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
    }
