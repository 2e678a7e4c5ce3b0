"""What insulation must hold, by the table family (profile) of its barrier: impulse, overvoltage, test, distances.

Pure functions of volts, category, degree and grade. A `Need` has two ends: at the worst it lets pass, at the kindest it
lets fail. They differ where a row is from memory with medium confidence, and where a table ends: beyond it nothing
passes, and what the last row refuses fails. No demand falls when a voltage, category, degree or altitude rises.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Final, Literal, NamedTuple

from isolint.standards import insulation_tables as tables
from isolint.standards.insulation_tables import Column

Profile = Literal["iec-60664-1", "iec-62368-1", "iec-60601-1", "iec-61010-1"]
Strength = Literal["basic", "reinforced"]

DEFAULT_PROFILE: Final = "iec-60664-1"
FAST: Final = 30e3
"""Hertz up to which the clearances of slow voltages hold."""
_SAME = 1e-9
_DECIDES = ("F2", "F1", "M-hi")
_ORDER = ("F2", "F1", "M-hi", "X", "M-med", "M-lo")


class Need(NamedTuple):
    """One required number in SI units.

    worst: what must be reached to pass, infinite where no row says. kindest: what fails if it is not reached, 0 where
    no row says. row: the table rows, for a report. confidence: the lowest of its inputs.
    """

    worst: float
    kindest: float
    row: str
    confidence: str

    def times(self, factor: float, why: str = "") -> Need:
        """The same, multiplied."""
        row = f"{self.row}, {why}" if why else self.row
        return Need(self.worst * factor, self.kindest * factor, row, self.confidence)

    @property
    def source(self) -> str:
        """The row with how far it may be trusted."""
        memory = ", from memory" if self.confidence.startswith("M") else ""
        return f"{self.row} ({self.confidence}{memory})"


def largest(needs: Iterable[Need]) -> Need:
    """The need that governs: the larger one at each end, with the row that decides at the worst."""
    found = tuple(needs)
    governing = max(found, key=lambda need: (need.worst, need.kindest))
    return governing._replace(kindest=max(need.kindest for need in found))


def look_up(column: Column, at: float) -> Need:
    """What a column says at a value: its row, the line between two, or that it ends below."""
    rows = column.rows
    said = f"{column.title}, {at:.6g}"
    if at > column.last * (1.0 + _SAME):
        return Need(math.inf, rows[-1][1], f"{said}: beyond its last row", column.confidence)
    above = next(index for index, (key, _) in enumerate(rows) if at <= key * (1.0 + _SAME))
    key, value = rows[above]
    confidence = column.trusted.get(key, column.confidence)
    if column.interpolated and above > 0 and at < key * (1.0 - _SAME):
        below, least = rows[above - 1]
        value = least + (value - least) * (at - below) / (key - below)
    kindest = value
    if confidence not in _DECIDES:
        trusted = [row for row, (row_key, _) in enumerate(rows[:above]) if row_key not in column.trusted]
        kindest = rows[trusted[-1]][1] if trusted else 0.0
    return Need(value, kindest, said if column.interpolated else f"{column.title}, row {key:g}", confidence)


def least_confident(*confidences: str) -> str:
    """The lowest of some tags."""
    return max(confidences, key=_ORDER.index)


# -- voltages ------------------------------------------------------------------------------------------------------


def impulse(profile: str, system: float, category: int) -> Need | None:
    """Rated impulse voltage (peak, 1.2/50 us) of basic insulation; None where the profile carries none."""
    if profile not in ("iec-60664-1", "iec-62368-1"):
        return None
    columns = tables.IMPULSE if profile == "iec-60664-1" else tables.IMPULSE_62368
    return look_up(columns[category], system)


def reinforced_impulse(profile: str, basic: Need) -> Need:
    """What reinforced insulation must withstand where basic insulation must withstand `basic`."""
    top = 18000.0 if profile == "iec-62368-1" else 1.6 * 12000.0
    title = "IEC 62368-1 table 25" if profile == "iec-62368-1" else "the next step of the preferred series"
    worst, kindest = (_stepped(volts, top) for volts in basic[:2])
    return Need(worst, kindest, f"{basic.row}; reinforced: {title}", least_confident(basic.confidence, "F1"))


def _stepped(volts: float, top: float) -> float:
    """The next preferred step; between steps 160 %, never beyond the steps of its two neighbours."""
    if not 0.0 < volts < math.inf:
        return volts
    series = tables.PREFERRED_IMPULSES
    following = {**dict(pairwise(series)), series[-1]: top}
    for step in series:
        if math.isclose(volts, step, rel_tol=_SAME):
            return following[step]
    if volts > series[-1]:
        return max(1.6 * volts, top)
    below = max((step for step in series if step < volts), default=0.0)
    above = min(step for step in series if step > volts)
    return min(max(1.6 * volts, following.get(below, 0.0)), following[above])


def temporary_overvoltage(mains: float, strength: Strength) -> Need:
    """Peak volts of a short temporary overvoltage (IEC 60664-1), twice that for reinforced insulation."""
    peak = math.sqrt(2.0) * (mains + tables.TEMPORARY_RISE)
    doubled = strength == "reinforced"
    row = f"temporary overvoltage sqrt2 ({mains:g} V + 1200 V){', doubled for reinforced' if doubled else ''}"
    return Need(*(2.0 * peak if doubled else peak,) * 2, row, "F1")


def strength_test(
    profile: str, strength: Strength, means: str, impulse: Need | None, peak: float, mains: float
) -> Need | None:
    """The one-minute test in peak volts, None where the profile has none.

    means: the means of protection, for IEC 60601-1. impulse: of basic insulation. peak: recurring. mains: 0 for none.
    """
    if profile == "iec-60601-1":
        row = tables.MEANS.get(means)
        if row is None:
            return None
        volts = math.sqrt(2.0) * row.test
        return Need(volts, volts, f"{row.title}, {row.name}: {row.test:g} V rms", row.confidence)
    if profile != "iec-62368-1":
        return None
    factor = tables.WORKING_STRENGTH[strength]
    needs = [Need(*(factor * peak,) * 2, f"IEC 62368-1 table 26, {factor:g} x {peak:.4g} V peak", "F1")]
    if impulse is not None:
        column = tables.STRENGTH_BASIC if strength == "basic" else tables.STRENGTH_REINFORCED
        needs.append(by_need(column, impulse))
    if mains:
        needs.append(look_up(tables.TEMPORARY_BASIC if strength == "basic" else tables.TEMPORARY_REINFORCED, mains))
    return largest(needs)


# -- distances -----------------------------------------------------------------------------------------------------


class DistancePlace(NamedTuple):
    """Where a distance lies: pollution degree, altitude in metres."""

    degree: int = 2
    altitude: float = 2000.0


def clearance(
    profile: str,
    strength: Strength,
    means: str,
    impulse: Need | None,
    peak: float,
    mains: float,
    place: DistancePlace,
    hertz: float = 0.0,
    working: float = 0.0,
) -> Need | None:
    """The clearance in metres, altitude included; None where the profile has none.

    impulse: that the insulation must withstand, of basic insulation, None where none is expected. peak: recurring.
    mains: 0 where none reaches it. hertz: frequency of the recurring peak, 0 for slow. working: rms, for the rows of
    IEC 60601-1, which are for up to 250 V.
    """
    found = _clearance(profile, strength, means, impulse, peak, mains, place, hertz, working)
    if found is None or place.altitude <= 2000.0:
        return found
    factor = look_up(tables.ALTITUDE, place.altitude)
    on_a_row = any(math.isclose(place.altitude, key, rel_tol=_SAME) for key, _ in tables.ALTITUDE.rows)
    lower = max((value for key, value in tables.ALTITUDE.rows if key <= place.altitude * (1.0 + _SAME)), default=1.0)
    if profile == "iec-60601-1":
        return Need(math.inf, found.kindest, f"{found.row}; not carried above 2000 m", found.confidence)
    if profile == "iec-62368-1" and place.altitude > 5000.0:
        factor = factor._replace(worst=math.inf)
    row = f"{found.row}; times {factor.worst:.4g} at {place.altitude:g} m (IEC 60664-1 table A.2)"
    confidence = found.confidence if on_a_row else least_confident(found.confidence, "M-med")
    return Need(found.worst * factor.worst, found.kindest * lower, row, confidence)


def _clearance(
    profile: str,
    strength: Strength,
    means: str,
    impulse: Need | None,
    peak: float,
    mains: float,
    place: DistancePlace,
    hertz: float,
    working: float,
) -> Need | None:
    """The clearance up to 2000 m."""
    if profile == "iec-60601-1":
        return _means(means, "clearance", place, working, mains)
    if profile not in ("iec-60664-1", "iec-62368-1"):
        return None
    reinforced = strength == "reinforced"
    floor = tables.CLEARANCE_FLOOR[place.degree]
    degree3 = tables.CLEARANCE_FLOOR[min(place.degree, 3)]
    needs = [Need(floor, degree3, f"least of pollution degree {place.degree}", "F2" if floor == degree3 else "M-med")]
    if profile == "iec-60664-1":
        if impulse is not None:
            needs.append(_by_impulse(reinforced_impulse(profile, impulse) if reinforced else impulse))
        volts = max(peak, temporary_overvoltage(mains, "basic").worst if mains else 0.0)
        if volts:
            found = look_up(tables.CLEARANCE_PEAK, 1.6 * volts if reinforced else volts)
            needs.append(found._replace(worst=math.inf) if hertz > FAST else found)
        return largest(needs)
    if impulse is not None:
        if reinforced:
            needs.append(_by_impulse(impulse, tables.CLEARANCE_62368_REINFORCED))
            if place.degree >= 3:
                needs.append(Need(1.5e-3, 1.5e-3, "IEC 62368-1 table 14, least of pollution degree 3", "F1"))
        else:
            needs.append(_by_impulse(impulse))
    if hertz > FAST and peak >= tables.CLEARANCE_FAST.rows[0][0]:
        factor = tables.FAST_FACTOR[min(place.degree, 3)] * (2.0 if reinforced else 1.0)
        needs.append(look_up(tables.CLEARANCE_FAST, peak).times(factor))
    elif peak:
        found = look_up(tables.CLEARANCE_PEAK, peak)
        if reinforced:
            row = f"{found.row}, doubled for reinforced"
            found = Need(2.0 * found.worst, found.kindest, row, least_confident(found.confidence, "M-med"))
        needs.append(found)
    return largest(needs)


def _by_impulse(impulse: Need, column: Column = tables.CLEARANCE_IMPULSE) -> Need:
    """The clearance for an impulse."""
    found = by_need(column, impulse)
    return found._replace(row=f"{found.row} V impulse ({impulse.row})")


def by_need(column: Column, at: Need) -> Need:
    """What a column says at both ends of a need."""
    worst = look_up(column, at.worst)
    kindest = look_up(column, at.kindest).kindest if at.kindest else 0.0
    shown = worst if math.isfinite(at.worst) or not at.kindest else look_up(column, at.kindest)
    return Need(worst.worst, kindest, shown.row, least_confident(at.confidence, worst.confidence))


def creepage(
    profile: str,
    strength: Strength,
    means: str,
    working: float,
    place: DistancePlace,
    group: str,
    clearance: Need | None,
    mains: float = 0.0,
) -> Need | None:
    """The creepage in metres, at least the clearance without altitude; None where the profile has none.

    group: material group I, II or III, or "printed". clearance: that up to 2000 m.
    """
    if profile == "iec-60601-1":
        return _means(means, "creepage", place, working, mains)
    if profile not in ("iec-60664-1", "iec-62368-1"):
        return None
    volts = working if profile == "iec-62368-1" else rationalised(working)
    printed = group == "printed"
    degree = min(place.degree, 2 if printed else 3)
    found = look_up(tables.CREEPAGE[group, degree], max(volts, 10.0))
    if place.degree > degree:
        found = found._replace(worst=math.inf, row=f"{found.row}; not carried for pollution degree {place.degree}")
    if strength == "reinforced":
        found = found.times(2.0, "doubled for reinforced")
    return found if clearance is None else largest((found, clearance._replace(row=f"clearance: {clearance.row}")))


def rationalised(volts: float) -> float:
    """The voltage with which the creepage table of IEC 60664-1 is entered: that of the nominal one, or itself."""
    return max(volts, *(value for nominal, value in tables.RATIONALISED if nominal <= volts * (1.0 + _SAME)), 0.0)


def _means(
    name: str, what: Literal["creepage", "clearance"], place: DistancePlace, working: float, mains: float
) -> Need | None:
    """The one row of IEC 60601-1: it holds for 200 to 250 V, bounds from above below that, and ends above."""
    row = tables.MEANS.get(name)
    if row is None:
        return None
    metres = row.creepage if what == "creepage" else row.clearance
    volts = max(working, mains)
    said = f"{row.title}, {row.name}"
    if volts > tables.MEANS_VOLTS or place.degree > 2:
        return Need(math.inf, metres, f"{said}: beyond its last row", row.confidence)
    return Need(metres, metres if volts >= 200.0 else 0.0, said, row.confidence)
