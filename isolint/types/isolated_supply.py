"""Isolated supply: a converter that feeds one side from another."""

from __future__ import annotations

from collections.abc import Sequence

from isolint.types.form.part_type import PartType, Pins, Signs, TypeOutput
from isolint.types.form.pin_names import Pin
from isolint.types.form.port_groups import Keys, given

_OUT_WORDS = frozenset(("0v", "com", "gndout", "gndo", "trim", "v"))
_RETURNS = frozenset(("0v", "-out", "out-", "vout-", "-vout", "vo-", "-vo", "com", "gndout", "gndo"))
_INPUT_RETURNS = frozenset(("-in", "in-", "vin-", "-vin", "gndin", "gndi"))


def _ends(parts: Sequence[Pin]) -> Keys:
    stems = {part.stem for part in parts}
    # A plain ground is the input's where the output has a return of its own, and can't be placed otherwise.
    ground = "in" if stems & _RETURNS and not stems & _INPUT_RETURNS else None
    return [known or _end(part, ground) for known, part in zip(given(parts), parts, strict=True)]


def _end(part: Pin, ground: str | None) -> str | None:
    if part.number and part.stem in ("gnd", "vcc", "com"):
        return {"1": "in", "2": "out"}.get(part.number)
    if part.stem == "gnd":
        return ground
    return "out" if part.role == "output" or part.stem in _OUT_WORDS else "in"


TYPE = PartType(
    "isolated-supply",
    140,
    owns=("supplies",),
    pins=Pins(
        {
            "+in": "supply", "-in": "ground", "in+": "supply", "in-": "ground", "vin": "supply", "vin+": "supply",
            "vin-": "ground", "+vin": "supply", "-vin": "ground", "in": "supply", "vcc": "supply", "gndin": "ground",
            "gndi": "ground", "vi": "supply", "vi+": "supply", "vi-": "ground", "ctrl": "enable", "remote": "enable",
            "+out": "output", "-out": "output", "out+": "output", "out-": "output", "vout": "output",
            "vout+": "output", "vout-": "output", "+vout": "output", "-vout": "output", "out": "output",
            "vo": "output", "vo+": "output", "vo-": "output", "+vo": "output", "-vo": "output", "0v": "ground",
            "v": "ground", "com": "ground", "gndout": "ground", "gndo": "ground", "trim": "output", "gnd": "ground",
        },
        groups=_ends,
        usual=(("in+", "in-", "out+", "out-"), ("in+", "in-", "out+", "0v", "out-")),
        ends=(("in-", "in+"), ("out-", "out+")),
    ),
    output=TypeOutput(feeds="outputs"),
    edges=False,
    questions=(
        "side-unpowered", "supply-out-of-range", "converter-overloaded", "load-capacitance-high", "bypass-missing",
    ),
    blind=("short circuit", "ripple", "inrush"),
    signs=Signs(
        words=("dcdc",), by_ports=True,
        makes=("isolated converter",),
        perhaps={"power both ways": 1, "coils with active parts": 1, "two supplied sides": 4},
    ),
)  # fmt: skip
