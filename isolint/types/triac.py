"""Triac: an ordinary part that a gate current fires and the load's own current holds, either way."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins

TYPE = PartType(
    "triac",
    1001,
    isolates=False,
    owns=("thyristor",),
    pins=Pins(
        {
            **dict.fromkeys(("mt", "t", "a", "main"), "main"),
            **dict.fromkeys(("g", "gate"), "gate"),
        },
        shared={},
        usual=(("mt1", "mt2", "gate"),),
    ),
)
