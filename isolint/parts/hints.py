"""Words that suggest what a part is; a hint alone never decides."""

from __future__ import annotations

from isolint.parts.types import PHOTODARLINGTON, PHOTOTRANSISTOR

_HINTS: tuple[tuple[str, str], ...] = (
    ("photodarlington", PHOTODARLINGTON),
    ("darlington", PHOTODARLINGTON),
    ("phototransistor", PHOTOTRANSISTOR),
    ("phototriac", "phototriac"),
    ("optotriac", "phototriac"),
    ("triac", "phototriac"),
    ("photoscr", "photo-scr"),
    ("photovoltaic", "photovoltaic"),
    ("photomos", "mosfet-output"),
    ("digisol", "digital-isolator"),
    ("digital_isolator", "digital-isolator"),
    ("isoamp", "isolated-amplifier"),
    ("gatedriver", "gate-driver"),
    ("gate_driver", "gate-driver"),
    ("relay", "relay"),
    ("transformer", "transformer"),
    ("xfmr", "transformer"),
    ("trafo", "transformer"),
    ("dcdc", "isolated-supply"),
    ("optocoupler", ""),
    ("optoisolator", ""),
    ("photocoupler", ""),
    ("opto", ""),
    ("coupler", ""),
    ("photo", ""),
    ("isol", ""),
)


def family_name_hints() -> tuple[tuple[str, str], ...]:
    """Words in the name or comment of a subcircuit with the type they suggest; "" for a coupler of some type."""
    return _HINTS


def name_hints(text: str) -> tuple[str, ...]:
    """The types that a name or comment suggests, most specific first; ("",) is a coupler of some type, () no hint."""
    folded = text.casefold().replace("-", "_").replace(" ", "_")
    plain = folded.replace("_", "")
    return tuple(dict.fromkeys(kind for word, kind in _HINTS if word in folded or word in plain))
