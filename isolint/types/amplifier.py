"""Amplifier: an ordinary part that drives its output by the difference of its two inputs."""

from __future__ import annotations

from isolint.types.form.part_type import PartType, Pins

TYPE = PartType(
    "amplifier",
    1004,
    isolates=False,
    owns=("amplifier",),
    pins=Pins(
        {
            **dict.fromkeys(
                ("in+", "+in", "inp", "vin+", "plus", "noninv", "in-", "-in", "inn", "inm", "vin-"), "input"
            ),
            **dict.fromkeys(("minus", "inv"), "input"),
            **dict.fromkeys(("out", "vout", "output", "vo"), "output"),
            **dict.fromkeys(("v+", "vcc", "vdd", "vs+", "vp", "supply"), "supply"),
            **dict.fromkeys(("v-", "vee", "vss", "vs-", "vn", "gnd", "ground"), "ground"),
        },
        shared={},
        usual=(("out", "v-", "in+", "in-", "v+"),),
    ),
)
