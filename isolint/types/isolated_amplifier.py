"""Isolated amplifier: a voltage over a barrier, as a voltage or a bit stream; a supply on each side."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SIDED
from isolint.types.form.port_groups import sided_groups
from isolint.types.form.questions import CHANNEL, EDGES, SUPPLIES

TYPE = PartType(
    "isolated-amplifier",
    100,
    inputs=("voltage-input",),
    state="hazards",
    owns=("supplies", "analog"),
    pins=Pins(
        SIDED,
        groups=sided_groups,
        usual=(("vdd1", "in+", "in-", "gnd1", "gnd2", "out-", "out+", "vdd2"),),
        ends=(("in-", "in+"), ("out-", "out+"), ("gnd1", "vdd1"), ("gnd2", "vdd2")),
    ),
    output=TypeOutput(interrupts="stated"),
    questions=(
        *CHANNEL,
        *EDGES,
        *SUPPLIES,
        "input-range-exceeded",
        "input-floating",
        "resistor-overloaded",
        "logic-level-missed",
        "output-level-invalid",
    ),
    blind=("errors of gain and offset",),
    signs=Signs(
        words=("isoamp",),
        by_ports=True,
        perhaps={"controlled voltage": 3, "two supplied sides": 2},
    ),
)
