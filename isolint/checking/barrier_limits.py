"""What the insulation between two sides must hold, from what is stated of their barrier.

In: a pair of sides with its facts. Out: `Need`s with what is missing and what is assumed. Each number comes from the
barrier's own profile; what that does not carry is said, never borrowed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cached_property
from typing import Any, Final, NamedTuple, cast

from isolint.checking.barrier_demands import SidePair
from isolint.checking.context import Context
from isolint.checking.side_kinds import SideKind
from isolint.errors import Mistake, SettingsError
from isolint.facts import BarrierFacts, Environment, Fact
from isolint.results import Assumption, MissingFact
from isolint.standards import insulation_demands as demands
from isolint.standards.insulation_demands import DistancePlace, Need, Strength
from isolint.standards.insulation_tables import MEANS
from isolint.units import show
from isolint.worstcase.fact_terms import origin

ROOT2: Final = math.sqrt(2.0)
MAINS_SPREAD: Final = 1.1
"""How far the mains may lie above its nominal voltage."""
WINDINGS: Final = 2.83
"""Recurring peak over rms beside windings: twice sqrt2 (common practice, no source)."""
UNITS: Final = {"functional": 0, "basic": 1, "reinforced": 2}
_IMPULSES: Final = ("iec-60664-1", "iec-62368-1")
"""The profiles that ask for an impulse."""
_NEVER_CARRIED: Final = "homogeneous fields, solid insulation, partial discharge"
NOT_CARRIED: Final = {
    "iec-60664-1": f"{_NEVER_CARRIED}, clearances above 30 kHz, ribs and coating, a limit of touch current",
    "iec-62368-1": f"{_NEVER_CARRIED}, temporary overvoltage beside its test, ribs and coating",
    "iec-60601-1": f"{_NEVER_CARRIED}, impulse, temporary overvoltage, distances for other than 250 V rms, for "
    "pollution degree 3 and above 2000 m",
    "iec-61010-1": f"{_NEVER_CARRIED}, impulse, temporary overvoltage, distances",
}
"""What the tables of a profile do not say here."""


_SLACK: Final = 1e-9
_LINE_TO_LINE: Final = ((380.0, 415.0), (480.0, 480.0), (600.0, 600.0), (690.0, 690.0))
"""Volts between the lines of usual earthed three-phase systems, which are easily stated for those to neutral."""
_LARGE_WORKING: Final = 1500.0
_LOW_MAINS: Final = 600.0
"""A working voltage above the one beside mains up to the other looks like a test voltage."""


class Wanted(NamedTuple):
    """A need with what would settle it and what it assumes."""

    need: Need
    missing: tuple[MissingFact, ...] = ()
    assumed: tuple[Assumption, ...] = ()
    hint: str = ""


class BarrierLimits:
    """The demands of one barrier. one, other: what its sides are. windings: whether a winding lies across."""

    def __init__(self, context: Context, pair: SidePair, kinds: tuple[SideKind, SideKind], windings: bool) -> None:
        self.context, self.pair, self.kinds, self.windings = context, pair, kinds, windings
        for fact in pair.facts:
            peak, working = fact.working_peak, fact.working_voltage
            if peak is not None and working is not None and peak.value < working.value * (1.0 - _SLACK):
                text = f"working_peak {show(peak.value, 'V')} is below working_voltage {show(working.value, 'V')}"
                raise SettingsError([Mistake(peak.file, peak.key, text, "the peak is at least the rms value")])

    # -- what is stated ---------------------------------------------------------------------------------------------

    @cached_property
    def profile(self) -> str:
        """The family of tables."""
        own = self.pair.stated(BarrierFacts.profile)
        general = self.context.facts.environment.profile
        return own.value if own is not None else demands.DEFAULT_PROFILE if general is None else general.value

    @cached_property
    def insulation(self) -> str:
        """The insulation as stated, "" where nobody stated it."""
        found = self.pair.stated(BarrierFacts.insulation)
        return "" if found is None else found.value

    @property
    def functional(self) -> bool:
        """Whether it is stated functional."""
        return self.insulation == "functional"

    @property
    def strength(self) -> Strength | None:
        """The grade that the stated insulation stands for, None for functional or unstated insulation."""
        return STRENGTHS.get(self.insulation)

    @property
    def means(self) -> str:
        """The means of protection where one is stated, else that which stands for the insulation."""
        if self.insulation in MEANS:
            return self.insulation
        return {"basic": "1 MOOP", "reinforced": "2 MOOP"}.get(self.strength or "", "")

    @property
    def hazardous(self) -> bool:
        """Whether one of its sides must not be touched."""
        return any(kind.hazardous for kind in self.kinds)

    @cached_property
    def full(self) -> bool:
        """Whether a level, or a voltage that only insulation is asked for, is stated."""
        rows = (BarrierFacts.mains, BarrierFacts.overvoltage_category, BarrierFacts.impulse, BarrierFacts.withstand)
        return self.strength is not None or (not self.functional and any(self.states(row) for row in rows))

    def states(self, *rows: Fact[Any]) -> bool:
        """Whether one of some rows is stated of the barrier."""
        return any(self.pair.stated(row) is not None for row in rows)

    @cached_property
    def mains(self) -> float:
        """The nominal mains, 0 where none is stated."""
        return self.pair.number(BarrierFacts.mains) or 0.0

    @cached_property
    def place(self) -> tuple[DistancePlace, tuple[Assumption, ...]]:
        """Pollution degree and altitude with what is assumed of them."""
        facts = self.context.facts
        degree, altitude = Environment.pollution_degree, Environment.altitude
        assumed = tuple(
            Assumption(row.title, text, "", row.counts.origin)
            for row, stated, text in (
                (degree, facts.environment.pollution_degree, "2"),
                (altitude, facts.environment.altitude, "2000 m"),
            )
            if stated is None
        )
        return DistancePlace(int(facts.number(cast("Fact[float]", degree))), facts.number(altitude)), assumed

    # -- voltages ---------------------------------------------------------------------------------------------------

    @cached_property
    def bound(self) -> float:
        """Volts rms below which the working voltage can't lie: the mains, where one side is stated to be mains."""
        return self.mains if any(kind.kind == "mains" for kind in self.kinds) else 0.0

    @cached_property
    def working(self) -> Wanted:
        """The working voltage, rms or direct."""
        stated = self.pair.stated(BarrierFacts.working_voltage)
        line = self.pair.missing(BarrierFacts.working_voltage, '"250 V"')
        if stated is None:
            row = f"side {self._mains_side} is mains of {show(self.mains, 'V')}" if self.bound else "not stated"
            return Wanted(Need(math.inf, self.bound, row, "F2"), (line,), (), "nobody stated the working voltage")
        source = origin(stated)
        if stated.value < self.bound * (1.0 - _SLACK):
            text = f"{source} says {show(stated.value, 'V')} beside mains of {show(self.mains, 'V')}: which is right?"
            mains = self.pair.missing(BarrierFacts.mains)
            return Wanted(Need(self.bound, stated.value, source, "F2"), (line, mains), (), text)
        doubt = stated.value > _LARGE_WORKING and 0.0 < self.mains <= _LOW_MAINS
        text = f"{show(stated.value, 'V')} beside mains of {show(self.mains, 'V')}: was the one-minute test meant?"
        return Wanted(Need(stated.value, stated.value, source, "F2"), (), (), text if doubt else "")

    @property
    def _mains_side(self) -> str:
        return next((name for name, kind in zip(self.pair.sides, self.kinds, strict=True) if kind.kind == "mains"), "")

    @cached_property
    def peak(self) -> Wanted:
        """The recurring peak."""
        stated = self.pair.stated(BarrierFacts.working_peak)
        least = ROOT2 * self.bound
        working = self.working.need
        # Another table may state a larger working voltage without its peak.
        swings = self.windings or self.states(BarrierFacts.slew, BarrierFacts.swing, BarrierFacts.peak_frequency)
        factor = WINDINGS if swings else MAINS_SPREAD * ROOT2
        if stated is not None and stated.value >= working.kindest * (1.0 - _SLACK):
            worst = max(stated.value, least, factor * self.pair.without_peak)
            missing = (self.pair.missing(BarrierFacts.working_peak),) if worst > stated.value else ()
            return Wanted(Need(worst, stated.value, origin(stated), "F2"), missing)
        row = f"{factor:.3g} x the working voltage, {'beside windings or edges' if swings else 'mains 10 % up'}"
        line = self.pair.missing(BarrierFacts.working_peak, f'"{show(factor * working.kindest, "V")}"')
        value = "not known" if math.isinf(working.worst) else f"up to {show(factor * working.worst, 'V')}"
        assumed = Assumption("peak working voltage", value, "V", f"{row} (common practice, no source)")
        need = Need(factor * working.worst, max(working.kindest, least), row, "F2")
        return Wanted(need, (line, *self.working.missing), (assumed,))

    @cached_property
    def impulse(self) -> Wanted | None:
        """The impulse that basic insulation must hold; None where nothing says that any is to be expected."""
        stated = self.pair.stated(BarrierFacts.impulse)
        found: list[Need] = []
        missing: tuple[MissingFact, ...] = ()
        assumed: tuple[Assumption, ...] = ()
        hint = ""
        if stated is not None:
            found.append(Need(stated.value, stated.value, origin(stated), "F2"))
        category = self.pair.stated(BarrierFacts.overvoltage_category)
        working = self.pair.number(BarrierFacts.working_voltage)
        system = self.mains or (0.0 if category is None or working is None else working)
        if system:
            worst, kindest = (4, 1) if category is None else (category.value, category.value)
            rows = [demands.impulse(self.profile, system, number) for number in (worst, kindest)]
            if rows[0] is not None and rows[1] is not None:
                found.append(rows[0]._replace(kindest=rows[1].kindest))
                if category is None:
                    missing = (self.pair.missing(BarrierFacts.overvoltage_category),)
                    assumed = (Assumption("overvoltage category", "1 to 4", "", "nobody stated it"),)
                    hint = "nobody stated the overvoltage category"
                hint = "; ".join(filter(None, (hint, self._doubts(None if category is None else category.value))))
        return Wanted(demands.largest(found), missing, assumed, hint) if found else None

    @property
    def uncarried(self) -> Wanted | None:
        """That the profile has no rows at all, neither for distances nor for overvoltages; None where it has some."""
        if self.profile != "iec-61010-1":
            return None
        hint = f"no rows of {self.profile} are carried here: state the profile iec-60664-1 to screen it"
        line = self.pair.missing(BarrierFacts.profile, '"iec-60664-1"')
        return Wanted(Need(math.inf, 0.0, f"not carried by {self.profile}", "F2"), (line,), (), hint)

    @property
    def unknown_impulse(self) -> Wanted | None:
        """That some impulse is to be expected from what is hazardous, and nobody says which."""
        if self.impulse is not None or not self.hazardous or self.profile not in _IMPULSES:
            return None
        line = self.pair.missing(BarrierFacts.mains, "", BarrierFacts.overvoltage_category)
        hint = "state mains and overvoltage_category, or impulse for a circuit that no mains reaches"
        return Wanted(Need(math.inf, 0.0, "no impulse is stated", "F2"), (line,), (), hint)

    def _doubts(self, category: int | None) -> str:
        """What an engineer would ask about the stated mains and category."""
        words = []
        if any(low <= self.mains <= high for low, high in _LINE_TO_LINE):
            phase = show(self.mains / math.sqrt(3.0), "V")
            words.append(f"{show(self.mains, 'V')} line to line of an earthed system? state {phase} as mains then")
        if category == 1 and self.mains:
            words.append("category I on mains needs transients limited before the barrier")
        return "; ".join(words)

    def impulse_for(self, strength: Strength) -> Wanted | None:
        """The impulse that insulation of a grade must hold."""
        if self.impulse is None or strength == "basic":
            return self.impulse
        return self.impulse._replace(need=demands.reinforced_impulse(self.profile, self.impulse.need))

    def holds_up_to(self, strength: Strength, volts: float) -> str:
        """Up to which overvoltage category an impulse voltage would do, "" where that is no question."""
        if self.states(BarrierFacts.overvoltage_category) or not self.mains:
            return ""
        best = 0
        for category in range(1, 5):
            need = demands.impulse(self.profile, self.mains, category)
            if need is not None and strength == "reinforced":
                need = demands.reinforced_impulse(self.profile, need)
            if need is not None and volts >= need.worst:
                best = category
        return f"it holds up to category {'I' * best if best < 4 else 'IV'}" if best else ""

    def overvoltage(self, strength: Strength) -> Wanted | None:
        """The temporary overvoltage."""
        if self.profile != "iec-60664-1" or not self.mains:
            return None
        return Wanted(demands.temporary_overvoltage(self.mains, strength))

    def test(self, strength: Strength | None) -> Wanted | None:
        """The one-minute test, peak volts."""
        stated = self.pair.stated(BarrierFacts.withstand)
        found: list[Need] = []
        missing: tuple[MissingFact, ...] = ()
        if stated is not None:
            row = f"{origin(stated)}, sqrt2 x {show(stated.value, 'V')}"
            found.append(Need(*(ROOT2 * stated.value,) * 2, row, "F2"))
        impulse, peak = self.impulse, self.peak
        if strength is not None:

            def table(at_worst: bool) -> Need | None:
                chosen = None if impulse is None else _at(impulse.need, at_worst)
                volts = peak.need.worst if at_worst else peak.need.kindest
                volts = 0.0 if math.isinf(volts) else volts
                return demands.strength_test(self.profile, strength, self.means, chosen, volts, self.mains)

            worst, kindest = table(True), table(False)
            if worst is not None and kindest is not None:
                found.append(worst._replace(kindest=kindest.kindest))
                missing = () if impulse is None else impulse.missing
        return Wanted(demands.largest(found), missing) if found else None

    # -- distances --------------------------------------------------------------------------------------------------

    def clearance(self, strength: Strength, *, high: bool = True) -> Wanted | None:
        """The clearance; with high the altitude counts."""
        place, assumed = self.place
        where = place if high else place._replace(altitude=2000.0)
        hertz = self.pair.number(BarrierFacts.peak_frequency) or 0.0
        impulse, peak = self.impulse, self.peak

        def table(at_worst: bool) -> Need | None:
            chosen = None if impulse is None else _at(impulse.need, at_worst)
            volts = peak.need.worst if at_worst else peak.need.kindest
            working = self.working.need.worst if at_worst else self.working.need.kindest
            volts, working = (0.0 if math.isinf(value) else value for value in (volts, working))
            return demands.clearance(
                self.profile, strength, self.means, chosen, volts, self.mains, where, hertz, working
            )

        found = _both(table)
        if found is None:
            return None
        unknown = math.isinf(self.peak.need.worst)
        need = found._replace(worst=math.inf) if unknown else found
        missing = (*self.working.missing, *(() if impulse is None else impulse.missing))
        if not unknown and need.worst > need.kindest:
            missing = (*missing, *peak.missing)
        return Wanted(need, missing, (*assumed, *(() if impulse is None else impulse.assumed)))

    def creepage(self, strength: Strength, worst_group: str, kindest_group: str) -> Wanted | None:
        """The creepage of a surface whose material group lies between two."""
        place, assumed = self.place
        low = self.clearance(strength, high=False)

        def table(at_worst: bool) -> Need | None:
            working = self.working.need.worst if at_worst else self.working.need.kindest
            gap = None if low is None else _at(low.need, at_worst)
            group = worst_group if at_worst else kindest_group
            volts = 0.0 if math.isinf(working) else working
            return demands.creepage(self.profile, strength, self.means, volts, place, group, gap, self.mains)

        found = _both(table)
        if found is None:
            return None
        need = found._replace(worst=math.inf) if math.isinf(self.working.need.worst) else found
        return Wanted(need, self.working.missing, assumed)


STRENGTHS: dict[str, Strength] = {
    **dict.fromkeys(("basic", "supplementary", "1 MOOP", "1 MOPP"), "basic"),
    **dict.fromkeys(("double", "reinforced", "2 MOOP", "2 MOPP"), "reinforced"),
}
"""The grade that a stated insulation stands for."""


def _at(need: Need, at_worst: bool) -> Need:
    """A need at one end alone."""
    value = need.worst if at_worst else need.kindest
    return need._replace(worst=value, kindest=value)


def _both(table: Callable[[bool], Need | None]) -> Need | None:
    """What a table says at the worst and at the kindest of what it is entered with."""
    worst, kindest = table(True), table(False)
    return None if worst is None or kindest is None else worst._replace(kindest=kindest.kindest)
