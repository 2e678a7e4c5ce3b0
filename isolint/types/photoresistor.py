"""Photoresistor coupler: an LED lights a resistance, which conducts either way and follows slowly."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups

TYPE = PartType(
    "photoresistor",
    75,
    inputs=("led",),
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        {**SWITCH, "r": "output", "ldr": "output"},
        groups=switch_groups,
        usual=(("anode", "cathode", "r1", "r2"),),
        ends=(("cathode", "anode"),),
    ),
    signs=Signs(words=("photoresistor",)),
)
