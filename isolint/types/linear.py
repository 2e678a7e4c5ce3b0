"""Linear coupler: an LED lights two photodiodes alike, one for the servo loop on its own side, one for the output."""

from __future__ import annotations

import re
from collections.abc import Sequence

from isolint.types.form.part_type import PartType, Pins, Signs
from isolint.types.form.pin_names import Pin
from isolint.types.form.port_groups import Keys, given
from isolint.types.form.questions import CHANNEL, LED, STRESS
from isolint.types.form.usual_values import WIDE, Family
from isolint.units import Interval


def _numbered_ends(text: str) -> Pin | None:
    """Numbered anodes and cathodes are those of the photodiodes."""
    return Pin("pd", text[-1], "photodiode") if re.fullmatch(r"(a|c|k|an|anode|cathode)[12]", text) else None


def _diodes(parts: Sequence[Pin]) -> Keys:
    return [
        known or (f"pd{part.number}" if part.number else None) for known, part in zip(given(parts), parts, strict=True)
    ]


TYPE = PartType(
    "linear",
    70,
    inputs=("led",),
    owns=("photodiodes",),
    pins=Pins(
        {
            "c": "cathode",
            **dict.fromkeys(
                ("pd+", "pd-", "pda", "pdk", "pdc", "pdanode", "pdcathode", "pd"),
                "photodiode",
            ),
        },
        special=_numbered_ends,
        groups=_diodes,
        usual=(("anode", "cathode", "pda1", "pdk1", "pda2", "pdk2"),),
        ends=(("cathode", "anode"),),
    ),
    facing="each to each",
    edges=False,
    generic=Family(
        forward_current_max=Interval(25e-3, 60e-3), reverse_voltage_max=Interval(2.5, 5.0), leds={"AlGaAs": WIDE}
    ),
    questions=(
        *CHANNEL,
        *STRESS,
        *(slug for slug in LED if slug not in ("led-not-off", "led-underdriven")),
        "servo-open",
        "servo-range-short",
        "photodiode-overdriven",
    ),
    blind=(
        "stability of the servo loop",
        "how the two photodiodes differ",
    ),
    signs=Signs(
        makes=("two currents",),
        perhaps={"bare current": 2, "current beside a supply": 4},
    ),
)
