"""Photo-SCR: an LED fires a thyristor, which blocks one way only and has a gate."""

from __future__ import annotations

import re

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SWITCH, Pin
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED, MAINS, OFF
from isolint.types.form.usual_values import GAAS, POWER


def _second_ends(text: str) -> Pin | None:
    """Anode and cathode 2 are the thyristor's."""
    return Pin("scr", "", "output") if re.fullmatch(r"(a|k|anode|cathode)2", text) else None


TYPE = PartType(
    "photo-scr",
    40,
    inputs=("led",),
    switched=True,
    owns=("output-pair", "gate"),
    pins=Pins(
        SWITCH,
        special=_second_ends,
        groups=switch_groups,
        usual=(
            ("anode", "cathode", "scrk", "scra"),
            ("anode", "cathode", "scrk", "scra", "gate"),
            ("anode", "cathode", "nc", "scrk", "scra", "gate"),
        ),
        ends=(("cathode", "anode"), ("scrk", "scra")),
    ),
    output=TypeOutput(switch="holds-one-way"),
    generic=POWER._replace(leds={"GaAs": GAAS}),
    questions=(
        *CHANNEL,
        *EDGES,
        *OFF,
        *LED,
        "trigger-margin-low",
        "blocking-voltage-low",
        "output-current-exceeded",
        "surge-unclamped",
        "gate-path-resistor-low",
        "triac-fires-late",
        "gate-leakage-high",
        "gate-cathode-resistor-missing",
        "load-current-low",
        "snubber-missing",
        "dc-load-latches",
        "switching-mode-wrong",
    ),
    blind=(*MAINS,),
    signs=Signs(
        words=("photoscr",),
        makes=("latch", "switch held one way"),
        perhaps={"switch that holds": 2, "plain switch": 5},
    ),
)
