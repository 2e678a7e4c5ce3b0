"""Transformer: windings on one core; passes power or pulses, no level."""

from __future__ import annotations

from collections.abc import Sequence

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import Pin
from isolint.types.form.port_groups import Keys

_WORDS = ("primary", "pri", "prim", "p", "secondary", "sec", "s", "aux", "auxiliary", "tertiary", "ter", "t")
_ENDINGS = ("", "+", "-", "a", "b", "start", "end", "ct", "tap")


def _windings(parts: Sequence[Pin]) -> Keys:
    return [_winding(part.stem) for part in parts]


def _winding(stem: str) -> str:
    return "primary" if stem.startswith("p") else "aux" if stem[0] in "at" else "secondary"


TYPE = PartType(
    "transformer",
    130,
    owns=("windings",),
    pins=Pins(
        {word + ending: "winding" for word in _WORDS for ending in _ENDINGS},
        shared={},
        groups=_windings,
        usual=(("pri1", "pri2", "sec1", "sec2"), ("pri1", "pri2", "sec1", "sec2", "sec3", "sec4")),
    ),
    output=TypeOutput(feeds="every pin"),
    edges=False,
    questions=("core-saturates",),
    blind=("design of a flyback or forward converter",),
    signs=Signs(
        words=("transformer", "xfmr", "trafo"),
        by_ports=True,
        makes=("coupled coils",),
        perhaps={"power both ways": 2, "coils with active parts": 2},
    ),
)
