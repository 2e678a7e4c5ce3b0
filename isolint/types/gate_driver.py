"""Gate driver: drives the gate of a power transistor over a barrier, from an LED or from logic levels.

Many parts are called so and isolate nothing, so that neither a name nor the names of ports suffice.
"""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SIDED
from isolint.types.form.port_groups import sided_groups
from isolint.types.form.questions import CHANNEL, LED, LEVELS, STRESS, SUPPLIES
from isolint.types.form.usual_values import LOGIC

TYPE = PartType(
    "gate-driver",
    110,
    inputs=("led", "voltage-input"),
    state="hazards",
    switched=True,
    owns=("supplies", "gate", "driver"),
    pins=Pins(
        SIDED,
        groups=sided_groups,
        usual=(
            ("anode", "cathode", "vcc", "out", "gnd"),
            ("anode", "cathode", "nc", "gnd", "out", "vcc"),
            ("vdd1", "in+", "in-", "gnd1", "gnd2", "out-", "out+", "vdd2"),
        ),
        ends=(
            ("cathode", "anode"),
            ("gnd", "vcc"),
            ("in-", "in+"),
            ("out-", "out+"),
            ("gnd1", "vdd1"),
            ("gnd2", "vdd2"),
        ),
    ),
    output=TypeOutput(interrupts="stated"),
    edges=False,
    generic=LOGIC,
    questions=(
        *CHANNEL,
        *STRESS,
        *LED,
        *LEVELS,
        *SUPPLIES,
        "trigger-margin-low",
        "gate-resistor-low",
        "gate-drive-low",
        "gate-voltage-exceeded",
        "gate-discharge-missing",
        "dead-time-short",
        "miller-turn-on",
        "default-state-wrong",
    ),
    blind=(
        "safe operating area",
        "desaturation and short-circuit time",
        "gate charge over temperature",
    ),
    signs=Signs(
        words=("gatedriver", "gate_driver"),
        makes=("push-pull into small resistors",),
        perhaps={
            "push-pull": 1,
            "switch beside a supply": 2,
            "controlled voltage": 2,
            "two supplied sides": 3,
        },
    ),
)
