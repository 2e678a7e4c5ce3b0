"""What a part can be: one file a type, which says all that is so of every part of the type.

In: nothing but the files of this folder, each with a `TYPE`; `form/` holds what they fill in. Out: the types by name.
Recognition, channels, generic values, guesses of pins and what is asked of a part read them here and name no type.
Must not know records, facts, netlists or rules.
"""

from __future__ import annotations

from importlib import import_module
from os import listdir
from os.path import dirname
from types import ModuleType

from isolint.types.form.part_type import PartType

__all__ = ["BY_NAME", "NAMES", "PartType", "described", "guessed", "of"]


def _modules() -> list[ModuleType]:
    files = sorted(name for name in listdir(dirname(__file__)) if name.endswith(".py") and not name.startswith("_"))
    return [import_module(f"isolint.types.{name.removesuffix('.py')}") for name in files]


def _all() -> tuple[PartType, ...]:
    """The types of this folder, in the order of their ranks."""
    found: list[PartType] = [module.TYPE for module in _modules()]
    return tuple(sorted(found, key=lambda one: (one.rank, one.name)))


BY_NAME = {one.name: one for one in _all()}
"""The types in the order of their ranks."""


def of(name: str) -> PartType:
    """The type of that name."""
    return BY_NAME[name]


def described() -> str:
    """Every type with what it is, a line each."""
    told: dict[str, str] = {}
    for module in _modules():
        first = (module.__doc__ or "").strip().split("\n\n", 1)[0]
        told[module.TYPE.name] = first.partition(": ")[2].rstrip(".")
    return "\n".join(f"  {name}: {told[name]}" for name in NAMES)


def guessed(pins: int) -> str:
    """The usual type of an output of so many pins, where nothing else tells; of more pins than any the largest."""
    usual = sorted((one.signs.guessed_for, one.name) for one in BY_NAME.values() if one.signs.guessed_for)
    fitting = [name for most, name in usual if pins <= most]
    return fitting[0] if fitting else usual[-1][1]


NAMES = tuple(sorted(BY_NAME, key=lambda name: name != guessed(2)))
"""The words of the `type` key: the commonest first, then by rank."""
