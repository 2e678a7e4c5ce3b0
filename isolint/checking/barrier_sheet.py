"""The calculation sheet of the barriers: what each must hold and by how much it is held, to be redone by hand.

In: a context. Out: one section a barrier whose insulation is stated. Numbers are SI; the row of the table stands by.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from isolint.checking.barrier_limits import NOT_CARRIED, ROOT2, Wanted
from isolint.checking.barrier_strength import Amount, Wall, walls
from isolint.checking.context import Context
from isolint.checking.evidence import line
from isolint.checking.loop import exact, plain
from isolint.facts import BarrierFacts
from isolint.results import WorksheetLine, WorksheetSection
from isolint.standards.insulation_demands import Strength
from isolint.standards.insulation_tables import TEMPORARY_RISE

_SAME = 1e-9


def barrier_sections(context: Context) -> Iterator[WorksheetSection]:
    """One section a barrier: its requirements, then the margin of each amount of each part."""
    for wall in walls(context):
        strength = wall.limits.strength
        if strength is None:
            continue
        lines = [*_requirements(wall, strength), *_margins(wall)]
        if lines:
            profile = wall.limits.profile
            title = f"barrier {wall.pair.name}, {wall.limits.insulation}, {profile}, which does not carry here: "
            title += NOT_CARRIED[profile]
            yield WorksheetSection(title, tuple(lines))


def _requirements(wall: Wall, strength: Strength) -> Iterator[WorksheetLine]:
    limits, reinforced = wall.limits, strength == "reinforced"
    working, peak = limits.working.need.worst, limits.peak.need
    if math.isfinite(working) and working and not limits.states(BarrierFacts.working_peak):
        factor = peak.worst / working
        yield _line("P", "factor * W", f"{exact(factor)} * {exact(working)}", peak.worst, "V", peak.row)
    found = limits.overvoltage(strength)
    if found is not None:
        grade = " * grade" if reinforced else ""
        numbers = f"{exact(ROOT2)} * ({exact(limits.mains)} + {exact(TEMPORARY_RISE)})" + (" * 2" if reinforced else "")
        formula = f"sqrt2 * (mains + rise){grade}"
        yield _line("U_temporary", formula, numbers, found.need.worst, "V", found.need.source)
    impulse = limits.impulse_for(strength)
    if impulse is not None and math.isfinite(impulse.need.worst):
        yield _line("U_impulse", "row", exact(impulse.need.worst), impulse.need.worst, "V", impulse.need.source)
    low, high = limits.clearance(strength, high=False), limits.clearance(strength)
    if low is not None and high is not None and math.isfinite(high.need.worst) and low.need.worst:
        factor = high.need.worst / low.need.worst
        numbers = f"{exact(low.need.worst)} * {exact(factor)}"
        yield _line("CLR", "row * altitude", numbers, high.need.worst, "m", high.need.source)
    yield from _creepage(wall, strength, low)


def _creepage(wall: Wall, strength: Strength, low: Wanted | None) -> Iterator[WorksheetLine]:
    """The creepage by the row of basic insulation, or the clearance where that is larger."""
    groups = {crosser.ratings.groups[0] for crosser in wall.crossers} or {"III"}
    for group in sorted(groups):
        found, basic = (wall.limits.creepage(one, group, group) for one in (strength, "basic"))
        if found is None or basic is None or not math.isfinite(found.need.worst):
            continue
        need, name = found.need, f"CPG of group {group}"
        row = need.worst / 2.0 if strength == "reinforced" else need.worst
        if low is not None and math.isclose(need.worst, low.need.worst, rel_tol=_SAME):
            yield _line(name, "CLR_2000m", exact(need.worst), need.worst, "m", need.source)
        elif strength == "reinforced" and "doubled" in need.row:
            yield _line(name, "row * grade", f"{exact(row)} * 2", need.worst, "m", need.source)
        else:
            yield _line(name, "row", exact(need.worst), need.worst, "m", need.source)


def _margins(wall: Wall) -> Iterator[WorksheetLine]:
    for crosser in wall.crossers:
        who = ", ".join(wall.context.circuit.path(element) for element in crosser.elements)
        for amount in (*wall.working(crosser), *wall.transient(crosser), *wall.distance(crosser)):
            yield from _margin(amount, who)
    for amount in wall.board():
        yield from _margin(amount, "the board")


def _margin(amount: Amount, who: str) -> Iterator[WorksheetLine]:
    offered, required = amount.offer.worst, amount.need.worst
    if offered and required and math.isfinite(offered) and math.isfinite(required):
        numbers = f"{exact(offered)} / {exact(required)}"
        name = f"margin of {amount.name} at {plain(who)}"
        yield _line(name, "offered / required", numbers, offered / required, "1", f"offered: {amount.offer.source}")


def _line(name: str, formula: str, numbers: str, value: float, unit: str, note: str) -> WorksheetLine:
    return WorksheetLine(line(name, formula, numbers, value, unit), note)
