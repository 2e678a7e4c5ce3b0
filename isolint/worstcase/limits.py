"""Ratings of a coupler's output as terms: from its record, else the generic interval of its type.

In: a part, a lookup. Out: `Term`s whose low end is the worst. A rating that a record states is a point; what a record
omits is a default from the least to the best usual part (from memory, no source), named as an assumption.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import Derating, Output, Thermal, generic
from isolint.rows import Value, least
from isolint.units import Interval
from isolint.worstcase import fact_terms
from isolint.worstcase.uncertain import Setting, Term

DERATED_FROM = 25.0


def _rating(part: Part, value: Value[float], usual: Interval | None) -> Term | None:
    if usual is None and fact_terms.recorded(part, value) is None:
        return None
    return fact_terms.of_part(part, value, least, usual or Interval(0.0, 0.0))


def output_voltage(part: Part) -> Term | None:
    """The voltage that an output that is off stands, volts; None for a push-pull output without a stated one."""
    record = part.record
    usual = generic.family(part.type).voltage_max
    if record is not None and record.output.kind == "push-pull":
        usual = None
    return _rating(part, Output.voltage_max, usual)


def output_reverse_voltage(part: Part) -> Term | None:
    """The voltage from emitter to collector (from ground to output) that an output stands, volts."""
    usual = generic.family(part.type).output_reverse_voltage_max
    return _rating(part, Output.reverse_voltage_max, usual)


def output_current(part: Part) -> Term | None:
    """The current that an output stands, amperes."""
    usual = generic.family(part.type).current_max
    return _rating(part, Output.current_max, usual)


class PowerRating(NamedTuple):
    """A power rating at 25 degC and where it ends. power: watts. A record's `slope` (W/K) above `start`, or a generic
    `zero` in degC."""

    power: Term
    slope: float | None
    start: float
    zero: Term | None

    @property
    def terms(self) -> tuple[Term, ...]:
        """Everything that the derated rating rests on."""
        return (self.power,) if self.zero is None else (self.power, self.zero)

    def at(self, temperature: float, setting: Setting) -> float:
        """Watts allowed at an ambient temperature."""
        power = setting.low(self.power)
        above = max(temperature - self.start, 0.0)
        if self.slope is not None:
            return max(power - self.slope * above, 0.0)
        if self.zero is None:
            return power
        return max(power * (1.0 - above / (setting.low(self.zero) - self.start)), 0.0)


def output_power(part: Part) -> PowerRating:
    """The power that an output stands, derated over ambient; generic where the record says nothing."""
    record = part.record
    power = fact_terms.of_part(part, Output.power_max, least, generic.family(part.type).power_max)
    derating = None if record is None else record.output.derating
    if derating is not None:
        return PowerRating(power, derating.slope, derating.from_, None)
    return PowerRating(power, None, DERATED_FROM, no_power_at(part, Output.derating))


def no_power_at(part: Part, derating: Value[Derating]) -> Term:
    """The ambient at which a rating without a stated derating has fallen to nothing, degC."""
    ends = generic.family(part.type).no_power_at
    usual = least(ends.low, ends.high, generic.origin(part.type))
    title = derating.title.format(part.path)
    return fact_terms.defaulted(derating, fact_terms.named(part), usual, title=title, unit="degC")


def junction(part: Part) -> Term:
    """The highest junction temperature of a part, degC."""
    return fact_terms.of_part(part, Thermal.junction_max, least, generic.family(part.type).junction_max)
