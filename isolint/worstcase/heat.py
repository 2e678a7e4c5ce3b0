"""What a coupler turns into heat, and how much of it its ratings allow.

In: the drive, the load and the ratings of a channel. Out: a `Heat`: watts in LED and output, and each rating with what
it allows at the hot end of the ambient. Powers are the largest over all corners and temperatures; they meet the rating
of the hottest ambient.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

from isolint.interfaces.entities import Channel, Part
from isolint.parts import Thermal
from isolint.parts.records import Derating
from isolint.worstcase import limits
from isolint.worstcase.figures import Figure
from isolint.worstcase.quantities import Bound
from isolint.worstcase.uncertain import Setting, Term

NO_POWER = 1e-9
CELLS = 8
MOST_CELLS = 64
CLOSE = 1.01


class OutputPower(NamedTuple):
    """Voltage across an output and current through it."""

    volts: Figure
    amps: Figure

    @property
    def power(self) -> Figure:
        """The watts that they make."""
        return (self.volts * self.amps).called("P_out", "W", "power in the output")

    @property
    def watts(self) -> float:
        """The power in watts."""
        return self.power.si


class Rating(NamedTuple):
    """One rating against what it must bear, watts."""

    name: str
    actual: float
    allowed: float
    origin: str

    @property
    def margin(self) -> float:
        """Allowed over actual."""
        return self.allowed / max(self.actual, NO_POWER)


class Heat(NamedTuple):
    """LED and output power with every rating that applies, in one setting."""

    led: Bound
    output: OutputPower
    hot: float
    ratings: tuple[Rating, ...]
    terms: tuple[Term, ...]

    @property
    def worst(self) -> Rating:
        """The rating with the least margin."""
        return min(self.ratings, key=lambda rating: rating.margin)


def switched(on_volts: float, closed: float, given: float | None, left: Callable[[float], float]) -> OutputPower:
    """Power of a switch: at its on-state voltage, or with what its load leaves where the ratio keeps it from closing.

    left: volts across the output while it carries a current.
    """
    volts, amps = on_volts, closed
    if given is not None and given < closed:
        volts, amps = max(left(given), on_volts), given
    return OutputPower(Figure("V_on", volts, "V"), Figure("I_on", amps, "A"))


def linear(given: float | None, open_volts: float, carried: Callable[[float], float]) -> OutputPower:
    """Power of an output that may stand anywhere: no more than this, 1 % above the most that was found.

    carried: amperes that the load gives at some volts, falling. Between a and b it is no more than b carried(a): the
    widest of these cells are halved until they say nothing more.
    """
    known: dict[float, float] = {}

    def amps(volts: float) -> float:
        if volts not in known:
            found = max(carried(volts), 0.0)
            known[volts] = found if given is None else min(found, given)
        return known[volts]

    edges = [open_volts * step / CELLS for step in range(CELLS + 1)]
    cells = [(b * amps(a), a, b) for a, b in pairwise(edges)]
    while True:
        bound, a, b = max(cells)
        if len(known) >= MOST_CELLS or bound <= CLOSE * max(volts * each for volts, each in known.items()):
            return OutputPower(Figure("V_out", b, "V"), Figure("I_out", amps(a), "A"))
        cells.remove((bound, a, b))
        middle = (a + b) / 2.0
        cells += [(middle * amps(a), a, middle), (b * amps(middle), middle, b)]


def ratings(
    part: Part, led: float, output: float, supply: float, hot: float, setting: Setting
) -> tuple[tuple[Rating, ...], tuple[Term, ...]]:
    """All ratings that apply, with the terms behind them. led, output, supply: watts."""
    record = part.record
    thermal = None if record is None else record.thermal
    total = led + output + supply
    found: list[Rating] = []
    terms: list[Term] = []
    whole = None if thermal is None else thermal.power_max
    if record is not None and thermal is not None and whole is not None:
        allowed = _derated(part, whole, thermal.derating, hot, setting, terms)
        found.append(
            Rating("power of LED and output", total, allowed, f"record {record.name}, derated at {hot:g} degC")
        )
    stated = record is not None and record.output.power_max is not None
    if stated or not found:
        rating = limits.output_power(part)
        terms.extend(rating.terms)
        actual = output + supply if stated else output
        found.append(
            Rating(
                "power of the output",
                actual,
                rating.at(hot, setting),
                f"{rating.power.origin}, derated at {hot:g} degC",
            )
        )
    if record is not None and thermal is not None:
        for name, ohms, watts in (
            ("LED", thermal.led_to_ambient, led),
            ("output", thermal.output_to_ambient, output + supply),
        ):
            if ohms is not None:
                most = _junction(part, thermal.junction_max, setting, terms)
                text = f"record {record.name}: {ohms:g} K/W from {hot:g} degC to {most:g} degC"
                found.append(
                    Rating(f"power of the {name} by its thermal resistance", watts, max(most - hot, 0.0) / ohms, text)
                )
    return tuple(found), tuple(terms)


def _derated(
    part: Part, watts: float, derating: Derating | None, hot: float, setting: Setting, terms: list[Term]
) -> float:
    if derating is not None:
        return max(watts - derating.slope * max(hot - derating.from_, 0.0), 0.0)
    zero = limits.no_power_at(part, Thermal.derating)
    terms.append(zero)
    end = setting.low(zero)
    return max(watts * (1.0 - max(hot - limits.DERATED_FROM, 0.0) / (end - limits.DERATED_FROM)), 0.0)


def _junction(part: Part, stated: float | None, setting: Setting, terms: list[Term]) -> float:
    if stated is not None:
        return stated
    term = limits.junction(part)
    terms.append(term)
    return setting.low(term)


def supply_power(channel: Channel, volts: float | None) -> float:
    """What the supply of a logic output brings in, watts; 0 where its record states no supply current."""
    record = channel.part.record
    if record is None or record.supply.current is None:
        return 0.0
    if volts is None:
        volts = record.supply.voltage.high if record.supply.voltage is not None else 0.0
    return record.supply.current * volts
