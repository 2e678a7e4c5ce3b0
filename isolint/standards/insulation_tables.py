"""Published tables of insulation coordination: what impulse is expected, which distances and tests it asks for.

Second-hand figures, none read in the standards themselves. `confidence` says how far a row may be trusted, as in
`bridging`: F2, F1, M-hi may decide; M-med (and X, where sources differ) never lets anything fail. SI units: volts and
metres. For screening; the standard's current text decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Column(NamedTuple):
    """One column of a table: pairs of what is looked up and what it gives, both rising.

    title: standard, edition and table, for a report. interpolated: whether values between rows are found on the line
    between them, else the next row up counts. trusted: the confidence by row where it is not `confidence`.
    """

    title: str
    rows: tuple[tuple[float, float], ...]
    interpolated: bool
    confidence: str
    sources: tuple[str, ...]
    trusted: Mapping[float, str] = {}

    @property
    def last(self) -> float:
        """The last row."""
        return self.rows[-1][0]


_IEC = "iec-60664-1"
_DATA = ("insulation-data-60664",)

SYSTEM_VOLTAGES = (50.0, 100.0, 150.0, 300.0, 600.0, 1000.0, 1250.0, 1500.0)
_IMPULSES: tuple[tuple[float, ...], ...] = (
    (330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 4000.0, 6000.0),
    (500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 6000.0, 8000.0),
    (800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 8000.0, 10000.0),
    (1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0, 12000.0, 15000.0),
)


def _impulse(category: int, title: str, confidence: str, low: str) -> Column:
    return Column(
        f"{title}, overvoltage category {category}",
        tuple(zip(SYSTEM_VOLTAGES, _IMPULSES[category - 1], strict=True)),
        False,
        confidence,
        (*_DATA, "transient-page", "reinforced-amplifier-data"),
        {50.0: low, 100.0: low, 1250.0: "M-med", 1500.0: "M-med"},
    )


IMPULSE = {category: _impulse(category, "IEC 60664-1 ed. 3 table F.1", "F2", "F1") for category in range(1, 5)}
"""Rated impulse voltage by the line-to-neutral voltage of the system, by overvoltage category. The rows above 1000 V
are for direct current."""

IMPULSE_62368 = {
    category: _impulse(category, "IEC 62368-1 table 12 (rows of IEC 60664-1 table F.1)", "M-hi", "M-hi")
    for category in range(1, 5)
}

PREFERRED_IMPULSES = (330.0, 500.0, 800.0, 1500.0, 2500.0, 4000.0, 6000.0, 8000.0, 12000.0)
"""The preferred series of rated impulse voltage (found in public data, F2)."""

_F2_VOLTS = (
    *(330.0, 400.0, 500.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0, 6000.0),
    *(8000.0, 10000.0, 12000.0, 15000.0, 20000.0, 25000.0, 30000.0, 40000.0),
)
_F2_MM = (
    *(0.01, 0.02, 0.04, 0.06, 0.10, 0.15, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.5),
    *(8.0, 11.0, 14.0, 18.0, 25.0, 33.0, 40.0, 60.0),
)
CLEARANCE_FLOOR = {1: 0.0, 2: 0.2e-3, 3: 0.8e-3, 4: 1.6e-3}
"""The least clearance by pollution degree; that of degree 4 is from memory, medium confidence."""


def _clearances(volts: tuple[float, ...], millimetres: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    return tuple((volt, distance * 1e-3) for volt, distance in zip(volts, millimetres, strict=True))


CLEARANCE_IMPULSE = Column(
    "IEC 60664-1 ed. 3 table F.2",
    _clearances(_F2_VOLTS, _F2_MM),
    True,
    "F2",
    (*_DATA, "insulation-data-62368", "terminal-catalogue"),
)
"""Clearance for an impulse in an inhomogeneous field, up to 2000 m, at least that of its pollution degree."""

CLEARANCE_PEAK = Column(
    "IEC 60664-1 ed. 3 table F.8",
    _clearances(
        (
            *(330.0, 400.0, 500.0, 600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0),
            *(5000.0, 6000.0, 8000.0, 10000.0, 12000.0, 15000.0),
        ),
        (
            *(0.01, 0.02, 0.04, 0.06, 0.13, 0.26, 0.42, 0.76, 1.27, 1.8, 2.4, 3.8),
            *(5.7, 7.9, 11.0, 15.2, 19.0, 25.0),
        ),
    ),
    True,
    "F1",
    _DATA,
)
"""Clearance for a steady or recurring peak, or a temporary overvoltage, in an inhomogeneous field."""

CLEARANCE_62368_REINFORCED = Column(
    "IEC 62368-1 table 14, reinforced",
    _clearances(
        (330.0, 1000.0, 1200.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0, 6000.0, 8000.0, 10000.0, 12000.0),
        (0.4, 0.4, 0.5, 1.0, 2.0, 3.0, 3.8, 5.5, 8.0, 8.0, 14.0, 19.0, 24.0),
    ),
    True,
    "F1",
    ("insulation-data-62368",),
)

CLEARANCE_FAST = Column(
    "IEC 62368-1 table 11",
    _clearances(
        (600.0, 800.0, 1000.0, 1200.0, 1400.0, 1600.0, 1800.0, 2000.0),
        (0.07, 0.22, 0.6, 1.68, 2.82, 4.8, 8.04, 13.2),
    ),
    True,
    "F2",
    ("insulation-data-62368", "fast-clearance-extract"),
)
"""Clearance for recurring peaks above 30 kHz, basic; twice that for reinforced. Pollution degree 1 times 0.8, 3 times
1.4."""
FAST_FACTOR = {1: 0.8, 2: 1.0, 3: 1.4}

ALTITUDE = Column(
    "IEC 60664-1 ed. 3 table A.2",
    (
        *((2000.0, 1.0), (3000.0, 1.14), (4000.0, 1.29), (5000.0, 1.48), (6000.0, 1.70), (7000.0, 1.95)),
        *((8000.0, 2.25), (9000.0, 2.62), (10000.0, 3.02), (15000.0, 6.67), (20000.0, 14.5)),
    ),
    True,
    "F2",
    (*_DATA, "terminal-technical-section"),
)
"""The factor of clearances by altitude in metres."""

CREEPAGE_VOLTS = (
    *(10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0, 250.0, 320.0, 400.0),
    *(500.0, 630.0, 800.0, 1000.0, 1250.0, 1600.0, 2000.0, 2500.0, 3200.0, 4000.0, 5000.0),
)
_F5: dict[tuple[str, int], tuple[float, ...]] = {
    ("printed", 1): (
        *(0.025,) * 8,
        *(0.040, 0.063, 0.100, 0.160, 0.250, 0.400, 0.560, 0.75, 1.0, 1.3, 1.8, 2.4, 3.2),
    ),
    ("printed", 2): (
        *(0.040,) * 8,
        *(0.063, 0.100, 0.160, 0.250, 0.400, 0.630, 1.00, 1.60, 2.0, 2.5, 3.2, 4.0, 5.0),
    ),
    ("", 1): (
        *(0.080, 0.090, 0.100, 0.110, 0.125, 0.14, 0.16, 0.18, 0.20, 0.22, 0.25, 0.28, 0.32, 0.42, 0.56, 0.75, 1.0),
        *(1.3, 1.8, 2.4, 3.2, 4.2, 5.6, 7.5, 10.0, 12.5, 16.0, 20.0),
    ),
    ("I", 2): (
        *(0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 0.56, 0.60, 0.63, 0.67, 0.71, 0.75, 0.80, 1.00, 1.25, 1.60, 2.0),
        *(2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0),
    ),
    ("II", 2): (
        *(0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 0.80, 0.85, 0.90, 0.95, 1.00, 1.05, 1.10, 1.40, 1.80, 2.20, 2.8),
        *(3.6, 4.5, 5.6, 7.1, 9.0, 11.0, 14.0, 18.0, 22.0, 28.0, 36.0),
    ),
    ("III", 2): (
        *(0.40, 0.42, 0.45, 0.48, 0.50, 0.53, 1.10, 1.20, 1.25, 1.30, 1.40, 1.50, 1.60, 2.00, 2.50, 3.20, 4.0),
        *(5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0),
    ),
    ("I", 3): (
        *(1.00, 1.05, 1.10, 1.20, 1.25, 1.30, 1.40, 1.50, 1.60, 1.70, 1.80, 1.90, 2.00, 2.50, 3.20, 4.00, 5.0),
        *(6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0),
    ),
    ("II", 3): (
        *(1.00, 1.05, 1.10, 1.20, 1.25, 1.30, 1.60, 1.70, 1.80, 1.90, 2.00, 2.10, 2.20, 2.80, 3.60, 4.50, 5.6),
        *(7.1, 9.0, 11.0, 14.0, 18.0, 22.0, 28.0, 36.0, 45.0, 56.0, 71.0),
    ),
    ("III", 3): (
        *(1.00, 1.05, 1.10, 1.20, 1.25, 1.30, 1.80, 1.90, 2.00, 2.10, 2.20, 2.40, 2.50, 3.20, 4.00, 5.00, 6.3),
        *(8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0, 80.0),
    ),
}


def _creepage(group: str, degree: int, millimetres: tuple[float, ...]) -> Column:
    what = "printed wiring" if group == "printed" else f"material group {group}" if group else "all material groups"
    return Column(
        f"IEC 60664-1 ed. 3 table F.5, pollution degree {degree}, {what}",
        tuple((volt, distance * 1e-3) for volt, distance in zip(CREEPAGE_VOLTS, millimetres, strict=False)),
        True,
        "F2",
        ("terminal-catalogue", *_DATA),
        dict.fromkeys((volt for volt in CREEPAGE_VOLTS if volt > 2000.0), "F1"),
    )


CREEPAGE = {
    **{key: _creepage(*key, values) for key, values in _F5.items()},
    **{(group, 1): _creepage("", 1, _F5["", 1]) for group in ("I", "II", "III")},
}
"""Creepage of basic insulation by long-term rms voltage, by material group (or "printed") and pollution degree; twice
that for reinforced. IIIa and IIIb share a column. Interpolation is allowed (from memory, high confidence)."""

RATIONALISED = (
    *((12.5, 12.5), (24.0, 25.0), (30.0, 32.0), (42.0, 50.0), (60.0, 63.0), (100.0, 100.0), (110.0, 125.0)),
    *((150.0, 160.0), (200.0, 200.0), (220.0, 250.0), (300.0, 320.0), (400.0, 400.0), (440.0, 500.0)),
    *((600.0, 630.0), (1000.0, 1000.0)),
)
"""Nominal voltages from which on a rationalised one counts at least (IEC 60664-1 ed. 3 table F.3)."""

MATERIAL_GROUPS = ("I", "II", "III")
"""Material groups of which the creepage rises."""

STRENGTH_BASIC = Column(
    "IEC 62368-1 table 25, basic",
    ((330.0, 330.0), (500.0, 500.0), (800.0, 800.0), (1500.0, 1500.0), (2500.0, 2500.0), (4000.0, 4000.0),
     (6000.0, 6000.0), (8000.0, 8000.0), (12000.0, 12000.0)),
    False,
    "F1",
    ("insulation-data-62368",),
)  # fmt: skip
STRENGTH_REINFORCED = Column(
    "IEC 62368-1 table 25, reinforced",
    ((330.0, 500.0), (500.0, 800.0), (800.0, 1500.0), (1500.0, 2500.0), (2500.0, 4000.0), (4000.0, 6000.0),
     (6000.0, 8000.0), (8000.0, 12000.0), (12000.0, 18000.0)),
    False,
    "F1",
    ("insulation-data-62368",),
)  # fmt: skip
"""Electric strength test, peak volts, by the transient that must be withstood."""
TEMPORARY_BASIC = Column(
    "IEC 62368-1 table 27, basic", ((250.0, 2000.0), (600.0, 2500.0)), False, "F1", ("insulation-data-62368",)
)
TEMPORARY_REINFORCED = Column(
    "IEC 62368-1 table 27, reinforced", ((250.0, 4000.0), (600.0, 5000.0)), False, "F1", ("insulation-data-62368",)
)
"""Electric strength test, peak volts, by nominal mains."""
WORKING_STRENGTH = {"basic": 1.3, "reinforced": 1.6}
"""IEC 62368-1 table 26: the test over the recurring peak."""


class Means(NamedTuple):
    """One row of the means of protection of IEC 60601-1, up to 250 V rms (354 V peak), pollution degree 2.

    test in volts rms, creepage and clearance in metres.
    """

    name: str
    test: float
    creepage: float
    clearance: float
    title: str = "IEC 60601-1 ed. 3, up to 250 V rms"
    confidence: str = "F2"
    sources: tuple[str, ...] = ("means-of-protection-note", "medical-protection-page")


MEANS = {
    row.name: row
    for row in (
        Means("1 MOOP", 1500.0, 2.5e-3, 2.0e-3),
        Means("2 MOOP", 3000.0, 5e-3, 4e-3),
        Means("1 MOPP", 1500.0, 4e-3, 2.5e-3),
        Means("2 MOPP", 4000.0, 8e-3, 5e-3),
    )
}
MEANS_VOLTS = 250.0
"""The largest rms voltage for which `MEANS` has rows."""

TEMPORARY_RISE = 1200.0
"""Volts rms by which a short temporary overvoltage (up to 5 s) lies above the nominal line-to-neutral voltage (key
`reinforced-amplifier-data`; its duration from memory, high confidence)."""


class Touchable(NamedTuple):
    """Largest voltages of a side that may be touched: direct, peak and rms of alternating current."""

    direct: float
    peak: float
    rms: float
    confidence: str


ES1 = Touchable(60.0, 42.4, 30.0, "M-hi")
ES2 = Touchable(120.0, 70.7, 50.0, "M-hi")
"""IEC 62368-1, up to 1 kHz."""
