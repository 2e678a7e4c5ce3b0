"""Digital isolator: logic levels over a barrier, without light; a supply on each side."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import SIDED
from isolint.types.form.port_groups import sided_groups
from isolint.types.form.questions import CHANNEL, EDGES, LEVELS, SUPPLIES

TYPE = PartType(
    "digital-isolator",
    90,
    inputs=("voltage-input",),
    state="stated edges",
    owns=("supplies", "levels"),
    pins=Pins(
        SIDED,
        groups=sided_groups,
        usual=(
            ("vdd1", "in", "gnd1", "gnd2", "out", "vdd2"),
            ("vdd1", "ina", "inb", "gnd1", "gnd2", "outb", "outa", "vdd2"),
        ),
        ends=(("gnd1", "vdd1"), ("gnd2", "vdd2")),
    ),
    output=TypeOutput(interrupts="stated"),
    questions=(*CHANNEL, *EDGES, *LEVELS, *SUPPLIES, "output-level-invalid", "outputs-joined", "default-state-wrong"),
    blind=(
        "jitter",
        "emission",
        "glitches at start-up",
    ),
    signs=Signs(
        words=("digisol", "digital_isolator"),
        by_ports=True,
        perhaps={"two supplied sides": 1},
    ),
)
