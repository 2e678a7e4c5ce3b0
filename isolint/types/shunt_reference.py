"""Shunt reference: an ordinary part that takes as much current at its cathode as holds its own input at a voltage."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins

TYPE = PartType(
    "shunt-reference",
    1003,
    isolates=False,
    owns=("reference",),
    pins=Pins(
        {
            **dict.fromkeys(("k", "c", "ka", "cat", "cath", "cathode"), "cathode"),
            **dict.fromkeys(("a", "an", "anode", "gnd"), "anode"),
            **dict.fromkeys(("r", "ref", "reference", "adj", "fb", "in"), "reference"),
        },
        shared={},
        usual=(("cathode", "ref", "anode"), ("ref", "cathode", "anode")),
    ),
)
