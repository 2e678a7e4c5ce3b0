"""What the engineer states: isolint.toml.

In: a `Tree` and the path of a netlist. Out: `Facts`, every value with the file and key it comes from, found by
element path or net name; or one `SettingsError` with every mistake of every file. Knows TOML and units; must not
know netlists, circuits or rules. Defaults are not filled in here: what nobody stated is None.
"""

from __future__ import annotations

from isolint.facts.effective import Facts, dump
from isolint.facts.paths import FILE_NAME, settings_paths
from isolint.facts.settings_reader import load
from isolint.facts.stated import (
    INSULATIONS,
    BarrierFacts,
    Bond,
    ElementFacts,
    Environment,
    Fact,
    GroupFacts,
    InputFacts,
    Level,
    Limits,
    LineFacts,
    LoadFacts,
    OutputFacts,
    PairFacts,
    Reading,
    SideFacts,
    SignalFacts,
    Stated,
    SupplyFacts,
    Waiver,
)
from isolint.units import Interval

__all__ = [
    "FILE_NAME",
    "INSULATIONS",
    "BarrierFacts",
    "Bond",
    "ElementFacts",
    "Environment",
    "Fact",
    "Facts",
    "GroupFacts",
    "InputFacts",
    "Interval",
    "Level",
    "Limits",
    "LineFacts",
    "LoadFacts",
    "OutputFacts",
    "PairFacts",
    "Reading",
    "SideFacts",
    "SignalFacts",
    "Stated",
    "SupplyFacts",
    "Waiver",
    "dump",
    "load",
    "settings_paths",
]
