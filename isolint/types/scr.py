"""SCR: an ordinary part that a gate current fires and the load's own current holds, one way."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins

TYPE = PartType(
    "scr",
    1002,
    isolates=False,
    owns=("thyristor",),
    pins=Pins(
        {
            **dict.fromkeys(("a", "anode"), "anode"),
            **dict.fromkeys(("k", "c", "cathode"), "cathode"),
            **dict.fromkeys(("g", "gate"), "gate"),
        },
        shared={},
        usual=(("cathode", "anode", "gate"),),
    ),
)
