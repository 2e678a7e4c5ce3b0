"""Relay: a coil moves contacts; each pole is a port of its own."""

from __future__ import annotations

import re
from collections.abc import Sequence

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import Pin
from isolint.types.form.port_groups import Keys
from isolint.types.form.questions import EDGES, STRESS


def _terminal_numbers(text: str) -> Pin | None:
    """Terminal numbers of relays: 11, 12, 14 are the first pole."""
    return Pin("pole", text[0], "contact") if re.fullmatch(r"[1-9][1248]", text) else None


def _poles(parts: Sequence[Pin]) -> Keys:
    return ["coil" if part.role == "coil" else _pole(part) for part in parts]


def _pole(part: Pin) -> str:
    # "contact1" and "contact2" are the two ends of one contact; "com1" and "no1" belong to the first pole.
    return "contact" if part.stem in ("contact", "sw") and part.number in ("", "1", "2") else f"pole{part.number}"


TYPE = PartType(
    "relay",
    120,
    inputs=("coil",),
    owns=("contact",),
    pins=Pins(
        {
            "coil": "coil", "coil+": "coil", "coil-": "coil", "coila": "coil", "coilb": "coil", "a": "coil",
            "com": "contact", "common": "contact", "no": "contact", "nc": "contact", "co": "contact",
            "contact": "contact", "sw": "contact", "c": "contact", "normallyopen": "contact",
            "normallyclosed": "contact", "pole": "contact",
        },
        shared={},
        special=_terminal_numbers,
        groups=_poles,
        usual=(
            ("coil1", "coil2", "com", "no"),
            ("coil1", "coil2", "com", "no", "nc"),
            ("coil1", "coil2", "com1", "no1", "com2", "no2"),
            ("coil1", "coil2", "com1", "no1", "nc1", "com2", "no2", "nc2"),
        ),
    ),
    output=TypeOutput(interrupts="both ways", passes=True),
    one_side=True,
    questions=(
        *EDGES, *STRESS, "receiver-overvoltage", "output-level-invalid", "switching-too-slow", "pull-in-low",
        "drop-out-missed", "coil-overvoltage", "coil-clamp-missing", "drive-headroom-low", "driver-port-overloaded",
        "load-current-low",
    ),
    blind=(
        "bounce", "life of the contacts", "contacts that lead nowhere",
        "polarised and latching coils, of which each coil is looked at alone",
    ),
    signs=Signs(
        words=("relay",), by_ports=True,
        makes=("coil and contact",),
        perhaps={"plain switch": 3},
    ),
)  # fmt: skip
