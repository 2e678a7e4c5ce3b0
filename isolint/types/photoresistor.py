"""Photoresistor coupler: an LED lights a resistance, which conducts either way and follows slowly."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED, OFF, STRESS
from isolint.types.form.usual_values import GAASP, Family
from isolint.units import Interval

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
    generic=Family(
        forward_current_max=Interval(20e-3, 40e-3), reverse_voltage_max=Interval(3.0, 3.0), leds={"GaAsP": GAASP}
    ),
    questions=(*CHANNEL, *EDGES, *STRESS, *OFF, *LED, "output-level-invalid"),
    blind=(
        "memory and hysteresis of the cell",
        "distortion",
    ),
    signs=Signs(
        words=("photoresistor",),
        makes=("resistance",),
        perhaps={"bent resistance": 1, "saturating current": 2},
    ),
)
