"""What a barrier part offers: its grade and voltages from its record, with what stands in where a key is missing.

In: the record's insulation table. Out: `Offer`s. Undeclared offers nothing: a stand-in is printed as an assumption, and
the one-minute test is never taken for a working voltage.
"""

from __future__ import annotations

import math
from typing import Any, Final, Literal, NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import Insulation, PartRecord
from isolint.results import Assumption
from isolint.rows import Value
from isolint.standards.insulation_demands import Strength
from isolint.units import show

ROOT2: Final = math.sqrt(2.0)
SURGE_FLOOR: Final = 10e3
"""Peak volts of the surge test of a reinforced isolator at least (keys `iec-60747-17`, `surge-white-paper`)."""
FLASH_SHARE: Final = 0.6
"""A working voltage above this share of the one-minute test is that figure copied: no certificate gives more than half.
"""
_FACTORS: Final[dict[Strength, float]] = {"basic": 1.3, "reinforced": 1.6}
"""Level of the surge test over its rating."""
_SURGE_FAMILY: Final = ("60747-17", "0884-10", "0884-11", "0884-17")
_RATINGS_FAMILY: Final = ("0884-10", "0884-11")
_COUPLERS: Final = frozenset(("led", "voltage-input"))


class Offer(NamedTuple):
    """One rating in SI units.

    worst: what it holds for certain, 0 where nothing says. kindest: the most that it may hold, infinite where nothing
    says. source: the key. rows: the keys that would say it. assumed: what stands in.
    """

    worst: float
    kindest: float
    source: str
    rows: tuple[Value[Any], ...] = ()
    assumed: tuple[Assumption, ...] = ()
    hint: str = ""


class Grade(NamedTuple):
    """The grade of a part: what it may be taken for, worst and kindest, None where it is not stated.

    reason: why the two differ, or why it is less than what is stated. rows: what would settle it. share: what the
    surge test reaches of what it must, 1 where that is no question.
    """

    worst: int
    kindest: int
    reason: str = ""
    rows: tuple[Value[Any], ...] = ()
    share: float = 1.0


class PartRatings:
    """The ratings of one record. outputs: between two outputs of one package, for which its `channel_` keys hold."""

    def __init__(self, record: PartRecord | None, part: Part | None, *, outputs: bool = False) -> None:
        self.record, self.part, self.outputs = record, part, outputs
        self.stated = Insulation() if record is None else record.insulation

    @property
    def empty(self) -> bool:
        """Whether the record says nothing of insulation."""
        return not any(True for name, _ in self.stated.items() if name.startswith("channel_") == self.outputs)

    def row(self, name: str) -> Value[Any]:
        """The row of a rating: that between outputs where those are meant."""
        found: Value[Any] = Insulation.ROWS[f"channel_{name}" if self.outputs else name]  # type: ignore[assignment]
        return found

    def _of(self, name: str) -> Any:
        key = f"channel_{name}" if self.outputs else name
        return getattr(self.stated, key) if key in Insulation.ROWS else None

    # -- grade ------------------------------------------------------------------------------------------------------

    def grade(self, wanted: str, units: int) -> Grade:
        """The grade against what is wanted: units 1 (basic) or 2 (reinforced), `wanted` in words."""
        row = self.row("grade")
        stated = self._of("grade")
        means = None if self.outputs else self.stated.means
        if wanted.endswith(("MOOP", "MOPP")):
            return self._means(wanted, units, stated, means)
        if stated is None:
            if self.outputs:
                return Grade(0, 0, "no grade is stated between its channels: that counts as functional", (row,))
            return Grade(0, 2, "its grade is not stated", (row,))
        own = {"functional": 0, "basic": 1, "reinforced": 2}[stated]
        standard = self.stated.standard or ""
        if own == 2 and units == 2 and _only_flash_test(standard):
            return Grade(1, 2, f"{standard} alone certifies no reinforced insulation: by which standard?", (STANDARD,))
        if own == 2 and units == 2 and self.stated.surge is not None and any(f in standard for f in _SURGE_FAMILY):
            least, most = self._surge_test()
            share = most / SURGE_FLOOR
            text = f"its surge test at {show(most, 'V')} is below the {show(SURGE_FLOOR, 'V')} of reinforced isolators"
            if most < SURGE_FLOOR * (1.0 - 1e-9):
                return Grade(1, 1, f"{text}: it counts as basic", (SURGE,), share)
            if least < SURGE_FLOOR * (1.0 - 1e-9):
                return Grade(1, 2, "nobody says whether its surge voltage is the test level or a rating", (SURGE_IS,))
        return Grade(own, own)

    def _means(self, wanted: str, units: int, stated: str | None, means: str | None) -> Grade:
        """Means of protection: certified as such, or by the grade where that says as much."""
        rows = (MEANS, self.row("grade"))
        own = {None: 0, "functional": 0, "basic": 1, "reinforced": 2}[stated]
        if stated is None and means is None:
            return Grade(0, 2, "neither its grade nor its means of protection is stated", rows)
        if means is None and not wanted.endswith("MOPP"):
            return Grade(own, own)
        if means is not None:
            certified = int(means[0])
            if means.endswith("MOPP") or not wanted.endswith("MOPP"):
                return Grade(certified, certified, "" if certified >= units else f"it is certified as {means}")
            if units == 2:
                # Whoever states what it is certified as states the most that it is.
                return Grade(1, 1, f"it is certified as {means}")
            own = certified
        if units == 1:
            return Grade(2, 2) if own == 2 else Grade(min(own, 0), own, f"nobody says that it is {wanted}", rows)
        if own < 2:
            return Grade(own, own)
        return Grade(1, 2, f"reinforced alone does not say {wanted}: as what is it certified?", rows)

    def _surge_test(self) -> tuple[float, float]:
        """The level of the surge test: least and most that it may be."""
        surge = self.stated.surge or 0.0
        least, most = self._conventions()
        factor = _FACTORS[self.own_strength]
        return surge * (factor if least == "rating" else 1.0), surge * (factor if most == "rating" else 1.0)

    def _conventions(self) -> tuple[Literal["test", "rating"], Literal["test", "rating"]]:
        """What the stated surge voltage is: at the worst for the level of its test, and at the kindest."""
        said = self.stated.surge_is
        if said is not None:
            found: Literal["test", "rating"] = "test" if said == "test" else "rating"
            return found, found
        if any(name in (self.stated.standard or "") for name in _RATINGS_FAMILY):
            return "rating", "rating"
        if self.stated.impulse is not None:
            return "test", "test"
        return "test", "rating"

    @property
    def own_strength(self) -> Strength:
        """The grade as stated, basic at least."""
        return "reinforced" if self._of("grade") == "reinforced" else "basic"

    # -- voltages ---------------------------------------------------------------------------------------------------

    @property
    def _copied(self) -> bool:
        """Whether the working voltage is the figure of the one-minute test."""
        working, withstand = self._of("working_voltage"), self._of("withstand")
        return working is not None and withstand is not None and working > FLASH_SHARE * withstand

    def working(self) -> Offer:
        """Volts rms, long term."""
        row = self.row("working_voltage")
        stated, peak, withstand = (self._of(key) for key in ("working_voltage", "repetitive_peak", "withstand"))
        if self._copied:
            text = f"{show(withstand, 'V')} is its one-minute test, {show(stated, 'V')} can't be a working voltage"
            return Offer(0.0, math.inf, "not known", (row,), (), text)
        if stated is not None:
            return Offer(stated, stated, row.key)
        if peak is not None:
            source = f"{self.row('repetitive_peak').key} / sqrt2"
            stand = Assumption(f"working voltage by {row.key}", show(peak / ROOT2, "V"), "V", source)
            return Offer(peak / ROOT2, peak, source, (row,), (stand,))
        hint = f"{show(withstand, 'V')} for one minute is no working voltage" if withstand is not None else ""
        return Offer(0.0, math.inf, "not known", (row,), (), hint)

    def peak(self, certified: bool) -> Offer:
        """Recurring peak; certified: only the key itself counts."""
        row = self.row("repetitive_peak")
        stated, working = self._of("repetitive_peak"), self._of("working_voltage")
        if stated is not None:
            return Offer(stated, stated, row.key)
        if working is not None and not self._copied and not certified:
            # Relays, transformers and supplies are rated by a nominal mains, which the peak of a high mains exceeds.
            mains = self.part is None or _COUPLERS.isdisjoint(self.part.kind.inputs)
            factor = 1.1 * ROOT2 if mains else ROOT2
            source = f"{factor:.4g} x {self.row('working_voltage').key}"
            stand = Assumption(f"recurring peak by {row.key}", show(factor * working, "V"), "V", source)
            return Offer(factor * working, math.inf, source, (row,), (stand,))
        return Offer(0.0, math.inf, "not known", (row,))

    def transient(self) -> Offer:
        """Peak volts for a minute."""
        row = self.row("transient")
        stated, withstand = self._of("transient"), self._of("withstand")
        if stated is not None:
            return Offer(stated, stated, row.key)
        if withstand is not None:
            source = f"sqrt2 x {self.row('withstand').key}, held for one minute"
            stand = Assumption(f"transient voltage by {row.key}", show(ROOT2 * withstand, "V"), "V", source)
            return Offer(ROOT2 * withstand, ROOT2 * withstand, source, (), (stand,))
        return Offer(0.0, math.inf, "not known", (row, self.row("withstand")))

    def impulse(self) -> Offer:
        """Peak volts of a 1.2/50 us impulse."""
        stated, surge = self._of("impulse"), self._of("surge")
        if stated is not None:
            return Offer(stated, stated, "impulse")
        if surge is not None:
            factor = _FACTORS[self.own_strength]
            as_rating = {"test": surge / factor, "rating": surge}
            ends = sorted(as_rating[one] for one in self._conventions())
            rows = (SURGE_IS,) if ends[0] < ends[1] else ()
            return Offer(ends[0], ends[1], "surge as a rating", rows)
        return self.transient()

    # -- distances --------------------------------------------------------------------------------------------------

    def distance(self, which: Literal["creepage", "clearance"]) -> Offer:
        """Metres along the surface, or through air."""
        row, stated = self.row(which), self._of(which)
        return Offer(0.0, math.inf, "not known", (row,)) if stated is None else Offer(stated, stated, row.key)

    @property
    def groups(self) -> tuple[str, str]:
        """The material group of the package at the worst and at the kindest."""
        stated, cti = self.stated.material_group, self.stated.cti
        if stated is not None:
            group = stated.rstrip("ab")
            return group, group
        if cti is not None:
            group = "I" if cti >= 600.0 else "II" if cti >= 400.0 else "III"
            return group, group
        return "III", "I"


STANDARD, MEANS, GROUP = Insulation.standard, Insulation.means, Insulation.material_group
SURGE, SURGE_IS = Insulation.surge, Insulation.surge_is


def test_words(stated: Insulation | None) -> list[str]:
    """The voltages with which a part was tested, by the standard of its ratings: printed, never judged."""
    if stated is None:
        return []
    words = []
    named = stated.standard or ""
    for standard, first in (("60747-5-5", 1.6), ("60747-5-2", 1.5)):
        if standard in named and stated.repetitive_peak is not None:
            peaks = [show(factor * stated.repetitive_peak, "V", 4) for factor in (first, 1.875)]
            words.append(f"tested at {peaks[0]} peak (method a) and {peaks[1]} peak (method b) by IEC {standard}")
    if "1577" in named and stated.withstand is not None:
        words.append(f"tested at {show(1.2 * stated.withstand, 'V', 4)} rms for one second in production by UL 1577")
    return words


def _only_flash_test(standard: str) -> bool:
    """Whether a standard tests for one minute and says nothing of the grade."""
    return "1577" in standard and not any(mark in standard for mark in ("60747", "0884", "60950", "62368"))
