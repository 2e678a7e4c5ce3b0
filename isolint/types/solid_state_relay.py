"""Solid-state relay: a switch for alternating current, with LED, driver and thyristors in one part."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED, MAINS, OFF
from isolint.types.form.usual_values import GAAS, POWER

TYPE = PartType(
    "solid-state-relay",
    35,
    inputs=("led",),
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        {**SWITCH, "l": "output", "line": "output"},
        groups=switch_groups,
        usual=(("anode", "cathode", "load1", "load2"),),
        ends=(("cathode", "anode"),),
    ),
    output=TypeOutput(switch="complete"),
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
        "load-current-low",
        "snubber-missing",
        "dc-load-latches",
        "switching-mode-wrong",
    ),
    blind=("how its heat sink fits", *MAINS),
    signs=Signs(words=("solid_state_relay", "solidstaterelay")),
)
