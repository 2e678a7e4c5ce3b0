"""The tables of a part record that say what its supplies are."""

from __future__ import annotations

from typing import NamedTuple

from isolint import kinds as k
from isolint.parts import record_kinds as p
from isolint.rows import Rows, Value


class Supply(Rows, table="parts.supply"):
    """A supply of the part. Several are stated as `[[parts.NAME.supplies]]`, each with its `pins`."""

    voltage = Value(
        k.interval("V", above=0.0), "supply range of {}", '["4.5 V", "5.5 V"]', sheet="VCC, operating supply range"
    )
    current = Value(k.magnitude("A"), "supply current of {}", '"10 mA"', sheet="ICC, supply current")
    voltage_max = Value(k.positive("V"), "largest supply of {}", '"7 V"', sheet="VCC, absolute maximum supply voltage")
    uvlo_on = Value(
        p.spec("V", '{ max = "13.5 V" }'),
        "supply at which {} starts",
        sheet="VUVLO+, supply above which the output works, measured to uvlo_return",
    )
    uvlo_return = Value(
        k.TEXT, example='"ve"', sheet="pin to which the undervoltage lockout measures, the ground unless stated"
    )
    side = Value(k.TEXT, example='"vdd1"', sheet="a pin of the side whose supply this is, where there are several")


class SupplyOf(NamedTuple):
    """One of several supplies of a part: its pins by name, the supply before its return."""

    pins: tuple[str, ...]
    supply: Supply
