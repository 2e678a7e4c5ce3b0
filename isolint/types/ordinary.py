"""Ordinary part: isolates nothing and joins all its pins."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins
from isolint.types.form.pin_names import Pin


def _any(text: str) -> Pin:
    return Pin("", "", "pin")


TYPE = PartType("ordinary", 1000, isolates=False, pins=Pins(special=_any))
