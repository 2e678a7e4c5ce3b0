"""Uncertain numbers: what is stated, what is a default, and how far each may move.

A `Term` holds its whole interval, its nominal value and the interval left at the kindest end of what nobody stated
(for stated terms the same). A `Setting` says how far towards the kindest end each defaulted term is taken: 0 is worst
case, 1 the kindest, between is the search for the value at which a verdict flips. A pass must hold at `WORST`, a fail
even at `KINDEST`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

from isolint.results import Assumption, MissingFact
from isolint.units import show

Aspect = Literal[
    "drive",
    "direction",
    "led-current",
    "port",
    "pin",
    "off-state",
    "transfer",
    "load",
    "level",
    "carrying",
    "base",
    "clamp",
    "off",
    "heat",
    "reference",
    "servo",
]
"""What may be unsound about a channel, so that what rests on it is not judged.

drive: what limits the LED current. direction: which way the LED lies. led-current: what the LED takes. port: what
outputs and switches promise. pin: what the pins of outputs bear. off-state: the LED while off. transfer: the ratio.
load: what makes a level of the output current. level: the level itself. carrying: the output as a closed switch.
base: what lies at the transistor's base. clamp: what takes a coil's current. off: the output without light. heat:
what a rating rests on. reference: which way a shunt reference lies. servo: the
loop of a linear coupler.
"""


class Term(NamedTuple):
    """One uncertain number in SI units (temperatures in degrees Celsius).

    key: the fact that would settle it (`elements."R4".tolerance`), also its identity. low, nominal, high: worst
    interval. kind_low, kind_high: the ends that remain at the kindest. stated: whether somebody stated it; else it is
    an assumption with its `origin`. example: the line to write.
    """

    key: str
    name: str
    unit: str
    low: float
    nominal: float
    high: float
    kind_low: float
    kind_high: float
    stated: bool
    origin: str
    example: str = ""

    @property
    def is_point(self) -> bool:
        """Whether it has one value only, at the worst and at the kindest."""
        return self.low == self.high == self.kind_low == self.kind_high

    @property
    def defaulted(self) -> bool:
        """Whether stating it could change a verdict."""
        return not self.stated and not self.is_point


def stated(key: str, name: str, unit: str, low: float, nominal: float, high: float, origin: str) -> Term:
    """A term that is fully known from a fact, a record or the netlist."""
    return Term(key, name, unit, low, nominal, high, low, high, True, origin)


class Setting(NamedTuple):
    """How far each defaulted term is taken towards its kindest end (0 worst, 1 kindest), `rest` for those not named.

    A pair is the share of the low end and that of the high end.
    """

    relaxed: Mapping[str, float | tuple[float, float]] = MappingProxyType({})
    rest: float = 0.0

    @property
    def is_kindest(self) -> bool:
        """Whether all that it does not name is at its kindest."""
        return self.rest >= 1.0

    def range(self, term: Term) -> tuple[float, float]:
        """The interval of a term in this setting."""
        share = 0.0 if term.stated else self.relaxed.get(term.key, self.rest)
        at_low, at_high = share if isinstance(share, tuple) else (share, share)
        low = term.low + at_low * (term.kind_low - term.low)
        high = term.high + at_high * (term.kind_high - term.high)
        return low, high

    def low(self, term: Term) -> float:
        """The low end of a term."""
        return self.range(term)[0]

    def high(self, term: Term) -> float:
        """The high end of a term."""
        return self.range(term)[1]

    def __hash__(self) -> int:
        return hash((self.rest, tuple(sorted(self.relaxed.items()))))


WORST = Setting()
KINDEST = Setting(rest=1.0)


class Lacking(Exception):
    """A quantity can't be computed because facts are missing: what is missing, and why, in circuit words.

    blocked_by: what is unsound, so that the quantity means nothing. element, remedy: the card whose own change is the
    cure where no fact is, and that cure.
    """

    def __init__(
        self,
        reason: str,
        missing: Iterable[MissingFact] = (),
        blocked_by: Aspect | Literal["feed"] | None = None,
        element: int | None = None,
        remedy: str = "",
    ) -> None:
        super().__init__(reason)
        self.reason = reason
        self.missing = tuple(dict.fromkeys(missing))
        self.blocked_by = blocked_by
        self.element = element
        self.remedy = remedy


def unique(terms: Iterable[Term]) -> tuple[Term, ...]:
    """Each term once, by key, in the order of first use."""
    found: dict[str, Term] = {}
    for term in terms:
        found.setdefault(term.key, term)
    return tuple(found.values())


def assumption(term: Term, flips_at: float | None = None) -> Assumption:
    """The line that a report shows for a term that nobody stated."""
    if term.low == term.high:
        value = _shown(term.low, term.unit)
    else:
        value = f"{_shown(term.low, term.unit)} to {_shown(term.high, term.unit)}"
    return Assumption(term.name, value, term.unit, term.origin, flips_at)


def _shown(value: float, unit: str) -> str:
    if unit in ("", "1"):
        return f"{value:.4g}"
    # Thousands of hours are hours, and volts per kelvin have no prefix of their own here.
    return f"{value:.6g} {unit}" if unit in ("h", "V/K") else show(value, unit)
