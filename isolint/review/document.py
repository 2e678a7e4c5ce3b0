"""Frozen values as JSON and back, and the schema of that, all from their annotations.

Written strictly and read strictly: no key that the value does not have, no text longer, list larger or nesting deeper
than stated, no number that is not finite. What is infinite is written as null where a number must stand.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from isolint.errors import IsolintError

T = TypeVar("T")

MOST_TEXT = 4_000
MOST_ITEMS = 5_000


class Unreadable(IsolintError):
    """A document that is not what it should be."""


@cache
def _hints(kind: type) -> Mapping[str, Any]:
    return get_type_hints(kind)


def _is_record(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, tuple) and hasattr(kind, "_fields")


def plain(value: object) -> object:
    """A value as lists, objects, texts, and finite numbers."""
    if isinstance(value, tuple):
        fields = getattr(value, "_fields", None)
        if fields is not None:
            return {name: plain(getattr(value, name)) for name in fields}
        return [plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, str) and len(value) > MOST_TEXT:
        return value[: MOST_TEXT - 3] + "..."
    return value


def read(kind: type[T], raw: object, where: str = "") -> T:
    """A value of a kind from a JSON document; raise `Unreadable` with the place of what is wrong."""
    return cast(T, _read(kind, raw, where or "the document"))


def _read(kind: Any, raw: object, where: str) -> object:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        kinds = get_args(kind)
        if raw is None and NoneType in kinds:
            return None
        (other,) = [each for each in kinds if each is not NoneType]
        return _read(other, raw, where)
    if origin is Literal:
        if raw in get_args(kind) and isinstance(raw, str):
            return raw
        raise Unreadable(f"{where}: not one of {', '.join(map(str, get_args(kind)))}")
    if origin is tuple:
        if not isinstance(raw, list) or len(raw) > MOST_ITEMS:
            raise Unreadable(f"{where}: not a list of at most {MOST_ITEMS}")
        inner = get_args(kind)[0]
        return tuple(_read(inner, each, f"{where}[{at}]") for at, each in enumerate(raw))
    if _is_record(kind):
        return _record(kind, raw, where)
    if kind is bool and isinstance(raw, bool):
        return raw
    if kind is str and isinstance(raw, str):
        if len(raw) > MOST_TEXT:
            raise Unreadable(f"{where}: longer than {MOST_TEXT} characters")
        return raw
    if kind is int and isinstance(raw, int) and not isinstance(raw, bool) and abs(raw) < 2**53:
        return raw
    if kind is float:
        return _number(raw, where)
    raise Unreadable(f"{where}: not of the kind that stands there")


def _number(raw: object, where: str) -> float:
    if raw is None:
        return math.inf
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        try:
            number = float(raw)
        except OverflowError:
            number = math.inf
        if math.isfinite(number):
            return number
    raise Unreadable(f"{where}: not a finite number")


def _record(kind: Any, raw: object, where: str) -> object:
    hints = _hints(kind)
    if not isinstance(raw, dict):
        raise Unreadable(f"{where}: not an object")
    unknown = sorted(set(map(str, raw)) - set(kind._fields))
    missing = [name for name in kind._fields if name not in raw]
    if unknown or missing:
        raise Unreadable(f"{where}: {'unknown' if unknown else 'missing'} key {(unknown or missing)[0]!r}")
    return kind(**{name: _read(hints[name], raw[name], f"{where}.{name}") for name in kind._fields})


def schema(kind: Any) -> dict[str, object]:
    """The JSON Schema of a kind."""
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        (other,) = [each for each in get_args(kind) if each is not NoneType]
        return {"anyOf": [schema(other), {"type": "null"}]}
    if origin is Literal:
        return {"enum": list(get_args(kind))}
    if origin is tuple:
        return {"type": "array", "items": schema(get_args(kind)[0]), "maxItems": MOST_ITEMS}
    if _is_record(kind):
        described = " ".join((kind.__doc__ or "").split())
        return {
            "type": "object",
            "description": described,
            "properties": {name: schema(each) for name, each in _hints(kind).items() if name in kind._fields},
            "required": list(kind._fields),
            "additionalProperties": False,
        }
    names: dict[object, dict[str, object]] = {
        str: {"type": "string", "maxLength": MOST_TEXT},
        int: {"type": "integer"},
        bool: {"type": "boolean"},
        float: {"type": ["number", "null"]},
    }
    return names[kind]
