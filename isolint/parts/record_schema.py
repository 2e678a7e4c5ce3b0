"""The tables of a part record with the checks between their keys; the keys are the rows of `records`."""

from __future__ import annotations

from collections.abc import Mapping

from isolint import types
from isolint.kinds import TEXT, ascending, choice, texts
from isolint.parts import records
from isolint.parts.record_kinds import GROUPS
from isolint.rows import Rows
from isolint.tables import Check, Table

_CHECKS: Mapping[type[Rows], tuple[Check, ...]] = {
    records.Led: (
        ascending("off_current", "threshold_current", "recommended_current_max"),
        ascending("recommended_current_min", "recommended_current_max", "forward_current_max"),
        ascending("forward_current_max", "pulse_current_max"),
    ),
    records.Input: (ascending("low_max", "high_min"),),
    records.Coil: (ascending("drop_out", "pull_in", "voltage"),),
    records.Contact: (ascending("current_min", "current_max"),),
    records.Insulation: (
        ascending("working_voltage", "withstand"),
        ascending("working_voltage", "repetitive_peak", "transient"),
        ascending("clearance", "creepage"),
    ),
}

SECTIONS: Mapping[str, tuple[Table, type[Rows]]] = {
    made.TABLE.removeprefix("parts."): (Table(made.kinds(), checks=_CHECKS.get(made, ())), made)
    for made in records.SECTIONS
}
"""Sub-tables of a record with the class each becomes."""

SUPPLIES = Table(
    {"pins": texts('["vdd1", "gnd1"]', least=1), **{k: v for k, v in records.Supply.kinds().items() if k != "side"}},
    required=("pins",),
)
"""The keys of each of several supplies."""

HEAD = Table(
    {
        "type": choice(*types.NAMES, listing=types.described),
        "pins": texts('["anode", "cathode", "collector", "emitter"]', least=1),
        "groups": GROUPS,
        "source": TEXT,
    },
    required=("type", "pins"),
)
"""The keys of a record itself; `channels` is a list of tables beside them."""

CHANNEL = Table(
    {"name": TEXT, "input": texts('["anode1", "cathode1"]', least=1), "output": texts('["collector1"]', least=1)},
    required=("input", "output"),
)
