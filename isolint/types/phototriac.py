"""Phototriac: an LED fires a small triac, which fires a larger one."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED, MAINS, OFF
from isolint.types.form.usual_values import GAAS, POWER

TYPE = PartType(
    "phototriac",
    30,
    inputs=("led",),
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        SWITCH,
        groups=switch_groups,
        usual=(
            ("anode", "cathode", "terminal1", "terminal2"),
            ("anode", "cathode", "nc1", "terminal1", "nc2", "terminal2"),
        ),
        ends=(("cathode", "anode"),),
    ),
    output=TypeOutput(switch="holds"),
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
        "load-current-low",
        "snubber-missing",
        "dc-load-latches",
        "switching-mode-wrong",
    ),
    blind=(*MAINS,),
    signs=Signs(
        words=("phototriac", "optotriac", "triac"),
        makes=(
            "two latches",
            "switch that holds between terminals",
            "switch held both ways",
        ),
        perhaps={"switch that holds": 1, "plain switch": 4, "switch beside a supply": 5},
    ),
)
