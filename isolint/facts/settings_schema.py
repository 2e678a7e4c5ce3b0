"""The keys of isolint.toml, declared once as data.

Loading, unknown keys, messages and the JSON Schema follow from these tables; the keys of most are the rows of
`stated`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any

from isolint.facts import stated
from isolint.kinds import DATE, FLAG, TEXT, choice, texts
from isolint.tables import Entries, Kind, Site, Table, shortened

LEVELS = ("note", "warning", "error")


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

TOP: Mapping[str, Kind[Any]] = {
    "parts": texts('["parts/*.toml"]'),
    "open": choice("none", *LEVELS),
    "fail_on": choice(*LEVELS),
    "top": FLAG,
}

SINGLE: Mapping[str, Table] = {
    record.TABLE: Table(record.kinds()) for record in (stated.Reading, stated.Environment, stated.Limits)
}
"""Tables that stand once."""

NAMED: Mapping[str, Table] = {
    "elements": Table(stated.ElementFacts.kinds(), alternatives=(("part", "type", "ordinary"),)),
    "supplies": Table(stated.SupplyFacts.kinds(), checks=(_pair_or_tolerance,)),
    "outputs": Table(stated.OutputFacts.kinds()),
    "groups": Table(stated.GroupFacts.kinds(), required=("current_max",)),
    "inputs": Table(stated.InputFacts.kinds(), checks=(_order_of_levels,)),
    "lines": Table(stated.LineFacts.kinds(), checks=(_on_above_off,)),
    "signals": Table(stated.SignalFacts.kinds(), alternatives=(("rate", "pulse"),)),
    "loads": Table(stated.LoadFacts.kinds()),
    "sides": Table(stated.SideFacts.kinds()),
}
"""Tables of tables: the name is a pattern of elements or nets, or a name that other facts use."""

LISTS: Mapping[str, Table] = {
    "bonds": Table({"between": stated.BETWEEN}, required=("between",), checks=(_two_sides,)),
    "barriers": Table(
        {"between": stated.BETWEEN, **stated.BarrierFacts.kinds()}, required=("between",), checks=(_two_sides,)
    ),
    "pairs": Table({"channels": stated.CHANNELS, **stated.PairFacts.kinds()}, required=("channels",)),
    "waivers": Table(
        {"rule": TEXT, "where": TEXT, "reason": TEXT, "by": TEXT, "until": DATE, "bound": BOUND},
        required=("rule", "where", "reason", "by", "until"),
    ),
}
"""Lists of tables."""

LEVEL = choice(*LEVELS)
"""What `[levels]` holds for each rule."""

ATTRIBUTES = {"class": "class_", "return": "return_"}
"""Keys whose attribute has another name."""

KEYS = (*TOP, *SINGLE, *NAMED, *LISTS, "levels")
