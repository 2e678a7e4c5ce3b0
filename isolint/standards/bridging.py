"""Capacitors that may bridge insulation: the classes of IEC 60384-14 (key `iec-60384-14`), and which bears what.

Second-hand figures, none read in the standards themselves. `confidence` says how far each may be trusted: F2 found in
two or more independent public sources, F1 in one, M from memory only (hi, med, lo), X sources or editions differ.
For screening; the standard's current text decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from isolint.units import Interval

Beyond = Literal["refused", "outside"]


class CapacitorClass(NamedTuple):
    """One class. impulse: peak volts withstood up to 1 uF, None where the class has no impulse test; derates: whether
    it falls above 1 uF. rated: rms volts for which the class exists. rank: a class may stand in for one of lower rank,
    0 for a class that bears no insulation."""

    name: str
    impulse: float | None
    derates: bool
    rated: Interval | None
    rank: int
    confidence: str
    sources: tuple[str, ...]


_IMPULSES = ("capacitor-impulse-article",)
CLASSES = {
    row.name: row
    for row in (
        CapacitorClass("X1", 4000.0, True, None, 0, "F2", (*_IMPULSES, "capacitor-safety-page")),
        CapacitorClass("X2", 2500.0, True, None, 0, "F2", (*_IMPULSES, "capacitor-safety-page")),
        CapacitorClass("X3", None, False, None, 0, "M-med", ()),
        CapacitorClass("Y1", 8000.0, False, Interval(0.0, 500.0), 4, "F1", (*_IMPULSES, "y1-capacitor-data")),
        CapacitorClass("Y2", 5000.0, True, Interval(150.0, 300.0), 3, "F2", (*_IMPULSES, "y2-capacitor-data")),
        CapacitorClass("Y3", None, False, Interval(150.0, 250.0), 2, "M-med", ()),
        CapacitorClass("Y4", 2500.0, False, Interval(0.0, 150.0), 1, "F1", _IMPULSES),
    )
}
"""The classes by name. That X classes never bridge insulation: F2 (keys `capacitor-class-draft`, `capacitor-classes`).
"""


class Bridging(NamedTuple):
    """One row of what may bridge insulation: `needed` classes in series. volts: rms volts of the mains up to which the
    row holds; beyond that it is `refused`, or lies `outside` the table and can't be judged."""

    barrier: str
    needed: tuple[str, ...]
    volts: float | None
    beyond: Beyond
    standard: str
    confidence: str
    sources: tuple[str, ...]


BRIDGING = (
    Bridging("reinforced", ("Y1",), 300.0, "outside", "iec-62368-1", "F1", ("single-y1-question",)),
    Bridging("reinforced", ("Y2", "Y2"), None, "refused", "iec-62368-1", "M-hi", ()),
    Bridging("basic", ("Y2",), None, "refused", "iec-62368-1", "X", ("two-y2-question",)),
    Bridging("basic", ("Y3",), 250.0, "refused", "iec-60384-14", "M-med", ()),
    Bridging("basic", ("Y4",), 150.0, "refused", "iec-60384-14", "M-med", ()),
    Bridging("1 MOOP", ("Y2",), None, "refused", "iec-60601-1", "F1", ("means-of-protection-note",)),
    Bridging("1 MOPP", ("Y2",), None, "refused", "iec-60601-1", "F1", ("means-of-protection-note",)),
    Bridging("2 MOOP", ("Y1",), None, "refused", "iec-60601-1", "F1", ("means-of-protection-note",)),
    Bridging("2 MOOP", ("Y2", "Y2"), None, "refused", "iec-60601-1", "F1", ("means-of-protection-note",)),
    Bridging("2 MOPP", ("Y1", "Y1"), None, "refused", "iec-60601-1", "F1", ("means-of-protection-note",)),
)
"""What may bridge which insulation. One Y2 over basic insulation is the third edition's answer (2018); the second asked
for two in series (2014). Each of two in series is rated for the whole working voltage, both of the same value.
"""

GRADES = {
    "functional": "",
    "basic": "basic",
    "supplementary": "basic",
    "double": "reinforced",
    "reinforced": "reinforced",
    **{means: means for means in ("1 MOOP", "2 MOOP", "1 MOPP", "2 MOPP")},
}
"""The rows that a stated insulation asks for; functional insulation asks for none."""


def impulse(name: str, farads: float) -> float | None:
    """The impulse in peak volts that a class withstands at a capacitance, None where it has no such test."""
    found = CLASSES[name]
    if found.impulse is None or not found.derates or farads <= 1e-6:
        return found.impulse
    return found.impulse / math.sqrt(farads / 1e-6)


def share(barrier: str, name: str, volts: float | None) -> Interval:
    """What one capacitor of a class bears of a barrier: 1 all of it, 0.5 where two are needed, 0 nothing.

    volts: rms volts of the mains. Where they are not known, or lie outside a row, the two ends differ.
    """
    low = high = 0.0
    for row in BRIDGING:
        if row.barrier != barrier or CLASSES[name].rank < CLASSES[row.needed[0]].rank:
            continue
        part = 1.0 / len(row.needed)
        within = row.volts is None or (volts is not None and volts <= row.volts)
        if within:
            low = max(low, part)
        if within or volts is None or row.beyond == "outside":
            high = max(high, part)
    return Interval(low, high)


def bears(barrier: str, names: Sequence[str], volts: float | None) -> bool:
    """Whether capacitors of these classes in series may bridge a barrier."""
    return sum(share(barrier, name, volts).low for name in names) >= 1.0


def allowed(barrier: str) -> str:
    """What may bridge a barrier, in words: `one Y1, or two Y2 in series`."""
    rows = (row for row in BRIDGING if row.barrier == barrier)
    words = []
    for row in rows:
        what = f"one {row.needed[0]}" if len(row.needed) == 1 else f"two {row.needed[0]} in series"
        words.append(what if row.volts is None else f"{what} (mains up to {row.volts:g} V)")
    return ", or ".join(words)
