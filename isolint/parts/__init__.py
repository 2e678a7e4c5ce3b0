"""Part records: what data sheets say, in TOML, and what is generic where they say nothing.

In: a `Tree` and the paths of record files. Out: `Parts`, a mapping from a part's name to its `PartRecord`, or one
`SettingsError` with every mistake. The shipped records are invented demonstration parts; generic families are
intervals with their origin. Must not know netlists, circuits or rules.
"""

from __future__ import annotations

from isolint.curve import Curve
from isolint.parts.library import Parts, builtin, load
from isolint.parts.part_channels import derive_channels
from isolint.parts.pins import derive_groups, role_of
from isolint.parts.record_reader import from_names, read_records
from isolint.parts.records import (
    Ageing,
    ChannelPins,
    Coil,
    Contact,
    DarkCurrent,
    Derating,
    Input,
    Insulation,
    Led,
    Output,
    PartRecord,
    Photodiodes,
    Ratio,
    RecordLevel,
    Saturation,
    Spec,
    Supply,
    SupplyOf,
    Thermal,
    Thyristor,
    Timing,
    Transfer,
    Trigger,
)
from isolint.units import Interval

__all__ = [
    "Ageing",
    "ChannelPins",
    "Coil",
    "Contact",
    "Curve",
    "DarkCurrent",
    "Derating",
    "Input",
    "Insulation",
    "Interval",
    "Led",
    "Output",
    "PartRecord",
    "Parts",
    "Photodiodes",
    "Ratio",
    "RecordLevel",
    "Saturation",
    "Spec",
    "Supply",
    "SupplyOf",
    "Thermal",
    "Thyristor",
    "Timing",
    "Transfer",
    "Trigger",
    "builtin",
    "derive_channels",
    "derive_groups",
    "from_names",
    "groups_of",
    "load",
    "read_records",
    "role_of",
]


def groups_of(record: PartRecord) -> tuple[tuple[int, ...], ...]:
    """The port groups of a part as positions of its pins on the card, each ascending."""
    free = list(range(len(record.pins)))
    groups = []
    for group in record.groups:
        indices = []
        for pin in group:
            index = next(position for position in free if record.pins[position] == pin)
            free.remove(index)
            indices.append(index)
        groups.append(tuple(sorted(indices)))
    return tuple(groups)
