"""Ratings of a coupler's output as terms: from its record, else the generic interval of its type.

In: a part, a lookup. Out: `Term`s whose low end is the worst. A rating that a record states is a point; what a record
omits is a default from the least to the best usual part (from memory, no source), named as an assumption.
"""

from __future__ import annotations

from typing import NamedTuple

from isolint.interfaces.entities import Part
from isolint.parts import generic
from isolint.units import Interval
from isolint.worstcase.uncertain import Setting, Term, stated

OUTPUT_POWER = Interval(100e-3, 150e-3)
NO_POWER_AT = Interval(100.0, 125.0)
"""degC at which nothing is left of a generic output's power rating: 1.3 to 1.5 mW/K above 25 degC."""

DERATED_FROM = 25.0


def _rating(
    part: Part, key: str, title: str, unit: str, value: float | None, usual: Interval | None, example: str
) -> Term | None:
    record = part.record
    name = record.name if record is not None else part.model_name or part.path
    full = f"parts.{name}.{key}"
    title = f"{title} of {part.path}"
    if value is not None:
        return stated(full, title, unit, value, value, value, f"record {name}")
    if usual is None:
        return None
    section, _, leaf = key.rpartition(".")
    line = f'[parts.{name}.{section}]\n{leaf} = "{example}"'
    return Term(
        full,
        title,
        unit,
        usual.low,
        usual.low,
        usual.high,
        usual.high,
        usual.high,
        False,
        generic.origin(part.type),
        line,
    )


def output_voltage(part: Part) -> Term | None:
    """The voltage that an output that is off stands, volts; None for a push-pull output without a stated one."""
    record = part.record
    usual = generic.family(part.type).voltage_max
    if record is not None and record.output.kind == "push-pull":
        usual = None
    value = None if record is None else record.output.voltage_max
    return _rating(part, "output.voltage_max", "largest output voltage", "V", value, usual, "70 V")


def output_reverse_voltage(part: Part) -> Term | None:
    """The voltage from emitter to collector (from ground to output) that an output stands, volts."""
    value = None if part.record is None else part.record.output.reverse_voltage_max
    usual = generic.family(part.type).output_reverse_voltage_max
    return _rating(
        part, "output.reverse_voltage_max", "largest reverse voltage of the output", "V", value, usual, "6 V"
    )


def output_current(part: Part) -> Term | None:
    """The current that an output stands, amperes."""
    usual = generic.family(part.type).current_max
    value = None if part.record is None else part.record.output.current_max
    return _rating(part, "output.current_max", "largest output current", "A", value, usual, "50 mA")


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
    value = None if record is None else record.output.power_max
    power = _rating(part, "output.power_max", "power rating of the output", "W", value, OUTPUT_POWER, "150 mW")
    assert power is not None
    derating = None if record is None else record.output.derating
    if derating is not None:
        return PowerRating(power, derating.slope, derating.from_, None)
    return PowerRating(power, None, DERATED_FROM, no_power_at(part, "output"))


def no_power_at(part: Part, section: str) -> Term:
    """The ambient at which a rating without a stated derating has fallen to nothing, degC."""
    name = part.record.name if part.record is not None else part.model_name or part.path
    line = f'[parts.{name}.{section}]\nderating = {{ from = "25 degC", slope = "2 mW/K" }}'
    title = f"ambient at which {part.path} stands no power"
    low, high = NO_POWER_AT.low, NO_POWER_AT.high
    return Term(
        f"parts.{name}.{section}.derating",
        title,
        "degC",
        low,
        low,
        high,
        high,
        high,
        False,
        generic.origin(part.type),
        line,
    )


def junction(part: Part, usual: Interval) -> Term:
    """The highest junction temperature of a part whose record does not state it, degC."""
    name = part.record.name if part.record is not None else part.model_name or part.path
    line = f'[parts.{name}.thermal]\njunction_max = "125 degC"'
    low, high = usual.low, usual.high
    title = f"highest junction temperature of {part.path}"
    return Term(
        f"parts.{name}.thermal.junction_max",
        title,
        "degC",
        low,
        low,
        high,
        high,
        high,
        False,
        generic.origin(part.type),
        line,
    )
