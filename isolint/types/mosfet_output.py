"""MOSFET output: a photovoltaic array and the transistors that it switches, in one part."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SWITCH
from isolint.types.form.port_groups import switch_groups
from isolint.types.form.questions import CHANNEL, EDGES, LED, OFF, STRESS
from isolint.types.form.usual_values import GAAS, LOW_CURRENT, POWER
from isolint.units import Interval

TYPE = PartType(
    "mosfet-output",
    60,
    inputs=("led",),
    state="stated edges",
    switched=True,
    owns=("output-pair",),
    pins=Pins(
        SWITCH,
        groups=switch_groups,
        usual=(
            ("anode", "cathode", "drain1", "drain2"),
            ("anode", "cathode", "nc", "drain1", "source", "drain2"),
        ),
        ends=(("cathode", "anode"),),
    ),
    output=TypeOutput(interrupts="both ways", passes=True, switch="passes"),
    generic=POWER._replace(
        voltage_max=Interval(20.0, 600.0), current_max=Interval(0.05, 5.0), leds={"GaAs": GAAS, "AlGaAs": LOW_CURRENT}
    ),
    questions=(
        *CHANNEL,
        *EDGES,
        *STRESS,
        *OFF,
        *LED,
        "trigger-margin-low",
        "output-level-invalid",
        "coil-clamp-missing",
    ),
    blind=(
        "avalanche energy",
        "surges of a DC supply",
    ),
    signs=Signs(
        words=("photomos",),
        makes=("switched transistors",),
        perhaps={"plain switch": 1, "switch that holds": 3, "switch beside a supply": 4},
    ),
)
