"""From how a part is made to the types that are made so, as the files of the types say it."""

from __future__ import annotations

from functools import cache

from isolint import types
from isolint.types.form.constructions import Make


@cache
def types_of(make: Make | None) -> tuple[str, ...]:
    """The one type that is made so, or those among which the truth is, the likeliest first.

    None is an output of an unknown make: any part with an LED may have it.
    """
    every = types.BY_NAME.values()
    if make is None:
        return tuple(one.name for one in every if "led" in one.inputs)
    sure = tuple(one.name for one in every if make in one.signs.makes and not one.signs.named)
    if sure:
        return sure
    places = sorted((one.signs.perhaps[make], one.name) for one in every if make in one.signs.perhaps)
    return tuple(name for _, name in places)


def may_be_called(make: Make | None, name: str) -> bool:
    """Whether a part made so is of a type if its name says that type."""
    return name in types.BY_NAME and make in types.of(name).signs.makes
