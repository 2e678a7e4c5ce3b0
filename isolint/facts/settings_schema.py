"""The keys of isolint.toml, declared once as data.

Loading, unknown keys, messages and the JSON Schema follow from these tables; each attribute of the records has its
key here, which a test holds.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from isolint.facts.stated import Level
from isolint.kinds import (
    DATE,
    FLAG,
    TEXT,
    choice,
    integer,
    interval,
    magnitude,
    number,
    positive,
    quantity,
    record,
    texts,
    tolerance,
)
from isolint.tables import PART_TYPES, Entries, Kind, Site, Table, shortened

LEVELS = ("note", "warning", "error")

_BETWEEN = texts('["field", "logic"]', 2, 2)


def _pair_or_tolerance(entries: Entries, site: Site) -> None:
    voltage = entries.get("voltage")
    if voltage and "tolerance" in entries and not voltage.value.is_point:
        site.wrong("voltage is a pair and tolerance is stated too", "keep the pair, or one voltage with a tolerance")
    if voltage and entries.get("kind") and entries["kind"].value == "ac" and voltage.value.low < 0.0:
        site.wrong("the voltage of an AC supply is negative", "write its rms value")


def _order_of_levels(entries: Entries, site: Site) -> None:
    low, high = entries.get("low_max"), entries.get("high_min")
    if low and high and low.value >= high.value:
        site.wrong(f"low_max = {low.text} is not below high_min = {high.text}", "the two may be swapped")


def _on_above_off(entries: Entries, site: Site) -> None:
    on, off = entries.get("on"), entries.get("off")
    if on and off and on.value.low <= off.value.high and off.value.low <= on.value.high:
        site.wrong(f"on = {on.text} and off = {off.text} overlap", "state the two ranges apart")


def _two_sides(entries: Entries, site: Site) -> None:
    between = entries.get("between")
    if between and between.value[0].casefold() == between.value[1].casefold():
        site.wrong(f'both names are "{between.value[0]}"', "name two sides")


def _level(bound: str, example: str) -> Kind:
    table = Table({bound: quantity("V"), "at": magnitude("A")}, required=(bound, "at"))
    return record(table, Level, "a level with its current", example)


def _bound(raw: object, site: Site) -> float | None:
    """The margin of `margin >= 1.1`, the only bound that a waiver can have."""
    found = _BOUND.fullmatch(raw.strip()) if isinstance(raw, str) else None
    value = float(found[1]) if found else math.nan
    if math.isfinite(value):
        return value
    site.wrong(f"{shortened(raw)} is not a bound", f"write for example {BOUND.example}")
    return None


_BOUND = re.compile(r"margin\s*>=\s*([0-9]{1,9}(?:\.[0-9]{1,9})?)")
BOUND = Kind("a bound", '"margin >= 1.1"', _bound, {"type": "string", "pattern": r"^\s*margin\s*>=\s*[0-9.]+\s*$"})

TOP: Mapping[str, Kind] = {
    "parts": texts('["parts/*.toml"]'),
    "open": choice("none", *LEVELS),
    "fail_on": choice(*LEVELS),
    "top": FLAG,
}

SINGLE: Mapping[str, Table] = {
    "reading": Table(
        {"include_root": TEXT, "simulation_ground": TEXT, "simulation_only": texts('["VCM*"]')},
    ),
    "environment": Table(
        {
            "ambient": interval("degC"),
            "life": magnitude("s"),
            "duty": number(0.0, 1.0),
            "altitude": quantity("m"),
            "pollution_degree": integer(1, 4),
        }
    ),
    "limits": Table(
        {
            "drive_headroom": number(above=0.0),
            "transfer_margin": number(above=0.0),
            "insulating_resistance": positive("ohm"),
        }
    ),
}
"""Tables that stand once."""

NAMED: Mapping[str, Table] = {
    "elements": Table(
        {
            "tolerance": tolerance("1", low=-1.0),
            "tempco": tolerance("1/K"),
            "power": positive("W"),
            "voltage": positive("V"),
            "class": choice("X1", "X2", "X3", "Y1", "Y2", "Y3", "Y4"),
            "part": TEXT,
            "type": choice(*PART_TYPES),
            "ordinary": FLAG,
            "gain_min": number(above=0.0),
            "gate_full_on": quantity("V"),
            "sheet": FLAG,
        },
        alternatives=(("part", "type", "ordinary"),),
    ),
    "supplies": Table(
        {
            "voltage": interval("V"),
            "tolerance": tolerance("1", low=-1.0),
            "ground": TEXT,
            "kind": choice("dc", "ac"),
            "frequency": positive("Hz"),
        },
        checks=(_pair_or_tolerance,),
    ),
    "outputs": Table(
        {
            "supply": TEXT,
            "drive": choice("push-pull", "open-drain", "high-side"),
            "high": _level("min", '{ min = "2.9 V", at = "4 mA" }'),
            "low": _level("max", '{ max = "0.4 V", at = "4 mA" }'),
            "source_max": magnitude("A"),
            "sink_max": magnitude("A"),
            "off_leakage": magnitude("A"),
            "voltage_max": positive("V"),
            "high_max": quantity("V"),
            "group": TEXT,
            "exclusive": TEXT,
            "unpowered": FLAG,
        }
    ),
    "groups": Table({"current_max": positive("A")}, required=("current_max",)),
    "inputs": Table(
        {
            "supply": TEXT,
            "low_max": quantity("V"),
            "high_min": quantity("V"),
            "low_current": magnitude("A"),
            "high_current": magnitude("A"),
            "voltage_max": positive("V"),
            "hysteresis": FLAG,
            "pull_up": interval("ohm", above=0.0),
        },
        checks=(_order_of_levels,),
    ),
    "lines": Table(
        {
            "on": interval("V"),
            "off": interval("V"),
            "leakage": magnitude("A"),
            "reverse": magnitude("V"),
            "standard": TEXT,
        },
        checks=(_on_above_off,),
    ),
    "signals": Table(
        {"rate": positive("Hz"), "pulse": positive("s"), "use": choice("linear", "feedback")},
        alternatives=(("rate", "pulse"),),
    ),
    "sides": Table(
        {"nets": texts('["GND"]', least=1), "kind": choice("mains", "hazardous", "selv", "earth", "chassis")}
    ),
}
"""Tables of tables: the name is a pattern of elements or nets, or a name that other facts use."""

LISTS: Mapping[str, Table] = {
    "bonds": Table({"between": _BETWEEN}, required=("between",), checks=(_two_sides,)),
    "barriers": Table(
        {
            "between": _BETWEEN,
            "insulation": choice("functional", "basic", "supplementary", "double", "reinforced"),
            "working_voltage": magnitude("V"),
            "working_peak": magnitude("V"),
            "mains": positive("V"),
            "mains_frequency": positive("Hz"),
            "touch_current": magnitude("A"),
            "overvoltage_category": integer(1, 4),
            "slew": magnitude("V/s"),
        },
        required=("between",),
        checks=(_two_sides,),
    ),
    "waivers": Table(
        {"rule": TEXT, "where": TEXT, "reason": TEXT, "by": TEXT, "until": DATE, "bound": BOUND},
        required=("rule", "where", "reason", "by", "until"),
    ),
}
"""Lists of tables."""

LEVEL = choice(*LEVELS)
"""What `[levels]` holds for each rule."""

ATTRIBUTES = {"class": "class_"}
"""Keys whose attribute has another name."""

KEYS = (*TOP, *SINGLE, *NAMED, *LISTS, "levels")
