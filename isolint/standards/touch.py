"""Touch current: published limits, and the current that capacitors let through.

Second-hand figures; `confidence` as in `bridging`. Which limit holds depends on the equipment: the engineer states it,
nothing here is a default.
"""

from __future__ import annotations

import math
from typing import NamedTuple


class TouchLimit(NamedTuple):
    """One limit in amperes: rms, peak and direct current, None where the source gives none."""

    standard: str
    case: str
    rms: float | None
    peak: float | None
    direct: float | None
    confidence: str
    sources: tuple[str, ...]


LIMITS = (
    TouchLimit("iec-62368-1", "ES1", 0.5e-3, 0.707e-3, 2e-3, "M-hi", ()),
    TouchLimit("iec-62368-1", "ES2", 5e-3, 7.07e-3, 25e-3, "M-hi", ()),
    TouchLimit("iec-60950-1", "class I", 3.5e-3, None, None, "F1", ("office-equipment-summary",)),
    TouchLimit("iec-60950-1", "hand-held or not earthed, accessible", 0.25e-3, None, None, "M-hi", ()),
    TouchLimit("iec-60335-1", "through protective impedance", None, 0.7e-3, 2e-3, "F1", ("appliance-touch-thread",)),
    TouchLimit("iec-60335-1", "class II", 0.25e-3, None, None, "M-med", ()),
    TouchLimit("iec-60335-1", "class I, portable", 0.75e-3, None, None, "M-med", ()),
    TouchLimit("iec-60335-1", "class I, stationary", 3.5e-3, None, None, "M-med", ()),
    TouchLimit("iec-60065", "terminal not hazardous live", None, 0.7e-3, 2e-3, "F1", ("television-manual",)),
    TouchLimit("iec-60598-1", "SELV circuit exposed", None, 0.7e-3, 2e-3, "F1", ("luminaire-thread",)),
    TouchLimit("iec-60601-1", "enclosure, normal", 0.1e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-60601-1", "enclosure, single fault", 0.5e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-60601-1", "patient, type B or BF, normal", 0.1e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-60601-1", "patient, type B or BF, single fault", 0.5e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-60601-1", "patient, type CF, normal", 0.01e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-60601-1", "patient, type CF, single fault", 0.05e-3, None, None, "F1", ("monitor-manuals",)),
    TouchLimit("iec-61010-1", "accessible part, normal", 0.5e-3, 0.7e-3, 2e-3, "M-med", ()),
    TouchLimit("iec-61010-1", "accessible part, single fault", 3.5e-3, 5e-3, 15e-3, "M-med", ()),
)
"""Limits by standard and case. The earth leakage of IEC 60601-1 is left out: its editions differ tenfold."""

MAINS_RISE = 1.1
"""The mains at which touch current is taken, over its nominal voltage."""


def current(farads: float, volts: float, hertz: float) -> float:
    """The rms current in amperes through a capacitance, 2 pi f C U."""
    return 2.0 * math.pi * hertz * farads * volts


def limit(standard: str, case: str) -> TouchLimit:
    """The limit of one standard for one case."""
    return next(row for row in LIMITS if (row.standard, row.case) == (standard, case))
