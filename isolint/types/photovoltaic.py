"""Photovoltaic coupler: an LED lights an array of photodiodes, which charges the gate of a transistor."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED
from isolint.types.form.usual_values import GAAS, LOW_CURRENT, POWER

TYPE = PartType(
    "photovoltaic",
    50,
    inputs=("led",),
    switched=True,
    owns=("output-pair", "array"),
    pins=Pins(
        SWITCH,
        groups=switch_groups,
        usual=(("anode", "cathode", "pv-", "pv+"),),
        ends=(("cathode", "anode"), ("pv-", "pv+")),
    ),
    output=TypeOutput(feeds="every pin"),
    generic=POWER._replace(leds={"GaAs": GAAS, "AlGaAs": LOW_CURRENT}),
    questions=(
        *CHANNEL,
        *EDGES,
        *LED,
        "trigger-margin-low",
        "gate-drive-low",
        "gate-voltage-exceeded",
        "gate-discharge-missing",
    ),
    blind=(
        "safe operating area of the transistor that it switches",
        "gate charge over temperature",
    ),
    signs=Signs(
        words=("photovoltaic",),
        makes=("pumped stack",),
        perhaps={"bare current": 3},
    ),
)
