"""Frozen values as JSON and back, by their annotations; read strictly, since a store may come from anybody.

Nothing is lost: infinities and what is no number are written as words where a number stands.
"""

from __future__ import annotations

import json
import math
import zlib
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType, NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

from isolint.errors import IsolintError

T = TypeVar("T")

MOST_BYTES = 256 * 1024 * 1024
"""What a document may hold when it is unpacked."""
_WORDS = {"inf": math.inf, "-inf": -math.inf, "nan": math.nan}


class BadRecord(IsolintError):
    """A document that is not what it should be."""


def packed(value: object) -> bytes:
    """A value as compressed canonical JSON: equal values give equal bytes."""
    return zlib.compress(canonical(plain(value)), 6)


def canonical(raw: object) -> bytes:
    """JSON without blanks, keys in order, ASCII."""
    return json.dumps(raw, ensure_ascii=True, allow_nan=False, sort_keys=True, separators=(",", ":")).encode()


def unpacked(data: bytes) -> object:
    """What `packed` compressed, as plain JSON values; raise `BadRecord`."""
    machine = zlib.decompressobj()
    try:
        text = machine.decompress(data, MOST_BYTES)
        if machine.unconsumed_tail or not machine.eof:
            raise BadRecord("a document is cut off or larger than it may be")
        return json.loads(text)
    except (zlib.error, ValueError, RecursionError):
        raise BadRecord("a document is no compressed JSON") from None


def plain(value: object) -> object:
    """A value as lists, objects, texts and finite numbers."""
    if isinstance(value, tuple):
        fields = getattr(value, "_fields", None)
        if fields is not None:
            return {name: plain(getattr(value, name)) for name in fields}
        return [plain(each) for each in value]
    if isinstance(value, Mapping):
        return {str(key): plain(value[key]) for key in value}
    if isinstance(value, float) and not math.isfinite(value):
        return next(word for word, number in _WORDS.items() if repr(number) == repr(value))
    return value


def read(kind: type[T], raw: object) -> T:
    """A value of a kind from plain JSON values; raise `BadRecord` with the place of what is wrong."""
    return cast(T, _read(kind, raw, "the document"))


@cache
def _hints(kind: type) -> Mapping[str, Any]:
    return get_type_hints(kind)


def _read(kind: Any, raw: object, where: str) -> object:
    origin = get_origin(kind)
    if origin in (Union, UnionType):
        if raw is None and NoneType in get_args(kind):
            return None
        (kind,) = [each for each in get_args(kind) if each is not NoneType]
        origin = get_origin(kind)
    if origin is Literal:
        if isinstance(raw, str) and raw in get_args(kind):
            return raw
    elif origin is tuple:
        if isinstance(raw, list):
            return _tuple(get_args(kind), raw, where)
    elif origin is not None and issubclass(origin, Mapping):
        if isinstance(raw, dict):
            inner = get_args(kind)[1]
            return MappingProxyType({str(key): _read(inner, each, f"{where}.{key}") for key, each in raw.items()})
    elif isinstance(kind, type) and issubclass(kind, tuple):
        return _record(kind, raw, where)
    elif kind is float:
        if isinstance(raw, str) and raw in _WORDS:
            return _WORDS[raw]
        if isinstance(raw, int | float) and not isinstance(raw, bool):
            return float(raw)
    elif isinstance(raw, kind) and (kind is bool or not isinstance(raw, bool)):
        return raw
    raise BadRecord(f"{where}: not of the kind that stands there")


def _tuple(kinds: tuple[Any, ...], raw: list[Any], where: str) -> object:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_read(kinds[0], each, f"{where}[{at}]") for at, each in enumerate(raw))
    if len(kinds) != len(raw):
        raise BadRecord(f"{where}: {len(kinds)} values are wanted")
    return tuple(_read(kind, each, f"{where}[{at}]") for at, (kind, each) in enumerate(zip(kinds, raw, strict=True)))


def _record(kind: Any, raw: object, where: str) -> object:
    # What an older isolint did not know yet is what it is where nothing is said.
    if not isinstance(raw, dict) or not set(kind._fields) - set(kind._field_defaults) <= set(raw) <= set(kind._fields):
        raise BadRecord(f"{where}: not the keys of {kind.__name__}")
    hints = _hints(kind)
    return kind(**{name: _read(hints[name], each, f"{where}.{name}") for name, each in raw.items()})
