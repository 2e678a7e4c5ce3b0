"""Logic output: an LED lights a detector with a supply, whose output is a level: open collector or push-pull."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SIDED
from isolint.types.form.port_groups import sided_groups
from isolint.types.form.questions import CHANNEL, DARK, EDGES, LED, STRESS, SUPPLIES
from isolint.types.form.usual_values import LOGIC, over_current, over_temperature
from isolint.units import Interval

TYPE = PartType(
    "logic-output",
    80,
    inputs=("led",),
    state="stated edges",
    switched=True,
    owns=("supplies",),
    pins=Pins(
        SIDED,
        groups=sided_groups,
        usual=(
            ("anode", "cathode", "vcc", "out", "gnd"),
            ("anode", "cathode", "nc", "gnd", "out", "vcc"),
        ),
        ends=(("cathode", "anode"), ("gnd", "vcc")),
    ),
    output=TypeOutput("logic", ends=("output",), interrupts="one way"),
    generic=LOGIC._replace(
        voltage_max=Interval(7.0, 20.0),
        output_reverse_voltage_max=Interval(0.3, 0.5),
        current_max=Interval(8e-3, 50e-3),
        versus_current={"GaAsP": over_current([(1, 0.6), (2, 0.75), (5, 0.95), (10, 1.02), (20, 0.98)])},
        versus_temperature={"GaAsP": over_temperature(0.95, 0.98, 1.00, 1.00, 0.96, 0.92, 0.88, 0.84)},
    ),
    questions=(
        *CHANNEL,
        *EDGES,
        *STRESS,
        *DARK,
        *LED,
        *SUPPLIES,
        "trigger-margin-low",
        "output-level-invalid",
        "slow-edge",
        "input-floating",
        "logic-level-missed",
        "default-state-wrong",
    ),
    signs=Signs(
        makes=(
            "pull-down",
            "push-pull into resistors",
            "pull-down switch",
            "level through a resistor",
        ),
        perhaps={
            "unlit base": 3,
            "based transistor": 3,
            "push-pull": 2,
            "switch beside a supply": 1,
            "controlled voltage": 1,
            "current beside a supply": 3,
        },
        names={"collector": "output", "emitter": "ground"},
        telling=frozenset({"anode", "cathode", "supply", "ground", "output"}),
        guessed_for=3,
    ),
)
