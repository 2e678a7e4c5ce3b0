"""Input levels of logic families, by supply voltage.

JEDEC's interface standards fix VIL and VIH for each nominal supply: 3.3 V (key `jesd8c`), 2.5 V (key `jesd8-5a`), 1.8
V (key `jesd8-7a`), 1.5 V (key `jesd8-11a`), 1.2 V (key `jesd8-12a`). At 5 V the TTL levels are in use beside those of
CMOS inputs, which switch at shares of their supply, as most controllers do. The values are from memory; check them
against the standard before relying on them.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.units import Interval

CMOS_LOW, CMOS_HIGH = 0.3, 0.7
"""Shares of the supply that a CMOS input takes for low and for high."""

SCHMITT_LOW = 0.2
"""Share of the supply below which a Schmitt input is low at worst; its high level is that of CMOS."""


class LogicFamily(NamedTuple):
    """A family: supply range in volts, fixed levels, or shares of the supply where `ratio` is set."""

    name: str
    supply: Interval
    low_max: float
    high_min: float
    ratio: bool = False


FAMILIES = (
    LogicFamily("TTL levels", Interval(4.5, 5.5), 0.8, 2.0),
    LogicFamily("3.3 V logic", Interval(2.7, 3.6), 0.8, 2.0),
    LogicFamily("2.5 V logic", Interval(2.3, 2.7), 0.7, 1.7),
    LogicFamily("1.8 V logic", Interval(1.65, 1.95), 0.35, 0.65, True),
    LogicFamily("1.5 V logic", Interval(1.4, 1.6), 0.35, 0.65, True),
    LogicFamily("1.2 V logic", Interval(1.1, 1.3), 0.35, 0.65, True),
)


class Levels(NamedTuple):
    """Input levels in volts from the least to the most demanding usual family, each an interval."""

    low_max: Interval
    high_min: Interval
    families: str


def levels(supply: Interval, nominal: float, hysteresis: bool = False) -> Levels:
    """The levels that an input on a supply of this range may need; `nominal` chooses the family."""
    lows = [CMOS_LOW * supply.low]
    highs = [CMOS_HIGH * supply.high]
    names = ["CMOS"]
    if hysteresis:
        lows.append(SCHMITT_LOW * supply.low)
        names.append("Schmitt")
    for family in FAMILIES:
        if family.supply.low <= nominal <= family.supply.high:
            names.append(family.name)
            lows.append(family.low_max * supply.low if family.ratio else family.low_max)
            highs.append(family.high_min * supply.high if family.ratio else family.high_min)
    return Levels(Interval(min(lows), max(lows)), Interval(min(highs), max(highs)), ", ".join(names))
